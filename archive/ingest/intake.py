"""Files taken into the archive's folders, each once: those whose very bytes are held are not copied again."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from archive.errors import SourceNotRead
from archive.ingest.choosing_visit import days_of, visit_for
from archive.ingest.report import Held, ImportReport
from archive.ingest.safe_copy import copy_to_part, hash_file, settle
from archive.ingest.sources import LeftOut
from archive.ingest.survey import FileSeen, Surveyed
from archive.records import history, originals, photos, removing
from archive.records.archive import Archive
from archive.records.folder import path_key
from archive.records.manifests import MANIFEST
from archive.records.photos import stem_of
from archive.records.things import Original


class Intake:
    """What the archive holds already, and where what it does not hold goes. What is not taken goes into the report."""

    def __init__(
        self,
        archive: Archive,
        visit: str | None,
        given: Iterable[Surveyed | FileSeen],
        report: ImportReport,
        *,
        taken_out: bool,
    ) -> None:
        self._archive, self._asked, self._report, self._days = archive, visit, report, days_of(given)
        self._names: dict[str, set[str]] = {}  # that are taken, by the folder that they are taken in
        with archive.look() as look:
            self._held = photos.held_files(look)
            self._taken_out = {} if taken_out else history.taken_out(look)
            self._sizes = {size for size, _ in self._held.values()} | removing.sizes_in_removed(look)

    def path_held(self, sha256: str) -> str:
        """Return the stored path of a file that is held."""
        return self._held[sha256][1]

    def visits_place(self) -> str:
        """Return the folder of the visit, which is found or made at the first call."""
        if self._report.visit is None:
            self._report.visit, self._report.visit_was_made = visit_for(
                self._archive, self._asked, self._days
            )
        return f"visits/{self._report.visit.folder}"

    def take(
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
                        self._leave_out_again(file, sha256)
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

    def _leave_out_again(self, file: FileSeen, sha256: str) -> None:
        act = self._taken_out[sha256]
        why = f"it was taken out of this archive on {act.at_utc[:10]}"
        self._report.left_out.append(LeftOut(file.source.shown, why, act))

    def _taken_in(self, place: str) -> set[str]:
        if place not in self._names:
            with self._archive.look() as look:
                self._names[place] = {*photos.taken_names(look, place), path_key(MANIFEST)}
        return self._names[place]

    def _is_held(self, sha256: str, file: FileSeen) -> bool:
        if sha256 not in self._held:
            return False
        self._report.already_held.append(Held(file.source.shown, self._held[sha256][1]))
        return True


def named_after(name: str, picture: str, kept: str) -> str:
    """Return a file's own name, but for the stem that its picture had to change for want of a free name."""
    found = stem_of(picture)
    if path_key(name[: len(found)]) != path_key(found):
        return name
    return stem_of(kept) + name[len(found) :]
