"""Writing down a run: positions read along one hooked tape, and the sizes between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from archive.dimensions.estimates import recompute
from archive.dimensions.readings import AS_FOUND, Recorded, day_of, identity_of
from archive.errors import NotAccepted
from archive.lengths import quantity_of
from archive.metrology.tape_runs import Run, RunSize, parse_run
from archive.records import instruments, photos, runs, sizes, subjects, visits
from archive.records import putting_right as rows
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.names import clean_name, name_key
from archive.records.things import Dimension, Subject, TapeRun


@dataclass(frozen=True, slots=True)
class RunRecorded:
    """A run as it was kept, with the sizes that it gave, in the order along the tape."""

    run: TapeRun
    subject: Subject
    sizes: tuple[Recorded, ...]
    replaced: bool


def record_run(
    archive: Archive,
    subject: str,
    title: str,
    text: str,
    *,
    instrument: str | None = None,
    photo: str | None = None,
    visit: str | None = None,
    on: str | None = None,
    replace: bool = False,
) -> RunRecorded:
    """Write down a run; each size between two neighbouring positions becomes a reading.

    Parameters
    ----------
    subject, title : str
        Whose it is, and where the tape lay: 'front, from left corner'.
    text : str
        '0; door left 0.42 m; [door width /over]; door right 1.18; end 2.73', kept as it is.
    replace : bool
        It corrects the run of this title: that one is kept, and counts no longer.

    Raises
    ------
    NotationNotUnderstood
        With the place in the text.
    NotAccepted, RecordNotFound, SeveralMatch
        Nothing is saved then.
    """
    parsed = parse_run(text)
    if not clean_name(title):
        raise NotAccepted("A run needs a title", "Say where the tape lay, such as 'front, from left corner'.")
    with archive.change() as writer:
        whose = subjects.subject_named(writer, subject)
        writer.sentence = f"Wrote down the run '{clean_name(title)}' of {whose.name}"
        before = _replaced(writer, whose, title, replace)
        facts = _facts(writer, instrument=instrument, photo=photo, visit=visit, on=on)
        run = runs.add_run(writer, whose, title, text, replaces=before)
        dimensions = [_dimension(writer, whose, size) for size in parsed.sizes]
        old = _old_readings(writer, before)
        keys = sizes.add_readings(
            writer,
            [
                {
                    **_reading(parsed, size),
                    **facts,
                    "note": f"run '{run.title}'",
                    "dimension_id": d.key,
                    "replaces_id": old.pop(d.key, None),
                }
                for size, d in zip(parsed.sizes, dimensions, strict=True)
            ],
        )
        runs.link_readings(writer, run, {key: place for place, key in enumerate(keys)})
        for left in old.values():
            rows.set_reading_aside(writer, left, f"the run '{run.title}' was written down anew")
        gone = sizes.dimensions_by_key(writer, old)
        figures = recompute(writer, [*dimensions, *gone])
    readings = {r.key: r for d in dimensions for r in figures.readings[d.key]}
    recorded = (
        Recorded(readings[k], d, figures.estimates[d.key], ()) for k, d in zip(keys, dimensions, strict=True)
    )
    return RunRecorded(run, whose, tuple(recorded), before is not None)


def _facts(
    writer: Writer, *, instrument: str | None, photo: str | None, visit: str | None, on: str | None
) -> dict[str, Any]:
    """With what, where and when a run was read, as facts of its readings."""
    shown = photos.photo_named(writer, photo) if photo else None
    told_by = visit or (shown.visit if shown else None)
    trip = visits.visit_named(writer, told_by) if told_by else None
    tool = instruments.instrument_named(writer, instrument) if instrument else None
    return {
        "grade": "measured",
        "instrument_id": tool.key if tool else None,
        "photo_id": shown.key if shown else None,
        "visit_id": trip.key if trip else None,
        "taken_on": day_of(on, shown, trip),
    }


def _replaced(writer: Writer, subject: Subject, title: str, replace: bool) -> TapeRun | None:
    held = runs.standing_run(writer, subject, title)
    if held is not None and not replace:
        raise NotAccepted(
            f"There is a run '{held.title}' of {subject.name} already",
            "Say --replace if this one corrects it, or give it another title.",
        )
    return held


def _old_readings(writer: Writer, run: TapeRun | None) -> dict[int, int]:
    """The readings of a run that still count, by the key of their size."""
    if run is None:
        return {}
    held = sizes.readings_by_key(writer, runs.readings_of_run(writer, run)).values()
    return {r.dimension_key: r.key for r in held if r.stands}


def _dimension(writer: Writer, subject: Subject, size: RunSize) -> Dimension:
    label, span = clean_name(size.label), size.span or "plain"
    held = {identity_of(d): d for d in sizes.dimensions_of(writer, subject)}
    found = held.get((name_key(label), name_key(AS_FOUND), span))
    quantity = found.quantity if found else quantity_of(label).value
    if quantity != "length":
        raise NotAccepted(
            f"'{label}' is a {quantity}, and a tape reads lengths",
            "Name the size between these positions otherwise.",
        )
    return found or sizes.add_dimensions(writer, subject, [(label, AS_FOUND, span, "length")])[0]


def _reading(run: Run, size: RunSize) -> dict[str, Any]:
    start, end = run.positions[size.start], run.positions[size.end]
    value_mm = end.value_mm - start.value_mm
    steps = [p.written.resolution_mm for p in (start, end) if p.written and p.written.resolution_mm]
    return {
        "as_written": f"{start.label} {start.as_written} to {end.label} {end.as_written}",
        "quantity": "length",
        "value": value_mm,
        "unit": "mm",
        "value_mm": value_mm,
        "resolution": max(steps, default=None),
        "resolution_mm": max(steps, default=None),
        "tolerance": None,
        "approximate": False,
        "rests_on": None,
        "sister_tolerance": None,
        "derived_by": None,
        "set_aside": None,
    }
