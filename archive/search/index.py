"""The search index: a rebuildable folder beside the records, which follows their change log by itself.

    index/lock              held by whoever writes the index; the system lets go of it when a process dies
    index/state             what the index has seen, and how to know its files again
    index/<generation>/     the library's files: a shelf each for subjects, loose photos and visits

The library unpickles what it opens, so nothing is opened that this program did not write here itself:
`state` is signed with a key that never leaves this person's account on this machine, and names the
folder and the size and times of every file. Whatever does not fit is not looked at but made anew.
A new index grows in a folder of its own and takes the old one's place at the end.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import secrets
import shutil
import tempfile
import threading
import time
import zlib
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from whoosh import __version__ as library_version
from whoosh.codec.whoosh3 import W3Codec
from whoosh.filedb.filestore import FileStorage
from whoosh.index import FileIndex
from whoosh.util.filelock import FileLock, try_for

from archive.kinds import carried_kinds
from archive.records import durable
from archive.records.archive import Archive
from archive.records.changes import Look, changes_after
from archive.records.finding.stale import Stale, change_stamp, count_of_words, stale_after
from archive.records.finding.words import loose_photo_words, subject_words, visit_words
from archive.search.documents import (
    Document,
    photo_document,
    subject_document,
    visit_document,
)
from archive.search.fields import schema, text_for_phrases
from archive.search.kind_words import words_of_kinds
from archive.search.shelf import Shelf, numbers_of, open_shelf

FORMULAS = 6  # what is indexed and how; another number makes every index anew
SHELVES = ("subjects", "photos", "visits")
_WAIT_TO_CATCH_UP = 5.0  # seconds; then the index as it is does
_WAIT_FOR_ANY = 900.0  # seconds; while another process makes the only index
_MANY_CHANGES = 2000  # behind by more, making it anew is faster
_MANY_STALE = 200  # and a quarter of all: then too
_MEMORY_MB = 256
_SEGMENTS_KEPT = 60


@dataclass(frozen=True, slots=True)
class State:
    """What is known of an index on disk."""

    generation: str
    seen: tuple[int, str]  # the number and time of the last change that it holds


@dataclass(slots=True)
class OpenIndex:
    """An index that may be searched; `message` says what had to be done to it first."""

    folder: Path
    seen: tuple[int, str]
    message: str | None = None
    _shelves: dict[str, Shelf] = field(default_factory=dict)
    _segments: dict[str, tuple[int, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._segments = _segments_in(self.folder)

    def is_whole(self) -> bool:
        """Tell whether the files that the library maps into memory are as they were when this was opened.

        The library never writes to one again; to read where one was cut short would end the whole process. One
        that is gone, as after others were put together into a new one, is still whole in memory.
        """
        now = _segments_in(self.folder)
        return all(now.get(path, facts) == facts for path, facts in self._segments.items())

    def shelf(self, name: str) -> Shelf:
        """Return a shelf, open."""
        if name not in self._shelves:
            self._shelves[name] = open_shelf(str(self.folder), name, _known_keys())
        return self._shelves[name]

    def renew(self, seen: tuple[int, str], message: str | None) -> None:
        """Look at the shelves as they are now; those that nothing was written to stay open."""
        self.seen, self.message = seen, message
        self._segments = _segments_in(self.folder)
        for name, shelf in list(self._shelves.items()):
            if not shelf.is_newest():
                self._shelves.pop(name).close()

    def close(self) -> None:
        """Let go of the index's files."""
        while self._shelves:
            self._shelves.popitem()[1].close()


_held = threading.local()  # the library's readers are for one thread each


def _known_keys() -> dict[str, list[int]]:
    """Return the keys of the segments that this thread has read."""
    known: dict[str, list[int]] = _held.__dict__.setdefault("keys", {})
    while len(known) > _SEGMENTS_KEPT:
        del known[next(iter(known))]
    return known


def up_to_date_index(archive: Archive, newest: tuple[int, str]) -> OpenIndex:
    """Return the archive's index, caught up with its records (`newest`: their last change) or made anew."""
    held: OpenIndex | None = getattr(_held, "index", None)
    if (
        held is not None
        and held.seen == newest
        and held.is_whole()
        and _held.of == archive.settings.archive_id + str(archive.folder)
    ):
        held.message = None
        return held
    for home in _homes(archive):
        opened = home.opened(archive, newest, held)
        if opened is not None:
            if opened is not held:
                let_go()
            _held.index, _held.of = opened, archive.settings.archive_id + str(archive.folder)
            return opened
    raise OSError("no folder takes a search index")


def let_go() -> None:
    """Close the index that this thread holds open."""
    held: OpenIndex | None = getattr(_held, "index", None)
    if held is not None:
        held.close()
    _held.index = None


def distrust(archive: Archive) -> None:
    """Let the index be made anew at the next search, whatever its state says: for one that let a search down."""
    let_go()
    for home in _homes(archive):
        with suppress(OSError):
            home.distrust()


def _homes(archive: Archive) -> Iterator[_Home]:
    """Yield where the index may lie: in the archive; where that cannot be written, in the person's cache, or nowhere long."""
    yield _Home(archive.folder / "index", archive)
    from platformdirs import user_cache_path  # only where the archive itself cannot be written

    name = hashlib.sha256(str(archive.folder).encode()).hexdigest()[:16]
    yield _Home(user_cache_path("rivetbook", appauthor=False) / f"index-{name}", archive)
    yield _Home(_fleeting_folder(), archive)


def _fleeting_folder() -> Path:
    import atexit

    folder = Path(tempfile.mkdtemp(prefix="rivetbook-index-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


class _Home:
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
        state = self.state()
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
        if (self.folder / "state").exists():
            durable.write_whole(self.folder / "state", b"not to be trusted")

    def state(self) -> State | None:
        """Return what the state file says, if this program wrote it here and all files are as they were then."""
        try:
            told = json.loads((self.folder / "state").read_bytes())
            signed, signature = told["signed"], bytes.fromhex(told["signature"])
            if not hmac.compare_digest(signature, self._signature(signed)):
                return None
            body = json.loads(signed)
            if body["made_by"] != _made_by() or body["archive"] != self._archive_id:
                return None
            generation = self.folder / body["generation"]
            if _files_of(generation) != body["files"]:
                return None
            return State(body["generation"], (body["seen"][0], body["seen"][1]))
        except (OSError, ValueError, KeyError, TypeError, IndexError):
            return None

    def _caught_up(self, archive: Archive) -> OpenIndex:
        state = self.state()
        with archive.look() as look:
            newest = change_stamp(look)
            if state is not None and state.seen == newest:
                return self._open(state)
            if state is not None and self._followed(look, state, newest):
                return self._open(State(state.generation, newest))
            return self._made(look, newest, self._why_anew(state))

    def _why_anew(self, state: State | None) -> str:
        if state is not None:
            return "was far behind"
        return "could not be used" if (self.folder / "state").exists() else "was not there"

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
            _replace(generation, look, stale, same)
        except OSError:
            raise
        except Exception:  # the library's own faults on files that look whole
            return False
        self._write_state(State(state.generation, newest))
        return True

    def _made(self, look: Look, newest: tuple[int, str], why: str) -> OpenIndex:
        begun = time.monotonic()
        generation = f"g-{secrets.token_hex(8)}"
        state = State(generation, newest)
        _fill(self.folder / generation, look)
        self._write_state(state)
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

    def _write_state(self, state: State) -> None:
        body = {
            "made_by": _made_by(),
            "archive": self._archive_id,
            "generation": state.generation,
            "seen": list(state.seen),
            "files": _files_of(self.folder / state.generation),
        }
        signed = json.dumps(body)
        told = {"signed": signed, "signature": self._signature(signed).hex()}
        durable.write_whole(self.folder / "state", json.dumps(told).encode())

    def _signature(self, signed: str) -> bytes:
        return hmac.digest(_key(), f"{self.folder.resolve()}\n{signed}".encode(), "sha256")

    @contextmanager
    def _lock(self, wait_seconds: float) -> Iterator[bool]:
        lock = FileLock(str(self.folder / "lock"))
        held = try_for(lock.acquire, timeout=wait_seconds, delay=0.05)
        try:
            yield held
        finally:
            if held:
                lock.release()


def _fill(folder: Path, look: Look) -> None:
    folder.mkdir()
    for shelf, documents in zip(SHELVES, _documents(look), strict=True):
        index = FileIndex.create(FileStorage(str(folder)), schema(), shelf)
        writer = _writer(index, limitmb=_MEMORY_MB)
        try:
            for document in documents:
                _add(writer, document)
        except BaseException:
            writer.cancel()
            raise
        writer.commit()


def _replace(folder: Path, look: Look, stale: Stale, held: OpenIndex | None) -> None:
    """Put what is stale anew; `held` is the index as it is, where it is open already."""
    sets = (stale.subjects, stale.photos, stale.visits)
    for shelf, keys, documents in zip(SHELVES, sets, _documents(look, *sets), strict=True):
        if not keys:
            continue
        index = FileIndex(FileStorage(str(folder)), schema=schema(), indexname=shelf)
        writer = _writer(index, timeout=_WAIT_TO_CATCH_UP)
        try:
            with nullcontext(held.shelf(shelf).reader) if held else closing(writer.reader()) as reader:
                for number in numbers_of(reader, keys):
                    writer.delete_document(number)
            for document in documents:
                _add(writer, document)
        except BaseException:
            writer.cancel()
            raise
        writer.commit()


def _documents(
    look: Look,
    subjects: set[int] | None = None,
    photos: set[int] | None = None,
    visits: set[int] | None = None,
) -> tuple[Iterable[Document], Iterable[Document], Iterable[Document]]:
    kind_words = words_of_kinds(look)
    return (
        (subject_document(words, kind_words) for words in subject_words(look, subjects)),
        (photo_document(words) for words in loose_photo_words(look, photos)),
        (visit_document(words) for words in visit_words(look, visits)),
    )


def _writer(index: FileIndex, **options: Any) -> Any:
    return index.writer(codec=W3Codec(compression=0), **options)  # what is packed takes longer to read


def _add(writer: Any, document: Document) -> None:
    text = text_for_phrases(document.texts)
    writer.add_document(key=document.key, words=document, text=text, _words_boost=document.boost)


def _files_of(generation: Path) -> dict[str, list[int]]:
    """Return every file that the library would open, with its size and the times that a copy does not keep."""
    found = {}
    for path in sorted(generation.iterdir()):
        if path.suffix in (".toc", ".seg"):
            facts = path.stat()
            found[path.name] = [facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns]
    return found


def _segments_in(folder: Path) -> dict[str, tuple[int, int]]:
    """Return the size and the time of writing of every file that holds a part of a shelf, by its path."""
    try:
        with os.scandir(folder) as entries:
            found = [(entry.path, entry.stat()) for entry in entries if entry.name.endswith(".seg")]
    except FileNotFoundError:
        return {}
    return {path: (facts.st_size, facts.st_mtime_ns) for path, facts in found}


def _made_by() -> list[Any]:
    """Return what an index depends on beside the records; where any of it is another, the index is made anew."""
    told = Path(__file__).with_name("words.json").read_bytes()
    kinds = repr([(kind.id, kind.broader, kind.words) for kind in carried_kinds()]).encode()
    return [FORMULAS, list(library_version), zlib.crc32(told), zlib.crc32(kinds)]


_key_lock = threading.Lock()
_known_key: bytes | None = None


def _key() -> bytes:
    """Return this account's key; one for this process alone where none can be kept."""
    global _known_key
    with _key_lock:
        if _known_key is None:
            try:
                _known_key = _kept_key()
            except OSError:
                _known_key = secrets.token_bytes(32)
        return _known_key


def _kept_key() -> bytes:
    from platformdirs import user_data_path

    kept = user_data_path("rivetbook", appauthor=False) / "index-key"
    with suppress(FileNotFoundError):
        key = kept.read_bytes()
        if len(key) == 32:
            return key
    kept.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    fresh = secrets.token_bytes(32)
    durable.write_whole(kept, fresh)
    kept.chmod(0o600)
    return kept.read_bytes()
