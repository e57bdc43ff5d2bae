"""Counted things at an even spacing: 34 courses, of which 8 were measured together."""

from __future__ import annotations

from dataclasses import dataclass

from archive.dimensions.readings import Checker, Entry, Recorded, write_down
from archive.dimensions.sums import Counted, have_worked_out
from archive.errors import NotAccepted
from archive.lengths import Quantity, parse_length, quantity_of
from archive.metrology.readings import limit_u_mm
from archive.records import subjects
from archive.records.archive import Archive
from archive.records.names import clean_name


@dataclass(frozen=True, slots=True)
class CountRecorded:
    """What was measured of the spacings, and the size that all of them come to."""

    measured: Recorded
    size: Recorded


def record_count(
    archive: Archive,
    subject: str,
    label: str,
    count: int,
    *,
    over: int,
    measured: str,
    uneven: str | None = None,
    **how: str | None,
) -> CountRecorded:
    """Write down a size as so many even spacings; the doubt of those measured is multiplied with them.

    Parameters
    ----------
    count, over : int
        How many spacings the size has, and how many of them `measured` is over; both 1 or more.
    measured : str
        The length over those, as read. It becomes a size of its own, '8 of wall height'.
    uneven : str, optional
        How far a single spacing may depart from the even one, either way: '2 mm'.
    **how
        Instrument, photo, visit, day and so on, fields of `Entry`.

    Raises
    ------
    LengthNotUnderstood, RecordNotFound, SeveralMatch, NotAccepted
        Nothing is saved then.
    """
    label = clean_name(label)
    if not label:
        raise NotAccepted("A size needs a label", "Say what is counted, such as 'wall height'.")
    if quantity_of(label) is not Quantity.LENGTH:
        raise NotAccepted(
            f"'{label}' is no length, and spacings come to one",
            "Call it by what it measures, as 'wall height'.",
        )
    if '"' in label:
        raise NotAccepted(f"The label {label} holds quotes", "Leave them out where spacings are counted.")
    if min(count, over) < 1:
        raise NotAccepted("Fewer than one spacing makes no size", "Count them, and those measured over.")
    u_each_mm = limit_u_mm(parse_length(uneven).value_mm) if uneven else 0.0
    part = f"{over} of {label}"
    entry = Entry(part, measured, quantity="length", **{k: v for k, v in how.items() if v is not None})
    with archive.change() as writer:
        whose = subjects.subject_named(writer, subject)
        writer.sentence = f"Wrote down '{label}' of {whose.name}: {count} spacings, {over} of them {measured}"
        checker = Checker(writer, whose)
        (read,) = write_down(writer, whose, [checker.check(entry)], checker.held)
        size = have_worked_out(
            writer, whose, label, f'{count} x "{part}" / {over}', counted=Counted(count, over, u_each_mm)
        )
    return CountRecorded(read, size)
