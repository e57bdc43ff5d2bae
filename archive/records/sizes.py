"""Dimensions, their readings and their best figures.

The sums are made elsewhere; this keeps what went in and what came out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Row, select

from archive.errors import RecordNotFound
from archive.metrology.sources import Doubtful
from archive.records import tables as t
from archive.records.changes import Look, Touched, Writer, in_chunks
from archive.records.ledgers import keep_ledgers
from archive.records.names import clean_name, has_id_form, name_key, near_names, new_public_id
from archive.records.things import Dimension, Estimate, Instrument, Reading, Subject, Warned


def dimensions_of(look: Look, subject: Subject) -> list[Dimension]:
    """Return the sizes of a subject, in the order in which they were first written down."""
    return _dimensions(look, t.dimension.c.subject_id == subject.key)


def dimensions_by_key(look: Look, keys: Iterable[int]) -> list[Dimension]:
    """Return the sizes with these keys."""
    return [d for chunk in in_chunks(keys) for d in _dimensions(look, t.dimension.c.id.in_(chunk))]


def dimensions_resting_on(look: Look, rows: Iterable[Touched]) -> list[int]:
    """Return the keys of the sizes whose best figures rest on these rows, as far as they are there."""
    keys: set[int] = set()
    tools: set[int] = set()
    for row in rows:
        if row.table == t.dimension.name:
            keys.add(row.row_id)
        elif row.table == t.instrument.name:
            tools.add(row.row_id)
        elif row.table == t.usual_limit.name:
            tools.update(each.id for each in look.all(select(t.instrument.c.id)))
        elif row.table != t.reading.name:
            tools.update(side["instrument_id"] for side in row.sides if side.get("instrument_id") is not None)
        keys.update(side["dimension_id"] for side in row.sides if side.get("dimension_id") is not None)
    for chunk in in_chunks(tools):
        taken_with = select(t.reading.c.dimension_id).where(t.reading.c.instrument_id.in_(chunk))
        keys.update(row.dimension_id for row in look.all(taken_with))
    return sorted(keys)


def dimensions_taken_with(look: Look, instrument: Instrument) -> list[Dimension]:
    """Return the sizes of which a reading was taken with an instrument."""
    taken = select(t.reading.c.dimension_id).where(t.reading.c.instrument_id == instrument.key)
    return _dimensions(look, t.dimension.c.id.in_(taken))


def drop_dimensions_without_readings(writer: Writer, keys: Iterable[int]) -> list[int]:
    """Take away those of these sizes that nothing was read of and that no recipe or tally holds; returns the keys of the others."""
    keys = list(keys)
    read = {
        row.dimension_id
        for chunk in in_chunks(keys)
        for column in (
            t.reading.c.dimension_id,
            t.derivation_input.c.dimension_id,
            t.tally_size.c.dimension_id,
        )
        for row in writer.all(select(column).where(column.in_(chunk)))
    }
    for dimension in dimensions_by_key(writer, [key for key in keys if key not in read]):
        drop_estimate(writer, dimension)
        writer.delete(t.dimension, dimension.key)
    return [key for key in keys if key in read]


def dimension_of(
    look: Look, subject: Subject, label: str, *, state: str = "as found", span: str = "plain"
) -> Dimension | None:
    """Return the size of this label, state and span, or None."""
    found = _dimensions(
        look,
        t.dimension.c.subject_id == subject.key,
        t.dimension.c.label_key == name_key(label),
        t.dimension.c.state_key == name_key(state),
        t.dimension.c.span == span,
    )
    return found[0] if found else None


def dimensions_labelled(look: Look, subject: Subject, label: str) -> list[Dimension]:
    """Return the sizes of this label, whatever their state and span; raises `RecordNotFound` for none.

    'door width /between' asks for those that are taken so, 'door width (between, as built)' for that one.
    """
    held = dimensions_of(look, subject)
    found = [d for d in held if name_key(label) in (name_key(d.label), name_key(d.called))]
    if not found:
        name, _, span = label.rpartition("/")
        found = [d for d in held if (name_key(d.label), d.span) == (name_key(name), span.strip().casefold())]
    if not found:
        raise RecordNotFound(f"size of {subject.name}", label, near_names(label, [d.label for d in held]))
    return found


def add_dimensions(
    writer: Writer, subject: Subject, wanted: Sequence[tuple[str, str, str, str]]
) -> list[Dimension]:
    """Add sizes, each (label, state, span, quantity), to a subject; they have no readings yet."""
    rows: list[dict[str, Any]] = [
        {
            "public_id": new_public_id("dimension"),
            "subject_id": subject.key,
            "label": clean_name(label),
            "label_key": name_key(label),
            "state": clean_name(state),
            "state_key": name_key(state),
            "span": span,
            "quantity": quantity,
        }
        for label, state, span, quantity in wanted
    ]
    said = ("label", "state", "span", "quantity")
    return [
        Dimension(key, row["public_id"], subject.key, subject.name, *(row[name] for name in said))
        for key, row in zip(writer.insert_all(t.dimension, rows), rows, strict=True)
    ]


def add_readings(writer: Writer, readings: Sequence[Mapping[str, Any]]) -> list[int]:
    """Add readings (columns of `reading`, all the same ones); they are never changed afterwards. Returns keys."""
    named = [{"public_id": new_public_id("reading"), **facts} for facts in readings]
    return writer.insert_all(t.reading, named)


def readings_of(look: Look, dimensions: Sequence[Dimension]) -> dict[int, list[Reading]]:
    """Return the readings of each size by its key, the oldest first, replaced and set-aside ones too."""
    found: dict[int, list[Reading]] = {d.key: [] for d in dimensions}
    for chunk in in_chunks(d.key for d in dimensions):
        for reading in _readings(look, t.reading.c.dimension_id.in_(chunk)):
            found[reading.dimension_key].append(reading)
    return found


def reading_named(look: Look, public_id: str) -> Reading:
    """Return the reading of this id; raises `RecordNotFound`."""
    found = _readings(look, t.reading.c.public_id == public_id) if has_id_form(public_id) else []
    if not found:
        raise RecordNotFound("reading", public_id)
    return found[0]


def readings_by_key(look: Look, keys: Iterable[int]) -> dict[int, Reading]:
    """Return the readings with these keys."""
    return {r.key: r for chunk in in_chunks(keys) for r in _readings(look, t.reading.c.id.in_(chunk))}


def readings_worked_out_by(look: Look, derivation_ids: Iterable[str]) -> dict[str, list[Reading]]:
    """Return the readings that derivations work out, replaced ones too, by the derivations' public ids."""
    found: dict[str, list[Reading]] = defaultdict(list)
    for ids in in_chunks(sorted(set(derivation_ids))):
        for reading in _readings(look, t.reading.c.derived_by.in_(ids)):
            found[reading.derived_by or ""].append(reading)
    return found


def estimates_of(look: Look, dimensions: Sequence[Dimension]) -> dict[int, Estimate]:
    """Return the stored best figures of sizes by dimension key; a size without a usable reading has none."""
    found: dict[int, Estimate] = {}
    for chunk in in_chunks(d.key for d in dimensions):
        for row in look.all(select(*_ESTIMATE).where(t.estimate.c.dimension_id.in_(chunk))):
            found[row.dimension_id] = _estimate(row)
    return found


def estimates_by_label(look: Look, subject_key: int) -> dict[str, list[Estimate]]:
    """Return the stored best figures of a subject's sizes by the key of their label; none for one that has none."""
    statement = (
        select(t.dimension.c.label_key, *_ESTIMATE)
        .outerjoin(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
        .where(t.dimension.c.subject_id == subject_key)
    )
    found: dict[str, list[Estimate]] = defaultdict(list)
    for row in look.all(statement):
        found[row.label_key] += [_estimate(row[1:])] if row.id is not None else []
    return found


def keep_figures(
    writer: Writer,
    readings: Mapping[int, Doubtful],
    figures: Sequence[tuple[Dimension, Doubtful, Mapping[str, Any]]],
) -> dict[int, Estimate]:
    """Store what readings lean on, and best figures with what these lean on, in place of what was stored before.

    The readings are by their key; the facts of a figure are columns of `estimate`. Returns the best figures by
    the size's key.
    """
    estimates = _keep_estimates(writer, figures)
    known = {estimates[dimension.key].key: known for dimension, known, _ in figures}
    keep_ledgers(writer, readings=readings, estimates=known)
    return estimates


def _keep_estimates(
    writer: Writer, figures: Sequence[tuple[Dimension, Doubtful, Mapping[str, Any]]]
) -> dict[int, Estimate]:
    keys: dict[int, int] = {}
    old = writer.pointed_at((dimension.key for dimension, _, _ in figures), of=t.dimension, by=t.estimate)
    for chunk in in_chunks(old):
        columns = select(t.estimate.c.dimension_id, t.estimate.c.id)
        keys.update(tuple(row) for row in writer.all(columns.where(t.estimate.c.dimension_id.in_(chunk))))
    rows = [
        {
            "dimension_id": dimension.key,
            "value": doubtful.value,
            "standard_uncertainty": doubtful.standard_uncertainty,
            **facts,
        }
        for dimension, doubtful, facts in figures
    ]
    new = [row for row in rows if row["dimension_id"] not in keys]
    for row in rows:
        if row["dimension_id"] in keys:
            writer.update(t.estimate, keys[row["dimension_id"]], **row)
    given = zip(new, writer.insert_all(t.estimate, new), strict=True)
    keys.update({row["dimension_id"]: key for row, key in given})
    whole = ({"id": keys[row["dimension_id"]], **row} for row in rows)
    return {row["dimension_id"]: _estimate([row.get(column.name) for column in _ESTIMATE]) for row in whole}


def drop_estimate(writer: Writer, dimension: Dimension) -> None:
    """Take away the best figure of a size that has no usable reading left."""
    held = writer.value(select(t.estimate.c.id).where(t.estimate.c.dimension_id == dimension.key))
    if held is not None:
        keep_ledgers(writer, estimates={held: Doubtful(0.0, {})})
        writer.delete(t.estimate, held)


_ALL_DIMENSIONS = (
    select(
        t.dimension.c.id,
        t.dimension.c.public_id,
        t.dimension.c.subject_id,
        t.subject.c.name,
        *(t.dimension.c[n] for n in ("label", "state", "span", "quantity")),
    )
    .join(t.subject, t.subject.c.id == t.dimension.c.subject_id)
    .order_by(t.dimension.c.id)
)


def _dimensions(look: Look, *conditions: ColumnElement[bool]) -> list[Dimension]:
    statement = _ALL_DIMENSIONS.where(*conditions)
    return [Dimension(*_columns(row)) for row in look.all(statement)]


_REPLACED, _LATER = t.reading.alias("replaced"), t.reading.alias("later")
_ELSEWHERE: dict[str, ColumnElement[Any]] = {
    "key": t.reading.c.id,
    "id": t.reading.c.public_id,
    "dimension_key": t.reading.c.dimension_id,
    "dimension": t.dimension.c.public_id,
    "instrument_key": t.reading.c.instrument_id,
    "photo_key": t.reading.c.photo_id,
    "visit_key": t.reading.c.visit_id,
    "instrument": t.instrument.c.name,
    "photo": t.photo.c.file,
    "visit": t.visit.c.name,
    "replaces": _REPLACED.c.public_id,
    "replaced": t.reading.c.id.in_(select(_LATER.c.replaces_id).where(_LATER.c.replaces_id.is_not(None))),
}
# Everything of a reading in its own order: rows are handed to it as they come.
_ALL_READINGS = (
    select(*(_ELSEWHERE[n] if n in _ELSEWHERE else t.reading.c[n] for n in Reading.__dataclass_fields__))
    .select_from(t.reading)
    .join(t.dimension, t.dimension.c.id == t.reading.c.dimension_id)
    .outerjoin(t.instrument, t.instrument.c.id == t.reading.c.instrument_id)
    .outerjoin(t.photo, t.photo.c.id == t.reading.c.photo_id)
    .outerjoin(t.visit, t.visit.c.id == t.reading.c.visit_id)
    .outerjoin(_REPLACED, _REPLACED.c.id == t.reading.c.replaces_id)
    .order_by(t.reading.c.id)
)


def _readings(look: Look, *conditions: ColumnElement[bool]) -> list[Reading]:
    return [Reading(*_columns(row)) for row in look.all(_ALL_READINGS.where(*conditions))]


# Likewise of a best figure; its warnings come last.
_ESTIMATE = [t.estimate.c[n] for n in ("id", "dimension_id", *list(Estimate.__dataclass_fields__)[2:])]


def _estimate(columns: Sequence[Any]) -> Estimate:
    warnings = tuple(Warned(w["code"], w["message"]) for w in columns[-1])
    return Estimate(*(*columns[:-1], warnings))


def _columns(row: Row[Any]) -> tuple[Any, ...]:
    return tuple(row)
