"""Instruments: what took the readings."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import ColumnElement, select

from archive.errors import NameTaken, NotAccepted, RecordNotFound
from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import (
    clean_name,
    has_id_form,
    in_natural_order,
    name_key,
    near_names,
    new_public_id,
)
from archive.records.things import Instrument, UsualLimit


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
    drawn_at: str | None = None,
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
        drawn_at=drawn_at,
    )
    return instrument_named(writer, name)


def amend_instrument(
    writer: Writer, instrument: Instrument, facts: Mapping[str, str | float | bool | None]
) -> Instrument:
    """Put in other facts, columns of `instrument`. Raises `NameTaken`."""
    values = dict(facts)
    if "name" in values:
        name = clean_name(str(values["name"] or ""))
        if not name:
            raise NotAccepted("An instrument needs a name", "Call it what you call it, such as 'long tape'.")
        held = _instruments(writer, t.instrument.c.name_key == name_key(name))
        if held and held[0].key != instrument.key:
            raise NameTaken("instrument", name, held[0].name)
        values |= {"name": name, "name_key": name_key(name)}
    writer.update(t.instrument, instrument.key, **values)
    return _instruments(writer, t.instrument.c.id == instrument.key)[0]


def usual_limits(look: Look) -> dict[str, UsualLimit]:
    """Return what the person knows to be usual for kinds of instrument, by the kind's id."""
    fields = UsualLimit.__dataclass_fields__
    return {
        row.kind: UsualLimit(**{name: row._mapping[name] for name in fields})
        for row in look.all(select(t.usual_limit))
    }


def keep_usual_limit(writer: Writer, usual: UsualLimit) -> None:
    """Note what is usual for a kind, in place of what was noted before."""
    facts = {name: getattr(usual, name) for name in UsualLimit.__dataclass_fields__}
    held = writer.first(select(t.usual_limit.c.id).where(t.usual_limit.c.kind == usual.kind))
    if held is None:
        writer.insert(t.usual_limit, **facts)
    else:
        writer.update(t.usual_limit, held.id, **facts)


def forget_usual_limit(writer: Writer, kind: str) -> bool:
    """Let what the program begins with stand for a kind again; returns whether anything else was noted."""
    held = writer.first(select(t.usual_limit.c.id).where(t.usual_limit.c.kind == kind))
    if held is not None:
        writer.delete(t.usual_limit, held.id)
    return held is not None


def _instruments(look: Look, *conditions: ColumnElement[bool]) -> list[Instrument]:
    rows = in_natural_order(look.all(select(t.instrument).where(*conditions)))
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
            drawn_at=r.drawn_at,
        )
        for r in rows
    ]
