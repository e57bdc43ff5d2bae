"""An open archive: where everything else begins."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from archive.errors import ArchiveDamaged, ArchiveReadOnly, ArchiveTooNew
from archive.records import folder as folders
from archive.records import migrate, sqlite
from archive.records.changes import Look, Writer, next_act, note_change, plain_refusals


class Archive:
    """One archive, opened through one door. `act` groups the transactions of one command."""

    def __init__(self, folder: Path, *, door: str, wait_seconds: float, read_only: bool) -> None:
        self.folder = folder
        self.door = door
        self.read_only = read_only
        self.settings = folders.read_settings(folder)
        self.set_aside: Path | None = None
        self._wait_seconds = wait_seconds
        self._act: int | None = None
        self._engine = sqlite.engine_for(
            folder / "archive.db", wait_seconds=wait_seconds, read_only=read_only
        )

    @contextmanager
    def look(self) -> Iterator[Look]:
        """Read within one transaction."""
        with self._plain_refusals(), self._engine.connect() as connection, connection.begin():
            yield Look(connection)

    @contextmanager
    def change(self, sentence: str, *, undoes: int | None = None) -> Iterator[Writer]:
        """Write within one transaction: all of it or nothing, and one line of history.

        Raises `ArchiveReadOnly`, or `ArchiveBusy` when another writer does not finish in time.
        """
        if self.read_only:
            raise ArchiveReadOnly(str(self.folder))
        with self._plain_refusals(), self._engine.connect() as plain:
            connection = plain.execution_options(**{sqlite.WRITES: True})
            with connection.begin():
                writer = Writer(connection)
                yield writer
                act = self._act or next_act(writer)
                if note_change(writer, act=act, door=self.door, sentence=sentence, undoes=undoes):
                    self._act = act

    def begin_act(self) -> None:
        """Let the next change be an act of its own: for doors that serve more than one command."""
        self._act = None

    def close(self) -> None:
        """Fold the log into the database file, so that the folder can be copied plainly."""
        if not self.read_only:
            sqlite.fold_log(self._engine)
        self._engine.dispose()

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


def open_archive(folder: Path, *, door: str = "Python", wait_seconds: float = 30) -> Archive:
    """Open the archive in `folder`, brought up to date if it is an older one.

    Raises `FileNotThere`, `NotAnArchive`, `ArchiveTooNew`, `ArchiveDamaged` or `UpgradeFailed`. Where the
    folder cannot be written the archive opens for looking only.
    """
    folder = folders.check_is_archive(folder).resolve()
    read_only = not folders.can_be_written(folder)
    set_aside = None
    try:
        with plain_refusals(str(folder), wait_seconds):
            if read_only:
                _check_revision_for_looking(folder)
            else:
                set_aside = migrate.bring_up_to_date(folder, wait_seconds=wait_seconds)
    except Exception as error:
        if sqlite.says_damaged(error):
            raise ArchiveDamaged(str(folder), str(error)) from error
        raise
    archive = Archive(folder, door=door, wait_seconds=wait_seconds, read_only=read_only)
    archive.set_aside = set_aside
    return archive


def _check_revision_for_looking(folder: Path) -> None:
    found = sqlite.revision_of(folder / "archive.db", read_only=True)
    newest = migrate.newest_revision()
    if found > newest:
        raise ArchiveTooNew(str(folder), found, newest)
    if found < newest:
        raise ArchiveDamaged(
            str(folder), "it is from an older Rivetbook and lies where it cannot be brought up to date"
        )
