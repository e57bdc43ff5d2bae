"""Asking for rows of a few things as well as of all: whichever way there is less to read."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from sqlalchemy import BindParameter, Column, ColumnElement, Select, bindparam, func

from archive.records.changes import Look, in_chunks

_MANY = 2000  # keys from which reading every row is faster than asking for each
KEYS: BindParameter[Any] = bindparam("keys", expanding=True)  # what a statement leaves open


def rows_of(
    look: Look,
    statement: Select[Any],
    keys: Iterable[int] | Iterable[str],
    values: Mapping[str, object] | None = None,
) -> Iterator[Any]:
    """Yield the rows of a statement that leaves its `KEYS` open; `values` are for what else it does."""
    for chunk in in_chunks(keys):
        yield from look.all(statement, {"keys": chunk, **(values or {})})


def of_few(
    look: Look,
    statement: Select[Any],
    column: ColumnElement[Any],
    among: Collection[int] | None,
    values: Mapping[str, object] | None = None,
) -> Iterable[Any]:
    """Return a statement's rows whose first column, `column`, is among these keys (None: is any)."""
    if among is None:
        return look.all(statement, values)
    if len(among) > _MANY:
        wanted = among if isinstance(among, (set, frozenset)) else set(among)
        return (row for row in look.all(statement, values) if row[0] in wanted)
    return rows_of(look, _narrowed(statement, column), among, values)


@lru_cache(maxsize=64)
def _narrowed(statement: Select[Any], column: ColumnElement[Any]) -> Select[Any]:
    return statement.where(column.in_(KEYS))


def keys_of_few(
    look: Look,
    statement: Select[Any],
    column: ColumnElement[Any],
    among: Collection[int] | None,
    values: Mapping[str, object] | None = None,
) -> set[int]:
    """Return the first columns of a statement's rows, as `of_few` gives them."""
    return {row[0] for row in of_few(look, statement, column, among, values)}


def not_first(column: Column[Any]) -> ColumnElement[Any]:
    """Return the column so that no database begins with its index, where a few keys leave less to read."""
    return func.coalesce(column, None)
