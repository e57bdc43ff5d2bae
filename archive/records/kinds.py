"""The person's own kinds, beside those of the thesaurus."""

from __future__ import annotations

from sqlalchemy import select

from archive.kinds import Kind
from archive.records import tables as t
from archive.records.changes import Look

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
