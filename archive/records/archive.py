"""An open archive: where everything else begins."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Any, NamedTuple

from archive.errors import (
    ArchiveBusy,
    ArchiveReadOnly,
    ArchiveTooNew,
    FilesStillToMove,
    NotAnArchive,
    RivetbookError,
)
from archive.records import folder as folders
from archive.records import migrate, moving, sqlite
from archive.records import tables as t
from archive.records.changes import Look, Writer, note_change, plain_refusals


class Followed(NamedTuple):
    """A recipe or a reading that an act has changed: its row before and after."""

    table: str
    row_id: int
    before: Mapping[str, Any]
    after: Mapping[str, Any]


class Archive:
    """One archive, opened through one door. `act` groups the transactions of one command.

    `followed` are the recipes and readings that were there before the act and that it has changed so far.
    """

    def __init__(
        self,
        folder: Path,
        *,
        door: str,
        wait_seconds: float,
        read_only: bool = False,
        database: Path | None = None,
        copies: TemporaryDirectory[str] | None = None,
    ) -> None:
        self.folder = folder
        self.door = door
        self.read_only = read_only
        self.settings = folders.read_settings(folder)
        self.set_aside: Path | None = None
        self.notices: list[str] = []
        self.followed: list[Followed] = []
        self._wait_seconds = wait_seconds
        self._act: int | None = None
        self._copies = copies
        self._engine = sqlite.engine_for(
            database or folder / "archive.db", wait_seconds=wait_seconds, read_only=read_only
        )

    @contextmanager
    def look(self) -> Iterator[Look]:
        """Read within one transaction."""
        with self._plain_refusals(), self._engine.connect() as connection, connection.begin():
            yield Look(connection)

    @contextmanager
    def change(self, sentence: str = "", *, undoes: int | None = None) -> Iterator[Writer]:
        """Write within one transaction: all of it or nothing, and one line of history.

        Its sentence is given here, or to the writer once it is known what things are called.

        Where the rows say that a file lies elsewhere than before, it is moved there after the commit.

        Raises `ArchiveReadOnly`, `ArchiveBusy` when another writer does not finish in time, `FileGone` when a
        file to be moved is not there (nothing is changed then), or `FilesStillToMove` (what was asked is done).
        """
        if self.read_only:
            raise ArchiveReadOnly(str(self.folder))
        with self._plain_refusals(), self._engine.connect() as plain:
            connection = plain.execution_options(**{sqlite.WRITES: True})
            with connection.begin():
                writer = Writer(connection, sentence)
                yield writer
                moves = moving.intend(writer, self.folder)
                act = self._act or writer.so_far.act + 1
                noted = note_change(writer, act=act, door=self.door, undoes=undoes)
            if noted is not None:  # only now: a commit that failed has not used the number up
                self._act = act
                self.followed += _followed(writer)
        if moves:
            self.complete_moves()

    def complete_moves(self) -> list[str]:
        """Move what committed changes, this one's or a cut-off run's, still have to move; tells which files are gone."""
        with self._plain_refusals(), self._engine.connect() as plain:
            connection = plain.execution_options(**{sqlite.WRITES: True})
            with connection.begin():
                return [move.to_path for move in moving.complete(Writer(connection), self.folder)]

    def has_moves_to_complete(self) -> bool:
        """Tell whether a run was cut off between recording a move and doing it (or is at it just now)."""
        with self.look() as look:
            return bool(moving.pending(look))

    def path_of(self, stored_path: str) -> Path:
        """Return where an original lies on this machine."""
        path = self.folder.joinpath(*stored_path.split("/"))
        if path.exists():
            return path
        with self.look() as look:
            return moving.where_now(look, self.folder, stored_path)

    def begin_act(self) -> None:
        """Let the next change be an act of its own: for doors that serve more than one command."""
        self._act = None
        self.followed = []

    def close(self) -> None:
        """Fold the log into the database file, so that the folder can be copied plainly."""
        if not self.read_only:
            with suppress(RivetbookError), self._plain_refusals():  # what was written is safe in the log too
                sqlite.fold_log(self._engine)
        self._engine.dispose()
        if self._copies is not None:
            self._copies.cleanup()

    def __enter__(self) -> Archive:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _plain_refusals(self) -> Iterator[None]:
        with plain_refusals(str(self.folder), self._wait_seconds):
            yield


def _followed(writer: Writer) -> list[Followed]:
    return [
        Followed(row.table, row.row_id, row.before, row.after)
        for row in writer.touched(t.derivation, t.reading)
        if row.before is not None and row.after is not None
    ]


def open_archive(folder: Path, *, door: str = "Python", wait_seconds: float = 30) -> Archive:
    """Open the archive in `folder`, brought up to date if it is an older one.

    Raises `FileNotThere`, `NotAnArchive`, `ArchiveTooNew`, `ArchiveDamaged`, `ArchiveBusy` or `UpgradeFailed`.
    Where the folder cannot be written the archive opens for looking only.
    """
    folder = folders.check_is_archive(folder).resolve()
    folders.read_settings(folder)
    with plain_refusals(str(folder), wait_seconds):
        if not folders.can_be_written(folder):
            return _open_for_looking(folder, door)
        set_aside = migrate.bring_up_to_date(folder, wait_seconds=wait_seconds)
    archive = Archive(folder, door=door, wait_seconds=wait_seconds)
    archive.set_aside = set_aside
    archive.notices = _complete_what_was_cut_off(archive)
    return archive


def _complete_what_was_cut_off(archive: Archive) -> list[str]:
    """Move the files that a cut-off run left to be moved; returns what to tell the person."""
    if not archive.has_moves_to_complete():
        return []
    try:
        gone = archive.complete_moves()
    except (ArchiveBusy, FilesStillToMove):
        return []  # another program is at it, or the disk is full: readers find the files at both places
    return [
        "An earlier command was cut off while it moved files; that is completed now.",
        *(
            f"The file '{path}' is gone from both places; put it back there from a copy of the archive."
            for path in gone
        ),
    ]


def _open_for_looking(folder: Path, door: str) -> Archive:
    database, copies = folder / "archive.db", None
    if sqlite.has_unfolded_log(database):  # a cut-off run's last changes: seen only through a copy
        copies = TemporaryDirectory(prefix="rivetbook-")
        database = sqlite.copy_folded(database, Path(copies.name))
    found, newest = sqlite.revision_of(database), migrate.newest_revision()
    if found > newest:
        raise ArchiveTooNew(str(folder), found, newest)
    if found < newest:
        raise NotAnArchive(
            str(folder),
            "an older Rivetbook made it, and it lies where it cannot be brought up to date; copy the whole folder "
            "to a place of your own and open that",
        )
    return Archive(folder, door=door, wait_seconds=0, read_only=True, database=database, copies=copies)
