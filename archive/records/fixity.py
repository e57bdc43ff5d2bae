"""Are the originals what they were when they came? Every file against its size and SHA-256; looks only.

Times of files are not believed, for they can be put back: every byte is read.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from sqlalchemy import select

from archive.records import durable, manifests
from archive.records import tables as t
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.folder import path_key

Fault = Literal["missing", "altered", "stray", "unlisted"]
Progress = Callable[[str, int, int], None]
_PLACES = ("visits", "removed")
_REPAIR = "Let it be put back: rivetbook repair"
_REPAIR_FROM = "Take it back from a copy of the archive: rivetbook repair --from FOLDER"


@dataclass(frozen=True, slots=True)
class Expected:
    """A file as the records know it; one that was taken out may be gone, for only the person empties `removed`."""

    stored_path: str
    sha256: str
    bytes: int
    may_be_gone: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """What is wrong with one file, and what to do. `sha256` is of the bytes that are there, if any could be read."""

    fault: Fault
    path: str
    message: str
    remedy: str
    sha256: str | None = None


@dataclass(slots=True)
class Verified:
    """What a check found: how many files and bytes were read, and everything that is wrong, by path."""

    files: int = 0
    bytes: int = 0
    findings: list[Finding] = field(default_factory=list)

    def of(self, fault: Fault) -> list[Finding]:
        """The findings of one sort."""
        return [finding for finding in self.findings if finding.fault == fault]


def verify(
    archive: Archive, *, progress: Progress = lambda _stage, _done, _total: None, workers: int | None = None
) -> Verified:
    """Read every original and compare it with its size and checksum; nothing is changed.

    Names what is missing, altered, known to nobody (stray) or not rightly in its folder's list of checksums
    (unlisted), each with the remedy. Files that were taken out are checked too, and may be gone.
    """
    with archive.look() as look:
        expected = expected_files(look)
    strays = [path for path in _files_there(archive.folder) if path_key(path) not in expected]
    states = _read_all(archive, [*expected.values()], strays, progress, workers)
    with archive.look() as look:  # an import that runs meanwhile may have recorded some
        known_now = expected_files(look)
    strays = [path for path in strays if path_key(path) not in known_now]
    result = Verified(
        sum(state.sha256 is not None for state in states.values()), sum(s.bytes for s in states.values())
    )
    judge = _Judge(expected.values(), states, strays)
    result.findings = [finding for each in expected.values() if (finding := judge.of_expected(each))]
    result.findings += [judge.of_stray(path) for path in strays]
    with archive.look() as look:
        result.findings += _lists(look, archive.folder, expected.values(), states)
    result.findings.sort(key=lambda finding: finding.path)
    return result


def expected_files(look: Look) -> dict[str, Expected]:
    """Return every file that the records know, by its path as paths are compared."""
    found = {}
    for table in t.ON_DISK:
        columns = select(table.c.stored_path, table.c.path_key, table.c.sha256, table.c.bytes)
        for row in look.all(columns):
            found[row.path_key] = Expected(row.stored_path, row.sha256, row.bytes, table is t.removed_file)
    return found


def _files_there(folder: Path) -> list[str]:
    """Every file under `visits` and `removed`, but for lists of checksums and what is still being written."""
    found = []
    for place in _PLACES:
        for here, folders, names in os.walk(folder / place):
            linked = [name for name in folders if (Path(here) / name).is_symlink()]
            for name in (*names, *linked):
                if name != manifests.MANIFEST and not name.startswith((durable.PART, durable.MOVED_PART)):
                    found.append((Path(here) / name).relative_to(folder).as_posix())
    return found


@dataclass(frozen=True, slots=True)
class _State:
    """A file as it is: its checksum, or why it has none; None for both where it is not there."""

    sha256: str | None = None
    bytes: int = 0
    why: str | None = None


def _read_all(
    archive: Archive, expected: list[Expected], strays: list[str], progress: Progress, workers: int | None
) -> dict[str, _State]:
    paths = [each.stored_path for each in expected] + strays
    states = {}
    with ThreadPoolExecutor(workers or min(4, os.cpu_count() or 1)) as pool:
        read = pool.map(lambda path: _state_of(archive.path_of(path)), paths)
        for number, (path, state) in enumerate(zip(paths, read, strict=True)):
            progress("Checking", number, len(paths))
            states[path] = state
    progress("Checking", len(paths), len(paths))
    return states


def _state_of(path: Path) -> _State:
    try:
        seen = path.lstat()
        if not stat.S_ISREG(seen.st_mode):
            return _State(why="it is a link or a folder, not the file itself")
        with path.open("rb") as file:
            return _State(hashlib.file_digest(file, "sha256").hexdigest(), seen.st_size)
    except (FileNotFoundError, NotADirectoryError):
        return _State()
    except OSError as error:
        return _State(why=f"it cannot be read ({error.strerror or error})")


class _Judge:
    """Says what is wrong with a file, knowing all the others: bytes that moved are found again."""

    def __init__(
        self, expected: Iterable[Expected], states: Mapping[str, _State], strays: Iterable[str]
    ) -> None:
        self._states = states
        self._strays = {s.sha256: path for path in strays if (s := states[path]).sha256 is not None}
        self._seen = {state.sha256 for state in states.values()}
        self._holders = {each.sha256: each.stored_path for each in expected if not each.may_be_gone}

    def of_expected(self, each: Expected) -> Finding | None:
        state = self._states[each.stored_path]
        if state.sha256 == each.sha256 and state.bytes == each.bytes:
            return None
        path, elsewhere = each.stored_path, self._strays.get(each.sha256)
        if state.sha256 is None and state.why is None:
            if each.may_be_gone:
                return None
            if elsewhere:
                return Finding("missing", path, f"It lies at '{elsewhere}' now", _REPAIR)
            return Finding("missing", path, "It is not there", _REPAIR_FROM)
        if state.sha256 is None:
            return Finding("altered", path, (state.why or "").capitalize(), _REPAIR_FROM)
        other = self._holders.get(state.sha256)
        if other is not None and other != path:
            what = f"It holds the bytes of '{other}'"
        elif state.bytes != each.bytes:
            what = f"It has {state.bytes:,} bytes and not {each.bytes:,}"
        else:
            what = "Its bytes are not those that were imported"
        remedy = (
            _REPAIR if each.sha256 in self._seen else _REPAIR_FROM
        )  # its bytes lie elsewhere in the archive
        return Finding("altered", path, what, remedy, state.sha256)

    def of_stray(self, path: str) -> Finding:
        state = self._states[path]
        held = self._holders.get(state.sha256 or "")
        if held is not None and self._states[held].sha256 == state.sha256:
            return Finding(
                "stray", path, f"The very bytes are held as '{held}'", "It may be deleted", state.sha256
            )
        if held is not None:
            return Finding("stray", path, f"It is '{held}'", _REPAIR, state.sha256)
        return Finding(
            "stray",
            path,
            "The records know nothing of it",
            "If an import was cut off, run it again; else move the file out of the archive, and import it from there "
            "if you want it",
            state.sha256,
        )


_WRITE_ANEW = "Let the list be written anew: rivetbook repair"


def _lists(
    look: Look, folder: Path, expected: Iterable[Expected], states: Mapping[str, _State]
) -> list[Finding]:
    """What the lists of checksums beside the originals leave out or say wrongly, of files that are there."""
    by_place: dict[str, list[Expected]] = {}
    for each in expected:
        if states[each.stored_path].sha256 is not None:
            by_place.setdefault(each.stored_path.rpartition("/")[0], []).append(each)
    findings = []
    for place, files in by_place.items():
        listed = manifests.read_manifest(folder, place)
        for each in files:
            said = listed.pop(each.stored_path.rpartition("/")[2], None)
            if said is None:
                what = "The list of checksums beside it does not name it"
                findings.append(Finding("unlisted", each.stored_path, what, _WRITE_ANEW))
            elif said != each.sha256:
                what = "The list of checksums beside it gives it another checksum"
                findings.append(Finding("unlisted", each.stored_path, what, _WRITE_ANEW))
        known = {name for name, _ in manifests.files_in(look, place)}
        for name in listed.keys() - known:
            what = f"It names '{name}', of which the records know nothing"
            findings.append(Finding("unlisted", f"{place}/{manifests.MANIFEST}", what, _WRITE_ANEW))
    return findings
