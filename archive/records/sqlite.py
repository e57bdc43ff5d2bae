"""Everything that only SQLite understands: pragmas, locks, copies, the version number.

A database elsewhere would need a sister of this module and of nothing else.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing
from operator import itemgetter
from pathlib import Path
from typing import Any

from sqlalchemy import JSON, Connection, Engine, Table, create_engine, event
from sqlalchemy.pool import QueuePool

_as_json = json.JSONEncoder(check_circular=False).encode  # `json.dumps` makes another for every value
WRITES = "rivetbook_writes"  # execution option: this connection's transactions write
_CACHE_KIB = 65_536  # at most; SQLite's own 2 MiB reads the pages of a large archive again for every question


def engine_for(database: Path, *, wait_seconds: float, read_only: bool) -> Engine:
    """Return an engine for the database file; a read-only one takes no locks and makes no files."""
    mode = "mode=ro&immutable=1" if read_only else "mode=rw"
    address = f"{database.resolve().as_uri()}?{mode}"

    def connect() -> sqlite3.Connection:
        # isolation_level=None: the driver starts no transactions, `_begin` below does, and says which.
        return sqlite3.connect(
            address, uri=True, isolation_level=None, timeout=wait_seconds, check_same_thread=False
        )

    # Kept open between transactions: the last one to close folds the log in, which costs a flush.
    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool)

    @event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _record: Any) -> None:
        connection.execute("PRAGMA foreign_keys=ON")
        connection.execute(f"PRAGMA cache_size=-{_CACHE_KIB}")
        if not read_only:
            connection.execute("PRAGMA synchronous=FULL")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # A read that turns into a write fails at once when another writer is about: say so from the start.
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def create_database(database: Path) -> None:
    """Make an empty database with a write-ahead log."""
    with closing(sqlite3.connect(database, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")


def revision_of(database: Path) -> int:
    """Return the number of the newest migration that the database has been through; 0 for none."""
    with closing(_peek(database)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _peek(database: Path) -> sqlite3.Connection:
    """Open the database so that not even a lock file appears beside it, unless its log must be read too."""
    mode = "mode=ro" if has_unfolded_log(database) else "mode=ro&immutable=1"
    return sqlite3.connect(f"{database.resolve().as_uri()}?{mode}", uri=True)


def revision_in(connection: Connection) -> int:
    """Return the number of the newest migration, as the open transaction sees it."""
    return int(connection.exec_driver_sql("PRAGMA user_version").scalar_one())


def holds_nothing(database: Path) -> bool:
    """Tell whether the file is a database without a single row (a list of migrations done apart)."""
    try:
        with closing(_peek(database)) as connection:
            tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
            names = [name.replace('"', '""') for (name,) in tables if name != "alembic_version"]
            return not any(connection.execute(f'SELECT 1 FROM "{name}" LIMIT 1').fetchone() for name in names)
    except sqlite3.Error:
        return False


def set_revision(connection: Connection, revision: int) -> None:
    """Store the number of the newest migration, inside the open transaction."""
    connection.exec_driver_sql(f"PRAGMA user_version={int(revision)}")


def switch_foreign_keys(connection: Connection, *, on: bool) -> None:
    """Switch the watch over foreign keys on or off; SQLite heeds it only outside a transaction."""
    connection.connection.driver_connection.execute(  # type: ignore[union-attr]
        f"PRAGMA foreign_keys={'ON' if on else 'OFF'}"
    )


def broken_foreign_keys(connection: Connection) -> list[str]:
    """Return the tables whose rows point at rows that are not there."""
    return sorted({row[0] for row in connection.exec_driver_sql("PRAGMA foreign_key_check")})


def defer_foreign_keys(connection: Connection) -> None:
    """Let rows of this transaction point at rows that come later in it."""
    connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")


def insert_rows(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Add rows that name the same columns, as the driver takes them.

    SQLAlchemy binds each row by itself, which for many takes longer than SQLite needs to keep them.
    """
    names = [column.name for column in table.columns if column.name in rows[0]]
    for name in names:
        if isinstance(table.c[name].type, JSON):
            rows = [{**row, name: _as_json(row[name])} for row in rows]
    quoted = ", ".join(f'"{name}"' for name in names)
    statement = f"INSERT INTO {table.name} ({quoted}) VALUES ({', '.join('?' * len(names))})"
    connection.exec_driver_sql(statement, list(map(itemgetter(*names), rows)))


def copy_database(database: Path, to: Path) -> None:
    """Copy a database that may be in use, whole, with SQLite's own backup (a file copy would miss the log)."""
    with (
        closing(sqlite3.connect(database)) as source,
        closing(sqlite3.connect(to)) as target,
    ):
        source.backup(target)


def has_unfolded_log(database: Path) -> bool:
    """Tell whether changes lie in the write-ahead log beside the file that the file itself lacks."""
    log = database.with_name(f"{database.name}-wal")
    return log.is_file() and log.stat().st_size > 0


def copy_folded(database: Path, to_folder: Path) -> Path:
    """Copy a database and its log that nobody writes to, and fold the copy's log in; returns the copy."""
    copy = to_folder / database.name
    shutil.copyfile(database, copy)
    shutil.copyfile(f"{database}-wal", f"{copy}-wal")
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return copy


def fold_log(engine: Engine) -> None:
    """Fold the write-ahead log into the database file, so that the folder can be copied plainly."""
    with closing(engine.raw_connection()) as raw:
        cursor = raw.cursor()
        cursor.execute("PRAGMA busy_timeout=0")  # a reader elsewhere is no reason to wait here
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        cursor.close()


def says_locked(error: BaseException) -> bool:
    """Tell whether a database error means that another writer holds the database.

    'locking protocol' is said when two begin at once and one has tried in vain for long (SQLITE_PROTOCOL).
    """
    return isinstance(error, sqlite3.OperationalError) and any(
        words in str(error) for words in ("locked", "locking protocol")
    )


def says_no_room(error: BaseException) -> bool:
    """Tell whether a database error means that the disk is full or refuses to write."""
    return isinstance(error, sqlite3.OperationalError) and any(
        words in str(error) for words in ("disk is full", "disk I/O error", "unable to open database file")
    )


def says_read_only(error: BaseException) -> bool:
    """Tell whether a database error means that the file or its folder cannot be written."""
    return isinstance(error, sqlite3.OperationalError) and "readonly" in str(error)


def says_damaged(error: BaseException) -> bool:
    """Tell whether a database error means that the file is not, or no longer, a database."""
    return type(error) is sqlite3.DatabaseError
