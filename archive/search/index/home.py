"""A folder that an index lies in, or may: opened, caught up with the records, or made anew."""

from __future__ import annotations

import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from whoosh.util.filelock import FileLock, try_for

from archive.records.archive import Archive
from archive.records.changes import Look, changes_after
from archive.records.finding.stale import change_stamp, count_of_words, stale_after
from archive.search.index import writing
from archive.search.index.opened import OpenIndex
from archive.search.index.state import State, Unusable, read_state, spoil_state, write_state

_WAIT_TO_CATCH_UP = 5.0  # seconds; then the index as it is does
_WAIT_FOR_ANY = 900.0  # seconds; while another process makes the only index
_MANY_CHANGES = 2000  # behind by more, making it anew is faster
_MANY_STALE = 200  # and a quarter of all: then too


class Home:
    """A folder that an index lies in, or may."""

    def __init__(self, folder: Path, archive: Archive) -> None:
        self.folder = folder
        self._archive_id = archive.settings.archive_id
        self._already_open: OpenIndex | None = None

    def opened(
        self, archive: Archive, newest: tuple[int, str], held: OpenIndex | None = None
    ) -> OpenIndex | None:
        """Return the index here, caught up with the records; None where nothing can be written.

        `held` is what is open of it already: it is renewed where it is still the one.
        """
        self._already_open = held
        state = self._state()
        if state is not None and state.seen == newest:
            return self._open(state)
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with self._lock(_WAIT_TO_CATCH_UP if state else _WAIT_FOR_ANY) as locked:
                if locked:
                    return self._caught_up(archive)
        except OSError:
            return None
        if state is None:
            return None
        return self._open(
            state, "Another Rivetbook is busy with the search index; the newest changes may be missing."
        )

    def distrust(self) -> None:
        """Spoil the state, so that the index is made anew."""
        spoil_state(self.folder)

    def _state(self) -> State | None:
        try:
            return read_state(self.folder, self._archive_id)
        except Unusable:
            return None

    def _caught_up(self, archive: Archive) -> OpenIndex:
        with archive.look() as look:
            newest = change_stamp(look)
            try:
                state = read_state(self.folder, self._archive_id)
            except Unusable as unusable:
                return self._made(look, newest, str(unusable))
            if state.seen == newest:
                return self._open(state)
            if self._followed(look, state, newest):
                return self._open(State(state.generation, newest))
            return self._made(look, newest, "was far behind")

    def _followed(self, look: Look, state: State, newest: tuple[int, str]) -> bool:
        """Bring the index up to the newest change; returns False where it had better be made anew."""
        number, _ = state.seen
        if newest[0] - number > _MANY_CHANGES or change_stamp(look, number) != state.seen:
            return False
        stale = stale_after(look, (row for change in changes_after(look, number) for row in change.rows))
        if len(stale) > _MANY_STALE and len(stale) > count_of_words(look) // 4:
            return False
        generation = self.folder / state.generation
        try:
            held = self._already_open
            same = held if held and held.folder == generation and held.seen == state.seen else None
            writing.replace(generation, look, stale, same, wait_seconds=_WAIT_TO_CATCH_UP)
        except OSError:
            raise
        except Exception:  # the library's own faults on files that look whole
            return False
        write_state(self.folder, self._archive_id, State(state.generation, newest))
        return True

    def _made(self, look: Look, newest: tuple[int, str], why: str) -> OpenIndex:
        begun = time.monotonic()
        generation = f"g-{secrets.token_hex(8)}"
        state = State(generation, newest)
        writing.fill(self.folder / generation, look)
        write_state(self.folder, self._archive_id, state)
        for old in self.folder.iterdir():
            if old.name.startswith("g-") and old.name != generation:
                shutil.rmtree(old, ignore_errors=True)
        took = time.monotonic() - begun
        seconds = f" in {took:.0f} s" if took >= 1 else ""
        return self._open(state, f"The search index {why} and has been made anew{seconds}.")

    def _open(self, state: State, message: str | None = None) -> OpenIndex:
        held = self._already_open
        if held is not None and held.folder == self.folder / state.generation:
            held.renew(state.seen, message)
            return held
        return OpenIndex(self.folder / state.generation, state.seen, message)

    @contextmanager
    def _lock(self, wait_seconds: float) -> Iterator[bool]:
        lock = FileLock(str(self.folder / "lock"))
        held = try_for(lock.acquire, timeout=wait_seconds, delay=0.05)
        try:
            yield held
        finally:
            if held:
                lock.release()
