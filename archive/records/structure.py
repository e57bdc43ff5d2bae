"""Which rows point at which, read from the tables themselves, so that a new table needs no word here."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from sqlalchemy import Table, UniqueConstraint, select

from archive.records.changes import Look, Row_
from archive.records.tables import metadata

Key = tuple[str, int]  # a row: its table's name and its key


@cache
def points_at(table: Table) -> tuple[tuple[str, Table], ...]:
    """Return the columns of a table that point at other rows, with the tables they point at."""
    return tuple((key.parent.name, key.column.table) for key in sorted(table.foreign_keys, key=str))


@cache
def pointed_at_by(table: Table) -> tuple[tuple[Table, str], ...]:
    """Return the tables that point at this one, with the columns that do."""
    return tuple(
        (other, column)
        for other in metadata.sorted_tables
        for column, aim in points_at(other)
        if aim is table
    )


@cache
def unique_sets(table: Table) -> tuple[tuple[str, ...], ...]:
    """Return the sets of columns in which no two rows of the table may be alike."""
    single = [(c.name,) for c in table.columns if c.unique]
    several = [
        tuple(c.name for c in constraint.columns)
        for constraint in sorted(table.constraints, key=lambda each: str(each.name))
        if isinstance(constraint, UniqueConstraint) and len(constraint.columns) > 1
    ]
    return tuple(single + several)


def is_derived(table: Table) -> bool:
    """Tell whether the rows are worked out from others, and so may be worked out anew."""
    return bool(table.info.get("derived"))


def worked_out_columns(table: Table) -> frozenset[str]:
    """Return the columns that are worked out from other rows, of a table whose rows are not."""
    return frozenset(table.info.get("worked_out", ()))


def is_kept_if_needed(table: Table) -> bool:
    """Tell whether the rows are made in passing, and stay when what made them is taken back and others need them."""
    return bool(table.info.get("kept_if_needed"))


def rows_pointing_at(look: Look, table: Table, row_id: int) -> list[tuple[Table, Row_]]:
    """Return every row that points at this one."""
    return [
        (other, dict(row._mapping))
        for other, column in pointed_at_by(table)
        for row in look.all(select(other).where(other.c[column] == row_id).order_by(other.c.id))
    ]


def rows_alike(look: Look, table: Table, row_id: int, values: Mapping[str, Any]) -> list[int]:
    """Return the keys of other rows that could not stand beside one of these values."""
    found = []
    for columns in unique_sets(table):
        if all(values[name] is not None for name in columns):
            same = [table.c[name] == values[name] for name in columns]
            found += [row.id for row in look.all(select(table.c.id).where(*same, table.c.id != row_id))]
    return found
