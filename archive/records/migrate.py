"""Bring an older archive's database up to date, after setting a copy of it aside.

All revisions run in one explicit transaction with foreign keys off before it: Alembic changes a SQLite
table by building it anew and dropping the old one, and with foreign keys on that drop would delete
every row that points at it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection

from archive.carried import carried_folder
from archive.errors import ArchiveDamaged, ArchiveTooNew, CouldNotWrite, UpgradeFailed
from archive.records import durable, sqlite


def newest_revision(scripts: Path | None = None) -> int:
    """Return the number of the newest migration that the program carries, read from the file names."""
    versions = (scripts or carried_folder("migrations")) / "versions"
    return max(int(file.name[:4]) for file in versions.glob("[0-9][0-9][0-9][0-9]_*.py"))


def bring_up_to_date(folder: Path, *, wait_seconds: float, scripts: Path | None = None) -> Path | None:
    """Upgrade the archive's database if it is older than the program.

    Returns where the copy from before was set aside, or None when nothing had to be done. Raises
    `ArchiveTooNew` for an archive that a newer program made, `UpgradeFailed` when a migration fails;
    the archive is then as it was.
    """
    database = folder / "archive.db"
    newest = newest_revision(scripts)
    found = sqlite.revision_of(database)
    if found == newest:
        return None
    if found == 0:  # an archive is given its tables before it is one: these have gone
        raise ArchiveDamaged(str(folder), "it is empty")
    if found > newest:
        raise ArchiveTooNew(str(folder), found, newest)
    with _alone(database, wait_seconds) as connection:
        found = sqlite.revision_in(connection)
        if found == newest:  # another Rivetbook did it while this one waited
            return None
        aside = _set_aside(folder, found)
        try:
            _upgrade(connection, scripts)
        except Exception as error:
            raise UpgradeFailed(str(folder), str(aside.relative_to(folder)), _in_a_line(error)) from error
    return aside


def run_migrations(
    database: Path, *, wait_seconds: float, scripts: Path | None = None, to: str = "head"
) -> None:
    """Run all migrations up to `to` in one transaction; any failure leaves the database as it was."""
    with _alone(database, wait_seconds) as connection:
        _upgrade(connection, scripts, to)


def _set_aside(folder: Path, revision: int) -> Path:
    moment = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    aside = folder / "set-aside" / f"archive revision {revision:04d} {moment}.db"
    aside.parent.mkdir(exist_ok=True)
    part = durable.part_beside(aside)
    try:
        sqlite.copy_database(folder / "archive.db", part)
        durable.flush_file(part)
        part.replace(aside)
    except BaseException as error:
        part.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise CouldNotWrite(str(aside), error.strerror or str(error)) from error
        raise
    durable.flush_folder(aside.parent)
    return aside


@contextmanager
def _alone(database: Path, wait_seconds: float) -> Iterator[Connection]:
    """Hold the database against other writers, in one transaction with foreign keys off."""
    engine = sqlite.engine_for(database, wait_seconds=wait_seconds, read_only=False)
    try:
        with engine.connect() as plain:
            connection = plain.execution_options(**{sqlite.WRITES: True})
            sqlite.switch_foreign_keys(connection, on=False)
            with connection.begin():
                yield connection
    finally:
        engine.dispose()


def _upgrade(connection: Connection, scripts: Path | None, to: str = "head") -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    folder = scripts or carried_folder("migrations")
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    config.attributes["connection"] = connection
    goal = ScriptDirectory.from_config(config).as_revision_number(to)
    command.upgrade(config, to)
    broken = sqlite.broken_foreign_keys(connection)
    if broken:
        raise RuntimeError(f"rows of {', '.join(broken)} would point at nothing")
    sqlite.set_revision(connection, int(str(goal)))


def _in_a_line(error: Exception) -> str:
    cause = getattr(error, "orig", None) or error  # the database's own words, without the statement
    return " ".join(str(cause).split()) or type(cause).__name__
