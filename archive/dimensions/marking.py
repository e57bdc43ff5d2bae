"""Putting marks on photos; what was worked out from one that moves is worked out anew with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import TYPE_CHECKING

from archive import pictures
from archive.dimensions.estimates import recompute
from archive.dimensions.sheets import CLEARNESS, SheetMark, SnapTo
from archive.errors import FileNotThere, NotAccepted
from archive.records import marks, photos
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.names import clean_name
from archive.records.things import Photo, PhotoMark

if TYPE_CHECKING:
    from archive.photogrammetry.snapping import Grey


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """Where a mark comes to lie; `says` tells what snapping did where that was asked for."""

    name: str
    x_px: float
    y_px: float
    clear: str
    snapped: str | None = None
    sigma_px: float | None = None
    says: str | None = None

    def put_on(self, writer: Writer, photo: Photo) -> PhotoMark:
        """Put it on its photo, or move the one of that name there."""
        return marks.put_mark(
            writer,
            photo,
            self.name,
            x_px=self.x_px,
            y_px=self.y_px,
            clear=self.clear,
            snapped=self.snapped,
            sigma_px=self.sigma_px,
        )

    def lies_at(self, mark: PhotoMark) -> bool:
        """Whether a mark on the photo is just this one; one that was snapped before may stay so."""
        same = (mark.x_px, mark.y_px, mark.clear) == (self.x_px, self.y_px, self.clear)
        return same and self.snapped in (None, mark.snapped)


@dataclass(frozen=True, slots=True)
class Marked:
    """A mark as it was put; `says` tells what snapping did, `u_px` how well the mark is placed."""

    mark: PhotoMark
    says: str | None
    u_px: float


@dataclass(frozen=True, slots=True)
class MarksOfPhoto:
    """The marks of one photo, each with how well it is placed (px) and by how many recipes it is used."""

    photo: Photo
    marks: tuple[PhotoMark, ...]
    u_px: tuple[float, ...]
    uses: tuple[int, ...]


def put_mark(
    archive: Archive,
    photo: str,
    name: str,
    x_px: float,
    y_px: float,
    *,
    clear: str = "plain",
    snap: SnapTo | None = None,
) -> Marked:
    """Put a mark on a photo, or move the one of that name; sizes worked out from it follow.

    Parameters
    ----------
    photo, name : str
        Name or id of the photo; what the mark is called on it.
    x_px, y_px : float
        In the upright picture at full resolution, (0, 0) the centre of the top-left pixel.
    clear : str
        'crisp', 'plain' or 'worn'.
    snap : 'corner' or 'edge', optional
        Move it to the corner or edge near it; where there is none it stays, and `says` tells.

    Raises
    ------
    RecordNotFound, SeveralMatch, NotAccepted, PictureNotReadable, FileNotThere
    """
    with archive.look() as look:
        found = photos.photo_named(look, photo)
    (placed,) = place_marks(archive, found, [SheetMark(name, x_px, y_px, clear, snap)])
    with archive.change(f"Marked '{clean_name(name)}' on {found.file}") as writer:
        mark = placed.put_on(writer, found)
        recompute(writer, [])  # what leans on the mark
    return Marked(mark, placed.says, placed_within_px(mark))


def place_marks(archive: Archive, photo: Photo, wanted: Sequence[SheetMark]) -> tuple[PlacedMark, ...]:
    """Return where marks come to lie on a photo: as they were put, or at the corner or edge near it where that is asked.

    Raises
    ------
    NotAccepted
        A mark does not lie on the photo, or its clearness is none.
    PictureNotReadable, FileNotThere
        Where marks are to be snapped; else the picture is not opened.
    """
    for mark in wanted:
        check_place(photo, mark.name, mark.x_px, mark.y_px, mark.clear)
    grey = _grey_of(archive, photo) if any(mark.snap for mark in wanted) else None
    return tuple(_placed(mark, grey) for mark in wanted)


def marks_of_photo(archive: Archive, photo: str) -> MarksOfPhoto:
    """Return the marks of the photo of this name or id."""
    with archive.look() as look:
        found = photos.photo_named(look, photo)
        held = marks.marks_of(look, found)
        uses = marks.uses_of(look, held)
    return MarksOfPhoto(
        found,
        tuple(held),
        tuple(placed_within_px(mark) for mark in held),
        tuple(uses.get(mark.key, 0) for mark in held),
    )


def check_place(photo: Photo, name: str, x_px: float, y_px: float, clear: str) -> None:
    """Refuse a mark that does not lie on its photo, or whose clearness is not one."""
    if clear not in CLEARNESS:
        raise NotAccepted(f"A mark is not '{clear}'", f"Say one of: {', '.join(CLEARNESS)}.")
    if photo.width is None or photo.height is None:
        raise NotAccepted(
            f"'{photo.file}' cannot be shown, so nothing can be marked on it", "Mark another photo."
        )
    inside = (
        isfinite(x_px)
        and isfinite(y_px)
        and -0.5 <= x_px <= photo.width - 0.5
        and -0.5 <= y_px <= photo.height - 0.5
    )
    if not inside:
        raise NotAccepted(
            f"Mark '{name}' at ({x_px:g}, {y_px:g}) is not on '{photo.file}'",
            f"The upright picture is {photo.width} px wide and {photo.height} px high; count from its top left corner.",
        )


def placed_within_px(mark: PhotoMark) -> float:
    """Standard uncertainty of a mark's place, px, across and down alike.

    Snapping to an edge places a mark across that edge only, so that the hand's doubt still counts along it.
    """
    from archive.photogrammetry.marks import SIGMA_PX

    by_hand = SIGMA_PX[mark.clear]  # type: ignore[index]  # one of CLEARNESS, as checked when it was put
    if mark.sigma_px is None:
        return by_hand
    return mark.sigma_px if mark.snapped == "corner" else max(mark.sigma_px, by_hand)


def _placed(mark: SheetMark, grey: Grey | None) -> PlacedMark:
    as_put = PlacedMark(mark.name, mark.x_px, mark.y_px, mark.clear)
    if grey is None or mark.snap is None:
        return as_put
    from archive.photogrammetry.snapping import snap_to_corner, snap_to_edge

    found = (snap_to_corner if mark.snap == "corner" else snap_to_edge)(grey, mark.x_px, mark.y_px)
    if found.kind == "nothing":
        return replace(as_put, says=found.says)
    return PlacedMark(mark.name, found.x_px, found.y_px, mark.clear, found.kind, found.sigma_px, found.says)


def _grey_of(archive: Archive, photo: Photo) -> Grey:
    from archive.photogrammetry.snapping import grey_of

    path = archive.path_of(photo.picture.stored_path)
    try:
        return grey_of(pictures.upright_array(path, photo.page_index))
    except FileNotFoundError as error:
        raise FileNotThere(str(path), "photo") from error


def mark_names(held: Sequence[PhotoMark]) -> str:
    """Marks as words."""
    return ", ".join(f"'{mark.name}'" for mark in held)
