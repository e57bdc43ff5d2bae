"""Write what a pack says into one folder: the PDF, the sizes for other programs and the photos."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from archive import pictures
from archive.errors import PictureNotReadable
from archive.packs import lettering
from archive.packs.cautions import cautions_for
from archive.packs.content import PackContent, PackPhoto, day_text
from archive.packs.cover import exact
from archive.packs.exports import write_dimensions_csv, write_pack_json
from archive.packs.pdf import write_pdf
from archive.packs.sheets import A4, Paper, PictureFile
from archive.packs.whole_folder import whole_folder
from archive.records.folder import free_name, path_key, safe_file_name

PDF_NAME: Final = "reference-pack.pdf"
CSV_NAME: Final = "dimensions.csv"
JSON_NAME: Final = "pack.json"
README_NAME: Final = "README.txt"
PHOTO_FOLDER: Final = "photos"
_PRINTED_PX: Final = 2400  # the longest side on paper: 300 dpi across the page; copies keep every pixel
_QUALITY: Final = 90

Progress = Callable[[str, int, int], None]  # what is being done, how many are done, of how many


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A photo that is not in the pack, and why."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True)
class PackReport:
    """What came of writing a pack."""

    build: str
    folder: Path
    pages: int
    sizes: int
    photos: int
    photos_not_chosen: int
    left_out: tuple[LeftOut, ...]


def write_content(
    content: PackContent, folder: Path, *, paper: Paper = A4, progress: Progress | None = None
) -> PackReport:
    """Write a pack to `folder`, which must not be there yet; whole or not at all.

    A photo whose original cannot be read is left out and named in the report. Raises `FolderInTheWay`,
    `FileNotThere` or `CouldNotWrite`.
    """
    with whole_folder(folder) as part, tempfile.TemporaryDirectory() as scratch:
        copies, printed, left_out = _copy_photos(content.photos, part, Path(scratch), progress)
        kept = tuple(photo for photo in content.photos if photo.id in copies)
        content = replace(content, photos=kept)
        pages = write_pdf(content, printed, part / PDF_NAME, paper)
        write_dimensions_csv(content, part / CSV_NAME)
        write_pack_json(content, copies, part / JSON_NAME)
        (part / README_NAME).write_text(_readme(content), encoding="utf-8", newline="\n")
    return PackReport(
        content.build, folder, pages, len(content.sizes), len(kept), content.photos_not_chosen, left_out
    )


def _copy_photos(
    photos: tuple[PackPhoto, ...], part: Path, scratch: Path, progress: Progress | None
) -> tuple[dict[str, str], dict[str, PictureFile], tuple[LeftOut, ...]]:
    """Copy each photo upright and without metadata; return paths in the pack, pictures to print, what failed."""
    copies: dict[str, str] = {}
    printed: dict[str, PictureFile] = {}
    left_out: list[LeftOut] = []
    names = copy_names(photos)
    if photos:
        (part / PHOTO_FOLDER).mkdir()
    for number, photo in enumerate(photos, start=1):
        target = part / PHOTO_FOLDER / names[photo.id]
        try:
            data = pictures.upright_copy_without_metadata(
                photo.original, None, _QUALITY, _harmless(photo), photo.page
            )
        except PictureNotReadable as problem:
            left_out.append(LeftOut(photo.name, problem.why))
        except OSError as problem:
            why = problem.strerror or str(problem)
            left_out.append(LeftOut(photo.name, f"its original cannot be read: {why}"))
        else:
            target.write_bytes(data)
            printed[photo.id] = _to_print(target, scratch / f"{number}.jpg")
            copies[photo.id] = f"{PHOTO_FOLDER}/{target.name}"
        if progress:
            progress("photos", number, len(photos))
    return copies, printed, tuple(left_out)


def _to_print(copy: Path, reduced: Path) -> PictureFile:
    """Return the copy itself, or a smaller one where it has more pixels than paper shows."""
    whole = _measured(copy)
    if max(whole.width_px, whole.height_px) <= _PRINTED_PX:
        return whole
    reduced.write_bytes(pictures.upright_copy_without_metadata(copy, _PRINTED_PX, _QUALITY))
    return _measured(reduced)


def _measured(file: Path) -> PictureFile:
    facts = pictures.inspect(file)
    if facts.width is None or facts.height is None:
        raise PictureNotReadable(file.name, "its copy does not say how large it is")
    return PictureFile(file, facts.width, facts.height)


def copy_names(photos: Sequence[PackPhoto]) -> dict[str, str]:
    """Return a readable file name for each photo's copy by photo id: 'front 1 HC20_0412.jpg'."""
    names: dict[str, str] = {}
    taken: set[str] = set()
    counts: Counter[str] = Counter()
    for photo in photos:
        view = photo.main.view or "photo"
        counts[view] += 1
        wanted = safe_file_name(f"{view} {counts[view]} {Path(photo.name).stem[:80]}.jpg")
        name = free_name(wanted, taken)
        taken.add(path_key(name))
        names[photo.id] = name
    return names


def _harmless(photo: PackPhoto) -> dict[str, str]:
    """Return what a copy may say of itself; nothing of place, camera or owner beyond it."""
    facts = {
        "caption": photo.caption,
        "creator": photo.creator,
        "rights": photo.rights,
        "date": photo.taken.isoformat() if photo.taken else None,
    }
    return {name: text for name, text in facts.items() if text}


def _readme(content: PackContent) -> str:
    cautions = "\n".join(f"{c.heading}. {c.text}" for c in cautions_for(content.process))
    return f"""Reference pack: {lettering.clean(content.build)}
Scale {content.scale_text}, made on {day_text(content.made_on)} by Rivetbook {content.program_version}.

{PDF_NAME}   to print (at 100 %, not fitted to the page) or to read on screen
{CSV_NAME}       the sizes as a table: UTF-8, comma between cells, point decimals, lengths in mm
{JSON_NAME}            all of it for other programs; the numbers are not rounded
{PHOTO_FOLDER}/              the photos, upright, without the camera's data

Real sizes are of the real thing; model sizes are those divided by {exact(content.ratio)}. In the tables u is one
standard uncertainty, and the true size lies between low_95 and high_95 about 95 times in 100.

{cautions}
"""
