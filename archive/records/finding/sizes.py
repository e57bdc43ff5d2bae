"""Sizes with their best figures, as searches by size look at them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from operator import attrgetter
from typing import NamedTuple

from sqlalchemy import func, select

from archive.records import tables as t
from archive.records.changes import Look
from archive.records.finding.among import KEYS, keys_of_few, of_few, rows_of


@dataclass(frozen=True, slots=True)
class SizeRow:
    """A size with its best figure, as a search by size looks at it; numbers in `unit`."""

    subject_key: int
    dimension_key: int
    estimate_key: int
    label: str
    state: str
    span: str
    quantity: str
    value: float
    unit: str
    standard_uncertainty: float
    low_95: float
    high_95: float
    grade: str
    readings: int


def labels_in_use(look: Look) -> dict[str, str]:
    """Return every label that a size has, by its key."""
    rows = look.all(
        select(t.dimension.c.label_key, func.min(t.dimension.c.label).label("label")).group_by(
            t.dimension.c.label_key
        )
    )
    return {row.label_key: row.label for row in rows}


class LengthRow(NamedTuple):
    """A length with its best figure, in little: mm."""

    subject_key: int
    dimension_key: int
    value: float
    low_95: float
    high_95: float


# What runs at each search is put together once, with its values left open.
_LENGTHS = (
    select(
        t.dimension.c.label_key,
        t.dimension.c.subject_id,
        t.dimension.c.id,
        t.estimate.c.value,
        t.estimate.c.low_95,
        t.estimate.c.high_95,
    )
    .join(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
    .where(t.estimate.c.quantity == "length", t.dimension.c.label_key.in_(KEYS))
)
_EVERY_SIZE = select(
    t.dimension.c.subject_id,
    t.dimension.c.id,
    t.estimate.c.id,
    t.dimension.c.label,
    t.dimension.c.state,
    t.dimension.c.span,
    t.estimate.c.quantity,
    t.estimate.c.value,
    t.estimate.c.unit,
    t.estimate.c.standard_uncertainty,
    t.estimate.c.low_95,
    t.estimate.c.high_95,
    t.estimate.c.grade,
    t.estimate.c.readings,
).join(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
_by_low_end = attrgetter("low_95")
_SIZE_ROWS = _EVERY_SIZE.where(t.dimension.c.id.in_(KEYS))


def lengths_by_label(look: Look, label_keys: Iterable[str]) -> dict[str, list[LengthRow]]:
    """Return the lengths of each of these labels that have a best figure, by the low ends of their intervals."""
    found: dict[str, list[LengthRow]] = {label: [] for label in label_keys}
    for label, *row in rows_of(look, _LENGTHS, found):
        found[label].append(LengthRow._make(row))
    for rows in found.values():
        rows.sort(key=_by_low_end)
    return found


def lengths_called(
    look: Look, label_keys: Collection[str] | None, among: Collection[int] | None = None
) -> list[SizeRow]:
    """Return the lengths of these labels, or of any, with their best figures; of these subjects, or of all."""
    statement = _EVERY_SIZE.where(t.estimate.c.quantity == "length").order_by(t.dimension.c.id)
    if label_keys is not None:
        statement = statement.where(t.dimension.c.label_key.in_(list(label_keys)))
    return [SizeRow(*tuple(row)) for row in of_few(look, statement, t.dimension.c.subject_id, among)]


def size_rows(look: Look, dimension_keys: Iterable[int]) -> dict[int, SizeRow]:
    """Return these sizes with their best figures, by dimension key."""
    return {row[1]: SizeRow(*row) for row in rows_of(look, _SIZE_ROWS, dimension_keys)}


def subjects_with_sizes(
    look: Look, label_keys: Collection[str] | None, among: Collection[int] | None = None
) -> set[int]:
    """Return the subjects, among these or all, that have a best figure for a size of these labels, or for any."""
    statement = select(t.dimension.c.subject_id).join(
        t.estimate, t.estimate.c.dimension_id == t.dimension.c.id
    )
    if label_keys is not None:
        statement = statement.where(t.dimension.c.label_key.in_(list(label_keys)))
    return keys_of_few(look, statement, t.dimension.c.subject_id, among)
