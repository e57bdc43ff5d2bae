"""What a person enters about visits, subjects, photos and instruments: checked, then written in one act.

Each function is one use case that every door calls.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import TypedDict
from zoneinfo import ZoneInfo, available_timezones

from archive.errors import NameTaken, NotAccepted
from archive.kinds import ROOT, Kind, thesaurus
from archive.lengths import parse_length, parse_limit
from archive.metrology.instrument_kinds import kind_called
from archive.records import builds, instruments, kinds, subjects, visits
from archive.records.archive import Archive
from archive.records.names import clean_name, name_key, near_names
from archive.records.things import Build, Instrument, Subject, Visit
from archive.scales import parse_scale

VIEWS = (
    "front",
    "rear",
    "left side",
    "right side",
    "top",
    "underside",
    "three-quarter",
    "detail",
    "inside",
    "overview",
)
_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            ("january", "jan"),
            ("february", "feb"),
            ("march", "mar"),
            ("april", "apr"),
            ("may",),
            ("june", "jun"),
            ("july", "jul"),
            ("august", "aug"),
            ("september", "sep", "sept"),
            ("october", "oct"),
            ("november", "nov"),
            ("december", "dec"),
        ),
        start=1,
    )
    for name in names
}


def parse_day(text: str) -> str:
    """Read one day, '2023-06-17' or '17 June 2023', as ISO 8601; raises `NotAccepted`."""
    written = re.fullmatch(r"(\d{1,2})\s+([a-z]+)\.?\s+(\d{4})", text.strip().casefold())
    try:
        if written and written[2] in _MONTHS:
            return date(int(written[3]), _MONTHS[written[2]], int(written[1])).isoformat()
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text.strip()):
            return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        pass
    raise NotAccepted(f"'{text}' is not a day", "Write it like 2023-06-17 or 17 June 2023.")


def parse_days(text: str) -> tuple[str, str]:
    """Read a day or 'DAY to DAY' as its first and last day; raises `NotAccepted`."""
    first, separator, last = (part.strip() for part in text.partition(" to "))
    try:
        first_day = parse_day(first)
        last_day = parse_day(last) if separator else first_day
    except NotAccepted as refused:
        if not separator:
            raise
        raise NotAccepted(
            f"'{text}' does not say from which day to which",
            "Write both days whole, like 17 June 2023 to 19 June 2023.",
        ) from refused
    if last_day < first_day:
        raise NotAccepted(f"'{text}' ends before it begins", "Write the earlier day first.")
    return first_day, last_day


def this_machines_zone() -> str:
    """Return the IANA name of the time zone that this machine is set to; UTC where it has none."""
    from tzlocal import get_localzone_name

    return get_localzone_name() or "UTC"


def check_zone(zone: str) -> str:
    """Return the zone if there is one of that name; raises `NotAccepted` with near names."""
    try:
        return ZoneInfo(zone).key
    except (KeyError, OSError, ValueError):
        near = near_names(zone, available_timezones())
        hint = f"Perhaps: {', '.join(near)}." if near else "Write it like Europe/London."
        raise NotAccepted(f"There is no time zone called '{zone}'", hint) from None


def check_view(view: str) -> str:
    """Return the view as we write it ('left' is 'left side'); raises `NotAccepted`."""
    wanted = " ".join(view.casefold().replace("-", " ").split())
    for known in VIEWS:
        if wanted in (known.replace("-", " "), known.removesuffix(" side")):
            return known
    raise NotAccepted(f"There is no view called '{view}'", f"The views are: {', '.join(VIEWS)}.")


def enter_visit(
    archive: Archive,
    name: str,
    *,
    place: str | None = None,
    days: str | None = None,
    zone: str | None = None,
    people: str | None = None,
    access_notes: str | None = None,
) -> Visit:
    """Add a visit; without a zone it has this machine's."""
    first_day, last_day = parse_days(days) if days else (None, None)
    checked_zone = check_zone(zone) if zone else this_machines_zone()
    with archive.change() as writer:
        added = visits.add_visit(
            writer,
            name,
            zone=checked_zone,
            place=place,
            first_day=first_day,
            last_day=last_day,
            people=people,
            access_notes=access_notes,
        )
        writer.sentence = f"Added the visit {added.name}"
    return added


def enter_subject(
    archive: Archive,
    name: str,
    *,
    kind: str | None = None,
    also: Sequence[str] = (),
    part_of: str | None = None,
    place: str | None = None,
    maker: str | None = None,
    numbers: str | None = None,
    era: str | None = None,
    notes: str | None = None,
) -> Subject:
    """Add a subject; its kind may be given by any word for it."""
    with archive.change() as writer:
        added = subjects.add_subject(
            writer,
            name,
            kind=thesaurus(kinds.own_kinds(writer)).find(kind).id if kind else None,
            also=tuple(also),
            part_of=part_of,
            place=place,
            maker=maker,
            numbers=numbers,
            era=era,
            notes=notes,
        )
        writer.sentence = f"Added the subject {added.name}"
    return added


def enter_kind(
    archive: Archive,
    name: str,
    *,
    under: str | None = None,
    also: Sequence[str] = (),
    views: Sequence[str] = (),
    sizes: Sequence[str] = (),
) -> Kind:
    """Add a kind of the person's own under a broader one (any word for it; None: under 'thing').

    What the broader kind has of views and sizes it has too. Raises `NameTaken`, `UnknownKind` or `NotAccepted`.
    """
    name = clean_name(name)
    slug = "-".join(re.findall(r"\w+", name.casefold()))
    if not slug:
        raise NotAccepted("A kind needs a name", "Call it what you would look for, such as 'grain elevator'.")
    with archive.change(f"Added the kind {name}") as writer:
        book = thesaurus(kinds.own_kinds(writer))
        for known in book:
            if slug == known.id or name_key(name) == name_key(known.name):
                raise NameTaken("kind", name, known.name)
        kind = Kind(
            id=slug,
            name=name,
            broader=book.find(under).id if under else ROOT,
            also=tuple(dict.fromkeys(clean_name(word) for word in also if word.strip())),
            views=tuple(dict.fromkeys(check_view(view) for view in views)),
            sizes=tuple(dict.fromkeys(clean_name(size) for size in sizes if size.strip())),
        )
        kinds.add_kind(writer, kind)
    return kind


def leave_out_kind(archive: Archive, name: str) -> Kind:
    """Take away a kind of the person's own that nothing is of.

    Raises `UnknownKind`, or `NotAccepted` for one that the program brings or that something is of.
    """
    with archive.change(f"Took away the kind {clean_name(name)}") as writer:
        own = kinds.own_kinds(writer)
        book = thesaurus(own)
        kind = book.find(name)
        if kind.id not in {each.id for each in own}:
            raise NotAccepted(
                f"The kind '{kind.name}' comes with Rivetbook and stays", "Only your own can be taken away."
            )
        many = kinds.subjects_by_kind(writer).get(kind.id, 0)
        below = [each.name for each in book.directly_narrower(kind)]
        if many or below:
            leans = [*([f"{many} subject{'s' if many > 1 else ''}"] if many else []), *below]
            raise NotAccepted(
                f"The kind '{kind.name}' is in use: {', '.join(leans)}", "Give them another kind first."
            )
        kinds.remove_kind(writer, kind.id)
    return kind


class StepAndLimit(TypedDict):
    """The step and the limit of an instrument, as its columns hold them."""

    resolution_mm: float | None
    limit_as_written: str | None
    limit_constant_mm: float | None
    limit_per_mm: float | None


def enter_instrument(
    archive: Archive,
    name: str,
    *,
    kind: str | None = None,
    resolution: str | None = None,
    limit: str | None = None,
    steady: bool | None = None,
    notes: str | None = None,
    drawn_at: str | None = None,
) -> Instrument:
    """Add an instrument; resolution and limit as the person writes them ('1mm', '0.3 mm + 0.2 mm/m').

    Where it is not said whether it is steady, it is what its kind is, and steady where that is not known.
    """
    known = kind_called(kind)
    if steady is None:
        steady = known.steady if known else True
    with archive.change() as writer:
        added = instruments.add_instrument(
            writer,
            name,
            kind=kind,
            **step_and_limit(resolution, limit),
            steady=steady,
            notes=notes,
            drawn_at=check_drawn_at(drawn_at, kind) if drawn_at else None,
        )
        writer.sentence = f"Added the instrument {added.name}"
    return added


def step_and_limit(resolution: str | None, limit: str | None) -> StepAndLimit:
    """Return an instrument's step and limit, as a person writes them, as facts of an instrument."""
    resolution_mm = parse_length(resolution).value_mm if resolution else None
    if resolution_mm == 0:
        raise NotAccepted(
            "A resolution of nothing cannot be", "Give the smallest step it shows, such as 1mm."
        )
    parsed = parse_limit(limit) if limit else None
    return {
        "resolution_mm": resolution_mm,
        "limit_as_written": limit or None,
        "limit_constant_mm": parsed.constant_mm if parsed else None,
        "limit_per_mm": parsed.per_mm if parsed else None,
    }


def check_drawn_at(text: str, kind: str | None) -> str:
    """Return the scale of a drawing as written; raises where it is no scale, or the kind is not on paper."""
    known = kind_called(kind)
    if known is None or not known.constant_on_paper_mm:
        raise NotAccepted(
            f"'{kind or 'an instrument of no kind'}' is not drawn to a scale",
            "Say it of a drawing: --kind drawing.",
        )
    parse_scale(text)
    return text


def enter_build(
    archive: Archive,
    name: str,
    *,
    scale: str,
    of: Sequence[str],
    process: str | None = None,
    tolerance: str | None = None,
    notes: str | None = None,
) -> Build:
    """Add a build of subjects at a scale; the tolerance is a length on the model."""
    parsed_scale = parse_scale(scale)
    tolerance_mm = parse_length(tolerance).value_mm if tolerance else None
    with archive.change() as writer:
        added = builds.add_build(
            writer,
            name,
            scale_as_written=scale,
            ratio=parsed_scale.ratio,
            of=[subjects.subject_named(writer, each) for each in of],
            process=process,
            tolerance_as_written=tolerance,
            tolerance_mm=tolerance_mm,
            notes=notes,
        )
        writer.sentence = f"Added the build {added.name}"
    return added
