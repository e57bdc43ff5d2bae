"""Plain proportion in a photo taken square-on, with the doubt that an unseen tilt and depth add."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful, Source
from archive.photogrammetry import checks
from archive.photogrammetry.doubt import Derived, carry, derived
from archive.photogrammetry.lens import straight_edge_cautions
from archive.photogrammetry.marks import IN_THE_PLANE, PLAIN_SHOT, Array, Lies, Mark, Shot
from archive.photogrammetry.set_back import rays

U_TILT_DEG = 3.0
U_TILT_UNCHECKED_DEG = 10.0


def size_by_proportion(
    reference: Sequence[Mark],
    known: Doubtful,
    target: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
    *,
    u_tilt_deg: float = U_TILT_DEG,
    record: str = "photo",
) -> Derived:
    """The length between two marks, by plain proportion to a known length in the same square-on plane.

    Parameters
    ----------
    reference : two marks
        The ends of the known length.
    known : Doubtful
        That length, mm.
    target : two marks
        The ends of the asked size.
    lies : Lies
        How far the asked size stands towards the camera from the plane of the known one, mm.
    shot : Shot
        With a camera: tilt and depth act through the angle of view.
    u_tilt_deg : float
        Standard deviation of an unseen turn of the plane about each picture axis, degrees; 3 where someone
        took care to stand square-on, 10 where nobody did.
    record : str
        Whose tilt it is: sizes from one photo share it.

    Returns
    -------
    Derived
        Length in mm; the value stays the plain proportion. Diagnostics hold the distance, mm.

    Raises
    ------
    MarksNotUsable
        'degenerate-points', 'bad-known', 'bad-focal', 'bad-offset', 'bad-uncertainty', 'doubt-too-large'.

    Notes
    -----
    Lengths along rays cut with a plane turned by two independent angles; first and second order of the tilt
    (JCGM 100:2008, 5.1.2 note). Depth scales by (D - h)/D, D = f known/reference pixels.
    """
    camera = checks.known_camera(shot.camera, "without it nothing tells how much an unseen tilt matters")
    _usable_reference(reference, known)
    checks.asked_pair(target)
    checks.usable_doubt(lies.towards_camera, "set-back")
    if not isfinite(u_tilt_deg) or not 0 <= u_tilt_deg < 90:
        raise MarksNotUsable(
            "bad-uncertainty", "The doubt of the tilt must lie between 0 and 90 degrees; 3 to 10 is usual."
        )
    tilt = np.radians(u_tilt_deg)
    turns = [Doubtful(0.0, {Source("tilt", record, axis): tilt} if tilt else {}) for axis in ("x", "y")]
    numbers = (known, *camera.numbers, *turns, lies.towards_camera)

    def distance(px: Array, numbers: Array) -> Array:
        result: Array = numbers[:, 1] * numbers[:, 0] / np.hypot(*(px[:, 0] - px[:, 1]).T)
        return result

    def solve(px: Array, numbers: Array) -> Array:
        ends = _cut_with_tilted_plane(rays(px, numbers[:, 1:4]), numbers[:, 4], numbers[:, 5])
        lengths = np.linalg.norm(ends[:, 0::2] - ends[:, 1::2], axis=-1)
        d = distance(px, numbers)
        result: Array = numbers[:, 0] * lengths[:, 1] / lengths[:, 0] * (d - numbers[:, 6]) / d
        return result

    away = np.hypot(reference[0].x_px - reference[1].x_px, reference[0].y_px - reference[1].y_px)
    distance_mm = float(camera.focal_px.value * known.value / away)
    if lies.towards_camera.value >= distance_mm:
        raise MarksNotUsable(
            "bad-offset",
            "The size is said to stand out as far as the camera or further; check how far it stands out.",
        )
    solved = carry(solve, (*reference, *target), numbers, shot, target=target, second_order="tilt")
    return derived(solved, lies, {"distance_mm": distance_mm}, straight_edge_cautions(shot))


def _usable_reference(reference: Sequence[Mark], known: Doubtful) -> None:
    if len(reference) != 2:
        raise MarksNotUsable(
            "too-few-points", "The known size needs its two ends marked; name exactly two marks."
        )
    checks.finite_marks(reference)
    checks.known_length(known, "known size")
    checks.apart(reference, "the known size", "mark its two ends, or a longer known size")


def _cut_with_tilted_plane(through: Array, about_x: Array, about_y: Array) -> Array:
    """Where rays (B, N, 3) meet a plane turned about the picture's axes (radians), its distance taken as 1."""
    normal = np.stack(
        [np.sin(about_y), -np.sin(about_x) * np.cos(about_y), np.cos(about_x) * np.cos(about_y)], axis=-1
    )
    reach = np.einsum("bni,bi->bn", through, normal)
    ends: Array = np.where(reach[..., None] > 0, through / reach[..., None], np.nan)
    return ends
