"""Somebody's archive of long ago, brought up to date: nothing lost, and a failure leaves it as it was."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
from wendle_basin import fill, new_archive

from archive.carried import carried_folder
from archive.errors import ArchiveBusy, UpgradeFailed
from archive.records import archive as archives
from archive.records import migrate, sqlite, subjects
from archive.records import tables as t
from archive.records.archive import open_archive
from archive.records.changes import newest_change

DUMPS = sorted((Path(__file__).parent / "dumps").glob("*.sql"))
Rows = dict[str, list[dict[str, object]]]


def rows_in(database: Path) -> Rows:
    """Every row of every table, as SQLite holds it."""
    with closing(sqlite3.connect(database)) as connection:
        connection.row_factory = sqlite3.Row
        names = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
        ).fetchall()
        return {
            name: [dict(row) for row in connection.execute(f"SELECT * FROM {name} ORDER BY rowid")]
            for (name,) in names
            if name != "alembic_version"
        }


def dumped(database: Path) -> str:
    """The whole database as SQL text."""
    with closing(sqlite3.connect(database)) as connection:
        return "\n".join(connection.iterdump())


def archive_of_long_ago(folder: Path, dump: Path) -> Path:
    """An archive folder whose database is that of the dump."""
    new_archive(folder).close()
    database = folder / "archive.db"
    database.unlink()
    sqlite.create_database(database)
    with closing(sqlite3.connect(database)) as connection:
        connection.executescript(dump.read_text(encoding="utf-8"))
    return folder


@pytest.fixture
def wharf(tmp_path: Path) -> Path:
    with new_archive(tmp_path / "wharf") as archive:
        fill(archive)
    return tmp_path / "wharf"


@pytest.fixture
def scripts(tmp_path: Path) -> Path:
    """A copy of the program's migrations, to which a test adds one."""
    return Path(shutil.copytree(carried_folder("migrations"), tmp_path / "migrations"))


def add_revision(scripts: Path, body: str) -> int:
    """Put a revision after the newest one; returns its number."""
    newest = migrate.newest_revision(scripts)
    lines = "\n".join(f"    {line}" for line in body.splitlines())
    (scripts / "versions" / f"{newest + 1:04d}_made_by_a_test.py").write_text(
        f"import sqlalchemy as sa\nfrom alembic import op\n\nrevision = '{newest + 1:04d}'\n"
        f"down_revision = '{newest:04d}'\n\n\ndef upgrade():\n{lines}\n"
    )
    return newest + 1


def test_every_landed_revision_has_its_dump() -> None:
    landed = {file.name[:4] for file in (carried_folder("migrations") / "versions").glob("[0-9]*.py")}

    assert {dump.stem for dump in DUMPS} == landed, (
        "run 'python tests/records/make_dump.py' with every new migration"
    )


@pytest.mark.parametrize("dump", DUMPS, ids=lambda dump: dump.stem)
def test_an_archive_of_every_revision_is_brought_up_to_date_with_every_row_kept(
    tmp_path: Path, dump: Path
) -> None:
    folder = archive_of_long_ago(tmp_path / "long ago", dump)
    before = rows_in(folder / "archive.db")
    assert before["reading"], "a dump without data shows nothing"

    with open_archive(folder) as archive, archive.look() as look:
        assert subjects.subject_named(look, "hand crane").name == "Wharf crane"
        newest = newest_change(look)

    after = rows_in(folder / "archive.db")
    assert newest == len(before["change"])
    assert sqlite.revision_of(folder / "archive.db") == migrate.newest_revision()
    for table, rows in before.items():
        assert len(after[table]) >= len(rows)
        for row, kept in zip(rows, after[table], strict=False):
            assert {name: kept[name] for name in row} == row
    with open_archive(folder) as archive, archive.change("and it takes new ones") as writer:
        subjects.add_subject(writer, "Slipway")


@pytest.mark.parametrize("dump", DUMPS, ids=lambda dump: dump.stem)
def test_the_tables_in_the_code_are_those_that_migrations_make(tmp_path: Path, dump: Path) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    folder = archive_of_long_ago(tmp_path / "long ago", dump)
    open_archive(folder).close()

    engine = sqlite.engine_for(folder / "archive.db", wait_seconds=1, read_only=False)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, t.metadata) == []
    engine.dispose()


def test_an_upgrade_sets_the_database_aside_first(wharf: Path, scripts: Path) -> None:
    before = dumped(wharf / "archive.db")
    newest = add_revision(scripts, "op.add_column('subject', sa.Column('paint', sa.Text()))")

    aside = migrate.bring_up_to_date(wharf, wait_seconds=1, scripts=scripts)

    assert aside is not None
    assert aside.parent == wharf / "set-aside"
    assert f"revision {newest - 1:04d}" in aside.name
    assert dumped(aside) == before
    assert sqlite.revision_of(wharf / "archive.db") == newest
    assert migrate.bring_up_to_date(wharf, wait_seconds=1, scripts=scripts) is None  # once is enough


@pytest.mark.parametrize(
    "failure",
    [
        "raise ValueError('no such luck')",
        "op.execute('INSERT INTO nowhere VALUES (1)')",
        'op.execute("UPDATE reading SET dimension_id = 999")',
    ],
    ids=["its own", "the database's", "rows that point at nothing"],
)
def test_a_revision_that_fails_half_way_leaves_the_archive_as_it_was_and_usable(
    wharf: Path, scripts: Path, failure: str
) -> None:
    before = dumped(wharf / "archive.db")
    add_revision(scripts, "op.add_column('subject', sa.Column('first', sa.Text()))")
    add_revision(
        scripts,
        "op.add_column('subject', sa.Column('paint', sa.Text()))\n"
        "with op.batch_alter_table('reading') as batch:\n"
        "    batch.add_column(sa.Column('weather', sa.Text()))\n"
        "    batch.alter_column('note', nullable=True, type_=sa.String())\n"
        "op.execute(\"UPDATE subject SET name = 'spoilt'\")\n" + failure,
    )

    with pytest.raises(
        UpgradeFailed, match=r"It is as it was.*a copy of its database is in 'set-aside"
    ) as failed:
        migrate.bring_up_to_date(wharf, wait_seconds=1, scripts=scripts)

    assert "\n" not in str(failed.value)
    assert dumped(wharf / "archive.db") == before  # no ADD COLUMN left behind, of either revision
    (aside,) = (wharf / "set-aside").iterdir()
    assert dumped(aside) == before
    with open_archive(wharf) as archive, archive.change("goes on") as writer:
        subjects.add_subject(writer, "Slipway")


@pytest.mark.parametrize("table", ["subject", "reading", "dimension", "photo", "visit"])
def test_rebuilding_a_table_that_others_point_at_loses_none_of_their_rows(
    wharf: Path, scripts: Path, table: str
) -> None:
    # SQLite drops the old table when Alembic rebuilds one; with foreign keys on, every ON DELETE CASCADE would run.
    before = rows_in(wharf / "archive.db")
    add_revision(
        scripts,
        "op.create_table('hanger_on', sa.Column('id', sa.Integer(), primary_key=True), sa.Column('of_id', sa.Integer(),\n"
        f"    sa.ForeignKey('{table}.id', name='fk_hanger_on', ondelete='CASCADE'), nullable=False))\n"
        f"op.execute('INSERT INTO hanger_on (id, of_id) SELECT id, id FROM {table}')",
    )
    add_revision(
        scripts,
        f"with op.batch_alter_table('{table}', recreate='always') as batch:\n"
        "    batch.add_column(sa.Column('weather', sa.Text(), nullable=False, server_default='dry'))",
    )

    migrate.bring_up_to_date(wharf, wait_seconds=1, scripts=scripts)

    after = rows_in(wharf / "archive.db")
    assert len(after.pop("hanger_on")) == len(before[table]) > 0
    assert [row.pop("weather") for row in after[table]] == ["dry"] * len(before[table])
    assert after == before
    with closing(sqlite3.connect(wharf / "archive.db")) as connection:
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        pointing = {
            row[2]
            for name in after
            for row in connection.execute(f"PRAGMA foreign_key_list({name})").fetchall()
        }
        assert pointing <= set(after)  # nothing points at a table of the rebuild
        connection.execute("PRAGMA foreign_keys=ON")
        with pytest.raises(sqlite3.IntegrityError):
            connection.execute("INSERT INTO sighting SELECT 99, 'g', 999, 999, NULL, 0, NULL")


def test_of_two_programs_that_open_an_old_archive_at_once_one_upgrades_it_and_both_go_on(
    wharf: Path, scripts: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    newest = add_revision(scripts, "op.add_column('subject', sa.Column('paint', sa.Text()))")
    both_have_looked = threading.Barrier(2)
    asides: list[Path | None] = []
    look = sqlite.revision_of

    def look_together(database: Path) -> int:
        found = look(database)
        both_have_looked.wait(10)
        return found

    monkeypatch.setattr(sqlite, "revision_of", look_together)
    threads = [
        threading.Thread(
            target=lambda: asides.append(migrate.bring_up_to_date(wharf, wait_seconds=10, scripts=scripts))
        )
        for _ in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    monkeypatch.undo()

    assert sum(aside is not None for aside in asides) == 1
    assert len(list((wharf / "set-aside").iterdir())) == 1
    assert sqlite.revision_of(wharf / "archive.db") == newest


def test_an_upgrade_that_another_writer_keeps_waiting_is_not_a_failure_but_a_wait(
    wharf: Path, scripts: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_revision(scripts, "op.add_column('subject', sa.Column('paint', sa.Text()))")
    upgrade = migrate.bring_up_to_date
    with open_archive(wharf) as archive, archive.change("busy") as writer:
        subjects.add_subject(writer, "Slipway")
        monkeypatch.setattr(
            archives.migrate,
            "bring_up_to_date",
            lambda folder, **wait: upgrade(folder, scripts=scripts, **wait),
        )
        with pytest.raises(ArchiveBusy):
            open_archive(wharf, wait_seconds=0.2)
        monkeypatch.undo()

    assert list((wharf / "set-aside").iterdir()) == []
