"""Files that a browser sends to be imported: kept apart until all are here, then imported in one go."""

from __future__ import annotations

import contextlib
import re
import secrets
import shutil
import tempfile
import threading
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from archive.errors import NotAccepted, RivetbookError
from archive.ingest.importing import import_files
from archive.ingest.pages import FIRST
from archive.ingest.report import ImportReport
from archive.ingest.sources import is_litter_path
from archive.records.archive import open_archive
from archive.records.folder import path_key, safe_file_name

MOST_FILE_BYTES = 512 << 20
_MOST_BATCHES = 4
_MOST_FILES = 20_000
_MOST_DEPTH = 8
_SPARE_BYTES = 256 << 20
_CHUNK_BYTES = 1 << 20
_FORGOTTEN_AFTER_SECONDS = 3600.0


class Batch:
    """One delivery: a folder of what came, and how far its import is; `pages` of drawings as an import takes them."""

    def __init__(self, pages: tuple[int, ...] | None = FIRST) -> None:
        self._pages = pages
        self.id = secrets.token_hex(16)
        self.stage, self.done, self.total = "", 0, 0
        self.report: ImportReport | None = None
        self.complaint = ""
        self.touched = time.monotonic()
        self._folder = tempfile.TemporaryDirectory(prefix="rivetbook-incoming-", ignore_cleanup_errors=True)
        self._taken: set[str] = set()
        self._adding = threading.Lock()
        self._work: threading.Thread | None = None

    @property
    def finished(self) -> bool:
        """Whether its import has ended, well or not."""
        return self.report is not None or bool(self.complaint)

    @property
    def running(self) -> bool:
        """Whether it is being imported."""
        return self._work is not None and not self.finished

    def receive(self, name: str, length: int, body: BinaryIO) -> None:
        """Keep one file, but for what computers leave beside files.

        Of its name only what is safe is kept: nothing in it leads out of the batch's folder.
        """
        if self._work is not None:
            raise NotAccepted("This delivery is closed", "Start another one.")
        if length > MOST_FILE_BYTES:
            raise NotAccepted(
                f"'{name[:80]}' is larger than a page takes", "Bring it in with 'rivetbook import'."
            )
        self.touched = time.monotonic()
        if is_litter_path(name):
            return
        if shutil.disk_usage(self._folder.name).free < length + _SPARE_BYTES:
            raise NotAccepted(
                "There is no room left on this machine for more files", "Make room and try again."
            )
        target = self._place(name)
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with target.open("xb") as file:
                shutil.copyfileobj(body, file, _CHUNK_BYTES)
                complete = file.tell() == length
        except BaseException:
            target.unlink(missing_ok=True)
            raise
        if not complete:
            target.unlink()
            raise NotAccepted(f"'{name[:80]}' did not arrive whole", "Send it again.")

    def _place(self, name: str) -> Path:
        parts = [safe_file_name(part) for part in re.split(r"[/\\]", name) if part not in ("", ".", "..")]
        if not parts:
            raise NotAccepted("A file came without a name", "Give it one and try again.")
        parts = parts[-_MOST_DEPTH:]
        with self._adding:
            if len(self._taken) >= _MOST_FILES:
                raise NotAccepted(f"One delivery takes {_MOST_FILES} files", "Send the rest as another one.")
            number, place = 1, "/".join(parts)
            while path_key(place) in self._taken:
                number += 1
                place = "/".join([f"again-{number}", *parts])
            self._taken.add(path_key(place))
        return Path(self._folder.name).joinpath(*place.split("/"))

    def begin(self, archive_folder: Path, visit: str | None, door: str, *, taken_out: bool = False) -> None:
        """Import what came, beside the pages; photos that were taken out only where `taken_out` says so."""
        with self._adding:
            if self._work is not None:
                raise NotAccepted("This delivery is being imported already", "Wait until it is done.")
            if not self._taken:
                raise NotAccepted("No files came", "Choose some and try again.")
            given = archive_folder, visit, door, taken_out
            self._work = threading.Thread(target=self._run, args=given, daemon=False)
        self._work.start()

    def _run(self, archive_folder: Path, visit: str | None, door: str, taken_out: bool) -> None:
        try:
            with open_archive(archive_folder, door=door) as archive:
                self.report = import_files(
                    archive,
                    [Path(self._folder.name)],
                    visit=visit,
                    pages=self._pages,
                    taken_out=taken_out,
                    progress=self._tell,
                )
        except RivetbookError as error:
            self.complaint = str(error)
        except Exception:  # a bug of ours: the person is told, the traceback goes where faults go
            traceback.print_exc()
            self.complaint = "Rivetbook made a mistake of its own; what was imported before it is kept."
        finally:
            self.touched = time.monotonic()
            self._folder.cleanup()

    def _tell(self, stage: str, done: int, total: int) -> None:
        self.stage, self.done, self.total = stage, done, total

    def shown_name(self, file: str) -> str:
        """Return a file's name as it was sent, without the folder that it waited in."""
        return file.removeprefix(self._folder.name).lstrip("/\\")

    def wait(self) -> None:
        """Wait for its import to end."""
        if self._work is not None:
            self._work.join()

    def forget(self) -> None:
        """Take away what came and is not wanted any more."""
        with contextlib.suppress(OSError):
            self._folder.cleanup()


class Batches:
    """The deliveries of one page; old ones are forgotten."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._held: dict[str, Batch] = {}
        self._lock = threading.Lock()

    def new(self, pages: tuple[int, ...] | None = FIRST) -> Batch:
        """Begin a delivery, of these pages of drawings."""
        with self._lock:
            for old in [b for b in self._held.values() if self._is_forgotten(b)]:
                del self._held[old.id]
                old.forget()
            if sum(not batch.finished for batch in self._held.values()) >= _MOST_BATCHES:
                raise NotAccepted("Several deliveries are under way already", "Wait until they are done.")
            batch = Batch(pages)
            self._held[batch.id] = batch
            return batch

    def get(self, batch_id: str) -> Batch | None:
        """Return the delivery of this id."""
        return self._held.get(batch_id)

    def _is_forgotten(self, batch: Batch) -> bool:
        return not batch.running and self._now() - batch.touched > _FORGOTTEN_AFTER_SECONDS

    def close(self) -> None:
        """Let imports that run come to their end, and forget the rest."""
        for batch in self._held.values():
            batch.wait()
            batch.forget()
