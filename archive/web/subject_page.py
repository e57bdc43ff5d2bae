"""What the page of one subject shows: pictures by view, sizes part by part at a scale, what is still open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from flask import render_template, request, session

from archive.dimensions.gaps import gaps_of
from archive.dimensions.overview import SubjectSizes, by_part, sizes_of_subject, with_doubts
from archive.dimensions.readings import GRADES, SPANS
from archive.dimensions.standards import HAS_NONE, NOT_NEEDED
from archive.dimensions.tallying import tallies_of
from archive.errors import RivetbookError
from archive.kinds import thesaurus
from archive.records import glance, instruments, kinds, photos, subjects
from archive.records.things import Photo
from archive.scales import Scale, parse_scale
from archive.web.archives import archive
from archive.web.forms import asked

_ROWS = 4


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the form: a size as it was typed, and what was wrong with it."""

    label: str = ""
    written: str = ""
    span: str = "plain"
    wrong: str = ""


@dataclass(slots=True)
class Entered:
    """What comes back of a form of sizes because it could not be kept."""

    rows: list[Row] = field(default_factory=list)
    lines: str = ""
    line_faults: tuple[str, ...] = ()


def subject_page(subject_id: str, entered: Entered | None = None) -> str:
    """Return the page of a subject, with what was entered and could not be kept."""
    scale, complaint = _scale()
    entered = entered or Entered()
    with archive().look() as look:
        subject = subjects.subject_named(look, subject_id)
        shown = photos.photos_showing(look, subject)
        views, missing_views = glance.by_view(look, subject, shown)
        known = with_doubts(look, sizes_of_subject(look, subject, scale=scale))
        tools = instruments.all_instruments(look)
        words = thesaurus(kinds.own_kinds(look))
    judged = gaps_of(archive(), subject.id, at=scale)
    wanted = words.sizes(subject.kind)
    names = evidence_names(shown)
    return render_template(
        "subject.html",
        subject=subject,
        kinds=sorted(kind.name for kind in words),
        views=views,
        missing_views=missing_views,
        parts=by_part(known.lines),
        scale=scale,
        scale_complaint=complaint,
        tallies=tallies_of(archive(), subject.id),
        standard=judged.standard,
        open_sizes=judged.open,
        closed_sizes=[*judged.standing(NOT_NEEDED), *judged.standing(HAS_NONE)],
        instruments=tools,
        evidence=[(names[photo.id], photo) for photo in shown],
        evidence_named=request.form.get("photo") or names.get(asked("photo") or "", ""),
        labels=list(dict.fromkeys((*wanted, *(line.dimension.label for line in known.lines)))),
        spans=SPANS,
        grades=GRADES,
        rows=[*entered.rows, Row()] if entered.rows else [Row()] * _ROWS,
        lines=entered.lines or _lines_to_fill_in(wanted, known),
        line_faults=entered.line_faults,
        form=request.form,
    )


def _scale() -> tuple[Scale | None, str]:
    """The scale asked for, else the one asked for last; what cannot be read is said and asked for again."""
    if "scale" in request.args:
        session["scale"] = asked("scale") or ""
    written = str(session.get("scale", ""))
    if not written:
        return None, ""
    try:
        return parse_scale(written), ""
    except RivetbookError as error:
        session["scale"] = ""
        return None, str(error)


def evidence_names(shown: Sequence[Photo]) -> dict[str, str]:
    """Return what each photo, by its id, is called on the form: with its visit where cameras gave a name twice."""
    times = Counter(photo.file for photo in shown)
    return {p.id: p.file if times[p.file] == 1 else f"{p.visit}/{p.file}" for p in shown}


def _lines_to_fill_in(wanted: Sequence[str], known: SubjectSizes) -> str:
    """The sizes of its kind that are not known yet, a line each; lines left empty are passed over."""
    held = {line.dimension.label for line in known.lines}
    return "".join(f"{label} =\n" for label in wanted if label not in held)
