"""Files become photos of a visit: found, read, copied safely, recorded, previewed.

The order makes a crash harmless: each file is copied to a temporary name while it is hashed, flushed,
given its own name and its folder flushed, and only then do the records learn of it. Cut off anywhere, the
next import of the same files completes it: a file that is already in its place is taken as it is.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from archive.errors import (
    ArchiveBusy,
    ArchiveReadOnly,
    CouldNotWrite,
    ImportCutShort,
    NotAccepted,
    PictureNotReadable,
    RecordNotFound,
    SourceNotRead,
)
from archive.ingest import previews
from archive.ingest.safe_copy import copy_to_part, hash_file, settle
from archive.ingest.survey import LeftOut, Surveyed, shown_path, survey
from archive.records import durable, originals, photos, visits
from archive.records.archive import Archive
from archive.records.entering import this_machines_zone
from archive.records.folder import path_key
from archive.records.manifests import MANIFEST
from archive.records.names import has_id_form
from archive.records.things import Original, Photo, Visit

# A transaction flushes the disk: one for many photos costs little, and a crash repeats only these.
_BATCH = 50
_LOCK_WAIT_SECONDS = 30.0


@dataclass(frozen=True, slots=True)
class FileWarning:
    """Something about one imported file that the person should know of."""

    file: str
    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Held:
    """A file whose very bytes the archive has already."""

    file: str
    stored_path: str


@dataclass(slots=True)
class ImportReport:
    """What an import did: every file it was given is in one of the three lists."""

    visit: Visit | None = None
    visit_was_made: bool = False
    imported: list[str] = field(default_factory=list)
    already_held: list[Held] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    warnings: list[FileWarning] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def has_doubts(self) -> bool:
        """Whether files were left out or are doubtful."""
        return bool(self.left_out or self.warnings)


Progress = Callable[[str, int, int], None]


def import_files(
    archive: Archive,
    paths: Sequence[Path],
    *,
    visit: str | None = None,
    progress: Progress = lambda _stage, _done, _total: None,
) -> ImportReport:
    """Bring files, and the files in folders, into a visit of the archive; originals are never altered.

    Parameters
    ----------
    paths : sequence of Path
        Files and folders; folders are searched through.
    visit : str, optional
        Name or id; a visit of that name is made when there is none, from the photos' days and this
        machine's zone. Without it the visit is named after the photos' days. It is made only when there
        is a photo that the archive does not hold yet.
    progress : callable
        Called with what is being done, how many files are done, and how many there are.

    Raises
    ------
    FileNotThere
        When a path is not there; nothing is imported then.
    ArchiveReadOnly, ArchiveBusy, CouldNotWrite
        Nothing was imported.
    ImportCutShort
        What was imported before stays, and the next import of the same files goes on from there.
    """
    if archive.read_only:
        raise ArchiveReadOnly(str(archive.folder))
    started = time.monotonic()
    report = ImportReport()
    found, report.left_out = survey(paths, inside_archive=archive.folder, progress=progress)
    with _only_import(archive), _told_how_far(archive, report, len(found)):
        _Import(archive, visit, found, report).run(progress)
    report.seconds = time.monotonic() - started
    return report


@contextmanager
def _only_import(archive: Archive) -> Iterator[None]:
    """Let one import run at a time: the next waits for its turn, and then sees what the first brought."""
    lock = FileLock(archive.folder / ".import.lock")
    try:
        lock.acquire(timeout=_LOCK_WAIT_SECONDS)
    except Timeout as error:
        raise ArchiveBusy(str(archive.folder), _LOCK_WAIT_SECONDS) from error
    except OSError as error:
        raise CouldNotWrite(str(archive.folder), error.strerror or str(error)) from error
    try:
        yield
    finally:
        lock.release()


@contextmanager
def _told_how_far(archive: Archive, report: ImportReport, of: int) -> Iterator[None]:
    """Where the disk or another writer stops the import, say how far it came."""
    try:
        yield
    except (ArchiveBusy, CouldNotWrite, OSError) as error:
        refusal: Exception = error
        if isinstance(error, OSError):
            refusal = CouldNotWrite(str(error.filename or archive.folder), error.strerror or str(error))
        if report.imported:
            refusal = ImportCutShort(str(refusal), len(report.imported), of)
        raise refusal from error


class _Import:
    """One import under way. Its visit is found or made when the first new photo needs a place."""

    def __init__(
        self, archive: Archive, visit: str | None, found: Sequence[Surveyed], report: ImportReport
    ) -> None:
        self._archive, self._asked, self._found, self._report = archive, visit, found, report
        self._waiting: list[tuple[Surveyed, Original]] = []  # in their places, not yet recorded
        self._names: set[str] = set()  # that are taken in the visit's folder
        with archive.look() as look:
            self._held = photos.held_files(look)
        self._sizes = {size for size, _ in self._held.values()}

    def run(self, progress: Progress) -> None:
        """Take every file, a transaction a batch, then bring the lists of checksums up to date."""
        _sweep(self._archive)
        try:
            for number, each in enumerate(self._found):
                progress("Importing", number, len(self._found))
                self._take(each)
                if len(self._waiting) == _BATCH:
                    self._finish_batch()
        finally:
            # Also when the disk is full or the person stops it: what is copied is kept.
            self._finish_batch()
            originals.write_manifests(self._archive)  # also those that an import left undone that was cut off
        progress("Importing", len(self._found), len(self._found))

    def _take(self, each: Surveyed) -> None:
        """Copy one file into its place, unless its very bytes are held."""
        shown = shown_path(each.path)
        try:
            # Only a file as long as one we hold can be one we hold; the others are hashed as they are copied.
            if each.bytes in self._sizes and self._is_held(hash_file(each.path), shown):
                return
            visit, folder = self._place()
            part = copy_to_part(each.path, folder, seen=each)
        except SourceNotRead as error:
            self._report.left_out.append(LeftOut(shown, error.why))
            return
        if self._is_held(part.sha256, shown):
            part.path.unlink()
            return
        name_as_found = shown_path(Path(each.path.name))
        name = settle(part, folder, name_as_found, self._names)
        self._names.add(path_key(name))
        original = Original(
            "picture", f"visits/{visit.folder}/{name}", name_as_found, part.sha256, part.bytes
        )
        self._held[part.sha256] = (part.bytes, original.stored_path)
        self._sizes.add(part.bytes)
        self._waiting.append((each, original))

    def _place(self) -> tuple[Visit, Path]:
        """The visit and its folder, found or made at the first call."""
        if self._report.visit is None:
            self._report.visit, self._report.visit_was_made = _visit_for(
                self._archive, self._asked, self._found
            )
            with self._archive.look() as look:
                taken = photos.taken_paths(look, self._report.visit)
            self._names = {path.rpartition("/")[2] for path in taken} | {path_key(MANIFEST)}
        return self._report.visit, originals.visit_folder(self._archive, self._report.visit)

    def _finish_batch(self) -> None:
        """Flush the folder, record the batch in one transaction, and make its previews."""
        if not self._waiting:
            return
        waiting, self._waiting = self._waiting, []
        visit, folder = self._place()
        durable.flush_folder(folder)
        count = "1 photo" if len(waiting) == 1 else f"{len(waiting)} photos"
        with self._archive.change(f"Imported {count} into {visit.name}") as writer:
            if photos.are_any_known(writer, [original for _, original in waiting]):
                # Another program moved photos here meanwhile. The copies stay for the next import to take.
                raise ArchiveBusy(str(self._archive.folder), 0)
            keys = photos.add_photos(writer, visit, [(_facts(each, o), [o]) for each, o in waiting])
            added = {photo.key: photo for photo in photos.photos_by_key(writer, keys)}
        self._report.imported += [added[key].file for key in keys]
        for key, (each, _) in zip(keys, waiting, strict=True):
            photo = added[key]
            self._report.warnings += [FileWarning(photo.file, w.code, w.message) for w in photo.warnings]
            if each.facts.viewable:
                self._preview(photo)

    def _is_held(self, sha256: str, shown: str) -> bool:
        if sha256 not in self._held:
            return False
        self._report.already_held.append(Held(shown, self._held[sha256][1]))
        return True

    def _preview(self, photo: Photo) -> None:
        try:
            previews.make_preview(self._archive, photo)
        except PictureNotReadable as error:
            self._report.warnings.append(FileWarning(photo.file, "no-preview", f"No preview: {error.why}."))


def _sweep(archive: Archive) -> None:
    """Take away half-written files that a cut-off import left, whichever visit it was for."""
    for folder in (*(archive.folder / "visits").glob("*/"), archive.folder / "previews"):
        durable.sweep_parts(folder)


def _visit_for(archive: Archive, asked: str | None, found: Sequence[Surveyed]) -> tuple[Visit, bool]:
    """Find the visit, or make it; a visit that has no days yet is given the photos'."""
    taken = sorted(each.metadata.taken[:10] for each in found if each.metadata.taken)
    days = (taken[0], taken[-1]) if taken else None
    name = asked if asked is not None else _name_after(days)
    with archive.look() as look:
        held = visits.find_visit(look, name)
    if held is not None:
        if held.first_day is None and days is not None:
            with archive.change(f"Gave the visit {held.name} the days of its photos") as writer:
                held = visits.give_days(writer, held, *days)
        return held, False
    if has_id_form(name):
        raise RecordNotFound("visit", name)  # who writes an id means a visit that is there
    with archive.change(f"Added the visit {name} for an import") as writer:
        first_day, last_day = days or (None, None)
        zone = this_machines_zone()
        made = visits.add_visit(writer, name, zone=zone, first_day=first_day, last_day=last_day)
    return made, True


def _name_after(days: tuple[str, str] | None) -> str:
    if days is None:
        raise NotAccepted(
            "These photos do not say when they were taken", "Name their visit with --visit NAME."
        )
    first_day, last_day = days
    return f"Visit of {first_day}" if first_day == last_day else f"Visit of {first_day} to {last_day}"


def _facts(each: Surveyed, original: Original) -> dict[str, Any]:
    """The columns of `photo` that the file itself tells."""
    facts, found = each.facts, each.metadata
    warnings = {w.code: w for w in (*facts.warnings, *found.warnings)}
    return {
        "file": original.stored_path.rpartition("/")[2],
        "width": facts.width,
        "height": facts.height,
        "stored_width": facts.stored_width,
        "stored_height": facts.stored_height,
        "orientation": facts.orientation,
        "taken": found.taken,
        "taken_as_read": found.taken_as_read,
        "utc_offset": found.utc_offset,
        "subsecond": found.subsecond,
        "make": found.make,
        "model": found.model,
        "lens": found.lens,
        "focal_mm": found.focal_mm,
        "focal_35mm": found.focal_35mm,
        "latitude": found.latitude,
        "longitude": found.longitude,
        "altitude_m": found.altitude_m,
        "bearing_deg": found.bearing_deg,
        "bearing_reference": found.bearing_reference,
        "caption": found.caption,
        "keywords": list(found.keywords),
        "creator": found.creator,
        "rights": found.rights,
        "readers": dict(found.readers),
        "warnings": [{"code": w.code, "message": w.message} for w in warnings.values()],
    }
