"""Pages of drawings: each page of a PDF or TIFF file that was chosen is a photo of its own, all of one original.

The first chosen page comes in as any picture does; the others join it afterwards, so that an import which was cut off
adds only those that are still missing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from archive import pictures
from archive.errors import NotAccepted, PictureNotReadable, SourceNotRead
from archive.ingest import previews
from archive.ingest.report import Hint, ImportReport
from archive.ingest.safe_copy import hash_file
from archive.ingest.survey import Surveyed
from archive.pictures import PictureFacts
from archive.records import photos
from archive.records.archive import Archive
from archive.records.look_alikes import keep_fingerprints
from archive.records.things import Photo

_WITH_PAGES = ("PDF", "TIFF")
_MOST_PAGES = 500
ALL = "all"
FIRST = (1,)  # what is taken where nobody asks for others


def parse_pages(text: str) -> tuple[int, ...] | None:
    """Read '2', '1,3-5' as page numbers from 1, in order; 'all' is None. Raises `NotAccepted`."""
    written = text.strip().casefold()
    if written == ALL:
        return None
    numbers: set[int] = set()
    for part in written.split(","):
        found = re.fullmatch(r"\s*(\d{1,4})(?:\s*(?:-|to)\s*(\d{1,4}))?\s*", part)
        first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
        if not 1 <= first <= last or last - first >= _MOST_PAGES:
            raise NotAccepted(f"'{text}' does not name pages", "Write them like 2, 1,3-5 or all.")
        numbers.update(range(first, last + 1))
    return tuple(sorted(numbers))


def has_pages(facts: PictureFacts) -> bool:
    """Tell whether a file has several pages of which some can be chosen."""
    return facts.format in _WITH_PAGES and facts.frames > 1


def chosen_pages(facts: PictureFacts, asked: tuple[int, ...] | None) -> list[int]:
    """Return the pages, from 1, that were chosen of a file; the first where it has none of those."""
    numbers = range(1, min(facts.frames, _MOST_PAGES) + 1)
    return [number for number in numbers if asked is None or number in asked] or [1]


def on_page(each: Surveyed, asked: tuple[int, ...] | None) -> Surveyed:
    """Return a file with the facts of the first of its pages that was chosen."""
    first = chosen_pages(each.facts, asked)[0]
    if first == 1:
        return each
    try:
        with each.picture.source.at_hand() as path:
            return replace(each, facts=pictures.inspect(path, first - 1), page=first)
    except (PictureNotReadable, OSError):
        return each


def add_pages(archive: Archive, stored_path: str, asked: tuple[int, ...] | None) -> list[Photo]:
    """Add the chosen pages of a file that is kept, and no photo yet; returns their photos."""
    path = archive.path_of(stored_path)
    facts = pictures.inspect(path)
    with archive.look() as look:
        holder, held = photos.pages_of(look, stored_path)
    missing = [number for number in chosen_pages(facts, asked) if number not in held]
    if holder is None or not missing:
        return []
    drawn = {number: _drawn(archive, stored_path, number) for number in missing}
    with archive.change(f"Took {_told(missing)} of {holder.file}") as writer:
        keys = photos.add_pages(
            writer, holder, [_facts(holder, number, pictures.inspect(path, number - 1)) for number in missing]
        )
        prints = zip(keys, drawn.values(), strict=True)
        keep_fingerprints(writer, {key: each.fingerprint if each else "" for key, each in prints})
        added = photos.photos_by_key(writer, keys)
    for photo in added:
        made = drawn[photo.page or 1]
        if made is not None:
            previews.keep_preview(archive, photo, made.jpeg)
    return sorted(added, key=lambda photo: photo.page or 1)


def take_pages(
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
            if pages == FIRST:
                likely = f"It has {each.facts.frames} pages, and the first was taken."
                others = "For others, import it again with --pages 2,4 or --pages all."
                report.hints.append(Hint(each.picture.source.name, "more-pages", likely, others))


def paper(facts: PictureFacts) -> dict[str, Any]:
    """The size on paper in the columns of `photo`."""
    width_mm, height_mm = facts.paper_mm or (None, None)
    return {"paper_width_mm": width_mm, "paper_height_mm": height_mm}


def _facts(holder: Photo, number: int, facts: PictureFacts) -> dict[str, Any]:
    stem, dot, ending = holder.file.rpartition(".")
    return {
        "file": f"{stem}, page {number}{dot}{ending}" if dot else f"{holder.file}, page {number}",
        "page": number,
        "width": facts.width,
        "height": facts.height,
        "stored_width": facts.stored_width,
        "stored_height": facts.stored_height,
        "orientation": facts.orientation,
        **paper(facts),
        "warnings": [{"code": w.code, "message": w.message} for w in facts.warnings],
    }


def _drawn(archive: Archive, stored_path: str, number: int) -> previews.Drawn | None:
    try:
        return previews.drawn(archive.path_of(stored_path), number - 1)
    except PictureNotReadable:
        return None  # its facts say why


def _told(numbers: list[int]) -> str:
    return f"page {numbers[0]}" if len(numbers) == 1 else f"pages {', '.join(map(str, numbers))}"
