"""Sizes in a plane of which a rectangle, or four and more points, are known [HZ 4].

[HZ] Hartley & Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., Cambridge 2004.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful
from archive.photogrammetry import checks, homography
from archive.photogrammetry.doubt import Derived, carry, derived
from archive.photogrammetry.lens import straight_edge_cautions
from archive.photogrammetry.marks import (
    IN_THE_PLANE,
    PLAIN_SHOT,
    Array,
    Lies,
    Mark,
    Shot,
    sigmas,
)
from archive.photogrammetry.residuals import raised_by_residuals
from archive.photogrammetry.set_back import CORNERS, off_the_plane, ring_of, straightened


def size_by_rectangle(
    corners: Sequence[Mark],
    width: Doubtful,
    height: Doubtful,
    target: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The length between two marks in the plane of a rectangle of known width and height.

    Parameters
    ----------
    corners : four marks
        In ring order, from any corner; `width` is the side from the first to the second.
    width, height : Doubtful
        mm of the real thing.
    target : two marks
        The ends of the asked size.
    lies : Lies
        In the plane of the rectangle, or off it (then a camera is needed, and the pose is solved for).
    shot : Shot
        Lens, camera, straight edges, seed.

    Returns
    -------
    Derived
        Length in mm with its doubt.

    Raises
    ------
    MarksNotUsable
        'degenerate-points', 'corner-order', 'beyond-horizon', 'bad-known', 'bad-focal', 'bad-offset',
        'doubt-too-large'.

    Notes
    -----
    Four-point homography and its inverse [HZ 4.1]; the doubt of H is that of the marks carried through.
    """
    checks.four_corners(corners)
    checks.known_length(width, "known width")
    checks.known_length(height, "known height")
    checks.asked_pair(target)
    refuse_beyond_the_horizon(corners, CORNERS * (width.value, height.value), target, shot)
    if not lies.in_the_plane:
        return off_the_plane(corners, ring_of, (width, height), target, lies, shot)

    def solve(px: Array, numbers: Array) -> Array:
        return between(homography.from_four(CORNERS * numbers[:, None, :2], px[:, :4]), px[:, 4:])

    marks = (*corners, *target)
    outside = far_outside(corners, CORNERS * (width.value, height.value), target, shot)
    solved = carry(solve, marks, (width, height), shot, target=target, far_outside=outside)
    return derived(solved, lies, warnings=straight_edge_cautions(shot))


def size_by_points(
    points: Sequence[Mark],
    world_mm: ArrayLike,
    target: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The length between two marks in a plane of which four and more points are known.

    Parameters
    ----------
    points : N marks, N >= 4
        The known points.
    world_mm : array_like, shape (N, 2)
        Their places in the plane, mm, taken as exact.
    target, lies, shot
        As for `size_by_rectangle`.

    Returns
    -------
    Derived
        Length in mm; diagnostics hold chi2 and its degrees of freedom for N > 4.

    Raises
    ------
    MarksNotUsable
        As `size_by_rectangle`, and 'marks-disagree' where a mark lies over 5 sigma from where the others put it.

    Notes
    -----
    Normalised linear start, then least squared photo residuals (maximum likelihood) [HZ 4.2.3, 4.4].
    """
    world = _usable_world(points, world_mm)
    checks.asked_pair(target)
    refuse_beyond_the_horizon(points, world, target, shot)
    n, sigma = len(points), sigmas(points)
    if not lies.in_the_plane:

        def world_of(numbers: Array, _: Array) -> Array:
            return np.broadcast_to(world, (len(numbers), n, 2))

        return off_the_plane(points, world_of, (), target, lies, shot)

    def solve(px: Array, _: Array) -> Array:
        h = homography.most_likely(np.broadcast_to(world, (len(px), n, 2)), px[:, :n], sigma)
        return between(h, px[:, n:])

    px = straightened(points, shot)
    fitted = homography.apply(homography.most_likely(world[None], px[None], sigma), world[None])[0]
    _each_at_its_own_place(points, px, fitted)
    points, figures, cautions = raised_by_residuals(points, px - fitted, dof=2 * n - 8, what="known points")
    outside = far_outside(points, world, target, shot)
    solved = carry(solve, (*points, *target), (), shot, target=target, far_outside=outside)
    return derived(solved, lies, figures, (*cautions, *straight_edge_cautions(shot)))


def size_by_one_side(
    corners: Sequence[Mark],
    known: Doubtful,
    known_corners: tuple[int, int],
    target: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The length between two marks in the plane of a rectangle of which one side and the focal length are known.

    Parameters
    ----------
    corners : four marks
        In ring order.
    known : Doubtful
        The length between `known_corners`, mm.
    known_corners : two of 0..3
        Corners, counted from 0, between which the length is known; a diagonal will do.
    target, lies
        As for `size_by_rectangle`; an end that is a corner is that corner's mark.
    shot : Shot
        With a camera.

    Returns
    -------
    Derived
        Length in mm; diagnostics hold the aspect (second side over first).

    Raises
    ------
    MarksNotUsable
        As `size_by_rectangle`, and 'bad-focal' without a usable focal length.

    Notes
    -----
    With h1, h2 the first columns of K^-1 H for the unit square, second side over first is |h2|/|h1|:
    Zhang, PAMI 22 (2000) 1330.
    """
    camera = checks.known_camera(
        shot.camera, "without it the sides of a rectangle cannot be told from its slant"
    )
    checks.four_corners(corners)
    checks.known_length(known, "known side")
    checks.asked_pair(target)
    first, second = known_corners
    if first == second or not {first, second} <= set(range(4)):
        raise MarksNotUsable(
            "bad-input",
            "The known side must run between two different corners, counted 0 to 3; name two of them.",
        )
    refuse_beyond_the_horizon(corners, CORNERS, target, shot)

    def ring(numbers: Array, px: Array) -> Array:
        """The rectangle in mm, (B, 4, 2), as its four marks and the camera show it."""
        h = homography.from_four(np.broadcast_to(CORNERS, (len(px), 4, 2)), px)
        f, cx, cy = numbers[:, 1], numbers[:, 2], numbers[:, 3]
        x = (h[:, 0, :2] - cx[:, None] * h[:, 2, :2]) / f[:, None]
        y = (h[:, 1, :2] - cy[:, None] * h[:, 2, :2]) / f[:, None]
        length = np.sqrt(x**2 + y**2 + h[:, 2, :2] ** 2)
        shape = CORNERS * (length / length[:, :1])[:, None]
        scale = numbers[:, 0] / np.hypot(*(shape[:, first] - shape[:, second]).T)
        result: Array = shape * scale[:, None, None]
        return result

    numbers = (known, *camera.numbers)
    found = ring(np.array([[number.value for number in numbers]]), straightened(corners, shot)[None])[0]
    figures = {"aspect": float(found[2, 1] / found[2, 0])}
    if not lies.in_the_plane:
        return off_the_plane(corners, ring, (known,), target, lies, shot, figures)

    def solve(px: Array, numbers: Array) -> Array:
        return between(homography.from_four(ring(numbers, px[:, :4]), px[:, :4]), px[:, 4:])

    outside = far_outside(corners, found, target, shot)
    solved = carry(solve, (*corners, *target), numbers, shot, target=target, far_outside=outside)
    return derived(solved, lies, figures, straight_edge_cautions(shot))


def between(h: Array, ends_px: Array) -> Array:
    """Length in the plane between two places on the photo: H (B, 3, 3), ends (B, 2, 2) px -> (B,) mm.

    NaN where the ends lie on different sides of the vanishing line.
    """
    back = np.linalg.inv(h)
    ends = homography.apply(back, ends_px)
    depth = homography.depths(back, ends_px)
    length: Array = np.where(depth[:, 0] * depth[:, 1] > 0, np.hypot(*(ends[:, 0] - ends[:, 1]).T), np.nan)
    return length


def refuse_beyond_the_horizon(
    points: Sequence[Mark], world: Array, target: Sequence[Mark], shot: Shot
) -> None:
    """Refuse marks that no one side of a plane shows: ends beyond its vanishing line, or points out of order."""
    px, ends = straightened(points, shot), straightened(target, shot)
    back = np.linalg.inv(homography.most_likely(world[None], px[None], sigmas(points)))
    sides = homography.depths(back, px[None])[0]
    if not (np.all(sides > 0) or np.all(sides < 0)):
        raise MarksNotUsable(
            "corner-order",
            f"The known points {checks.named(points)} are marked in another order than their places in the plane; "
            f"check which mark is which.",
        )
    depth = homography.depths(back, ends[None])[0] * np.sign(sides[0])
    distance = depth / np.hypot(*back[0, 2, :2])
    for mark, px_inside in zip(target, distance, strict=True):
        if px_inside <= checks.TELL_APART * mark.sigma_px:
            raise MarksNotUsable(
                "beyond-horizon",
                f"Mark '{mark.name}' lies on or beyond the vanishing line of the plane, where nothing in that plane can "
                f"be seen; mark a place that lies in the same plane as {checks.named(points)}.",
            )


def far_outside(points: Sequence[Mark], world: Array, target: Sequence[Mark], shot: Shot) -> bool:
    """Whether an asked end lies outside the known part of the plane by more than that part's own size."""
    h = homography.most_likely(world[None], straightened(points, shot)[None], sigmas(points))
    ends = homography.apply(np.linalg.inv(h), straightened(target, shot)[None])[0]
    low, high = world.min(axis=0), world.max(axis=0)
    beyond = np.maximum(0.0, np.maximum(low - ends, ends - high))
    return bool(np.hypot(*beyond.T).max() > (high - low).max())


def _usable_world(points: Sequence[Mark], world_mm: ArrayLike) -> Array:
    world = np.asarray(world_mm, dtype=float).reshape(-1, 2)
    checks.enough(points, 4, "the known points")
    if len(world) != len(points):
        raise MarksNotUsable(
            "bad-input",
            f"There are {len(points)} marks and {len(world)} known places; give each mark its place.",
        )
    checks.finite_marks(points)
    if not np.all(np.isfinite(world)):
        raise MarksNotUsable(
            "bad-known", "A known place in the plane is not a number; give both its distances in mm."
        )
    for i, j in combinations(range(len(points)), 2):
        if np.array_equal(world[i], world[j]):
            raise MarksNotUsable(
                "degenerate-points",
                f"The known points {checks.named([points[i], points[j]])} are given one and the same place in the plane; "
                f"give each its own.",
            )
    if len(points) == 4:
        checks.apart(points, "the known points")
        checks.no_three_in_line(points, "the known points")
    checks.some_four_in_general(points, world)
    return world


def _each_at_its_own_place(points: Sequence[Mark], px: Array, fitted: Array) -> None:
    """Refuse two marks at one place on the photo whose known places the others show to be apart; px, fitted (N, 2)."""
    for i, j in combinations(range(len(points)), 2):
        tell_apart = checks.TELL_APART * max(points[i].sigma_px, points[j].sigma_px)
        if np.hypot(*(px[i] - px[j])) <= tell_apart < np.hypot(*(fitted[i] - fitted[j])) - tell_apart:
            raise MarksNotUsable(
                "degenerate-points",
                f"Marks {checks.named([points[i], points[j]])} are at the same place on the photo and their known places are "
                f"not; move the one that is wrong.",
            )
