"""Searches that somebody keeps by a name, to ask them again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select

from archive.errors import RecordNotFound
from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import clean_name, in_natural_order, name_key, near_names
from archive.records.things import KeptSearch


def all_kept_searches(look: Look) -> list[KeptSearch]:
    """Return the searches that are kept, by name."""
    rows = in_natural_order(look.all(select(t.kept_search)))
    return [KeptSearch(row.id, row.name, row.asked) for row in rows]


def kept_search_named(look: Look, name: str) -> KeptSearch:
    """Return the search kept by this name; raises `RecordNotFound` with near names."""
    kept = all_kept_searches(look)
    found = next((each for each in kept if name_key(each.name) == name_key(name)), None)
    if found is None:
        raise RecordNotFound("search", name, near_names(name, [each.name for each in kept]))
    return found


def keep_search(writer: Writer, name: str, asked: Mapping[str, Any]) -> bool:
    """Keep a search by a name; tells whether it took the place of another that had it."""
    facts = {"name": clean_name(name), "asked": dict(asked)}
    held = writer.value(select(t.kept_search.c.id).where(t.kept_search.c.name_key == name_key(name)))
    if held is None:
        writer.insert(t.kept_search, name_key=name_key(name), **facts)
    else:
        writer.update(t.kept_search, held, **facts)
    return held is not None


def forget_search(writer: Writer, kept: KeptSearch) -> None:
    """Keep a search no longer (the history does)."""
    writer.delete(t.kept_search, kept.key)
