"""Writing down what was read: readings of sizes, as they were written, and the best figures after them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from archive.dimensions.estimates import recompute
from archive.dimensions.observations import FROM_A_SISTER, GUESSED
from archive.errors import NotAccepted
from archive.lengths import WrittenQuantity, parse_quantity
from archive.records import instruments, photos, sizes, subjects, visits
from archive.records.archive import Archive
from archive.records.changes import Look, Writer
from archive.records.entering import parse_day
from archive.records.names import clean_name, name_key
from archive.records.things import Dimension, Estimate, Instrument, Photo, Reading, Subject, Visit, Warned

SPANS = ("plain", "over", "between", "centres")
GRADES = ("measured", "published", GUESSED, FROM_A_SISTER)
AS_FOUND = "as found"
# What a size that was not measured rests on must be said: what is wrong where it was not, and what to do.
RESTS_ON = {
    GUESSED: (
        "It was not said what the guess rests on",
        "Say what it goes by, such as 'the man beside it, 5ft 10in'.",
    ),
    "published": ("It was not said where the figure is published", "Name the book, drawing or list."),
    FROM_A_SISTER: ("It was not said whose size this is", "Name the other example of the type."),
}
# Digits so much coarser than the instrument's step look like a figure that was rounded by hand.
_COARSE = 30
# How far another example of a type may differ, either way, where the person does not say: a share of the
# size, and of an angle so many degrees. A judgement: hand-built things of one drawing differ by an inch in 4 ft.
_SISTER_SHARE, _SISTER_DEG = 0.02, 1.0


class Entry(NamedTuple):
    """One size as a person enters it: all by name, nothing looked up yet.

    `rests_on` is what a guess rests on, the source of a published figure, or the sister that was measured;
    `sister_tolerance` is how far that may differ, either way, as written. `quantity` is 'length', 'count',
    'angle' or 'slope' where the person says so.
    """

    label: str
    as_written: str
    span: str = "plain"
    state: str = AS_FOUND
    grade: str = "measured"
    rests_on: str | None = None
    sister_tolerance: str | None = None
    instrument: str | None = None
    photo: str | None = None
    visit: str | None = None
    on: str | None = None
    quantity: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """A reading as it was kept, the size it belongs to, and the best figure with it."""

    reading: Reading
    dimension: Dimension
    estimate: Estimate
    warnings: tuple[Warned, ...]


class Checked(NamedTuple):
    """An entry whose every name is found and whose size is read: it can be written down."""

    entry: Entry
    written: WrittenQuantity
    sister_tolerance: float | None
    instrument: Instrument | None
    photo: Photo | None
    visit: Visit | None
    day: str | None
    identity: tuple[str, str, str]  # what tells a size from the others of its subject: label, state and span


class Checker:
    """Checks the entries of one subject; each instrument, photo and visit is looked up once."""

    def __init__(self, look: Look, subject: Subject) -> None:
        self._look, self._subject = look, subject
        self.held = {identity_of(d): d for d in sizes.dimensions_of(look, subject)}
        self._quantities = {identity: d.quantity for identity, d in self.held.items()}
        self._instruments: dict[str, Instrument] = {}
        self._photos: dict[str, Photo] = {}
        self._visits: dict[str, Visit] = {}

    def check(self, entry: Entry) -> Checked:
        """Read the size and find what is named.

        Raises `LengthNotUnderstood`, `RecordNotFound`, `SeveralMatch` or `NotAccepted`.
        """
        label, state = clean_name(entry.label), clean_name(entry.state)
        if not label or not state:
            what = "label" if not label else "state"
            raise NotAccepted(f"A size needs a {what}", "Say what is measured, such as 'door height'.")
        if entry.span not in SPANS:
            raise NotAccepted(f"A size is not taken '{entry.span}'", f"Say one of: {', '.join(SPANS)}.")
        identity = name_key(label), name_key(state), entry.span
        so_far = self._quantities.get(identity)
        written = parse_quantity(label, entry.as_written, forced=entry.quantity or so_far)
        if so_far is not None and so_far != written.quantity:
            raise NotAccepted(
                f"'{label}' of {self._subject.name} is a {so_far} so far, and '{entry.as_written}' is a {written.quantity}",
                "Give it another label, or write it as before.",
            )
        photo = self._photo(entry.photo)
        visit = self._visit(entry.visit or (photo.visit if photo else None))
        checked = Checked(
            entry=entry,
            written=written,
            sister_tolerance=self._apart(entry, written),
            instrument=self._instrument(entry.instrument),
            photo=photo,
            visit=visit,
            day=day_of(entry.on, photo, visit),
            identity=identity,
        )
        self._quantities[identity] = written.quantity
        return checked

    def look_up(self, field: str, name: str) -> None:
        """Find what a field of `Entry` names (instrument, photo, visit, on); raises as `check` does."""
        find: dict[str, Callable[[str], object]] = {
            "instrument": self._instrument,
            "photo": self._photo,
            "visit": self._visit,
            "on": parse_day,
        }
        find[field](name)

    def _apart(self, entry: Entry, written: WrittenQuantity) -> float | None:
        if entry.grade not in GRADES:
            raise NotAccepted(
                f"'{entry.grade}' is no way to know a size", f"Say one of: {', '.join(GRADES)}."
            )
        if entry.grade in RESTS_ON and not (entry.rests_on or "").strip():
            raise NotAccepted(*RESTS_ON[entry.grade])
        if entry.grade != FROM_A_SISTER:
            if entry.sister_tolerance:
                raise NotAccepted(
                    "How far a sister may differ says nothing of a size that is not from one", "Leave it off."
                )
            return None
        sister = subjects.find_subject(self._look, str(entry.rests_on))
        if sister is not None and sister.key == self._subject.key:
            raise NotAccepted(f"'{self._subject.name}' is no sister of itself", "Name the other example.")
        if entry.sister_tolerance:
            return parse_quantity(entry.label, entry.sister_tolerance, forced=written.quantity).value
        if written.quantity in ("length", "slope"):
            return _SISTER_SHARE * abs(written.value)
        return _SISTER_DEG if written.quantity == "angle" else 0.0

    def _instrument(self, name: str | None) -> Instrument | None:
        if not name:
            return None
        if name not in self._instruments:
            self._instruments[name] = instruments.instrument_named(self._look, name)
        return self._instruments[name]

    def _photo(self, name: str | None) -> Photo | None:
        if not name:
            return None
        if name not in self._photos:
            self._photos[name] = photos.photo_named(self._look, name)
        return self._photos[name]

    def _visit(self, name: str | None) -> Visit | None:
        if not name:
            return None
        if name not in self._visits:
            self._visits[name] = visits.visit_named(self._look, name)
        return self._visits[name]


def parted_label(label: str) -> tuple[str, str | None]:
    """Part 'door width /between' into the label and how the size is taken; None where that is not said.

    Raises `NotAccepted` for a way that is none.
    """
    name, slash, span = (part.strip() for part in label.rpartition("/"))
    if slash and span.casefold() in SPANS:
        return name, span.casefold()
    if re.search(r"\s/", label):
        raise NotAccepted(f"'/{span}' is not a way to take a size", "Write /over, /between or /centres.")
    return label, None


def record_reading(
    archive: Archive, subject: str, label: str, as_written: str, **how: str | None
) -> Recorded:
    """Write down one reading of the size `label` of a subject; works out its best figure anew.

    Parameters
    ----------
    subject : str
        Name or id.
    label, as_written : str
        The size as the person wrote it: kept character for character.
    **how
        The other fields of `Entry`; None is as if left off. The day is `on`, else that of the photo, else
        the visit's when it lasted one day.

    Raises
    ------
    LengthNotUnderstood, RecordNotFound, SeveralMatch, NotAccepted
        Nothing is saved then.
    """
    label, span = parted_label(label)
    if span and how.get("span") not in (None, span):
        raise NotAccepted(
            f"'{label}' is said to be taken both '{span}' and '{how['span']}'", "Say one of them."
        )
    said = {**how, "span": span or how.get("span")}
    entry = Entry(label, as_written, **{name: value for name, value in said.items() if value is not None})
    with archive.change() as writer:
        whose = subjects.subject_named(writer, subject)
        checker = Checker(writer, whose)
        (recorded,) = write_down(writer, whose, [checker.check(entry)], checker.held)
        writer.sentence = f"Wrote down '{recorded.dimension.called}' of {whose.name}: {as_written}"
    return recorded


def write_down(
    writer: Writer,
    subject: Subject,
    checked: Sequence[Checked],
    held: dict[tuple[str, str, str], Dimension],
    *,
    corrects: Reading | None = None,
) -> list[Recorded]:
    """Write checked entries down and work out the best figures; `held` are the subject's sizes by identity."""
    new = {each.identity: each for each in checked if each.identity not in held}
    added = sizes.add_dimensions(
        writer,
        subject,
        [(c.entry.label, c.entry.state, c.entry.span, c.written.quantity.value) for c in new.values()],
    )
    held = {**held, **{identity_of(d): d for d in added}}
    dimensions = [held[each.identity] for each in checked]
    keys = sizes.add_readings(
        writer,
        [_facts(each, d, corrects) for each, d in zip(checked, dimensions, strict=True)],
    )
    different = list({d.key: d for d in dimensions}.values())
    figures = recompute(writer, different)
    readings = {r.key: r for d in different for r in figures.readings[d.key]}
    return [
        Recorded(readings[key], d, figures.estimates[d.key], _warnings(each.written, each.instrument))
        for key, d, each in zip(keys, dimensions, checked, strict=True)
    ]


def record_correction(
    writer: Writer, subject: Subject, dimension: Dimension, old: Reading, as_written: str, *, why: str | None
) -> Recorded:
    """Write down a reading in the place of another, taken the same way; the old one is kept as written."""
    entry = Entry(
        label=dimension.label,
        as_written=as_written,
        span=dimension.span,
        state=dimension.state,
        quantity=dimension.quantity,
        note=why,
    )
    checker = Checker(writer, subject)
    checked = checker.check(entry)
    return write_down(writer, subject, [checked], checker.held, corrects=old)[0]


def identity_of(dimension: Dimension) -> tuple[str, str, str]:
    """Return what tells a size from the others of its subject: label, state and span, as compared."""
    return name_key(dimension.label), name_key(dimension.state), dimension.span


def _facts(checked: Checked, dimension: Dimension, corrects: Reading | None) -> dict[str, Any]:
    written, entry = checked.written, checked.entry
    is_length = written.quantity == "length"
    if corrects is not None:  # read anew in the same writing: all but the figure is as it was
        how = {
            "grade": corrects.grade,
            "rests_on": corrects.rests_on,
            "sister_tolerance": corrects.sister_tolerance,
            "instrument_id": corrects.instrument_key,
            "photo_id": corrects.photo_key,
            "visit_id": corrects.visit_key,
            "taken_on": corrects.taken_on,
            "replaces_id": corrects.key,
        }
    else:
        how = {
            "grade": entry.grade,
            "rests_on": entry.rests_on,
            "sister_tolerance": checked.sister_tolerance,
            "instrument_id": checked.instrument.key if checked.instrument else None,
            "photo_id": checked.photo.key if checked.photo else None,
            "visit_id": checked.visit.key if checked.visit else None,
            "taken_on": checked.day,
            "replaces_id": None,
        }
    return {
        "dimension_id": dimension.key,
        "as_written": entry.as_written,
        "quantity": written.quantity.value,
        "value": written.value,
        "unit": written.unit,
        "value_mm": written.value if is_length else None,
        "resolution": written.resolution,
        "resolution_mm": written.resolution if is_length else None,
        "tolerance": written.tolerance,
        "approximate": written.approximate,
        "derived_by": None,
        "set_aside": None,
        "note": entry.note,
        **how,
    }


def day_of(on: str | None, photo: Photo | None, visit: Visit | None) -> str | None:
    """Return the day of a reading: as said, else that of its photo, else the visit's when it lasted one day."""
    if on:
        return parse_day(on)
    if photo is not None and photo.taken is not None:
        return photo.taken[:10]
    if visit is not None and visit.first_day == visit.last_day:
        return visit.first_day
    return None


# So few millimetres, with a part of one, are rather metres or inches whose unit was left off.
_BARE = re.compile(r"\s*\d{1,2}[.,]\d+\s*")


def _warnings(written: WrittenQuantity, instrument: Instrument | None) -> tuple[Warned, ...]:
    if written.quantity == "length" and _BARE.fullmatch(written.as_written):
        return (
            Warned(
                "no-unit",
                f"'{written.as_written}' has no unit and was read as {written.value:g} mm. If it was metres or inches, "
                "put it right, with its unit.",
            ),
        )
    if written.quantity != "length" or instrument is None or not instrument.resolution_mm:
        return ()
    if written.tolerance is not None or not written.resolution:
        return ()
    if written.resolution <= _COARSE * instrument.resolution_mm:
        return ()
    return (
        Warned(
            "coarser-than-instrument",
            f"'{written.as_written}' is written to {written.resolution:g} mm, but {instrument.name} reads to "
            f"{instrument.resolution_mm:g} mm and its step was taken. If you rounded, write the ± as well.",
        ),
    )
