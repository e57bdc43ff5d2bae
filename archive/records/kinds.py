"""The person's own kinds, beside those of the thesaurus."""

from __future__ import annotations

from sqlalchemy import func, select

from archive.kinds import Kind
from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import name_key

_OWN_KINDS = select(t.kind).order_by(t.kind.c.name_key)


def own_kinds(look: Look) -> tuple[Kind, ...]:
    """Return the kinds that the person added."""
    rows = look.all(_OWN_KINDS)
    return tuple(
        Kind(
            id=r.slug,
            name=r.name,
            broader=r.broader,
            also=tuple(r.words),
            views=tuple(r.views),
            sizes=tuple(r.sizes),
        )
        for r in rows
    )


def add_kind(writer: Writer, kind: Kind) -> None:
    """Add a kind of the person's own; that there is none of its name is for the caller to see to."""
    writer.insert(
        t.kind,
        slug=kind.id,
        name=kind.name,
        name_key=name_key(kind.name),
        broader=kind.broader,
        words=list(kind.also),
        views=list(kind.views),
        sizes=list(kind.sizes),
    )


def remove_kind(writer: Writer, kind_id: str) -> None:
    """Take a kind of the person's own away."""
    row = writer.first(select(t.kind.c.id).where(t.kind.c.slug == kind_id))
    if row is not None:
        writer.delete(t.kind, row.id)


def subjects_by_kind(look: Look) -> dict[str, int]:
    """Return how many subjects are given each kind, by its id; kinds of none are left out."""
    counts = select(t.subject.c.kind, func.count().label("many")).where(t.subject.c.kind.is_not(None))
    return {row.kind: row.many for row in look.all(counts.group_by(t.subject.c.kind))}
