"""Instruments: what took the readings."""

from __future__ import annotations

from sqlalchemy import ColumnElement, select

from archive.errors import NameTaken, NotAccepted, RecordNotFound
from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import clean_name, has_id_form, name_key, near_names, new_public_id
from archive.records.things import Instrument


def all_instruments(look: Look) -> list[Instrument]:
    """Return every instrument by name."""
    return _instruments(look)


def instrument_named(look: Look, asked: str) -> Instrument:
    """Return the instrument of this name or id; raises `RecordNotFound`."""
    matches = _instruments(look, t.instrument.c.public_id == asked) if has_id_form(asked) else []
    matches = matches or _instruments(look, t.instrument.c.name_key == name_key(asked))
    if not matches:
        names = [row.name for row in look.all(select(t.instrument.c.name))]
        raise RecordNotFound("instrument", asked, near_names(asked, names))
    return matches[0]


def add_instrument(
    writer: Writer,
    name: str,
    *,
    kind: str | None,
    resolution_mm: float | None,
    limit_as_written: str | None,
    limit_constant_mm: float | None,
    limit_per_mm: float | None,
    steady: bool,
    notes: str | None = None,
) -> Instrument:
    """Add an instrument. Raises `NameTaken`."""
    name = clean_name(name)
    if not name:
        raise NotAccepted("An instrument needs a name", "Call it what you call it, such as 'long tape'.")
    held = _instruments(writer, t.instrument.c.name_key == name_key(name))
    if held:
        raise NameTaken("instrument", name, held[0].name)
    writer.insert(
        t.instrument,
        public_id=new_public_id("instrument"),
        name=name,
        name_key=name_key(name),
        kind=kind,
        resolution_mm=resolution_mm,
        limit_as_written=limit_as_written,
        limit_constant_mm=limit_constant_mm,
        limit_per_mm=limit_per_mm,
        steady=steady,
        notes=notes,
    )
    return instrument_named(writer, name)


def _instruments(look: Look, *conditions: ColumnElement[bool]) -> list[Instrument]:
    rows = look.all(select(t.instrument).where(*conditions).order_by(t.instrument.c.name_key))
    return [
        Instrument(
            key=r.id,
            id=r.public_id,
            name=r.name,
            kind=r.kind,
            resolution_mm=r.resolution_mm,
            limit_as_written=r.limit_as_written,
            limit_constant_mm=r.limit_constant_mm,
            limit_per_mm=r.limit_per_mm,
            steady=r.steady,
            notes=r.notes,
        )
        for r in rows
    ]
