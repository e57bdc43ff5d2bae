"""What a transaction changes, kept as the history.

A `Writer` notes every row before and after it touches it; when the transaction commits, the notes
become one row of `change`. That row is the history, what undo puts back, and the counter that
search follows.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import Connection, Executable, Row, Table, delete, func, select, update
from sqlalchemy.exc import DBAPIError

from archive.errors import ArchiveBusy, ArchiveDamaged, ArchiveReadOnly, CouldNotWrite, RivetbookError
from archive.records import sqlite
from archive.records.tables import change, metadata

Row_ = dict[str, Any]  # a row by the names of its columns
K = TypeVar("K")


class Look:
    """Reads in one transaction: everything seen belongs together."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def all(self, statement: Executable, values: Mapping[str, Any] | None = None) -> Sequence[Row[Any]]:
        """Return every row of the statement; `values` are for what it leaves open."""
        return self._connection.execute(statement, values).all()

    def first(self, statement: Executable) -> Row[Any] | None:
        """Return the first row of the statement, or None."""
        return self._connection.execute(statement).first()

    def value(self, statement: Executable) -> Any:
        """Return the first column of the first row, or None."""
        return self._connection.execute(statement).scalar()

    def pointed_at(self, keys: Iterable[int], *, of: Table, by: Table) -> Iterable[int]:  # noqa: ARG002 (see Writer)
        """Return those of these keys of a table that rows of another may point at, so that looking is worth it."""
        return keys


class Touched(NamedTuple):
    """One row as it was before a transaction (None: not there) and as it is after."""

    table: str
    row_id: int
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None

    @property
    def sides(self) -> list[Mapping[str, Any]]:
        """The row as it was and as it is, as far as it was there."""
        return [side for side in (self.before, self.after) if side is not None]


class SoFar(NamedTuple):
    """Where the history stands."""

    number: int  # of the newest line
    act: int  # the highest
    highest_keys: dict[str, int]  # ever given in each table: a taken-back row keeps its key for its return


class Writer(Look):
    """Reads and writes in one transaction, noting every row that it touches.

    `sentence` is what the history will say of it.
    """

    def __init__(self, connection: Connection, sentence: str = "") -> None:
        super().__init__(connection)
        self.sentence = sentence
        self._looked_up: set[str] = set()
        self._notes: dict[tuple[str, int], Touched] = {}
        self._noted: set[str] = set()  # tables

    def insert(self, table: Table, **values: Any) -> int:
        """Add one row; returns its key."""
        return self.insert_all(table, [values])[0]

    def insert_all(self, table: Table, rows: Sequence[Mapping[str, Any]]) -> list[int]:
        """Add rows that have the same columns; returns their keys, in order."""
        if not rows:
            return []
        first = self._take_keys(table, len(rows))
        unsaid = dict.fromkeys(column.name for column in table.columns if column.name not in rows[0])
        whole = {key: {**unsaid, **row, "id": key} for key, row in enumerate(rows, start=first)}
        sqlite.insert_rows(self._connection, table, list(whole.values()))
        # No key is given twice, so none of them is noted yet.
        name = table.name
        self._noted.add(name)
        self._notes.update({(name, key): Touched(name, key, None, row) for key, row in whole.items()})
        return list(whole)

    def pointed_at(self, keys: Iterable[int], *, of: Table, by: Table) -> Iterable[int]:
        """Nothing points at a row that came in this transaction, unless it came in it too."""
        if by.name in self._noted:
            return keys
        notes = ((key, self._notes.get((of.name, key))) for key in keys)
        return [key for key, note in notes if note is None or note.before is not None]

    def update(self, table: Table, row_id: int, **values: Any) -> None:
        """Change columns of one row."""
        before = self.row(table, row_id)
        if before is None or all(before[name] == value for name, value in values.items()):
            return
        self._connection.execute(update(table).where(table.c.id == row_id).values(**values))
        self._note(table.name, row_id, before, {**before, **values})

    def delete(self, table: Table, row_id: int) -> None:
        """Take one row away (the history keeps it)."""
        before = self.row(table, row_id)
        if before is not None:
            self._connection.execute(delete(table).where(table.c.id == row_id))
            self._note(table.name, row_id, before, None)

    def put_back(self, rows: Iterable[tuple[Table, int, Mapping[str, Any] | None]]) -> None:
        """Make rows what they are given as (None: not there): all go before any comes, so that names may change hands."""
        wanted = [(table, row_id, values, self.row(table, row_id)) for table, row_id, values in rows]
        sqlite.defer_foreign_keys(self._connection)
        for table, row_id, _, now in wanted:
            if now is not None:
                self._connection.execute(delete(table).where(table.c.id == row_id))
        for table, row_id, values, now in wanted:
            if values is not None:
                sqlite.insert_rows(self._connection, table, [values])
            self._note(table.name, row_id, now, values)

    def touched(self, *tables: Table) -> Sequence[Touched]:
        """Return what this transaction has changed so far, in these tables or in all, in order.

        A row that came and went is left out.
        """
        named = self._noted.intersection(table.name for table in tables) if tables else self._noted
        if not named:
            return []
        return [note for note in self._notes.values() if note.table in named and note.before != note.after]

    @cached_property
    def so_far(self) -> SoFar:
        """The history that this transaction comes after."""
        highest_act = select(func.max(change.c.act)).scalar_subquery()
        columns = select(change.c.number, highest_act.label("act"), change.c.highest_keys)
        newest = self.first(columns.order_by(change.c.number.desc()).limit(1))
        return SoFar._make(newest) if newest is not None else SoFar(0, 0, {})

    def _take_keys(self, table: Table, count: int) -> int:
        keys = self.so_far.highest_keys
        if table.name not in self._looked_up:  # a migration may have added rows that the history knows not of
            self._looked_up.add(table.name)
            highest = self._connection.exec_driver_sql(f"SELECT max(id) FROM {table.name}").scalar()
            keys[table.name] = max(keys.get(table.name, 0), highest or 0)
        first = keys[table.name] + 1
        keys[table.name] += count
        return first

    def row(self, table: Table, row_id: int) -> Row_ | None:
        """Return one row by its key, or None."""
        row = self.first(select(table).where(table.c.id == row_id))
        return dict(row._mapping) if row is not None else None

    def _note(
        self, table: str, row_id: int, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
    ) -> None:
        noted = self._notes.get((table, row_id))
        first = before if noted is None else noted.before
        self._noted.add(table)
        self._notes[table, row_id] = Touched(table, row_id, first, after)


@dataclass(frozen=True, slots=True)
class Change:
    """One line of the history."""

    number: int
    act: int
    at_utc: str
    door: str
    sentence: str
    undoes: int | None
    rows: tuple[Touched, ...]


def changes_after(look: Look, number: int, *, most: int | None = None) -> Iterator[Change]:
    """Yield the changes after this number, in commit order."""
    statement = select(change).where(change.c.number > number).order_by(change.c.number).limit(most)
    return (_as_change(row) for row in look.all(statement))


def changes_of_act(look: Look, act: int) -> list[Change]:
    """Return the changes of one act, in commit order."""
    statement = select(change).where(change.c.act == act).order_by(change.c.number)
    return [_as_change(row) for row in look.all(statement)]


def newest_change(look: Look) -> int:
    """Return the number of the newest change; 0 in a new archive."""
    return look.value(select(func.max(change.c.number))) or 0


def _as_change(row: Row[Any]) -> Change:
    pairs = zip(row.before, row.after, strict=True)
    touched = (Touched(b[0], b[1], b[2], a[2]) for b, a in pairs)
    return Change(row.number, row.act, row.at_utc, row.door, row.sentence, row.undoes, tuple(touched))


def note_change(writer: Writer, *, act: int, door: str, undoes: int | None = None) -> int | None:
    """Write the transaction's line of history; returns its number, or None when nothing was changed."""
    touched = writer.touched()
    if not touched:
        return None
    if not writer.sentence:
        raise ValueError("a change must say what it does")
    number = writer.so_far.number + 1
    line = {
        "number": number,
        "act": act,
        "at_utc": datetime.now(UTC).isoformat(timespec="milliseconds"),
        "door": door,
        "sentence": writer.sentence,
        "undoes": undoes,
        "before": [[t.table, t.row_id, t.before] for t in touched],
        "after": [[t.table, t.row_id, t.after] for t in touched],
        "highest_keys": writer.so_far.highest_keys,
    }
    sqlite.insert_rows(writer._connection, change, [line])
    return number


def table_named(name: str) -> Table:
    """Return the table that a line of history names."""
    return metadata.tables[name]


@contextmanager
def plain_refusals(folder: str, wait_seconds: float) -> Iterator[None]:
    """Turn what the database says of locks, full disks, read-only places and damage into our sentences."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        refusal = refusal_for(getattr(error, "orig", error), folder, wait_seconds)
        if refusal is None:
            raise
        raise refusal from error


def refusal_for(error: BaseException | None, folder: str, wait_seconds: float) -> RivetbookError | None:
    """Return the sentence for a database error that a person can act on."""
    if error is None:
        return None
    if sqlite.says_locked(error):
        return ArchiveBusy(folder, wait_seconds)
    if sqlite.says_read_only(error):
        return ArchiveReadOnly(folder)
    if sqlite.says_no_room(error):
        return CouldNotWrite(str(Path(folder) / "archive.db"), str(error))
    if sqlite.says_damaged(error):
        return ArchiveDamaged(folder, str(error))
    return None


def in_chunks(keys: Iterable[K], size: int = 500) -> Iterator[list[K]]:
    """Yield the keys in lists short enough for one statement."""
    chunk: list[K] = []
    for key in keys:
        chunk.append(key)
        if len(chunk) == size:
            yield chunk
            chunk = []
    if chunk:
        yield chunk
