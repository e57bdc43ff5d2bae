"""A plane of a photo as it looks from straight before it: a check by eye that its known sizes are right.

The inverse mapping of a homography, lens distortion included, sampled bilinearly; [HZ] Hartley & Zisserman,
Multiple View Geometry, 2nd ed., Cambridge 2004, 2.3.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from archive.photogrammetry import homography
from archive.photogrammetry.lens import Lens
from archive.photogrammetry.marks import Array

MARGIN = 0.12  # of the shown part's longer side, around it
FURTHEST_BEYOND = 1.5  # times the known part's size that the shown part may reach beyond it


@dataclass(frozen=True, slots=True)
class Straightened:
    """A straightened picture, uint8 (H, W, 3), and where places of the plane came to lie on it."""

    picture: npt.NDArray[np.uint8]
    mm_per_px: float
    turn: Array  # (2, 2): plane -> picture directions
    top_left_mm: Array  # (2,): the turned place of the picture's top left corner

    def px_of(self, places_mm: Array) -> Array:
        """Places of the plane, (N, 2) mm, on the straightened picture, (N, 2) px."""
        px: Array = (places_mm @ self.turn.T - self.top_left_mm) / self.mm_per_px
        return px


def straightened_picture(
    picture: npt.NDArray[np.uint8],
    photo_px_per_px: float,
    world_mm: Array,
    px: Array,
    shown_px: Array,
    lens: Lens | None = None,
    longest_px: int = 900,
) -> Straightened:
    """Straighten the part of a photo that shows a known plane.

    Parameters
    ----------
    picture : uint8 array, shape (H, W, 3)
        The upright photo, perhaps reduced.
    photo_px_per_px : float
        How many pixels of the photo at full resolution one of `picture` is.
    world_mm, px : arrays, shape (N, 2), N >= 4
        Known places in the plane, mm, and their marks on the photo at full resolution.
    shown_px : array, shape (M, 2)
        Further places on the photo that are to be shown as well, as far as that is not too far outside.
    lens : Lens, optional
        Its distortion is taken out.
    longest_px : int
        Longer side of the result.

    Returns
    -------
    Straightened
        Upright as in the photo, not mirrored; black where the photo shows nothing.
    """
    flat, shown = (_without_bend(each, lens) for each in (px, shown_px))
    h = homography.most_likely(world_mm[None], flat[None], np.ones(len(px)))
    back = np.linalg.inv(h)
    turn = _as_in_the_photo(h[0], world_mm.mean(axis=0))
    places = np.vstack([world_mm, homography.apply(back, shown[None])[0]]) @ turn.T
    low, high = _part_shown(world_mm @ turn.T, places)
    mm_per_px = float((high - low).max()) / longest_px
    width, height = (max(1, int(side)) for side in np.ceil((high - low) / mm_per_px))
    across, down = np.meshgrid(np.arange(width), np.arange(height))
    grid = np.column_stack([across.ravel(), down.ravel()]) * mm_per_px + low
    on_photo = homography.apply(h, (grid @ turn)[None])[0]
    in_front = homography.depths(h, (grid @ turn)[None])[0] * homography.depths(h, world_mm[None])[0, 0] > 0
    on_photo = np.where(in_front[:, None], on_photo if lens is None else lens.bent(on_photo), -1e6)
    source = ((np.nan_to_num(on_photo, nan=-1e6) + 0.5) / photo_px_per_px - 0.5).astype(np.float32)
    where = source.reshape(height, width, 2)
    seen: npt.NDArray[Any] = cv2.remap(picture, where[..., 0], where[..., 1], cv2.INTER_LINEAR)
    return Straightened(seen.astype(np.uint8), mm_per_px, turn, low)


def places_in_plane(world_mm: Array, px: Array, asked_px: Array, lens: Lens | None = None) -> Array:
    """Where places on the photo, (M, 2) px, lie in a plane of which (N, 2) mm are known: (M, 2) mm."""
    h = homography.most_likely(world_mm[None], _without_bend(px, lens)[None], np.ones(len(px)))
    places: Array = homography.apply(np.linalg.inv(h), _without_bend(asked_px, lens)[None])[0]
    return places


def _without_bend(px: Array, lens: Lens | None) -> Array:
    if lens is None:
        return px
    straight: Array = lens.straightened(px[None], np.array([[number.value for number in lens.numbers]]))[0]
    return straight


def _as_in_the_photo(h: Array, middle: Array) -> Array:
    """Plane -> picture directions (2, 2), a quarter turn or a flip, so that right stays right and down down."""
    steps = middle + np.array([[0, 0], [1, 0], [0, 1]])
    places = homography.apply(h[None], steps[None])[0]
    along_x, along_y = places[1] - places[0], places[2] - places[0]
    if abs(along_x[0]) * abs(along_y[1]) >= abs(along_x[1]) * abs(along_y[0]):
        return np.diag([np.sign(along_x[0]) or 1.0, np.sign(along_y[1]) or 1.0])
    return np.array([[0.0, np.sign(along_y[0]) or 1.0], [np.sign(along_x[1]) or 1.0, 0.0]])


def _part_shown(known: Array, places: Array) -> tuple[Array, Array]:
    low, high = known.min(axis=0), known.max(axis=0)
    reach = FURTHEST_BEYOND * (high - low).max()
    near = places[np.all(np.isfinite(places) & (places >= low - reach) & (places <= high + reach), axis=1)]
    low, high = near.min(axis=0), near.max(axis=0)
    margin = MARGIN * (high - low).max()
    return low - margin, high + margin
