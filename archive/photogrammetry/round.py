"""Sizes by circles seen as ellipses: one of known diameter before a known camera, or two in one plane.

Pose of a circle: Kanatani & Liu, CVGIP: Image Understanding 58 (1993) 286; Chen, ECCV 2004. Two coplanar
circles: the line at infinity is part of a degenerate member of their pencil; [HZ] Hartley & Zisserman,
Multiple View Geometry, 2nd ed., Cambridge 2004, 2.7 and 2.8.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Literal, NoReturn

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful, Source
from archive.photogrammetry import checks, ellipse
from archive.photogrammetry.doubt import Caution, Derived, Solved, carry, derived
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
from archive.photogrammetry.set_back import rays, straightened

Faces = Literal["left", "right", "up", "down"]

_FACING: dict[str, tuple[int, float]] = {
    "right": (0, 1.0),
    "left": (0, -1.0),
    "down": (1, 1.0),
    "up": (1, -1.0),
}
LARGEST_U_OF_SEMI_AXIS = 0.10
_BOTH_FACE = (
    "As far as the marks can tell both answers of the ellipse face {faces}, so the doubt covers both; mark more of the "
    "rim, or say up or down instead of left or right where that is plainer."
)


def size_by_circle(
    rim: Sequence[Mark],
    diameter: Doubtful,
    target: Sequence[Mark],
    faces: Faces | None = None,
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The length between two marks in the plane of a circle of known diameter.

    Parameters
    ----------
    rim : N marks, N >= 5
        On the circle's rim, better 8 to 12 over more than half of it.
    diameter : Doubtful
        mm; of the very circle that was marked (a tyre has several).
    target : two marks
        The ends of the asked size.
    faces : 'left', 'right', 'up' or 'down', optional
        Where the side of the plane that one sees looks to: facing right, its left side is nearer. An ellipse has two
        answers; None is enough only where both give the same size.
    lies : Lies
        How far the asked size stands towards the camera from the circle's plane, mm.
    shot : Shot
        With a camera.

    Returns
    -------
    Derived
        Length in mm; diagnostics hold `other_solution_mm` and the distance, mm.

    Raises
    ------
    MarksNotUsable
        'too-few-points', 'not-an-ellipse', 'short-arc', 'two-solutions', 'beyond-horizon', 'bad-known', 'bad-focal',
        'bad-input', 'bad-offset', 'doubt-too-large'.

    Notes
    -----
    Normal from the eigenvectors of K'CK (Kanatani & Liu 1993), with the radius of the cone's cut as the scale.
    """
    camera = checks.known_camera(shot.camera, "without it an ellipse does not tell how its circle is turned")
    checks.known_length(diameter, "known diameter")
    checks.asked_pair(target)
    checks.usable_doubt(lies.towards_camera, "set-back")
    rim, start, figures, cautions = _fitted(rim, shot, "circle")
    n, sigma = len(rim), sigmas(rim)
    marks, either = (*rim, *target), Doubtful(0.0, {})
    numbers = (diameter, *camera.numbers, lies.towards_camera, either)

    def both(px: Array, numbers: Array) -> tuple[Array, Array, Array]:
        """Lengths, normals and distances of the two solutions, (2, B), (2, B, 3), (2, B)."""
        fitted = ellipse.nearest(px[:, :n], sigma, start)
        lens = numbers[:, 1:4]
        normals, distance = _circle_poses(ellipse.to_conic(fitted), lens, numbers[:, 0] / 2)
        reach = (numbers[:, 4] - distance)[..., None] / np.einsum(
            "bni,sbi->sbn", rays(px[:, n:], lens), normals
        )
        ends = rays(px[:, n:], lens) * reach[..., None]
        lengths = np.linalg.norm(ends[:, :, 0] - ends[:, :, 1], axis=-1)
        return np.where((reach > 0).all(axis=-1), lengths, np.nan), normals, distance

    centre = straightened(marks, shot)[None]
    lengths, normals, distance = both(centre, np.array([[number.value for number in numbers]]))
    axis, sign = _which(faces, normals[:, 0], lengths[:, 0])
    chosen = int(np.argmax(sign * normals[:, 0, axis]))
    if -sign * normals[1 - chosen, 0, axis] < 3 * _u_of_facing(straightened(rim, shot), sigma, start):
        # As far as the marks can tell the other answer faces there too: the truth may be either.
        either = Doubtful(
            0.0, {Source("facing", "+".join(mark.record or mark.name for mark in rim)): sqrt(0.5)}
        )
        numbers = (*numbers[:-1], either)
        cautions = (*cautions, Caution("two-solutions", _BOTH_FACE.format(faces=faces or "there")))
    if lies.towards_camera.value >= distance[chosen, 0]:
        raise MarksNotUsable(
            "bad-offset",
            "The size is said to stand out as far as the camera or further; check how far it stands out.",
        )
    if np.isnan(lengths[chosen, 0]):
        raise MarksNotUsable(
            "beyond-horizon",
            f"Of {checks.named(target)} one lies on or beyond the vanishing line of the circle's plane; mark places in that "
            f"plane, and check which side is nearer.",
        )

    def solve(px: Array, numbers: Array) -> Array:
        lengths, normals, _ = both(px, numbers)
        pick = np.argmax(sign * normals[..., axis], axis=0)[None]
        picked: Array = np.take_along_axis(lengths, pick, axis=0)[0]
        if not either.sensitivities:
            return picked
        other: Array = np.take_along_axis(lengths, 1 - pick, axis=0)[0]
        return picked + numbers[:, 5] * (other - picked)

    solved = carry(solve, marks, numbers, shot, target=target)
    figures |= {"other_solution_mm": float(lengths[1 - chosen, 0]), "distance_mm": float(distance[chosen, 0])}
    return derived(solved, lies, figures, (*cautions, *straight_edge_cautions(shot)))


def distance_of_wheels(
    first: Sequence[Mark],
    diameter: Doubtful,
    second: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The distance between the centres of two circles in one plane, the first of known diameter; no camera needed.

    Parameters
    ----------
    first, second : N marks each, N >= 5
        On the two rims.
    diameter : Doubtful
        Of the first circle, mm.
    lies : Lies
        Must be in the plane: both circles are.
    shot : Shot
        Lens, straight edges, seed.

    Returns
    -------
    Derived
        Distance in mm.

    Raises
    ------
    MarksNotUsable
        'too-few-points', 'not-an-ellipse', 'short-arc', 'circles-overlap', 'bad-known', 'bad-offset',
        'doubt-too-large'.

    Notes
    -----
    The degenerate conic of the pencil C1 - t C2 that is a pair of real lines holds the line at infinity: the line
    that does not separate the ellipses [HZ 2.8]. Rectified so that the first ellipse becomes the known circle.
    """
    return _of_wheels(first, diameter, second, lies, shot, pick=0)


def second_diameter(
    first: Sequence[Mark], diameter: Doubtful, second: Sequence[Mark], shot: Shot = PLAIN_SHOT
) -> Derived:
    """The diameter of the second of two circles in one plane, mm: a check where it is known. As `distance_of_wheels`."""
    return _of_wheels(first, diameter, second, IN_THE_PLANE, shot, pick=1)


def _of_wheels(
    first: Sequence[Mark], diameter: Doubtful, second: Sequence[Mark], lies: Lies, shot: Shot, pick: int
) -> Derived:
    if not lies.in_the_plane:
        raise MarksNotUsable(
            "bad-offset",
            "Two wheels give the distance of their centres only where both lie in one plane; mark the rims that do.",
        )
    checks.known_length(diameter, "known diameter")
    first, start1, figures1, cautions1 = _fitted(first, shot, "first circle")
    second, start2, figures2, cautions2 = _fitted(second, shot, "second circle")
    _separate(first, start1, second, start2, shot)
    n, sigma1, sigma2 = len(first), sigmas(first), sigmas(second)

    def solve(px: Array, numbers: Array) -> Array:
        ellipses = ellipse.nearest(px[:, :n], sigma1, start1), ellipse.nearest(px[:, n:], sigma2, start2)
        result: Array = _rectified(*ellipses)[pick] * numbers[:, 0]
        return result

    solved: Solved = carry(solve, (*first, *second), (diameter,), shot)
    figures = {f"{name}_{i}": x for i, part in ((1, figures1), (2, figures2)) for name, x in part.items()}
    return derived(solved, lies, figures, (*cautions1, *cautions2, *straight_edge_cautions(shot)))


def _fitted(
    rim: Sequence[Mark], shot: Shot, what: str
) -> tuple[tuple[Mark, ...], Array, dict[str, float], tuple[Caution, ...]]:
    """The rim's ellipse (5,), with its marks' doubts where residuals allow; refuses what is no sure ellipse."""
    checks.enough(rim, 5, f"the rim of the {what}")
    checks.finite_marks(rim)
    px, sigma = straightened(rim, shot), sigmas(rim)
    _not_bunched(rim, px, sigma, what)
    start = ellipse.start_from_conic(px)
    if start is None:
        _not_an_ellipse(rim, what)
    with np.errstate(all="ignore"):
        try:
            fitted = ellipse.nearest(px[None], sigma, start, rounds=40)[0]
        except np.linalg.LinAlgError:
            _short_arc(rim, what)
    if (
        not np.all(np.isfinite(fitted))
        or np.abs(fitted).max() > 1e7
        or np.linalg.det(ellipse.matrix(fitted[None])[0]) <= 0
    ):
        _short_arc(rim, what)
    residual, _ = ellipse.from_rim(px[None], fitted[None])
    rim, figures, cautions = raised_by_residuals(
        rim, residual[0], len(rim) - 5, f"marks of the {what}", "not-an-ellipse"
    )
    semi = ellipse.semi_axes(fitted[None])[0]
    if np.any(ellipse.u_semi_axes(px, sigmas(rim), fitted) > LARGEST_U_OF_SEMI_AXIS * semi):
        _short_arc(rim, what)
    return rim, fitted, figures, cautions


def _not_bunched(rim: Sequence[Mark], px: Array, sigma: Array, what: str) -> None:
    """Refuse a rim with fewer than five places that can be told apart."""
    places: list[int] = []
    for i in range(len(rim)):
        if all(np.hypot(*(px[i] - px[j])) > checks.TELL_APART * max(sigma[i], sigma[j]) for j in places):
            places.append(i)
    if len(places) < 5:
        raise MarksNotUsable(
            "too-few-points",
            f"The marks of the {what} are at only {len(places)} places as far as they can tell; mark at least five places, "
            f"spread over more than half of the rim.",
        )


def _not_an_ellipse(rim: Sequence[Mark], what: str) -> NoReturn:
    raise MarksNotUsable(
        "not-an-ellipse",
        f"The marks of the {what}, {checks.named(rim)}, do not lie on an ellipse; mark 8 to 12 places on one rim, spread "
        f"over more than half of it.",
    )


def _short_arc(rim: Sequence[Mark], what: str) -> NoReturn:
    raise MarksNotUsable(
        "short-arc",
        f"The marks of the {what}, {checks.named(rim)}, cover too short a piece of the rim to tell its size; mark 8 to 12 "
        f"places spread over more than half of it.",
    )


def _separate(
    first: Sequence[Mark], start1: Array, second: Sequence[Mark], start2: Array, shot: Shot
) -> None:
    """Refuse circles that overlap, touch, or lie one in the other as far as the marks can tell."""
    for rim, other, fitted in ((first, second, start2), (second, first, start1)):
        px = np.concatenate([straightened(rim, shot), (start1 if rim is first else start2)[None, :2]])
        distance, _ = ellipse.from_rim(px[None], fitted[None])
        if distance.min() <= checks.TELL_APART * max(sigmas(rim).max(), sigmas(other).max()):
            raise MarksNotUsable(
                "circles-overlap",
                "The two circles overlap or are the same one, and two that stand apart are needed; mark the rim of a second "
                "wheel in the same plane.",
            )


def _circle_poses(conic: Array, lens: Array, radius: Array) -> tuple[Array, Array]:
    """Normals towards the camera (2, B, 3) and distances (2, B) of the plane of a circle, both solutions.

    conic (B, 3, 3) in px, lens (B, 3) focal length and principal point, radius (B,) mm.
    """
    b = len(conic)
    k = np.zeros((b, 3, 3))
    k[:, 0, 0] = k[:, 1, 1] = lens[:, 0]
    k[:, :2, 2] = lens[:, 1:]
    k[:, 2, 2] = 1
    cone = np.swapaxes(k, 1, 2) @ conic @ k
    values, vectors = np.linalg.eigh(cone)  # ascending: one negative, two positive
    l3, l2, l1 = values.T
    e3, e1 = vectors[..., 0], vectors[..., 2]
    flat, steep = np.sqrt((l1 - l2) / (l1 - l3)), np.sqrt((l2 - l3) / (l1 - l3))
    normals = np.stack([flat[:, None] * e1 + s * steep[:, None] * e3 for s in (1, -1)])
    normals = normals * -np.sign(np.einsum("sbi,bi->sb", normals, _axis_of(e3)))[..., None]
    # Every cut of the cone across such a normal is a circle; at distance d its radius is d sqrt(-l1 l3) / l2.
    distance = radius * l2 / np.sqrt(-l1 * l3)
    return normals, np.stack([distance, distance])


def _u_of_facing(px: Array, sigma: Array, fitted: Array) -> float:
    """About how well the marks tell where a circle faces: standard uncertainty of a component of its unit normal."""
    longer, shorter = ellipse.semi_axes(fitted[None])[0]
    u_ratio = float(np.hypot(*ellipse.u_semi_axes(px, sigma, fitted))) / longer
    turned = sqrt(max(0.0, 1 - (shorter / longer) ** 2))
    return float(u_ratio * shorter / longer / max(turned, sqrt(u_ratio)))


def _axis_of(e3: Array) -> Array:
    """The cone's axis, pointing away from the camera."""
    return e3 * np.sign(e3[:, 2:])


def _which(faces: Faces | None, normals: Array, lengths: Array) -> tuple[int, float]:
    """The axis and sign by which a solution is picked from two normals (2, 3)."""
    if faces is None:
        if abs(lengths[0] - lengths[1]) <= 1e-3 * np.nanmax(lengths):
            return 0, 1.0
        raise MarksNotUsable(
            "two-solutions",
            "An ellipse has two answers; say whether the plane of the circle faces left, right, up or down (facing right, "
            "its left side is nearer).",
        )
    if faces not in _FACING:
        raise MarksNotUsable(
            "bad-input", f"A circle does not face '{faces}' in a photo; say {', '.join(sorted(_FACING))}."
        )
    axis, sign = _FACING[faces]
    if np.all(sign * normals[:, axis] <= 0):
        raise MarksNotUsable(
            "two-solutions",
            f"Neither answer of the ellipse faces {faces}; look again which side of the circle is nearer, or say left or "
            f"right instead of up or down.",
        )
    return axis, sign


def _rectified(first: Array, second: Array) -> tuple[Array, Array]:
    """Centre distance and second diameter (B,), in diameters of the first circle, from ellipses (B, 5) in px."""
    middle, reach = (first[:, :2] + second[:, :2]) / 2, np.linalg.norm(first[:, :2] - second[:, :2], axis=1)
    one, two = (
        np.column_stack([(e[:, :2] - middle) / reach[:, None], e[:, 2:] / reach[:, None]])
        for e in (first, second)
    )
    at_infinity = _line_at_infinity(one, two)
    flatten = np.tile(np.eye(3), (len(one), 1, 1))
    flatten[:, 2] = at_infinity
    back = np.linalg.inv(flatten)
    flat1, flat2 = (
        ellipse.from_conic(np.swapaxes(back, 1, 2) @ ellipse.to_conic(e) @ back) for e in (one, two)
    )
    to_circle = np.linalg.inv(ellipse.matrix(flat1))
    apart = (to_circle @ (flat2[:, :2] - flat1[:, :2])[..., None])[..., 0]
    size = np.sqrt(np.abs(np.linalg.det(to_circle @ ellipse.matrix(flat2))))
    return np.linalg.norm(apart, axis=1) / 2, size


def _line_at_infinity(first: Array, second: Array) -> Array:
    """The line (B, 3) of the pencil's real line pair that has both centres on one side."""
    c1, c2 = ellipse.to_conic(first), ellipse.to_conic(second)
    c1, c2 = (c / np.cbrt(np.linalg.det(c))[:, None, None] for c in (c1, c2))
    roots = np.linalg.eigvals(np.linalg.solve(c2, c1)).real
    members = c1[:, None] - roots[..., None, None] * c2[:, None]
    minors = -_adjugate(members)  # p p' up to scale, p the crossing of a real pair of lines
    trace = np.trace(minors, axis1=-2, axis2=-1) / (members**2).sum(axis=(-2, -1))
    pick = np.argmax(trace, axis=1)
    rows = np.arange(len(first))
    member, minor = members[rows, pick], minors[rows, pick]
    column = np.argmax(np.diagonal(minor, axis1=-2, axis2=-1), axis=1)
    crossing = minor[rows, :, column] / np.sqrt(np.maximum(minor[rows, column, column], 0.0))[:, None]
    x, y, z = crossing.T
    nought = np.zeros_like(x)
    pair = member + np.stack([nought, -z, y, z, nought, -x, -y, x, nought], axis=1).reshape(-1, 3, 3)
    largest = np.abs(pair).reshape(-1, 9).argmax(axis=1)
    lines = np.stack([pair[rows, largest // 3], pair[rows, :, largest % 3]])
    sides = [
        np.einsum("lbi,bi->lb", lines, np.column_stack([e[:, :2], np.ones(len(e))])) for e in (first, second)
    ]
    beside = sides[0] * sides[1] / np.linalg.norm(lines, axis=-1) ** 2
    chosen: Array = lines[np.argmax(beside, axis=0), rows]
    return chosen


def _adjugate(m: Array) -> Array:
    """Adjugates of symmetric matrices (..., 3, 3): columns are cross products of the others."""
    a, b, c = m[..., 0], m[..., 1], m[..., 2]
    return np.stack([np.cross(b, c), np.cross(c, a), np.cross(a, b)], axis=-2)
