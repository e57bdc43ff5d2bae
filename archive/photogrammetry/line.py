"""Sizes along one straight edge: three known positions, an equal spacing, or one known and a parallel edge.

A perspective of a line is s = (a t + b)/(c t + 1), t the position on the thing, s along the photo's line.
[HZ] Hartley & Zisserman, Multiple View Geometry, 2nd ed., Cambridge 2004, 2.5 (the cross-ratio).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful
from archive.photogrammetry import checks
from archive.photogrammetry.batches import least_squares, solved_or_nan
from archive.photogrammetry.doubt import Caution, Derived, carry, derived
from archive.photogrammetry.lens import straight_edge_cautions
from archive.photogrammetry.marks import (
    IN_THE_PLANE,
    PLAIN_SHOT,
    Array,
    Lies,
    Mark,
    Shot,
    coordinates,
    sigmas,
)
from archive.photogrammetry.residuals import raised_by_residuals
from archive.photogrammetry.set_back import straightened
from archive.photogrammetry.vanishing import homogeneous

_ROUNDS = 4


def position_between_known(
    points: Sequence[Mark],
    positions: Sequence[Doubtful],
    asked: Mark,
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The position of a mark on the scale of three or more known positions along one straight edge.

    Parameters
    ----------
    points : N marks, N >= 3
        On one straight edge.
    positions : N Doubtful
        Where along the edge each stands, mm from any zero.
    asked : mark
        On the same edge.
    lies : Lies
        How far the asked place stands towards the camera from the edge, mm.
    shot : Shot
        Lens, straight edges, seed; a camera where the size is off the edge.

    Returns
    -------
    Derived
        Position in mm on the scale of `positions`.

    Raises
    ------
    MarksNotUsable
        'too-few-points', 'degenerate-points', 'not-collinear', 'point-order', 'bad-known', 'beyond-horizon',
        'doubt-too-large'.

    Notes
    -----
    All marks, the asked one too, are first projected on their common orthogonal-regression line; the cross-ratio of
    three positions [HZ 2.5], least squares along the line for more.
    """
    return _along(points, positions, (asked,), lies, shot)


def length_between_known(
    points: Sequence[Mark],
    positions: Sequence[Doubtful],
    target: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The length between two marks on an edge along which three or more positions are known.

    As `position_between_known`, with `target` two marks on the edge.
    """
    checks.asked_pair(target)
    return _along(points, positions, tuple(target), lies, shot)


def length_by_equal_spacing(
    points: Sequence[Mark],
    numbers: Sequence[int],
    known: Doubtful,
    known_numbers: tuple[int, int],
    target: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The length between two marks along a row of equally spaced things (sleepers, planks, bars).

    Parameters
    ----------
    points : N marks, N >= 3
        The same place on things of the row.
    numbers : N ints
        Which thing of the row each is; thing k stands at k x spacing.
    known : Doubtful
        The length between the two things in `known_numbers`, mm.
    known_numbers : two of `numbers`
    target, lies, shot
        As for `length_between_known`.

    Returns
    -------
    Derived
        Length in mm; diagnostics hold chi2 along the line with its degrees of freedom.

    Raises
    ------
    MarksNotUsable
        As `position_between_known`.

    Notes
    -----
    s = (a k + b)/(c k + 1) fitted to the marks by least squares along their common line, inverted at the asked marks.
    """
    checks.asked_pair(target)
    checks.known_length(known, "known length")
    first, second = known_numbers
    if first not in numbers or second not in numbers or first == second:
        raise MarksNotUsable(
            "bad-input",
            "The known length must run between two different things of the row that are marked; mark both.",
        )
    if not all(isfinite(number) for number in numbers):
        raise MarksNotUsable("bad-known", "A number in the row is missing; number every marked thing.")
    return _along(
        points, [Doubtful(float(k), {}) for k in numbers], tuple(target), lies, shot, (known, first, second)
    )


def length_by_parallel_edge(
    points: Sequence[Mark],
    known: Doubtful,
    known_points: tuple[int, int],
    parallel_edge: Sequence[Mark],
    asked: tuple[int, int],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """A length along an edge from one known length on it and another edge that is parallel in the real thing.

    Parameters
    ----------
    points : N marks, N >= 3
        On one straight edge.
    known : Doubtful
        The length between `known_points`, mm.
    known_points, asked : two indices into `points` each
    parallel_edge : two marks
        On an edge parallel to the first in the thing, not in the photo.
    lies, shot
        As for `length_between_known`.

    Returns
    -------
    Derived
        Length in mm.

    Raises
    ------
    MarksNotUsable
        'too-few-points', 'degenerate-points', 'not-collinear', 'point-order', 'beyond-horizon', 'bad-known',
        'doubt-too-large'.

    Notes
    -----
    The vanishing point is where the parallel edge crosses the marks' regression line; with v its place along the
    line, lengths go as (s2 - s1)/[(v - s1)(v - s2)] [HZ 2.5], in homogeneous form.
    """
    checks.enough(points, 3, "the edge")
    checks.finite_marks(points)
    checks.apart(points, "the edge")
    checks.known_length(known, "known length")
    for name, pair in (("known", known_points), ("asked", asked)):
        if pair[0] == pair[1] or not all(0 <= i < len(points) for i in pair):
            raise MarksNotUsable(
                "bad-input", f"The {name} length must run between two different marks of the edge."
            )
    checks.edge_pairs([parallel_edge], 1, "parallel edge")
    points, figures, cautions = _in_line(points, shot)
    n = len(points)
    _not_the_same_line(points, parallel_edge, shot)
    a, b, c, d = *known_points, *asked

    def solve(px: Array, numbers: Array) -> Array:
        s, middle, along = _projected(px[:, :n])
        edge = np.cross(homogeneous(px[:, n]), homogeneous(px[:, n + 1]))
        edge = edge / np.linalg.norm(edge[:, :2], axis=1, keepdims=True)
        p = -np.einsum("bi,bi->b", edge, homogeneous(middle))[:, None]
        q = np.einsum("bi,bi->b", edge[:, :2], along)[:, None]
        before = p - q * s  # the vanishing point is at p/q, which may be infinity
        one_side = np.all(before > 0, axis=1) | np.all(before < 0, axis=1)
        t = (s - s[:, a : a + 1]) / before
        scale = numbers[:, :1] / t[:, b : b + 1]
        places = _off_the_edge(
            t[:, [c, d]] * scale, (p / scale, s[:, a : a + 1], q / scale), middle, along, numbers[:, 1:]
        )
        return np.where(one_side, np.abs(places[:, 1] - places[:, 0]), np.nan)

    numbers = (known, *_depth_numbers(lies, shot))
    marks = (*points, *parallel_edge)
    if np.isnan(solve(straightened(marks, shot)[None], np.array([[x.value for x in numbers]]))[0]):
        raise MarksNotUsable(
            "beyond-horizon",
            f"The parallel edge meets the line of {checks.named(points)} among them, so it cannot be parallel in the real "
            f"thing; mark another edge that is.",
        )
    span = _span(points)
    outside = abs(span[c] - span[d]) > 2 * abs(span[a] - span[b])
    solved = carry(solve, marks, numbers, shot, target=(points[c], points[d]), far_outside=bool(outside))
    return derived(solved, lies, figures, (*cautions, *straight_edge_cautions(shot)))


def _along(
    points: Sequence[Mark],
    positions: Sequence[Doubtful],
    asked: tuple[Mark, ...],
    lies: Lies,
    shot: Shot,
    row: tuple[Doubtful, int, int] | None = None,
) -> Derived:
    """Position of one asked mark, or length between two, on the scale of `positions` (of a `row` of things)."""
    _usable_positions(points, positions, row is None)
    checks.finite_marks(asked)
    every, _, cautions = _in_line((*points, *asked), shot)
    n = len(points)
    sigma = sigmas(every[:n])
    known = () if row is None else (row[0],)
    numbers = (*positions, *known, *_depth_numbers(lies, shot))

    def scale(numbers: Array) -> Array:
        """The positions (B, N) in mm."""
        spacing = numbers[:, n] / abs(row[2] - row[1]) if row is not None else np.ones(len(numbers))
        result: Array = numbers[:, :n] * spacing[:, None]
        return result

    def solve(px: Array, numbers: Array) -> Array:
        t = scale(numbers)
        s, middle, along = _projected(px)
        a, b, c = _perspective(t, s[:, :n], sigma)
        places: Array = (s[:, n:] - b) / (a - c * s[:, n:])
        depth = 1 + c * np.concatenate([t, places], axis=1)
        seen = np.all(depth * depth[:, :1] > 0, axis=1)
        places = _off_the_edge(places, (a, b, c), middle, along, numbers[:, n + len(known) :])
        return np.where(
            seen, places[:, 0] if len(asked) == 1 else np.abs(places[:, 1] - places[:, 0]), np.nan
        )

    centre = straightened(every, shot)
    at = np.array([[number.value for number in numbers]])
    s, _, _ = _projected(centre[None])
    _in_order(every[:n], at[0, :n], s[0, :n])
    if np.isnan(solve(centre[None], at)[0]):
        raise MarksNotUsable(
            "beyond-horizon",
            f"{checks.named(asked)} lies on or beyond the vanishing point of the edge, where nothing of it can be seen; mark a "
            f"place on the edge itself.",
        )
    figures: dict[str, float] = {}
    if n > 3:
        t = scale(at)
        a, b, c = _perspective(t, s[:, :n], sigma)
        residual = (s[:, :n] - (a * t + b) / (c * t + 1))[0]
        fitted, figures, more = raised_by_residuals(
            every[:n], residual, n - 3, "marks along the edge", "point-order"
        )
        every, cautions = (*fitted, *every[n:]), (*cautions, *more)
    target = asked if len(asked) == 2 else ()
    least = 0.0 if target else float(np.ptp(at[0, :n]))
    solved = carry(
        solve, every, numbers, shot, target=target, far_outside=_far_outside(s[0], n), least_scale=least
    )
    return derived(solved, lies, figures, (*cautions, *straight_edge_cautions(shot)))


def _far_outside(s: Array, n: int) -> bool:
    low, high = s[:n].min(), s[:n].max()
    beyond = np.maximum(low - s[n:], s[n:] - high).max()
    return bool(beyond > high - low)


def _usable_positions(points: Sequence[Mark], positions: Sequence[Doubtful], doubtful: bool) -> None:
    checks.enough(points, 3, "the edge (two cannot show the perspective)")
    checks.finite_marks(points)
    if len(points) != len(positions):
        raise MarksNotUsable(
            "bad-input",
            f"There are {len(points)} marks and {len(positions)} known positions; give each mark its own.",
        )
    checks.apart(points, "the edge")
    for i, position in enumerate(positions):
        if not isfinite(position.value):
            raise MarksNotUsable(
                "bad-known", f"The known position of '{points[i].name}' is not a number; measure it."
            )
        checks.usable_doubt(position, f"known position of '{points[i].name}'")
        for j in range(i):
            gap = abs(position.value - positions[j].value)
            if gap == 0 or (
                doubtful and gap <= np.hypot(position.standard_uncertainty, positions[j].standard_uncertainty)
            ):
                raise MarksNotUsable(
                    "degenerate-points",
                    f"The known positions of {checks.named([points[j], points[i]])} are closer together than their own doubt; "
                    f"take known places further apart.",
                )


def _in_line(
    marks: Sequence[Mark], shot: Shot
) -> tuple[tuple[Mark, ...], dict[str, float], tuple[Caution, ...]]:
    """Refuse marks off their common line; marks put by clearness are raised where they scatter about it."""
    px = straightened(marks, shot)
    middle = px.mean(axis=0)
    _, _, vt = np.linalg.svd(px - middle)
    off = (px - middle) @ vt[1]
    return raised_by_residuals(marks, off, len(marks) - 2, "marks of the edge", "not-collinear")


def _projected(px: Array) -> tuple[Array, Array, Array]:
    """Places s (B, N) px along the marks' orthogonal-regression line, its middle (B, 2) and direction (B, 2)."""
    middle = px.mean(axis=1)
    away = px - middle[:, None]
    x, y = away[..., 0], away[..., 1]
    angle = 0.5 * np.arctan2(2 * (x * y).sum(1), (x * x).sum(1) - (y * y).sum(1))
    along = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    return np.einsum("bni,bi->bn", away, along), middle, along


def _perspective(t: Array, s: Array, sigma: Array) -> tuple[Array, Array, Array]:
    """a, b, c (B, 1) of s = (a t + b)/(c t + 1), exact through three, least squares of s for more; t, s (B, N)."""
    zero, unit = t[:, :1], (t[:, -1:] - t[:, :1])
    x = (t - zero) / unit  # of order one, so that the sums stay well conditioned
    weight = sigma.min() / sigma
    design = np.stack([x, np.ones_like(x), -x * s], axis=-1) * weight[:, None]
    if t.shape[1] == 3:
        found = solved_or_nan(design, s * weight)
    else:
        found = least_squares(design, s * weight)
        for _ in range(_ROUNDS):
            a, b, c = found[:, :1], found[:, 1:2], found[:, 2:]
            below = c * x + 1
            jacobian = (
                np.stack([x / below, 1 / below, -x * (a * x + b) / below**2], axis=-1) * weight[:, None]
            )
            found = found + least_squares(jacobian, (s - (a * x + b) / below) * weight)
    a, b, c = found[:, :1], found[:, 1:2], found[:, 2:]
    scale = 1 - c * zero / unit
    return a / unit / scale, (b - a * zero / unit) / scale, c / unit / scale


def _in_order(points: Sequence[Mark], positions: Array, s: Array) -> None:
    rising = np.diff(s[np.argsort(positions)])
    if not (np.all(rising > 0) or np.all(rising < 0)):
        raise MarksNotUsable(
            "point-order",
            f"Along the photo the marks {checks.named(points)} come in another order than their known positions; check which "
            f"position belongs to which mark.",
        )


def _not_the_same_line(points: Sequence[Mark], edge: Sequence[Mark], shot: Shot) -> None:
    px, ends = straightened(points, shot), straightened(edge, shot)
    middle = px.mean(axis=0)
    _, _, vt = np.linalg.svd(px - middle)
    off = np.abs((ends - middle) @ vt[1])
    if np.all(off <= checks.TELL_APART * max(sigmas(points).max(), sigmas(edge).max())):
        raise MarksNotUsable(
            "degenerate-points",
            f"The parallel edge {checks.named(edge)} is the line of {checks.named(points)} itself; mark another edge, parallel to "
            f"it in the real thing but well apart from it in the photo.",
        )


def _span(points: Sequence[Mark]) -> Array:
    span: Array = _projected(coordinates(points)[None])[0][0]
    return span


def _depth_numbers(lies: Lies, shot: Shot) -> tuple[Doubtful, ...]:
    """Depth and camera, where the asked place is off the edge; else nothing."""
    if lies.in_the_plane:
        return ()
    checks.usable_doubt(lies.towards_camera, "set-back")
    camera = checks.known_camera(shot.camera, "without it a size off the edge cannot be had")
    return lies.towards_camera, *camera.numbers


def _off_the_edge(
    places: Array, perspective: tuple[Array, Array, Array], middle: Array, along: Array, depth: Array
) -> Array:
    """Where places (B, K) mm along the edge really are when they stand towards the camera from it.

    `depth` (B, 4) is the stand-off h (mm), focal length and principal point, or (B, 0) for none. In the plane of
    camera and edge, at distance D from it, places shrink towards the foot of the perpendicular by (D - h)/D.
    """
    if depth.shape[1] == 0:
        return places
    a, b, c = perspective
    away = depth[:, 2:] - middle
    foot = np.einsum("bi,bi->b", away, along)[:, None]
    beside = along[:, :1] * away[:, 1:] - along[:, 1:] * away[:, :1]
    focal = np.sqrt(depth[:, 1:2] ** 2 + beside**2)
    across, deeper = (a - foot * c) / focal, c
    z = 1 / np.hypot(across, deeper)
    x = z * (b - foot) / focal
    distance = np.abs(x * deeper - z * across) * z
    nearest = -(x * across + z * deeper) * z
    shrunk: Array = nearest + (places - nearest) * (distance - depth[:, :1]) / distance
    return np.where(depth[:, :1] < distance, shrunk, np.nan)
