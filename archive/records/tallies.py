"""Tallies: sums that must come out, the sizes in them, and which sizes are tied together so."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, select

from archive.errors import RecordNotFound
from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks
from archive.records.names import has_id_form, name_key, new_public_id
from archive.records.putting_right import remove_row
from archive.records.things import Subject, Tally


def all_tallies(look: Look, *, of: Subject | None = None) -> list[Tally]:
    """Return every tally, or those written down for a subject, the oldest first."""
    return _tallies(look, *([] if of is None else [t.tally.c.subject_id == of.key]))


def tally_named(look: Look, asked: str) -> Tally:
    """Return the tally of this id, or written so; raises `RecordNotFound`."""
    found = _tallies(look, t.tally.c.public_id == asked) if has_id_form(asked) else []
    if not found:
        every = _tallies(look)
        found = [each for each in every if name_key(each.as_written) == name_key(asked)]
        if len(found) != 1:
            raise RecordNotFound("tally", asked, tuple(each.id for each in found))
    return found[0]


def add_tally(writer: Writer, subject: Subject, as_written: str, dimension_keys: Sequence[int]) -> Tally:
    """Keep a tally with the sizes in it, in the order in which it names them."""
    key = writer.insert(
        t.tally,
        public_id=new_public_id("tally"),
        subject_id=subject.key,
        as_written=as_written,
        outcome={},
    )
    rows = [
        {"tally_id": key, "number": number, "dimension_id": dimension}
        for number, dimension in enumerate(dimension_keys)
    ]
    writer.insert_all(t.tally_size, rows)
    return _tallies(writer, t.tally.c.id == key)[0]


def remove_tally(writer: Writer, tally: Tally) -> None:
    """Take a tally out; the sizes in it stay."""
    remove_row(writer, t.tally, tally.key)


def keep_outcome(writer: Writer, tally: Tally, outcome: Mapping[str, Any]) -> None:
    """Store how a tally came out."""
    writer.update(t.tally, tally.key, outcome=dict(outcome))


def tied_together(look: Look, dimension_keys: Iterable[int]) -> tuple[set[int], list[Tally]]:
    """Return these sizes with all that tallies tie to them, over any number of tallies, and those tallies."""
    reached, tallies = set(dimension_keys), dict[int, Tally]()
    new = set(reached)
    while new:
        met: set[int] = set()
        for chunk in in_chunks(look.pointed_at(new, of=t.dimension, by=t.tally_size)):
            holding = select(t.tally_size.c.tally_id).where(t.tally_size.c.dimension_id.in_(chunk))
            met.update(row.tally_id for row in look.all(holding))
        found = [
            each
            for chunk in in_chunks(met - set(tallies))
            for each in _tallies(look, t.tally.c.id.in_(chunk))
        ]
        tallies.update({each.key: each for each in found})
        new = {key for each in found for key in each.dimension_keys if key is not None} - reached
        reached |= new
    return reached, sorted(tallies.values(), key=lambda each: each.key)


def _tallies(look: Look, *conditions: ColumnElement[bool]) -> list[Tally]:
    rows = look.all(
        select(t.tally, t.subject.c.name.label("subject"))
        .join(t.subject, t.subject.c.id == t.tally.c.subject_id)
        .where(*conditions)
        .order_by(t.tally.c.id)
    )
    held: dict[int, list[int | None]] = defaultdict(list)
    for chunk in in_chunks(row.id for row in rows):
        links = select(t.tally_size).where(t.tally_size.c.tally_id.in_(chunk)).order_by(t.tally_size.c.number)
        for link in look.all(links):
            held[link.tally_id].append(link.dimension_id)
    return [
        Tally(r.id, r.public_id, r.subject_id, r.subject, r.as_written, tuple(held[r.id]), r.outcome)
        for r in rows
    ]
