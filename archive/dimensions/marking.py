"""Putting marks on photos; what was worked out from one that moves is worked out anew with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Literal

from archive import pictures
from archive.dimensions.estimates import recompute
from archive.dimensions.sheets import CLEARNESS
from archive.errors import FileNotThere, NotAccepted
from archive.records import marks, photos
from archive.records.archive import Archive
from archive.records.names import clean_name
from archive.records.things import Photo, PhotoMark

if TYPE_CHECKING:
    from archive.photogrammetry.snapping import Snapped

SnapTo = Literal["corner", "edge"]


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
    check_place(found, name, x_px, y_px, clear)
    snapped = _snapped(archive, found, x_px, y_px, snap) if snap else None
    kept = snapped if snapped is not None and snapped.kind != "nothing" else None
    with archive.change(f"Marked '{clean_name(name)}' on {found.file}") as writer:
        mark = marks.put_mark(
            writer,
            found,
            name,
            x_px=kept.x_px if kept else x_px,
            y_px=kept.y_px if kept else y_px,
            clear=clear,
            snapped=kept.kind if kept else None,
            sigma_px=kept.sigma_px if kept else None,
        )
        recompute(writer, [])  # what leans on the mark
    return Marked(mark, snapped.says if snapped else None, placed_within_px(mark))


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


def _snapped(archive: Archive, photo: Photo, x_px: float, y_px: float, to: SnapTo) -> Snapped:
    from archive.photogrammetry.snapping import grey_of, snap_to_corner, snap_to_edge

    path = archive.path_of(photo.picture.stored_path)
    try:
        grey = grey_of(pictures.upright_array(path))
    except FileNotFoundError as error:
        raise FileNotThere(str(path), "photo") from error
    snap = snap_to_corner if to == "corner" else snap_to_edge
    return snap(grey, x_px, y_px)


def mark_names(held: Sequence[PhotoMark]) -> str:
    """Marks as words."""
    return ", ".join(f"'{mark.name}'" for mark in held)
