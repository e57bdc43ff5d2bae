"""What readings and best figures lean on: the error sources, stored once each, and how much each matters to whom."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from math import isinf
from types import MappingProxyType
from typing import Any

from sqlalchemy import Row, Table, select

from archive.metrology.sources import Doubtful, Source
from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks

_OWNER = {t.reading_source.name: "reading_id", t.estimate_source.name: "estimate_id"}
_NONE: Mapping[int, Doubtful] = MappingProxyType({})


def keep_ledgers(
    writer: Writer,
    *,
    readings: Mapping[int, Doubtful] = _NONE,
    estimates: Mapping[int, Doubtful] = _NONE,
) -> None:
    """Store what readings and best figures lean on, by their keys, in place of what was stored before.

    A source that nothing leans on any more goes.
    """
    keys = _source_keys(writer, [*readings.values(), *estimates.values()])
    left = _keep_sensitivities(writer, t.reading_source, t.reading, _by_key(readings, keys))
    left |= _keep_sensitivities(writer, t.estimate_source, t.estimate, _by_key(estimates, keys))
    drop_unused_sources(writer, left)


def reading_ledgers(look: Look, reading_keys: Iterable[int]) -> dict[int, Doubtful]:
    """Return readings with the sources they lean on, by key; the value is the reading's, uncorrected."""
    return _ledgers(look, t.reading, t.reading_source, reading_keys)


def estimate_ledgers(look: Look, estimate_keys: Iterable[int]) -> dict[int, Doubtful]:
    """Return best figures with the sources they lean on, by estimate key."""
    return _ledgers(look, t.estimate, t.estimate_source, estimate_keys)


def _ledgers(look: Look, of: Table, links: Table, keys: Iterable[int]) -> dict[int, Doubtful]:
    column, found = _OWNER[links.name], dict[int, Doubtful]()
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


def _by_key(known: Mapping[int, Doubtful], keys: Mapping[Source, int]) -> dict[int, dict[int, float]]:
    """The sensitivities by the sources' keys."""
    return {owner: {keys[source]: s for source, s in it.sensitivities.items()} for owner, it in known.items()}


def _keep_sensitivities(
    writer: Writer, links: Table, of: Table, by_owner: Mapping[int, Mapping[int, float]]
) -> set[int]:
    """Store what each owner leans on, by the sources' keys; returns the sources that one leans on no longer."""
    column = _OWNER[links.name]
    held: dict[int, dict[int, Row[Any]]] = defaultdict(dict)
    for chunk in in_chunks(writer.pointed_at(by_owner, of=of, by=links)):
        for row in writer.all(select(links).where(links.c[column].in_(chunk))):
            held[row._mapping[column]][row.source_id] = row
    added, left = [], set[int]()
    for owner, wanted in by_owner.items():
        for source_id, row in held[owner].items():
            if source_id not in wanted:
                writer.delete(links, row.id)
                left.add(source_id)
            elif row.sensitivity != wanted[source_id]:
                writer.update(links, row.id, sensitivity=wanted[source_id])
        added += [
            {column: owner, "source_id": source_id, "sensitivity": s}
            for source_id, s in wanted.items()
            if source_id not in held[owner]
        ]
    writer.insert_all(links, added)
    return left


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


def _source_keys(writer: Writer, known: Iterable[Doubtful]) -> dict[Source, int]:
    """Store the sources of these numbers, the later telling more of one than the earlier; returns their keys."""
    sources = dict.fromkeys(source for each in known for source in each.sensitivities)
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
