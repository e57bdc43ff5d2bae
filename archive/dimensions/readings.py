"""Writing down what was read: one reading of one size, as it was written, and the best figure after it."""

from __future__ import annotations

from dataclasses import dataclass

from archive.dimensions.estimates import recompute
from archive.errors import NotAccepted
from archive.lengths import WrittenQuantity, parse_quantity
from archive.records import instruments, photos, sizes, subjects, visits
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.entering import parse_day
from archive.records.names import clean_name
from archive.records.things import Dimension, Estimate, Instrument, Photo, Reading, Subject, Visit, Warned

SPANS = ("plain", "over", "between", "centres")
AS_FOUND = "as found"
# Digits so much coarser than the instrument's step look like a figure that was rounded by hand.
_COARSE = 30


@dataclass(frozen=True, slots=True)
class Recorded:
    """A reading as it was kept, the size it belongs to, and the best figure with it."""

    reading: Reading
    dimension: Dimension
    estimate: Estimate
    warnings: tuple[Warned, ...]


@dataclass(frozen=True, slots=True)
class _Evidence:
    """What a reading was taken with, on which photo it stands, and when."""

    instrument: Instrument | None
    photo: Photo | None
    visit: Visit | None
    day: str | None


def record_reading(
    archive: Archive,
    subject: str,
    label: str,
    as_written: str,
    *,
    instrument: str | None = None,
    photo: str | None = None,
    visit: str | None = None,
    on: str | None = None,
    span: str = "plain",
    state: str = AS_FOUND,
    grade: str = "measured",
    rests_on: str | None = None,
    quantity: str | None = None,
    note: str | None = None,
) -> Recorded:
    """Write down one reading of the size `label` of a subject; works out its best figure anew.

    Parameters
    ----------
    subject, instrument, photo, visit : str
        Names or ids. The day is `on`, else that of the photo, else the visit's when it lasted one day.
    as_written : str
        The size as the person wrote it: kept character for character.
    span : str
        One of `SPANS`.
    quantity : str, optional
        'length', 'count', 'angle' or 'slope'; else told from the label and from how it is written.

    Raises
    ------
    LengthNotUnderstood, RecordNotFound, SeveralMatch, NotAccepted
        Nothing is saved then.
    """
    written = parse_quantity(label, as_written, forced=quantity)
    _check_label(label)
    if span not in SPANS:
        raise NotAccepted(f"A size is not taken '{span}'", f"Say one of: {', '.join(SPANS)}.")
    with archive.change(f"Wrote down '{clean_name(label)}' of {subject}: {as_written}") as writer:
        whose = subjects.subject_named(writer, subject)
        evidence = _evidence(writer, instrument, photo, visit, on)
        dimension = _dimension(writer, whose, label, state=state, span=span, written=written)
        key = sizes.add_reading(
            writer,
            dimension,
            as_written=as_written,
            quantity=str(written.quantity),
            value=written.value,
            unit=str(written.unit),
            value_mm=written.value if written.quantity == "length" else None,
            resolution=written.resolution,
            resolution_mm=written.resolution if written.quantity == "length" else None,
            tolerance=written.tolerance,
            approximate=written.approximate,
            grade=grade,
            rests_on=rests_on,
            instrument_id=evidence.instrument.key if evidence.instrument else None,
            photo_id=evidence.photo.key if evidence.photo else None,
            visit_id=evidence.visit.key if evidence.visit else None,
            taken_on=evidence.day,
            replaces_id=None,
            derived_by=None,
            set_aside=None,
            note=note,
        )
        recompute(writer, [dimension])
        return Recorded(
            reading=sizes.reading_by_key(writer, key),
            dimension=dimension,
            estimate=sizes.estimates_of(writer, [dimension])[dimension.key],
            warnings=_warnings(written, evidence.instrument),
        )


def _check_label(label: str) -> None:
    if not clean_name(label):
        raise NotAccepted("A size needs a label", "Say what is measured, such as 'door height'.")


def _evidence(
    writer: Writer, instrument: str | None, photo: str | None, visit: str | None, on: str | None
) -> _Evidence:
    shown = photos.photo_named(writer, photo) if photo else None
    named = visit or (shown.visit if shown else None)
    trip = visits.visit_named(writer, named) if named else None
    day = parse_day(on) if on else None
    if day is None and shown is not None and shown.taken is not None:
        day = shown.taken[:10]
    if day is None and trip is not None and trip.first_day == trip.last_day:
        day = trip.first_day
    tool = instruments.instrument_named(writer, instrument) if instrument else None
    return _Evidence(tool, shown, trip, day)


def _dimension(
    writer: Writer, subject: Subject, label: str, *, state: str, span: str, written: WrittenQuantity
) -> Dimension:
    held = sizes.dimension_of(writer, subject, label, state=state, span=span)
    if held is None:
        return sizes.add_dimension(writer, subject, label, state=state, span=span, quantity=written.quantity)
    if held.quantity != written.quantity:
        raise NotAccepted(
            f"'{held.label}' of {subject.name} is a {held.quantity} so far, and '{written.as_written}' is a {written.quantity}",
            "Give it another label, or write it as before.",
        )
    return held


def _warnings(written: WrittenQuantity, instrument: Instrument | None) -> tuple[Warned, ...]:
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
