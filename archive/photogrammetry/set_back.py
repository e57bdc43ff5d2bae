"""Sizes in front of or behind a known plane, by the camera's pose before it.

Pose: photo residuals of the known points least squared over six unknowns; then rays are cut with the plane
moved towards the camera. [HZ] Hartley & Zisserman, Multiple View Geometry, 2nd ed., Cambridge 2004, 7 and 8.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful
from archive.photogrammetry import checks, homography
from archive.photogrammetry.batches import least_squares
from archive.photogrammetry.doubt import Derived, Inputs, carry, derived
from archive.photogrammetry.lens import straight_edge_cautions
from archive.photogrammetry.marks import PLAIN_SHOT, Array, Lies, Mark, Shot, sigmas

CORNERS = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
_ROUNDS = 5

WorldOf = Callable[[Array, Array], Array]
"""Known points in their plane, (B, N, 2) mm, from known sizes (B, K) and their marks (B, N, 2) px."""


def size_off_a_rectangle(
    corners: Sequence[Mark],
    width: Doubtful,
    height: Doubtful,
    target: Sequence[Mark],
    lies: Lies,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The length between two marks in a plane parallel to that of a known rectangle.

    Parameters
    ----------
    corners : four marks
        In ring order; `width` (mm) is the side from the first to the second, `height` (mm) the next.
    target : two marks
        The ends of the asked size.
    lies : Lies
        How far its plane stands towards the camera, mm.
    shot : Shot
        With a camera.

    Returns
    -------
    Derived
        Length in mm; diagnostics hold the camera's distance from the rectangle's plane, mm.

    Raises
    ------
    MarksNotUsable
        'degenerate-points', 'corner-order', 'bad-known', 'bad-focal', 'bad-offset', 'beyond-horizon',
        'doubt-too-large'.

    Notes
    -----
    Pose refined by least squares on the corners' pixel residuals [HZ 7]; true = size in the plane x (D - h)/D.
    """
    checks.four_corners(corners)
    checks.known_length(width, "known width")
    checks.known_length(height, "known height")
    checks.asked_pair(target)
    return off_the_plane(corners, ring_of, (width, height), target, lies, shot)


def ring_of(numbers: Array, _: Array) -> Array:
    """Corners of rectangles, (B, 4, 2) mm, from width and height in the first two numbers."""
    return CORNERS * numbers[:, None, :2]


def off_the_plane(
    points: Sequence[Mark],
    world_of: WorldOf,
    known: Sequence[Doubtful],
    target: Sequence[Mark],
    lies: Lies,
    shot: Shot,
    figures: Mapping[str, float] | None = None,
) -> Derived:
    """The length between two marks off the plane of known points; the marks have been checked by the caller.

    `world_of` gives the points' places in their plane from `(*known, focal, principal x, principal y)`.
    """
    camera = checks.known_camera(
        shot.camera, "without it a size off the plane of the known one cannot be had"
    )
    depth = lies.towards_camera
    checks.usable_doubt(depth, "set-back")
    n, k = len(points), len(known)
    numbers = (*known, *camera.numbers, depth)
    sigma = sigmas(points)
    marks = (*points, *target)
    px, at = Inputs(marks, numbers, shot).split_centre()
    start = pose_from_homography(world_of(at, px[:, :n]), px[:, :n], at[:, k : k + 3], sigma)

    def solve(px: Array, numbers: Array) -> Array:
        lens = numbers[:, k : k + 3]
        rotation, place = refined_pose(world_of(numbers, px[:, :n]), px[:, :n], lens, sigma, start)
        return cut_length(rays(px[:, n:], lens), rotation, place, numbers[:, k + 3])

    rotation, place = refined_pose(world_of(at, px[:, :n]), px[:, :n], at[:, k : k + 3], sigma, start)
    start = (rotation[0], place[0])
    distance = float(-np.einsum("bi,bi->b", towards_camera(rotation, place), place)[0])
    if not np.isfinite(depth.value) or depth.value >= distance:
        raise MarksNotUsable(
            "bad-offset",
            "The size is said to stand out as far as the camera or further, so it could not be in the photo; check how "
            "far it stands out from the plane of the known size.",
        )
    if np.isnan(solve(px, at)[0]):
        raise MarksNotUsable(
            "beyond-horizon",
            f"Of {checks.named(target)} one lies on or beyond the vanishing line of the plane; mark places that the plane "
            f"shows.",
        )
    solved = carry(solve, marks, numbers, shot, target=target)
    diagnostics = {**(figures or {}), "distance_mm": distance}
    return derived(solved, lies, diagnostics, straight_edge_cautions(shot))


def straightened(marks: Sequence[Mark], shot: Shot) -> Array:
    """Marks without the lens's distortion, (N, 2) px."""
    px: Array = Inputs(marks, (), shot).split_centre()[0][0]
    return px


def rays(px: Array, lens: Array) -> Array:
    """Rays (B, N, 3) through photo places (B, N, 2) px; `lens` (B, 3) is focal length, principal x and y, px."""
    xy = (px - lens[:, None, 1:]) / lens[:, None, :1]
    return np.concatenate([xy, np.ones_like(xy[..., :1])], axis=-1)


def towards_camera(rotation: Array, place: Array) -> Array:
    """Unit normals (B, 3) of the plane, on the camera's side."""
    normal = rotation[:, :, 2]
    normals: Array = -np.sign(np.einsum("bi,bi->b", normal, place))[:, None] * normal
    return normals


def cut_length(through: Array, rotation: Array, place: Array, depth: Array) -> Array:
    """Length (B,) between two rays (B, 2, 3) cut at `depth` (B,) mm in front of the plane; NaN where one misses it."""
    normal = towards_camera(rotation, place)
    reach = (np.einsum("bi,bi->b", normal, place) + depth)[:, None] / np.einsum("bni,bi->bn", through, normal)
    ends = through * reach[..., None]
    length: Array = np.where(
        (reach > 0).all(axis=1), np.linalg.norm(ends[:, 0] - ends[:, 1], axis=-1), np.nan
    )
    return length


def pose_from_homography(world: Array, px: Array, lens: Array, sigma_px: Array) -> tuple[Array, Array]:
    """Rotation (3, 3) and place (3,) mm of one plane before the camera, from its homography [HZ 8.1.1]."""
    h = homography.most_likely(world, px, sigma_px)[0]
    f, cx, cy = lens[0]
    columns = np.array([[1 / f, 0, -cx / f], [0, 1 / f, -cy / f], [0, 0, 1]]) @ h
    columns = columns / np.sqrt(np.linalg.norm(columns[:, 0]) * np.linalg.norm(columns[:, 1]))
    if world[0].mean(axis=0) @ columns[2, :2] + columns[2, 2] < 0:
        columns = -columns
    first, second = columns[:, 0], columns[:, 1]
    u, _, vt = np.linalg.svd(np.column_stack([first, second, np.cross(first, second)]))
    return u @ np.diag([1, 1, np.linalg.det(u @ vt)]) @ vt, columns[:, 2]


def refined_pose(
    world: Array, px: Array, lens: Array, sigma_px: Array, start: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Poses with the least squared photo residuals: world (B, N, 2), photo (B, N, 2) -> (B, 3, 3), (B, 3).

    Gauss-Newton from one common start, which five rounds take to rounding from within many pixels.
    """
    b = len(px)
    solid = np.concatenate([world, np.zeros_like(world[..., :1])], axis=-1)
    observed = rays(px, lens)[..., :2]
    weight = np.tile(sigma_px.min() / sigma_px, 2)
    rotation, place = np.broadcast_to(start[0], (b, 3, 3)), np.broadcast_to(start[1], (b, 3))
    reach = float(np.linalg.norm(start[1]))
    for _ in range(_ROUNDS):
        turned = solid @ np.swapaxes(rotation, 1, 2)
        x, y, z = np.moveaxis(turned + place[:, None], -1, 0)
        nought = np.zeros_like(z)
        by_x = np.stack([1 / z, nought, -x / z**2], axis=-1)
        by_y = np.stack([nought, 1 / z, -y / z**2], axis=-1)
        by_place = np.concatenate([by_x, by_y], axis=1)
        by_turn = np.cross(np.concatenate([turned, turned], axis=1), by_place)
        jacobian = np.concatenate([by_turn, reach * by_place], axis=-1) * weight[:, None]
        residual = np.concatenate([observed[..., 0] - x / z, observed[..., 1] - y / z], axis=1) * weight
        step = least_squares(jacobian, residual)
        rotation, place = turned_by(step[:, :3]) @ rotation, place + reach * step[:, 3:]
    return rotation, place


def turned_by(vector: Array) -> Array:
    """Rotation matrices (B, 3, 3) of rotation vectors (B, 3), radians (Rodrigues)."""
    angle = np.linalg.norm(vector, axis=1)[:, None, None]
    x, y, z = vector.T
    nought = np.zeros_like(x)
    k = np.stack([nought, -z, y, z, nought, -x, -y, x, nought], axis=1).reshape(-1, 3, 3)
    turned: Array = np.eye(3) + np.sinc(angle / np.pi) * k + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * (k @ k)
    return turned
