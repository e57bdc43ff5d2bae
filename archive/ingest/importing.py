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
from contextlib import ExitStack, contextmanager
from pathlib import Path

from archive import pictures
from archive.errors import ArchiveBusy, ArchiveReadOnly, CouldNotWrite, ImportCutShort, PictureNotReadable
from archive.ingest import previews
from archive.ingest.drawing import Drawing
from archive.ingest.hints import hint, hints_of_import
from archive.ingest.intake import Intake, named_after
from archive.ingest.pages import has_pages, on_page, take_pages
from archive.ingest.previews import Drawn
from archive.ingest.recording import Ready, record, sentence
from archive.ingest.report import FileWarning, ImportReport, KeptBeside
from archive.ingest.seeing_again import see_again
from archive.ingest.sources import LeftOut
from archive.ingest.survey import FileSeen, Surveyed, survey
from archive.pictures import PictureFacts
from archive.records import durable, originals, photos
from archive.records.archive import Archive
from archive.records.look_alikes import keep_fingerprints
from archive.records.one_at_a_time import taking_turns
from archive.records.things import Original, Photo

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
            intake = Intake(archive, visit, given, report, taken_out=taken_out)
            new = _Import(archive, given, report, intake, drawing).run(progress)
            report.hints += hints_of_import(archive, report, new, visit_was_named=visit is not None)
            take_pages(archive, drawings, pages, report)
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


class _Import:
    """One import under way: files into their places, then into the records, a batch at a time."""

    def __init__(
        self,
        archive: Archive,
        given: deque[Surveyed | FileSeen],
        report: ImportReport,
        intake: Intake,
        drawing: Drawing,
    ) -> None:
        self._archive, self._given, self._report = archive, given, report
        self._intake, self._drawing = intake, drawing
        self._waiting: list[Ready] = []
        self._waiting_loose: list[Original] = []
        self._shown_better: dict[str, PictureFacts] = {}
        self._new: list[int] = []  # keys of the photos that came in
        with archive.look() as look:
            self._barely_shown = photos.barely_shown(look, pictures.TINY_PX)

    def run(self, progress: Progress) -> list[int]:
        """Take every file, a transaction a batch, then bring the lists of checksums up to date; returns the new photos' keys."""
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
        progress("Importing", many, many)
        return self._new

    def _take(self, each: Surveyed) -> None:
        """Copy a photo's files into their places, but for those whose very bytes are held.

        Files that came with a picture which is held join its photo.
        """
        held, picture = self._intake.take(each.picture, self._intake.visits_place)
        if held is not None and (each.facts.width or 0) > self._barely_shown.get(held, _ANY_WIDTH_PX):
            self._shown_better[held] = each.facts
        if picture is None and held is None:
            self._report.left_out += [LeftOut(b.source.shown, _NOT_WITHOUT) for b in each.beside]
            return
        stored_path = picture.stored_path if picture else self._intake.path_held(str(held))
        place, _, name = stored_path.rpartition("/")
        ready = Ready(each, [picture] if picture else [], held)
        if picture is not None and each.facts.viewable:
            ready.drawing = self._drawing.begin(self._archive.path_of(stored_path), each.page - 1)
        try:
            for beside in each.beside:
                wanted = named_after(beside.source.name, each.picture.source.name, name)
                _, original = self._intake.take(beside, lambda: place, wanted)
                ready.files += [original] if original else []
        finally:  # the disk may be full after some of its files
            if ready.files:
                self._waiting.append(ready)

    def _take_loose(self, file: FileSeen) -> None:
        """Copy a film or voice note that came with no photo into its place."""
        _, original = self._intake.take(file, self._intake.visits_place)
        if original is not None:
            self._waiting_loose.append(original)

    def _finish_batch(self) -> None:
        """Flush the folders, record the batch in one transaction, and keep its previews."""
        waiting, self._waiting = self._waiting, []
        loose, self._waiting_loose = self._waiting_loose, []
        if not waiting and not loose:
            return
        new, joining = [r for r in waiting if r.of is None], [r for r in waiting if r.of is not None]
        files = [*(file for ready in waiting for file in ready.files), *loose]
        for place in {file.stored_path.rpartition("/")[0] for file in files}:
            durable.flush_folder(originals.folder_of(self._archive, place))
        drawn = [_drawn(ready) for ready in new]
        with self._archive.change(sentence(new, loose, joining, self._report.visit)) as writer:
            if photos.are_any_known(writer, files):
                # Another program moved photos here meanwhile. The copies stay for the next import to take.
                raise ArchiveBusy(str(self._archive.folder), 0)
            added = record(self._archive, writer, new, loose, self._report)
            prints = {photo.key: _fingerprint(each) for photo, each in zip(added, drawn, strict=True)}
            keep_fingerprints(writer, prints)
            joined = [photos.add_originals(writer, str(ready.of), ready.files) for ready in joining]
        self._new += [photo.key for photo in added]
        for ready, photo in (*zip(new, added, strict=True), *zip(joining, joined, strict=True)):
            self._report.kept_beside += [
                KeptBeside(o.name_as_found, o.role, photo.file) for o in ready.files if o.role != "picture"
            ]
        self._report.kept_beside += [KeptBeside(o.name_as_found, o.role, None) for o in loose]
        for ready, photo, each in zip(new, added, drawn, strict=True):
            self._tell(ready, photo, each)

    def _tell(self, ready: Ready, photo: Photo, drawn: Drawn | PictureNotReadable | None) -> None:
        """Keep a new photo's preview, and report what is to be known of it."""
        self._report.imported.append(photo.file)
        self._report.warnings += [FileWarning(photo.file, w.code, w.message) for w in photo.warnings]
        if isinstance(drawn, Drawn):
            previews.keep_preview(self._archive, photo, drawn.jpeg)
        elif drawn is not None:
            self._report.warnings.append(FileWarning(photo.file, "no-preview", f"No preview: {drawn.why}."))
        likely = hint(photo.file, ready.each.facts, ready.each.metadata)
        self._report.hints += [likely] if likely else []


def _drawn(ready: Ready) -> Drawn | PictureNotReadable | None:
    """The picture made small, or why there is none; None where none was to be made."""
    if ready.drawing is None:
        return None
    try:
        return ready.drawing.result()
    except PictureNotReadable as error:
        return error


def _fingerprint(drawn: Drawn | PictureNotReadable | None) -> str:
    return drawn.fingerprint if isinstance(drawn, Drawn) else ""


_NOT_WANTED = "films and voice notes were not wanted"
_NOT_WITHOUT = "the picture that it came with was left out"


def _sweep(archive: Archive) -> None:
    """Take away half-written files that a cut-off import left, whichever visit it was for."""
    for folder in (*(archive.folder / "visits").glob("*/"), archive.folder / "previews"):
        durable.sweep_parts(folder)
