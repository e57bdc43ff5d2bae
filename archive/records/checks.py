"""Checks of instruments: what one read of a length known better, on a day."""

from __future__ import annotations

from collections import defaultdict

from sqlalchemy import select

from archive.errors import RecordNotFound
from archive.lengths import WrittenLength
from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import new_public_id
from archive.records.things import Check, Instrument, Visit


def add_check(
    writer: Writer,
    instrument: Instrument,
    reference: WrittenLength,
    reading: WrittenLength,
    *,
    day: str | None,
    visit: Visit | None,
) -> None:
    """Write down one check."""
    writer.insert(
        t.instrument_check,
        public_id=new_public_id("instrument_check"),
        instrument_id=instrument.key,
        reference_as_written=reference.as_written,
        reference_mm=reference.value_mm,
        reference_resolution_mm=reference.resolution_mm,
        reference_tolerance_mm=reference.tolerance_mm,
        reference_approximate=reference.approximate,
        reading_as_written=reading.as_written,
        reading_mm=reading.value_mm,
        reading_resolution_mm=reading.resolution_mm,
        visit_id=visit.key if visit else None,
        taken_on=day,
    )


def check_named(look: Look, public_id: str) -> Check:
    """Return the check of this id; raises `RecordNotFound`."""
    for of_one in checks_by_instrument(look).values():
        for check in of_one:
            if check.id == public_id:
                return check
    raise RecordNotFound("check", public_id)


def remove_check(writer: Writer, check: Check) -> None:
    """Take a check away; the history keeps it."""
    writer.delete(t.instrument_check, check.key)


def checks_by_instrument(look: Look) -> dict[int, list[Check]]:
    """Return the checks by the instrument's key, the oldest first."""
    statement = (
        select(t.instrument_check, t.visit.c.name.label("visit"))
        .outerjoin(t.visit, t.visit.c.id == t.instrument_check.c.visit_id)
        .order_by(t.instrument_check.c.id)
    )
    found: dict[int, list[Check]] = defaultdict(list)
    for row in look.all(statement):
        columns = row._mapping
        facts = {
            n: columns[n] for n in Check.__dataclass_fields__ if n not in ("key", "id", "instrument_key")
        }
        found[row.instrument_id].append(Check(row.id, row.public_id, row.instrument_id, **facts))
    return found
