"""Files become photos of a visit: found, read, copied safely, recorded, previewed.

The order makes a crash harmless: each file is copied to a temporary name while it is hashed, flushed,
given its own name and its folder flushed, and only then do the records learn of it. Cut off anywhere, the
next import of the same files completes it: a file that is already in its place is taken as it is.
"""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive import pictures
from archive.errors import (
    ArchiveBusy,
    ArchiveReadOnly,
    CouldNotWrite,
    ImportCutShort,
    PictureNotReadable,
    SourceNotRead,
)
from archive.ingest import previews
from archive.ingest.choosing_visit import days_of, visit_for
from archive.ingest.drawing import Drawing
from archive.ingest.gpx import read_track
from archive.ingest.hints import hint, look_alike_hints, other_trip_hints, track_hints, zone_hints
from archive.ingest.pages import add_pages, has_pages, on_page, paper
from archive.ingest.previews import Drawn
from archive.ingest.report import FileWarning, Held, Hint, ImportReport, KeptBeside
from archive.ingest.safe_copy import copy_to_part, hash_file, settle
from archive.ingest.seeing_again import see_again
from archive.ingest.sources import LeftOut
from archive.ingest.survey import FileSeen, Surveyed, survey
from archive.pictures import PictureFacts
from archive.records import durable, history, originals, photos, removing
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.folder import path_key
from archive.records.following import FROM_FILE, follow
from archive.records.look_alikes import keep_fingerprints
from archive.records.manifests import MANIFEST
from archive.records.one_at_a_time import taking_turns
from archive.records.photos import stem_of
from archive.records.things import Original, Photo, Visit
from archive.records.tracks import add_track
from archive.records.visit_files import add_visit_files

# A transaction flushes the disk: one for many photos costs little, and a crash repeats only these.
_BATCH = 50
_ANY_WIDTH_PX = 1 << 31


Progress = Callable[[str, int, int], None]


def import_files(
    archive: Archive,
    paths: Sequence[Path],
    *,
    visit: str | None = None,
    films: bool = True,
    pages: tuple[int, ...] | None = (1,),
    taken_out: bool = False,
    workers: int | None = None,
    progress: Progress = lambda _stage, _done, _total: None,
) -> ImportReport:
    """Bring files, and the files in folders, into a visit of the archive; originals are never altered.

    Parameters
    ----------
    paths : sequence of Path
        Files, folders and ZIP files; folders are searched through and ZIP files looked into.
    visit : str, optional
        Name or id; a visit of that name is made when there is none, from the photos' days and this
        machine's zone. Without it the visit is named after the photos' days. It is made only when there
        is a photo that the archive does not hold yet.
    films : bool
        Whether films and voice notes that came with no photo are kept beside the visit's photos.
    pages : tuple of int, optional
        Which pages, from 1, of drawings with several (PDF, TIFF) become photos; None: all of them.
    taken_out : bool
        Whether photos that were taken out of the archive come in again, as new ones; else they are left out,
        and the report says how to bring them back with all that was written about them.
    workers : int, optional
        How many pictures are made small at a time, beside the copying; else as many as the machine has
        processors, up to four.
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
    with ExitStack() as opened:
        found, loose, report.left_out = survey(
            paths, inside_archive=archive.folder, progress=progress, keep_open=opened
        )
        if not films:
            wanted = [each for each in loose if each.role == "track"]
            report.left_out += [LeftOut(e.source.shown, _NOT_WANTED) for e in loose if e not in wanted]
            loose = wanted
        with (
            taking_turns(archive),
            _told_how_far(archive, report, len(found)),
            Drawing(workers or min(4, os.cpu_count() or 1)) as drawing,
        ):
            drawings = [each for each in found if has_pages(each.facts)]
            given: deque[Surveyed | FileSeen] = deque(
                on_page(each, pages) if has_pages(each.facts) else each for each in found
            )
            given += loose
            found.clear()  # what is done is let go, so that memory does not grow with the number of photos
            _Import(archive, visit, given, report, drawing, taken_out=taken_out).run(progress)
            _take_pages(archive, drawings, pages, report)
    report.seconds = time.monotonic() - started
    return report


@contextmanager
def _told_how_far(archive: Archive, report: ImportReport, of: int) -> Iterator[None]:
    """Where the disk or another writer stops the import, say how far it came."""
    try:
        yield
    except (ArchiveBusy, CouldNotWrite, OSError) as error:
        refusal: Exception = error
        if isinstance(error, OSError):
            place = Path(str(error.filename or archive.folder))
            if place.name.startswith(durable.PART):
                place = place.parent  # nobody knows the temporary name
            refusal = CouldNotWrite(str(place), error.strerror or str(error))
        if report.imported:
            refusal = ImportCutShort(str(refusal), len(report.imported), of)
        raise refusal from error


@dataclass(slots=True)
class _Ready:
    """A photo whose files are in their places and not yet recorded; `of` is the held picture that they join, if any."""

    each: Surveyed
    files: list[Original]
    of: str | None = None
    drawing: Future[Drawn] | None = None


class _Import:
    """One import under way. Its visit is found or made when the first new file needs a place."""

    def __init__(
        self,
        archive: Archive,
        visit: str | None,
        given: deque[Surveyed | FileSeen],
        report: ImportReport,
        drawing: Drawing,
        *,
        taken_out: bool,
    ) -> None:
        self._archive, self._asked, self._report, self._drawing = archive, visit, report, drawing
        self._given, self._days = given, days_of(given)
        self._waiting: list[_Ready] = []
        self._waiting_loose: list[Original] = []
        self._shown_better: dict[str, PictureFacts] = {}
        self._new: list[int] = []  # keys of the photos that came in
        self._names: dict[str, set[str]] = {}  # that are taken, by the folder that they are taken in
        with archive.look() as look:
            self._held = photos.held_files(look)
            self._barely_shown = photos.barely_shown(look, pictures.TINY_PX)
            self._taken_out = {} if taken_out else history.taken_out(look)
            self._sizes = {size for size, _ in self._held.values()} | removing.sizes_in_removed(look)

    def run(self, progress: Progress) -> None:
        """Take every file, a transaction a batch, then bring the lists of checksums up to date."""
        _sweep(self._archive)
        many = len(self._given)
        try:
            for number in range(many):
                progress("Importing", number, many)
                each = self._given.popleft()
                if isinstance(each, Surveyed):
                    self._take(each)
                else:
                    self._take_loose(each)
                if len(self._waiting) + len(self._waiting_loose) == _BATCH:
                    self._finish_batch()
        finally:
            # Also when the disk is full or the person stops it: what is copied is kept.
            self._finish_batch()
            originals.write_manifests(self._archive)  # also those that an import left undone that was cut off
        see_again(self._archive, self._shown_better, self._report)
        self._report.hints += look_alike_hints(self._archive, self._new)
        self._report.hints += self._hints_of_visit()
        progress("Importing", many, many)

    def _hints_of_visit(self) -> list[Hint]:
        visit, hints = self._report.visit, list[Hint]()
        if visit is not None and self._report.visit_was_made:
            hints += other_trip_hints(self._archive, self._new) if self._asked is None else []
            hints += zone_hints(self._archive, visit, self._new)
        if visit is not None and any(kept.role == "track" for kept in self._report.kept_beside):
            hints += track_hints(self._archive, visit)
        return hints

    def _take(self, each: Surveyed) -> None:
        """Copy a photo's files into their places, but for those whose very bytes are held.

        Files that came with a picture which is held join its photo.
        """
        held, picture = self._take_file(each.picture, self._visits_place)
        if held is not None and (each.facts.width or 0) > self._barely_shown.get(held, _ANY_WIDTH_PX):
            self._shown_better[held] = each.facts
        if picture is None and held is None:
            self._report.left_out += [LeftOut(b.source.shown, _NOT_WITHOUT) for b in each.beside]
            return
        stored_path = picture.stored_path if picture else self._held[str(held)][1]
        place, _, name = stored_path.rpartition("/")
        ready = _Ready(each, [picture] if picture else [], held)
        if picture is not None and each.facts.viewable:
            ready.drawing = self._drawing.begin(self._archive.path_of(stored_path), each.page - 1)
        try:
            for beside in each.beside:
                wanted = _named_after(beside.source.name, each.picture.source.name, name)
                _, original = self._take_file(beside, lambda: place, wanted)
                ready.files += [original] if original else []
        finally:  # the disk may be full after some of its files
            if ready.files:
                self._waiting.append(ready)

    def _take_loose(self, file: FileSeen) -> None:
        """Copy a film or voice note that came with no photo into its place."""
        _, original = self._take_file(file, self._visits_place)
        if original is not None:
            self._waiting_loose.append(original)

    def _take_file(
        self, file: FileSeen, find_place: Callable[[], str], wanted: str | None = None
    ) -> tuple[str | None, Original | None]:
        """Take one file; returns the checksum of one that is held, or what was made of one that is not.

        Neither is returned where it was left out.
        """
        try:
            with file.source.at_hand() as path:
                # Only a file as long as one we hold can be one we hold; the others are hashed as they are copied.
                if file.bytes in self._sizes:
                    sha256 = hash_file(path)
                    if self._is_held(sha256, file):
                        return sha256, None
                    if sha256 in self._taken_out:
                        act = self._taken_out[sha256]
                        why = f"it was taken out of this archive on {act.at_utc[:10]}"
                        self._report.left_out.append(LeftOut(file.source.shown, why, act))
                        return None, None
                place = find_place()
                folder = originals.folder_of(self._archive, place)
                part = copy_to_part(path, folder, seen=file)
        except SourceNotRead as error:
            self._report.left_out.append(LeftOut(file.source.shown, error.why))
            return None, None
        if self._is_held(part.sha256, file):
            part.path.unlink()
            return part.sha256, None
        name = settle(part, folder, wanted or file.source.name, self._taken_in(place))
        self._names[place].add(path_key(name))
        original = Original(file.role, f"{place}/{name}", file.source.name, part.sha256, part.bytes)
        self._held[part.sha256] = (part.bytes, original.stored_path)
        self._sizes.add(part.bytes)
        return None, original

    def _visits_place(self) -> str:
        """The folder of the visit, which is found or made at the first call."""
        if self._report.visit is None:
            self._report.visit, self._report.visit_was_made = visit_for(
                self._archive, self._asked, self._days
            )
        return f"visits/{self._report.visit.folder}"

    def _taken_in(self, place: str) -> set[str]:
        if place not in self._names:
            with self._archive.look() as look:
                self._names[place] = {*photos.taken_names(look, place), path_key(MANIFEST)}
        return self._names[place]

    def _finish_batch(self) -> None:
        """Flush the folders, record the batch in one transaction, and make its previews."""
        if not self._waiting and not self._waiting_loose:
            return
        waiting, self._waiting = self._waiting, []
        loose, self._waiting_loose = self._waiting_loose, []
        new, joining = [r for r in waiting if r.of is None], [r for r in waiting if r.of is not None]
        files = [*(file for ready in waiting for file in ready.files), *loose]
        for place in {file.stored_path.rpartition("/")[0] for file in files}:
            durable.flush_folder(originals.folder_of(self._archive, place))
        drawn = [_drawn(ready) for ready in new]
        with self._archive.change(_sentence(new, loose, joining, self._report.visit)) as writer:
            if photos.are_any_known(writer, files):
                # Another program moved photos here meanwhile. The copies stay for the next import to take.
                raise ArchiveBusy(str(self._archive.folder), 0)
            added = self._record(writer, new, loose)
            keep_fingerprints(
                writer, {photo.key: _fingerprint(each) for photo, each in zip(added, drawn, strict=True)}
            )
            joined = [photos.add_originals(writer, str(ready.of), ready.files) for ready in joining]
        self._report.imported += [photo.file for photo in added]
        for ready, photo in (*zip(new, added, strict=True), *zip(joining, joined, strict=True)):
            self._report.kept_beside += [
                KeptBeside(o.name_as_found, o.role, photo.file) for o in ready.files if o.role != "picture"
            ]
        self._report.kept_beside += [KeptBeside(o.name_as_found, o.role, None) for o in loose]
        for photo, ready in zip(added, new, strict=True):
            likely = hint(photo.file, ready.each.facts, ready.each.metadata)
            self._report.hints += [Hint(photo.file, likely.code, likely.message)] if likely else []
        self._new += [photo.key for photo in added]
        for photo, each in zip(added, drawn, strict=True):
            self._report.warnings += [FileWarning(photo.file, w.code, w.message) for w in photo.warnings]
            if isinstance(each, Drawn):
                previews.keep_preview(self._archive, photo, each.jpeg)
            elif each is not None:
                self._report.warnings.append(
                    FileWarning(photo.file, "no-preview", f"No preview: {each.why}.")
                )

    def _record(self, writer: Writer, new: Sequence[_Ready], loose: Sequence[Original]) -> list[Photo]:
        if self._report.visit is None:
            return []  # nothing new, so no visit was needed
        visit = self._report.visit
        add_visit_files(writer, visit, loose)
        tracks = [each for each in loose if each.role == "track"]
        for each in tracks:
            add_track(writer, each.stored_path, read_track(self._archive.path_of(each.stored_path)))
        keys = photos.add_photos(writer, visit, [(_facts(r.each, r.files[0]), r.files) for r in new])
        self._report.placed_by_track += follow(writer, [visit.key], None if tracks else keys)
        added = {photo.key: photo for photo in photos.photos_by_key(writer, keys)}
        return [added[key] for key in keys]

    def _is_held(self, sha256: str, file: FileSeen) -> bool:
        if sha256 not in self._held:
            return False
        self._report.already_held.append(Held(file.source.shown, self._held[sha256][1]))
        return True


def _drawn(ready: _Ready) -> Drawn | PictureNotReadable | None:
    """The picture made small, or why there is none; None where none was to be made."""
    if ready.drawing is None:
        return None
    try:
        return ready.drawing.result()
    except PictureNotReadable as error:
        return error


def _take_pages(
    archive: Archive, found: Sequence[Surveyed], pages: tuple[int, ...] | None, report: ImportReport
) -> None:
    """Take the other pages that were chosen, of drawings that came in and of those that were held."""
    if not found:
        return
    with archive.look() as look:
        held = photos.held_files(look)
    for each in found:
        try:
            with each.picture.source.at_hand() as path:
                sha256 = hash_file(path)
        except SourceNotRead:
            continue  # it was left out for that, or the card was pulled since: the next import takes them
        if sha256 in held:
            added = add_pages(archive, held[sha256][1], pages)
            report.imported += [photo.file for photo in added]
            if pages == (1,):
                message = (
                    f"It has {each.facts.frames} pages, and the first was taken. For others, import it again with "
                    "--pages 2,4 or --pages all."
                )
                report.hints.append(Hint(each.picture.source.name, "more-pages", message))


def _fingerprint(drawn: Drawn | PictureNotReadable | None) -> str:
    return drawn.fingerprint if isinstance(drawn, Drawn) else ""


_NOT_WANTED = "films and voice notes were not wanted"
_NOT_WITHOUT = "the picture that it came with was left out"


def _named_after(name: str, picture: str, kept: str) -> str:
    """A file's own name, but for the stem that its picture had to change for want of a free name."""
    found = stem_of(picture)
    if path_key(name[: len(found)]) != path_key(found):
        return name
    return stem_of(kept) + name[len(found) :]


def _sentence(
    new: Sequence[_Ready], loose: Sequence[Original], joining: Sequence[_Ready], visit: Visit | None
) -> str:
    if visit is None or not (new or loose):
        return f"Kept more files of {'1 photo' if len(joining) == 1 else f'{len(joining)} photos'}"
    what = [
        _counted(len(new), "photo", "photos"),
        _counted(sum(each.role != "track" for each in loose), "film or voice note", "films or voice notes"),
        _counted(sum(each.role == "track" for each in loose), "GPS track", "GPS tracks"),
    ]
    return f"Imported {' and '.join(filter(None, what))} into {visit.name}"


def _counted(number: int, one: str, many: str) -> str:
    return "" if number == 0 else f"{number} {one if number == 1 else many}"


def _sweep(archive: Archive) -> None:
    """Take away half-written files that a cut-off import left, whichever visit it was for."""
    for folder in (*(archive.folder / "visits").glob("*/"), archive.folder / "previews"):
        durable.sweep_parts(folder)


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
        "page": each.page if has_pages(facts) else None,
        "page_of_id": None,
        **paper(facts),
        "taken": found.taken,
        "taken_as_read": found.taken_as_read,
        "utc_offset": found.utc_offset,
        "utc_offset_by_gps": found.utc_offset_by_gps,
        "subsecond": found.subsecond,
        "make": found.make,
        "model": found.model,
        "lens": found.lens,
        "focal_mm": found.focal_mm,
        "focal_35mm": found.focal_35mm,
        "digital_zoom": found.digital_zoom,
        "width_as_taken": found.width_as_taken,
        "height_as_taken": found.height_as_taken,
        "sensor_px_per_mm": found.sensor_px_per_mm,
        "latitude": found.latitude,
        "longitude": found.longitude,
        "position_from": FROM_FILE if found.latitude is not None else None,
        "position_radius_m": found.position_radius_m if found.latitude is not None else None,
        "clock_ahead_s": None,
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
