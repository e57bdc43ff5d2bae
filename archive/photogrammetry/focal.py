"""Focal length in pixels: from a photo's data, or from two directions at a right angle.

CIPA DC-008-2023 (Exif 3.0) for the data; [HZ] Hartley & Zisserman, Multiple View Geometry, 2nd ed.,
Cambridge 2004, 8.6 for the vanishing points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, isfinite, sqrt
from typing import Literal, NoReturn

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful, Source
from archive.photogrammetry import checks
from archive.photogrammetry.doubt import Caution, Inputs, Solved, carry
from archive.photogrammetry.marks import PLAIN_SHOT, Array, Camera, Mark, Shot
from archive.photogrammetry.vanishing import crossing

Convention = Literal["diagonal", "width"]

FILM_DIAGONAL_MM, FILM_WIDTH_MM = sqrt(36.0**2 + 24.0**2), 36.0
LONGEST_35MM = 2000.0
U_CONVENTION = 0.02
U_PRINCIPAL_OF_WIDTH = 0.01
FURTHEST_IN_FRAME_WIDTHS = 20.0
ASSUMED_35MM, U_ASSUMED_35MM = 35.0, 9.0


@dataclass(frozen=True, slots=True)
class FocalFromData:
    """A focal length from a photo's data by both conventions, px, with what must be said of it."""

    camera: Camera
    diagonal_px: float
    width_px: float
    u_rounding_px: float
    warnings: tuple[Caution, ...] = ()

    @property
    def convention_gap_percent(self) -> float:
        """How far the two conventions lie apart, per cent."""
        return 100 * (self.diagonal_px / self.width_px - 1)


def camera_from_35mm(
    focal_35mm: float,
    size_px: tuple[float, float],
    *,
    convention: Convention = "diagonal",
    digital_zoom: float = 1.0,
    original_size_px: tuple[float, float] | None = None,
    u_convention: float = U_CONVENTION,
    u_principal: float = U_PRINCIPAL_OF_WIDTH,
    record: str = "camera",
) -> FocalFromData:
    """The camera by the 35 mm equivalent focal length in a photo's data.

    Parameters
    ----------
    focal_35mm : float
        FocalLengthIn35mmFilm, mm, a whole number; 0 means unknown.
    size_px : (width, height)
        Pixel size of the upright photo.
    convention : 'diagonal' or 'width'
        By which the maker took the equivalence; the standard leaves it open.
    digital_zoom : float
        DigitalZoomRatio; 0 and 1 mean none.
    original_size_px : (width, height), optional
        Pixel size that the camera wrote; another one now means that the picture was cropped or made smaller.
    u_convention, u_principal : float
        Relative doubt of the convention, and doubt of the principal point over the width.
    record : str
        Whose sources of kind 'focal length' and 'principal point' these are.

    Returns
    -------
    FocalFromData
        Camera with the principal point in the middle, both focal lengths, the rounding of a whole number of mm.

    Raises
    ------
    MarksNotUsable
        'bad-focal' where the data give no believable focal length; 'bad-input' without a pixel size.

    Notes
    -----
    f = f35 diagonal/43.267 or f35 width/36 (longer side); rounding u = f/(f35 sqrt 12). The equivalence already
    holds the digital zoom where the maker followed the standard, so zoom brings a warning and no factor.
    """
    width, height = _frame(size_px)
    if not isfinite(focal_35mm) or not 0 < focal_35mm <= LONGEST_35MM:
        _no_focal(
            f"The photo's data give {focal_35mm:g} mm as its 35 mm equivalent, which no lens has (0 means unknown)"
        )
    diagonal_px = focal_35mm * hypot(width, height) / FILM_DIAGONAL_MM
    width_px = focal_35mm * max(width, height) / FILM_WIDTH_MM
    focal = diagonal_px if convention == "diagonal" else width_px
    u_rounding = focal / (focal_35mm * sqrt(12))
    sources = {
        Source("focal length", record, "rounding", distribution="rectangular"): u_rounding,
        Source("focal length", record, "convention"): u_convention * focal,
    }
    camera = _centred(
        Doubtful(focal, {s: u for s, u in sources.items() if u}), width, height, u_principal, record
    )
    warnings = _zoom_and_crop(digital_zoom, (width, height), original_size_px)
    return FocalFromData(camera, diagonal_px, width_px, u_rounding, warnings)


def camera_from_sensor(
    focal_mm: float,
    pixels_per_mm: float,
    size_px: tuple[float, float],
    *,
    original_size_px: tuple[float, float] | None = None,
    u_relative: float = U_CONVENTION,
    digital_zoom: float = 1.0,
    u_principal: float = U_PRINCIPAL_OF_WIDTH,
    record: str = "camera",
) -> tuple[Camera, tuple[Caution, ...]]:
    """The camera by its true focal length (mm) and FocalPlaneXResolution (in pixels per mm), where the data hold both.

    `original_size_px` scales the focal length where the picture was made smaller as a whole. Raises MarksNotUsable
    'bad-focal' or 'bad-input'. The rest as for `camera_from_35mm`.
    """
    width, height = _frame(size_px)
    focal = focal_mm * pixels_per_mm
    if not (isfinite(focal) and focal_mm > 0 and 0.1 * max(width, height) < focal < 60 * max(width, height)):
        _no_focal("Focal length and sensor resolution in the photo's data do not go together")
    if original_size_px is not None and _same_shape((width, height), original_size_px):
        focal *= max(width, height) / max(original_size_px)
    number = Doubtful(
        focal, {Source("focal length", record, "data"): u_relative * focal} if u_relative else {}
    )
    return _centred(number, width, height, u_principal, record), _zoom_and_crop(
        digital_zoom, (width, height), original_size_px
    )


def assumed_camera(
    size_px: tuple[float, float], record: str = "camera"
) -> tuple[Camera, tuple[Caution, ...]]:
    """A camera for a photo of which nothing is known: the usual range of lenses as a wide doubt, and a warning."""
    width, height = _frame(size_px)
    per_mm = hypot(width, height) / FILM_DIAGONAL_MM
    number = Doubtful(
        ASSUMED_35MM * per_mm, {Source("focal length", record, "assumed"): U_ASSUMED_35MM * per_mm}
    )
    said = Caution(
        "focal-assumed",
        "The photo does not say its focal length, so an ordinary lens was assumed with a wide doubt; give the focal length, "
        "or find it from level edges of two directions at a right angle.",
    )
    return _centred(number, width, height, U_PRINCIPAL_OF_WIDTH, record), (said,)


def focal_by_right_angle(
    first_edges: Sequence[Sequence[Mark]],
    second_edges: Sequence[Sequence[Mark]],
    principal: tuple[Doubtful, Doubtful],
    *,
    frame_width_px: float | None = None,
    shot: Shot = PLAIN_SHOT,
) -> Solved:
    """The focal length from edges of two directions that are at a right angle in the real thing.

    Parameters
    ----------
    first_edges, second_edges : sequences of edges (pairs of marks)
        Two and more parallel edges of each direction.
    principal : two Doubtful
        Principal point x and y, px.
    frame_width_px : float, optional
        By default twice the principal point's x.
    shot : Shot
        Lens and seed; its camera is not used.

    Returns
    -------
    Solved
        Focal length in px.

    Raises
    ------
    MarksNotUsable
        'too-few-points', 'degenerate-points', 'vp-at-infinity' (over 20 frame widths away), 'no-real-focal',
        'doubt-too-large'.

    Notes
    -----
    f^2 = -(v1 - p).(v2 - p) [HZ 8.6].
    """
    checks.edge_pairs(first_edges, 2, "edges of the first direction")
    checks.edge_pairs(second_edges, 2, "edges of the second direction")
    if not all(isfinite(number.value) for number in principal):
        raise MarksNotUsable("bad-input", "The middle of the picture is not known; give its pixel size.")
    for number in principal:
        checks.usable_doubt(number, "middle of the picture")
    marks = [mark for edges in (first_edges, second_edges) for edge in edges for mark in edge]
    n = len(first_edges)
    width = 2 * principal[0].value if frame_width_px is None else frame_width_px

    def both(px: Array) -> tuple[Array, Array]:
        edges = px.reshape(len(px), -1, 2, 2)
        return crossing(edges[:, :n]), crossing(edges[:, n:])

    def solve(px: Array, numbers: Array) -> Array:
        first, second = ((v[:, :2] / v[:, 2:]) - numbers for v in both(px))
        square = -(first * second).sum(axis=1)
        result: Array = np.where(square > 0, np.sqrt(np.maximum(square, 0)), np.nan)
        return result

    px, at = Inputs(marks, principal, shot).split_centre()
    for v, edges in zip(both(px), (first_edges, second_edges), strict=True):
        offset = v[0, :2] - at[0] * v[0, 2]
        if np.hypot(*offset) > FURTHEST_IN_FRAME_WIDTHS * width * abs(v[0, 2]):
            raise MarksNotUsable(
                "vp-at-infinity",
                f"The edges {checks.named([edge[0] for edge in edges])} are nearly parallel in the photo, so they do not tell "
                f"the focal length; take a photo that sees the corner of the thing at a slant.",
            )
    if np.isnan(solve(px, at)[0]):
        raise MarksNotUsable(
            "no-real-focal",
            "No camera sees these two directions at a right angle; mark edges of two directions that are at a right angle in "
            "the real thing, each parallel among themselves.",
        )
    return carry(solve, marks, principal, shot)


def _frame(size_px: tuple[float, float]) -> tuple[float, float]:
    if not all(isfinite(side) and side > 0 for side in size_px):
        raise MarksNotUsable(
            "bad-input", "The pixel size of the photo is not known; give its width and height."
        )
    return size_px


def _no_focal(what: str) -> NoReturn:
    raise MarksNotUsable(
        "bad-focal",
        f"{what}; give the focal length, or find it from edges of two directions at a right angle.",
    )


def _centred(focal: Doubtful, width: float, height: float, u_principal: float, record: str) -> Camera:
    u = u_principal * max(width, height)

    def middle(side: float, axis: str) -> Doubtful:
        return Doubtful((side - 1) / 2, {Source("principal point", record, axis): u} if u else {})

    return Camera(focal, middle(width, "x"), middle(height, "y"))


def _same_shape(size_px: tuple[float, float], original_px: tuple[float, float]) -> bool:
    now, then = max(size_px) / min(size_px), max(original_px) / min(original_px)
    return abs(now / then - 1) < 0.005


def _zoom_and_crop(
    digital_zoom: float, size_px: tuple[float, float], original_size_px: tuple[float, float] | None
) -> tuple[Caution, ...]:
    said = []
    if isfinite(digital_zoom) and digital_zoom > 1:
        said.append(
            Caution(
                "digital-zoom",
                f"The photo was taken with {digital_zoom:g} x digital zoom, and cameras differ in whether the focal length in "
                f"its data counts that; find it from edges of two directions at a right angle instead.",
            )
        )
    if original_size_px is not None and not _same_shape(size_px, original_size_px):
        said.append(
            Caution(
                "cropped",
                "The photo is not the shape that the camera took, so it was cropped and the focal length in its data no longer "
                "fits; use the uncropped photo, or find the focal length from two directions at a right angle.",
            )
        )
    return tuple(said)
