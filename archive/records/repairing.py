"""Originals that went missing or were altered, taken back from a copy; what is there is set aside, never lost."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from archive.errors import ArchiveReadOnly, CouldNotWrite, FileNotThere, NotAccepted
from archive.records import durable, manifests, moving, originals
from archive.records.archive import Archive
from archive.records.fixity import Expected, Finding, Progress, expected_files, verify
from archive.records.folder import free_name, path_key
from archive.records.one_at_a_time import taking_turns

_PIECE = 1 << 20
_SET_ASIDE = "set-aside/altered originals"


@dataclass(frozen=True, slots=True)
class PutBack:
    """An original that is what it was again; `kept_as` is where the altered file went, if there was one."""

    path: str
    taken_from: str
    kept_as: str | None


@dataclass(slots=True)
class Repaired:
    """What a repair did, and what is still wrong."""

    put_back: list[PutBack] = field(default_factory=list)
    lists_written: bool = False
    still_wrong: list[Finding] = field(default_factory=list)


def repair(
    archive: Archive,
    copies: Path | None = None,
    *,
    progress: Progress = lambda _stage, _done, _total: None,
) -> Repaired:
    """Put back originals that are missing or altered, from `copies` and from files astray in the archive itself.

    Only bytes with the original's own checksum are taken. An altered file goes to `set-aside`. Lists of
    checksums are written anew.

    Raises
    ------
    FileNotThere, NotAccepted
        When `copies` is no folder, or is the archive itself.
    ArchiveReadOnly, ArchiveBusy, CouldNotWrite
        What was put back by then stays so; the next repair goes on from there.
    """
    if archive.read_only:
        raise ArchiveReadOnly(str(archive.folder))
    if copies is not None:
        if not copies.is_dir():
            raise FileNotThere(str(copies), "folder")
        if copies.resolve().is_relative_to(archive.folder):
            raise NotAccepted(
                f"'{copies}' is the archive that is to be repaired",
                "Name a folder that has copies of its files.",
            )
    with taking_turns(archive):
        try:
            return _Repair(archive, copies, progress).run()
        except OSError as error:
            raise CouldNotWrite(
                str(error.filename or archive.folder), error.strerror or str(error)
            ) from error


@dataclass(slots=True)
class _Ready:
    """An original whose bytes lie copied and flushed beside its place."""

    wanted: Expected
    part: Path
    taken_from: str


class _Repair:
    def __init__(self, archive: Archive, copies: Path | None, progress: Progress) -> None:
        self._archive, self._copies, self._progress = archive, copies, progress
        self._report = Repaired()

    def run(self) -> Repaired:
        found = verify(self._archive, progress=self._progress)
        with self._archive.look() as look:
            expected = expected_files(look)
        broken = [f for f in found.findings if f.fault in ("missing", "altered")]
        wanted = {(e := expected[path_key(f.path)]).sha256: e for f in broken}
        moved = self._put_back_strays(found.of("stray"), wanted, {f.path for f in found.of("missing")})
        # All copies are made before anything is set aside: two swapped files are each other's copy.
        within = self._within([*broken, *(f for f in found.of("stray") if f.path not in moved)])
        ready = [*self._copied(wanted, within), *self._copied(wanted, self._without(wanted))]
        for each in ready:
            self._put_in_place(each)
        self._write_lists(found.of("unlisted"))
        mended = {each.path for each in self._report.put_back} | moved
        self._report.still_wrong = [
            f for f in found.findings if f.path not in mended and f.fault != "unlisted"
        ]
        return self._report

    def _write_lists(self, unlisted: list[Finding]) -> None:
        self._report.lists_written = bool(unlisted)
        originals.write_manifests(self._archive)
        with self._archive.look() as look:
            for place in {finding.path.rpartition("/")[0] for finding in unlisted}:
                manifests.write_manifest(look, self._archive.folder, place)

    def _put_back_strays(
        self, strays: list[Finding], wanted: dict[str, Expected], missing: set[str]
    ) -> set[str]:
        """A file that only changed its name or place in the archive goes back to where it was; returns those."""
        moved = set()
        for stray in strays:
            home = wanted.get(stray.sha256 or "")
            if home is not None and home.stored_path in missing:
                source, target = self._at(stray.path), self._at(home.stored_path)
                if moving.move_file(source, target, home.sha256):
                    del wanted[home.sha256]
                    moved.add(stray.path)
                    self._report.put_back.append(PutBack(home.stored_path, stray.path, None))
        return moved

    def _within(self, findings: list[Finding]) -> Iterator[tuple[str, Path]]:
        for finding in findings:
            if finding.sha256 is not None:
                yield finding.path, self._at(finding.path)

    def _without(self, wanted: dict[str, Expected]) -> Iterator[tuple[str, Path]]:
        """Files of the copies that may be wanted: first those at their own place, then any of their size."""
        if self._copies is None:
            return
        for each in list(wanted.values()):
            path = self._copies.joinpath(*each.stored_path.split("/"))
            if path.is_file():
                yield str(path), path
        sizes = {each.bytes for each in wanted.values()}
        for here, folders, names in os.walk(self._copies):
            folders.sort()
            for path in (Path(here) / name for name in sorted(names)):
                with suppress(OSError):
                    if wanted and path.is_file() and path.stat().st_size in sizes:
                        yield str(path), path

    def _copied(
        self, wanted: dict[str, Expected], candidates: Iterator[tuple[str, Path]]
    ) -> Iterator[_Ready]:
        """Copy what is wanted beside its place; each that is found is wanted no longer."""
        for shown, path in candidates:
            try:
                with path.open("rb") as file:
                    sha256 = hashlib.file_digest(file, "sha256").hexdigest()
            except OSError:
                continue  # another copy may be whole
            home = wanted.get(sha256)
            if home is None:
                continue
            part = _copy_beside(path, self._at(home.stored_path), sha256)
            if part is not None:
                del wanted[sha256]
                self._progress("Putting back", 0, len(wanted) + 1)
                yield _Ready(home, part, shown)

    def _put_in_place(self, ready: _Ready) -> None:
        target = self._at(ready.wanted.stored_path)
        kept_as = self._set_aside(ready.wanted.stored_path) if os.path.lexists(target) else None
        if moving.move_file(ready.part, target, ready.wanted.sha256):
            self._report.put_back.append(PutBack(ready.wanted.stored_path, ready.taken_from, kept_as))

    def _set_aside(self, stored_path: str) -> str:
        place, _, name = stored_path.rpartition("/")
        folder = originals.folder_of(self._archive, f"{_SET_ASIDE}/{place}")
        kept = free_name(name, {path_key(each.name) for each in folder.iterdir()})
        self._at(stored_path).rename(folder / kept)
        durable.flush_folder(folder)
        return f"{_SET_ASIDE}/{place}/{kept}"

    def _at(self, stored_path: str) -> Path:
        return self._archive.folder.joinpath(*stored_path.split("/"))


def _copy_beside(source: Path, target: Path, sha256: str) -> Path | None:
    """Copy to a temporary name beside the target and flush; None if the source changed meanwhile."""
    target.parent.mkdir(parents=True, exist_ok=True)
    part = durable.part_beside(target)
    digest = hashlib.sha256()
    try:
        with source.open("rb") as reading, part.open("xb") as writing:
            while piece := reading.read(_PIECE):
                digest.update(piece)
                writing.write(piece)
            writing.flush()
            os.fsync(writing.fileno())
        if digest.hexdigest() == sha256:
            with suppress(OSError):
                shutil.copystat(source, part)
            return part
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    part.unlink(missing_ok=True)
    return None
