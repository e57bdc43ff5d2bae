"""Bring an older archive's database up to date, after setting a copy of it aside.

All revisions run in one explicit transaction with foreign keys off before it: Alembic changes a SQLite
table by building it anew and dropping the old one, and with foreign keys on that drop would delete
every row that points at it.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from archive.carried import carried_folder
from archive.errors import ArchiveTooNew, UpgradeFailed
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
    found = sqlite.revision_of(database, read_only=False)
    if found == newest:
        return None
    if found > newest:
        raise ArchiveTooNew(str(folder), found, newest)
    aside = _set_aside(folder, found)
    try:
        run_migrations(database, wait_seconds=wait_seconds, scripts=scripts)
    except Exception as error:
        raise UpgradeFailed(str(folder), str(aside.relative_to(folder)), str(error)) from error
    return aside


def _set_aside(folder: Path, revision: int) -> Path:
    moment = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    aside = folder / "set-aside" / f"archive revision {revision:04d} {moment}.db"
    aside.parent.mkdir(exist_ok=True)
    sqlite.copy_database(folder / "archive.db", aside)
    durable.flush_file(aside)
    durable.flush_folder(aside.parent)
    return aside


def run_migrations(
    database: Path, *, wait_seconds: float, scripts: Path | None = None, to: str = "head"
) -> None:
    """Run all migrations up to `to` in one transaction; any failure leaves the database as it was."""
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    folder = scripts or carried_folder("migrations")
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    goal = ScriptDirectory.from_config(config).as_revision_number(to)
    engine = sqlite.engine_for(database, wait_seconds=wait_seconds, read_only=False)
    with engine.connect() as plain:
        connection = plain.execution_options(**{sqlite.WRITES: True})
        sqlite.switch_foreign_keys(connection, on=False)
        with connection.begin():
            config.attributes["connection"] = connection
            command.upgrade(config, to)
            broken = sqlite.broken_foreign_keys(connection)
            if broken:
                raise RuntimeError(f"rows of {', '.join(broken)} would point at nothing")
            sqlite.set_revision(connection, int(str(goal)))
    engine.dispose()
