"""Move a mark to the corner or edge that it was meant for, to a fraction of a pixel, and say how surely.

Corners: Foerstner & Guelch, ISPRS Intercommission Workshop, Interlaken 1987, as OpenCV's corner refinement
does it. Edges: the steepest place of the brightness along a profile square to the edge, by a parabola
(Devernay, INRIA RR-2724, 1995). Arrays in, arrays out: nothing here opens a picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from typing import Any, Literal

import cv2
import numpy as np
import numpy.typing as npt

from archive.photogrammetry.marks import FLOOR_PX, Array

REACH_PX = 6.0
LEAST_STEP = 4.0  # grey levels of 255 over a pixel, below which a photo's own noise makes edges
TIMES_NOISE = 4.0
CORNER_WINDOW = 4
_CORNER_BLOCK = 5
EDGE_HALF_LENGTH = 4
FINE_PX = 0.25
MOST_CROSSWISE = 0.35  # of the slopes along an edge against those across it
RIVAL = (
    0.5  # a second edge this strong, within reach and not three times as far, could be the one that was meant
)
ROUNDED_EDGE_PX = 0.6  # what paint, rust and sharpening leave of an edge's place, from rendered photos

Grey = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class Snapped:
    """Where a mark came to lie (px) and its doubt; `kind` 'nothing' means that it stayed, and `says` tells why.

    An edge holds a mark only across: `across` is the edge's unit normal, along which the mark moved and for
    which `sigma_px` stands; along the edge the mark is as the hand put it.
    """

    x_px: float
    y_px: float
    sigma_px: float | None
    kind: Literal["corner", "edge", "nothing"]
    says: str
    across: tuple[float, float] | None = None


def grey_of(picture: npt.NDArray[np.uint8]) -> Grey:
    """Brightness of a picture (H, W) or (H, W, 3) in red, green, blue, as float32 (H, W), 0 to 255."""
    grey = picture if picture.ndim == 2 else cv2.cvtColor(picture[..., :3], cv2.COLOR_RGB2GRAY)
    return np.asarray(grey, dtype=np.float32)


def snap_to_corner(
    grey: Grey, x_px: float, y_px: float, reach_px: float = REACH_PX, floor_px: float = FLOOR_PX
) -> Snapped:
    """Move a mark to the corner near it.

    Parameters
    ----------
    grey : float32 array, shape (H, W)
        Brightness, 0 to 255, of the upright picture at full resolution.
    x_px, y_px : float
        The mark, (0, 0) the centre of the top-left pixel.
    reach_px : float
        How far it may move.
    floor_px : float
        Least doubt that is believed.

    Returns
    -------
    Snapped
        'corner' with the doubt of the fit, or 'nothing' where no two edges meet within reach.

    Notes
    -----
    The place to which the brightness's slopes around are all square, from wide to narrow windows, by
    cv2.cornerSubPix. Doubt: residual scatter of that least-squares fit through its normal matrix.
    """
    start = np.array([x_px, y_px])
    if not _inside(grey, start, reach_px + CORNER_WINDOW + _CORNER_BLOCK):
        return _stays(start, "it is too near the border of the picture")
    corner = _plainest_corner(grey, start, reach_px).astype(np.float32).reshape(1, 1, 2)
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-3)
    cv2.cornerSubPix(grey, corner, (CORNER_WINDOW, CORNER_WINDOW), (-1, -1), criteria)
    at: Array = corner[0, 0].astype(float)
    if hypot(*(at - start)) > reach_px:
        return _stays(start, f"no corner lies within {reach_px:g} px of it")
    normal, scatter = _square_slopes(grey, at, CORNER_WINDOW)
    weaker = sqrt(max(0.0, float(np.linalg.eigvalsh(normal)[0])))
    if weaker < max(LEAST_STEP, TIMES_NOISE * noise_of(grey, at)):
        return _stays(
            start, "the edges near it do not meet in a corner that stands out from the picture's noise"
        )
    fitted = np.linalg.inv(normal) * scatter
    sigma = hypot(sqrt(float(np.linalg.eigvalsh(fitted)[-1])), ROUNDED_EDGE_PX)
    return Snapped(
        float(at[0]), float(at[1]), max(sigma, floor_px), "corner", _moved(start, at, "to the corner")
    )


def snap_to_edge(
    grey: Grey, x_px: float, y_px: float, reach_px: float = REACH_PX, floor_px: float = FLOOR_PX
) -> Snapped:
    """Move a mark across to the straight edge near it; parameters as for `snap_to_corner`.

    Returns
    -------
    Snapped
        'edge' with its normal and the doubt across it, or 'nothing' where no edge is within reach.

    Notes
    -----
    The brightness is read along parallel profiles square to the edge; each one's steepest place is found by a
    parabola (Devernay 1995), and a line through them tells the edge's place and scatter.
    """
    start = np.array([x_px, y_px])
    if not _inside(grey, start, reach_px + EDGE_HALF_LENGTH + 3):
        return _stays(start, "it is too near the border of the picture")
    across = _across(grey, start, reach_px)
    if across is None:
        return _stays(start, f"no single straight edge runs within {reach_px:g} px of it")
    if _has_rival(grey, start, across, reach_px):
        return _stays(
            start, f"two edges lie within {reach_px:g} px of it; put it closer to the one that is meant"
        )
    least = max(LEAST_STEP, TIMES_NOISE * noise_of(grey, start))
    at = start
    sigma = np.inf
    for reach in (reach_px, 4.0, 3.0):
        offsets, places, steps = _steepest(grey, at, across, reach)
        good = steps >= least
        if good.sum() < 5:
            return _stays(
                start, f"no edge that stands out from the picture's noise lies within {reach_px:g} px of it"
            )
        line, sigma = _robust_line(offsets[good], places[good])
        at = at + line[0] * across
        along = np.array([-across[1], across[0]]) + line[1] * across
        along = along / hypot(*along)
        across = np.array([along[1], -along[0]])
    moved = float((at - start) @ across)
    if abs(moved) > reach_px:
        return _stays(start, f"no edge lies within {reach_px:g} px of it")
    at = start + moved * across
    return Snapped(
        float(at[0]),
        float(at[1]),
        max(hypot(sigma, ROUNDED_EDGE_PX), floor_px),
        "edge",
        _moved(start, at, "across to the edge"),
        (float(across[0]), float(across[1])),
    )


def _moved(start: Array, at: Array, where: str) -> str:
    return f"The mark was moved by {hypot(*(at - start)):.1f} px {where}."


def _stays(at: Array, why: str) -> Snapped:
    return Snapped(float(at[0]), float(at[1]), None, "nothing", f"The mark stays where it was put: {why}.")


def _inside(grey: Grey, at: Array, margin: float) -> bool:
    height, width = grey.shape
    x, y = at
    return bool(margin <= x <= width - 1 - margin and margin <= y <= height - 1 - margin)


def noise_of(grey: Grey, at: Array, half: int = 24) -> float:
    """Noise of the picture around a place, grey levels: from the lower half of small differences, edges left out.

    Immerkaer, Computer Vision and Image Understanding 64 (1996) 300, with a median in place of the mean.
    """
    x, y = (int(v) for v in np.round(at))
    patch = grey[max(0, y - half) : y + half + 1, max(0, x - half) : x + half + 1].astype(np.float32)
    kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float32)
    return float(np.median(np.abs(cv2.filter2D(patch, -1, kernel)))) / 0.6745 / 6


def _plainest_corner(grey: Grey, at: Array, reach: float) -> Array:
    """The pixel within reach about which two slopes are strongest (Shi & Tomasi, CVPR 1994), nearer ones preferred."""
    half = int(np.ceil(reach)) + _CORNER_BLOCK
    x, y = (int(v) for v in np.round(at))
    patch = cv2.GaussianBlur(grey[y - half : y + half + 1, x - half : x + half + 1], (0, 0), 1.0)
    strength = cv2.cornerMinEigenVal(patch, _CORNER_BLOCK, ksize=3)
    down, right = np.mgrid[-half : half + 1, -half : half + 1]
    away = np.hypot(right + x - at[0], down + y - at[1])
    strength = strength * np.exp(-((away / reach) ** 2)) * (away <= reach)
    row, column = np.unravel_index(int(strength.argmax()), strength.shape)
    return np.array([column - half + x, row - half + y], dtype=float)


def _square_slopes(grey: Grey, at: Array, half: int) -> tuple[Array, float]:
    """Weighted mean normal matrix of the slopes about a place (2, 2), and the scatter of their fit over their number."""
    steps = np.arange(-half, half + 1, dtype=float)
    dx, dy = np.meshgrid(steps, steps)
    patch = cv2.getRectSubPix(grey, (2 * half + 3, 2 * half + 3), (float(at[0]), float(at[1]))).astype(float)
    slope_x = (patch[1:-1, 2:] - patch[1:-1, :-2]) / 2
    slope_y = (patch[2:, 1:-1] - patch[:-2, 1:-1]) / 2
    weight = np.exp(-(dx**2 + dy**2) / half**2)
    slopes = np.stack([slope_x.ravel(), slope_y.ravel()], axis=1)
    w = weight.ravel() / weight.sum()
    normal = (slopes * w[:, None]).T @ slopes
    off = slopes[:, 0] * dx.ravel() + slopes[:, 1] * dy.ravel()
    effective = 1 / float(np.sum(w**2))
    return normal, float(np.sum(w * off**2)) / max(1.0, effective - 2)


def _across(grey: Grey, at: Array, reach: float) -> Array | None:
    """Unit direction of the strongest slopes within reach, nearer ones counting for more."""
    half = int(np.ceil(reach)) + 1
    patch = cv2.getRectSubPix(grey, (2 * half + 3, 2 * half + 3), (float(at[0]), float(at[1])))
    patch = cv2.GaussianBlur(patch, (0, 0), 1.0).astype(float)
    slope_x = (patch[1:-1, 2:] - patch[1:-1, :-2]) / 2
    slope_y = (patch[2:, 1:-1] - patch[:-2, 1:-1]) / 2
    steps = np.arange(-half, half + 1, dtype=float)
    dx, dy = np.meshgrid(steps, steps)
    weight = np.exp(-(dx**2 + dy**2) / (0.7 * reach) ** 2)
    tensor = np.array(
        [
            [np.sum(weight * slope_x**2), np.sum(weight * slope_x * slope_y)],
            [np.sum(weight * slope_x * slope_y), np.sum(weight * slope_y**2)],
        ]
    )
    values, vectors = np.linalg.eigh(tensor)
    if values[1] <= 0 or values[0] > MOST_CROSSWISE * values[1]:
        return None
    strongest: Array = vectors[:, 1]
    return strongest


def _profiles(grey: Grey, at: Array, across: Array, reach: float) -> tuple[Array, Array]:
    """Places t across an edge (px from `at`) and the steepness there along parallel profiles, (profiles, t)."""
    along = np.array([-across[1], across[0]])
    offsets = np.arange(-EDGE_HALF_LENGTH, EDGE_HALF_LENGTH + 1, dtype=float)
    t = np.arange(-reach - 2, reach + 2 + FINE_PX / 2, FINE_PX)
    x = at[0] + offsets[:, None] * along[0] + t * across[0]
    y = at[1] + offsets[:, None] * along[1] + t * across[1]
    read = cv2.remap(
        grey, x.astype(np.float32), y.astype(np.float32), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    read = cv2.GaussianBlur(read, (0, 0), sigmaX=1.0 / FINE_PX, sigmaY=1.0)
    return t, np.abs(np.gradient(read.astype(float), FINE_PX, axis=1))


def _steepest(grey: Grey, at: Array, across: Array, reach: float) -> tuple[Array, Array, Array]:
    """Per profile: its offset along the edge, its steepest place across (px from `at`), and the step there."""
    offsets = np.arange(-EDGE_HALF_LENGTH, EDGE_HALF_LENGTH + 1, dtype=float)
    t, slope = _profiles(grey, at, across, reach)
    preferred = slope * _nearness(t, reach)
    preferred[:, np.abs(t) > reach] = 0
    best = np.clip(preferred.argmax(axis=1), 1, len(t) - 2)
    rows = np.arange(len(offsets))
    before, peak, after = slope[rows, best - 1], slope[rows, best], slope[rows, best + 1]
    bend = before - 2 * peak + after
    shift = np.divide(before - after, 2 * bend, out=np.zeros_like(bend), where=bend < 0)
    return offsets, t[best] + FINE_PX * np.clip(shift, -1, 1), peak


def _has_rival(grey: Grey, at: Array, across: Array, reach: float) -> bool:
    """Whether another edge within reach is half as strong as the strongest and not three times as far from the mark."""
    t, slopes = _profiles(grey, at, across, reach)
    slope = slopes.mean(axis=0)
    peaks = np.flatnonzero((slope[1:-1] >= slope[:-2]) & (slope[1:-1] > slope[2:])) + 1
    peaks = peaks[np.abs(t[peaks]) <= reach]
    if len(peaks) < 2:
        return False
    best = peaks[np.argmax(slope[peaks] * _nearness(t[peaks], reach))]
    others = peaks[np.abs(t[peaks] - t[best]) > 1.5]
    near = np.abs(t[others]) < 3 * max(1.0, abs(t[best]))
    return bool(np.any(near & (slope[others] > RIVAL * slope[best])))


def _nearness(t: Array, reach: float) -> Array:
    near: Array = np.exp(-((t / max(reach, 1.0)) ** 2))
    return near


def _robust_line(offsets: Array, places: Array) -> tuple[Array, float]:
    """Place and slope of the line through the profiles' steepest places, one off by far left out; doubt at 0."""
    kept = np.abs(places - np.median(places)) <= max(
        1.0, 3 * float(np.median(np.abs(places - np.median(places))))
    )
    design = np.column_stack([np.ones(kept.sum()), offsets[kept]])
    normal = np.linalg.pinv(design.T @ design)
    line: Array = normal @ design.T @ places[kept]
    residual = places[kept] - design @ line
    scatter = float(residual @ residual) / max(1, kept.sum() - 2)
    return line, sqrt(scatter * float(normal[0, 0]))
