"""Dimensions, their readings and estimates, and the error sources that these lean on.

The sums are made elsewhere; this keeps what went in and what came out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from math import isinf
from typing import Any

from sqlalchemy import ColumnElement, Row, Table, select

from archive.errors import RecordNotFound
from archive.metrology.sources import Doubtful, Source
from archive.records import tables as t
from archive.records.changes import Look, Touched, Writer, in_chunks
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
        sides = [side for side in (row.before, row.after) if side is not None]
        if row.table == t.dimension.name:
            keys.add(row.row_id)
        elif row.table == t.instrument.name:
            tools.add(row.row_id)
        elif row.table == t.usual_limit.name:
            tools.update(each.id for each in look.all(select(t.instrument.c.id)))
        elif row.table != t.reading.name:
            tools.update(side["instrument_id"] for side in sides if side.get("instrument_id") is not None)
        keys.update(side["dimension_id"] for side in sides if side.get("dimension_id") is not None)
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

    'door width /between' asks for those that are taken so.
    """
    held = dimensions_of(look, subject)
    found = [d for d in held if name_key(d.label) == name_key(label)]
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


def estimates_by_label(look: Look, subject: Subject) -> dict[str, list[Estimate]]:
    """Return the stored best figures of a subject's sizes by the key of their label; none for one that has none."""
    statement = (
        select(t.dimension.c.label_key, *_ESTIMATE)
        .outerjoin(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
        .where(t.dimension.c.subject_id == subject.key)
    )
    found: dict[str, list[Estimate]] = defaultdict(list)
    for row in look.all(statement):
        found[row.label_key] += [_estimate(row[1:])] if row.id is not None else []
    return found


def keep_reading_sources(writer: Writer, ledgers: Mapping[int, Doubtful]) -> None:
    """Store what readings lean on, by reading key, in place of what was stored before."""
    _keep_sensitivities(
        writer, t.reading_source, "reading_id", {key: d.sensitivities for key, d in ledgers.items()}
    )


def keep_estimates(
    writer: Writer, estimates: Sequence[tuple[Dimension, Doubtful, Mapping[str, Any]]]
) -> None:
    """Store best figures and what they lean on, in place of the ones before; facts are columns of `estimate`."""
    held: dict[int, int] = {}
    for chunk in in_chunks(dimension.key for dimension, _, _ in estimates):
        columns = select(t.estimate.c.dimension_id, t.estimate.c.id)
        held.update(tuple(row) for row in writer.all(columns.where(t.estimate.c.dimension_id.in_(chunk))))
    owners: dict[int, int] = {}
    new = []
    for dimension, doubtful, facts in estimates:
        values = {"value": doubtful.value, "standard_uncertainty": doubtful.standard_uncertainty, **facts}
        if dimension.key in held:
            owners[dimension.key] = held[dimension.key]
            writer.update(t.estimate, held[dimension.key], **values)
        else:
            new.append({"dimension_id": dimension.key, **values})
    keys = writer.insert_all(t.estimate, new)
    owners.update({row["dimension_id"]: key for row, key in zip(new, keys, strict=True)})
    sensitivities = {owners[dimension.key]: doubtful.sensitivities for dimension, doubtful, _ in estimates}
    _keep_sensitivities(writer, t.estimate_source, "estimate_id", sensitivities)


def drop_estimate(writer: Writer, dimension: Dimension) -> None:
    """Take away the best figure of a size that has no usable reading left."""
    held = writer.value(select(t.estimate.c.id).where(t.estimate.c.dimension_id == dimension.key))
    if held is not None:
        _keep_sensitivities(writer, t.estimate_source, "estimate_id", {held: {}})
        writer.delete(t.estimate, held)


def reading_ledgers(look: Look, reading_keys: Iterable[int]) -> dict[int, Doubtful]:
    """Return readings with the sources they lean on, by key; the value is the reading's, uncorrected."""
    return _ledgers(look, t.reading, t.reading_source, "reading_id", reading_keys)


def estimate_ledgers(look: Look, estimate_keys: Iterable[int]) -> dict[int, Doubtful]:
    """Return best figures with the sources they lean on, by estimate key."""
    return _ledgers(look, t.estimate, t.estimate_source, "estimate_id", estimate_keys)


def _ledgers(look: Look, of: Any, links: Any, column: str, keys: Iterable[int]) -> dict[int, Doubtful]:
    found: dict[int, Doubtful] = {}
    for chunk in in_chunks(keys):
        values = {
            row.id: row.value for row in look.all(select(of.c.id, of.c.value).where(of.c.id.in_(chunk)))
        }
        parts: dict[int, dict[Source, float]] = {key: {} for key in values}
        statement = (
            select(links.c[column].label("owner"), links.c.sensitivity, t.source)
            .join(t.source, t.source.c.id == links.c.source_id)
            .where(links.c[column].in_(chunk))
            .order_by(links.c.id)
        )
        for row in look.all(statement):
            parts[row.owner][_source(row)] = row.sensitivity
        found.update({key: Doubtful(values[key], parts[key]) for key in values})
    return found


def _keep_sensitivities(
    writer: Writer, links: Table, column: str, by_owner: Mapping[int, Mapping[Source, float]]
) -> None:
    source_keys = _source_keys(writer, {source for each in by_owner.values() for source in each})
    held: dict[int, dict[int, Row[Any]]] = defaultdict(dict)
    for chunk in in_chunks(by_owner):
        for row in writer.all(select(links).where(links.c[column].in_(chunk))):
            held[row._mapping[column]][row.source_id] = row
    new, left = [], set[int]()
    for owner, sensitivities in by_owner.items():
        wanted = {source_keys[source]: s for source, s in sensitivities.items()}
        for source_id, row in held[owner].items():
            if source_id not in wanted:
                writer.delete(links, row.id)
                left.add(source_id)
            elif row.sensitivity != wanted[source_id]:
                writer.update(links, row.id, sensitivity=wanted[source_id])
        new += [
            {column: owner, "source_id": source_id, "sensitivity": s}
            for source_id, s in wanted.items()
            if source_id not in held[owner]
        ]
    writer.insert_all(links, new)
    drop_unused_sources(writer, left)


def drop_unused_sources(writer: Writer, keys: Iterable[int] | None = None) -> None:
    """Take away error sources, of these or of all, that nothing leans on any more."""
    used = [select(links.c.source_id) for links in (t.reading_source, t.estimate_source)]
    unused = select(t.source.c.id).where(*(t.source.c.id.not_in(each) for each in used))
    if keys is None:
        found = [row.id for row in writer.all(unused)]
    else:
        found = [
            row.id for chunk in in_chunks(keys) for row in writer.all(unused.where(t.source.c.id.in_(chunk)))
        ]
    for key in found:
        writer.delete(t.source, key)


def _source_keys(writer: Writer, sources: Set[Source]) -> dict[Source, int]:
    wanted = {(s.of_record, s.kind, s.component): _facts_of(s) for s in sources}
    held: dict[tuple[str, str, str], int] = {}
    for chunk in in_chunks({of_record for of_record, _, _ in wanted}):
        for row in writer.all(select(t.source).where(t.source.c.of_record.in_(chunk))):
            which = row.of_record, row.kind, row.component
            held[which] = row.id
            facts = wanted.get(which, {})
            if any(row._mapping[name] != value for name, value in facts.items()):
                writer.update(t.source, row.id, **facts)  # another repeat or check tells more of it
    new = sorted(wanted.keys() - held.keys())
    rows = [
        {"of_record": of, "kind": kind, "component": part, **wanted[of, kind, part]} for of, kind, part in new
    ]
    held.update(zip(new, writer.insert_all(t.source, rows), strict=True))
    return {s: held[s.of_record, s.kind, s.component] for s in sources}


def _facts_of(source: Source) -> dict[str, Any]:
    degrees = source.degrees_of_freedom
    return {"degrees_of_freedom": None if isinf(degrees) else degrees, "distribution": source.distribution}


def _source(row: Row[Any]) -> Source:
    degrees = float("inf") if row.degrees_of_freedom is None else row.degrees_of_freedom
    return Source(row.kind, row.of_record, row.component, degrees, row.distribution)


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
