"""Runs along a tape: what was written down, and the readings that stand between its positions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sqlalchemy import select

from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks
from archive.records.names import clean_name, name_key, new_public_id
from archive.records.things import Subject, TapeRun


def standing_run(look: Look, subject: Subject, title: str) -> TapeRun | None:
    """Return the run of this title that no later one replaces, or None."""
    replaced = select(t.tape_run.c.replaces_id).where(t.tape_run.c.replaces_id.is_not(None))
    row = look.first(
        select(t.tape_run).where(
            t.tape_run.c.subject_id == subject.key,
            t.tape_run.c.title_key == name_key(title),
            t.tape_run.c.id.not_in(replaced),
        )
    )
    return TapeRun(row.id, row.public_id, row.title, row.as_written) if row else None


def add_run(
    writer: Writer, subject: Subject, title: str, as_written: str, *, replaces: TapeRun | None
) -> TapeRun:
    """Keep a run as it was written down."""
    public_id, title = new_public_id("tape_run"), clean_name(title)
    key = writer.insert(
        t.tape_run,
        public_id=public_id,
        subject_id=subject.key,
        title=title,
        title_key=name_key(title),
        as_written=as_written,
        replaces_id=replaces.key if replaces else None,
    )
    return TapeRun(key, public_id, title, as_written)


def link_readings(writer: Writer, run: TapeRun, readings: Mapping[int, int]) -> None:
    """Say which reading, by key, stands at which place among the sizes of the run."""
    rows = [
        {"tape_run_id": run.key, "reading_id": reading, "place": place} for reading, place in readings.items()
    ]
    writer.insert_all(t.run_reading, rows)


def readings_of_run(look: Look, run: TapeRun) -> list[int]:
    """Return the keys of the readings that a run gave."""
    of_run = select(t.run_reading.c.reading_id).where(t.run_reading.c.tape_run_id == run.key)
    return [row.reading_id for row in look.all(of_run.order_by(t.run_reading.c.place))]


def runs_behind(look: Look, reading_keys: Iterable[int]) -> dict[int, tuple[TapeRun, int]]:
    """Return the run that gave a reading, and its place in it, by the reading's key; others have none."""
    found: dict[int, tuple[TapeRun, int]] = {}
    for chunk in in_chunks(look.pointed_at(reading_keys, of=t.reading, by=t.run_reading)):
        statement = (
            select(t.run_reading, t.tape_run.c.public_id, t.tape_run.c.title, t.tape_run.c.as_written)
            .join(t.tape_run, t.tape_run.c.id == t.run_reading.c.tape_run_id)
            .where(t.run_reading.c.reading_id.in_(chunk))
        )
        for row in look.all(statement):
            run = TapeRun(row.tape_run_id, row.public_id, row.title, row.as_written)
            found[row.reading_id] = run, row.place
    return found
