"""Heights of things standing on common ground, from one photo [CRZ].

[CRZ] Criminisi, Reid & Zisserman, Single view metrology, IJCV 40(2) (2000) 123-148.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful
from archive.photogrammetry import checks
from archive.photogrammetry.doubt import Caution, Derived, Inputs, carry, derived
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
from archive.photogrammetry.vanishing import crossing, homogeneous, through_point

LEAST_REFERENCE_PX = 10.0

Edges = Sequence[Sequence[Mark]]


def height_on_common_ground(
    level_edges: tuple[Edges, Edges],
    upright_edges: Edges,
    reference: Sequence[Mark],
    known: Doubtful,
    target: Sequence[Mark],
    lies: Lies = IN_THE_PLANE,
    shot: Shot = PLAIN_SHOT,
) -> Derived:
    """The height of a thing, from a known height on the same level ground.

    Parameters
    ----------
    level_edges : two sequences of edges (pairs of marks)
        Level edges of two different directions, two and more of each; they give the horizon.
    upright_edges : sequence of edges
        Two and more upright edges.
    reference : two marks
        Base and top of the thing of known height.
    known : Doubtful
        Its height, mm.
    target : two marks
        Base and top of the asked height; the top is dropped perpendicularly on the upright through the base.
    lies : Lies
        How far the top stands towards the camera from above its base, mm; anything but 'in the plane' needs a camera.
    shot : Shot
        Lens, camera, straight edges, seed.

    Returns
    -------
    Derived
        Height in mm.

    Raises
    ------
    MarksNotUsable
        'too-few-points', 'degenerate-points', 'one-direction', 'beyond-horizon', 'point-order', 'bad-known',
        'doubt-too-large'.

    Notes
    -----
    [CRZ] eq. 4 in homogeneous form, so that a level camera (uprights parallel in the photo) is an ordinary case:
    height / known = [d(b, t) d(l, b_r) d(v, t_r)] / [d(b_r, t_r) d(l, b) d(v, t)]. A slope of the ground between
    the two things is a doubt of its own: 1 degree over 3 m is 52 mm.
    """
    checks.edge_pairs(level_edges[0], 2, "level edges of the first direction")
    checks.edge_pairs(level_edges[1], 2, "level edges of the second direction")
    checks.edge_pairs(upright_edges, 2, "upright edges")
    checks.known_length(known, "known height")
    _usable_height(reference, "known height", LEAST_REFERENCE_PX)
    checks.asked_pair(target)
    shape = [len(edges) for edges in (*level_edges, upright_edges)]
    marks = [m for edges in (*level_edges, upright_edges) for edge in edges for m in edge]
    marks += [*reference, *target]

    def geometry(px: Array) -> tuple[Array, Array, Array, Array]:
        """Horizon (B, 3), vertical vanishing point (B, 3), bases and tops (B, 2, 2)."""
        edges = px[:, :-4].reshape(len(px), -1, 2, 2)
        first, second, upright = np.split(edges, np.cumsum(shape)[:-1], axis=1)
        horizon = np.cross(crossing(first), crossing(second))
        horizon = horizon / np.linalg.norm(horizon[:, :2], axis=1, keepdims=True)
        return horizon, crossing(upright), px[:, [-4, -2]], px[:, [-3, -1]]

    def solve(px: Array, numbers: Array) -> Array:
        ratio = _over_ground(*geometry(px))
        height: Array = numbers[:, 0] * ratio[:, 1] / ratio[:, 0]
        return np.where(height > 0, height * _nearer(px, numbers, height), np.nan)

    def _nearer(px: Array, numbers: Array, height: Array) -> Array:
        """What a top standing towards the camera by h takes off: (D - h)/D, D by the target's own scale."""
        if len(numbers[0]) == 1:
            return np.ones_like(height)
        distance = numbers[:, 1] * height / np.hypot(*(px[:, -1] - px[:, -2]).T)
        shrunk: Array = (distance - numbers[:, 2]) / distance
        return shrunk

    numbers: tuple[Doubtful, ...] = (known,)
    if not lies.in_the_plane:
        camera = checks.known_camera(
            shot.camera, "without it a height off the plane of its base cannot be had"
        )
        numbers = (known, camera.focal_px, lies.towards_camera)
    px, _ = Inputs(marks, numbers, shot).split_centre()
    _usable_directions(level_edges, px[0], shape)
    horizon, vertical, bases, tops = geometry(px)
    _below_the_horizon(horizon[0], bases[0], tops[0], (reference, target))
    cautions = _leaning(vertical, bases, tops, (reference, target))
    solved = carry(solve, marks, numbers, shot, target=target)
    return derived(solved, lies, {}, (*cautions, *straight_edge_cautions(shot)))


def _over_ground(horizon: Array, vertical: Array, bases: Array, tops: Array) -> Array:
    """d(b, t) / [d(l, b) d(v, t)] of each thing, (B, 2), signed, with v in homogeneous form."""
    base, v = homogeneous(bases), vertical[:, None]
    upright = np.cross(base, v)
    upright = upright / np.linalg.norm(upright[..., :2], axis=-1, keepdims=True)
    off = np.einsum("bki,bki->bk", upright, homogeneous(tops))
    top = homogeneous(tops - off[..., None] * upright[..., :2])
    to_top = np.einsum("bki,bki->bk", np.cross(base, top), upright)
    from_vertical = np.einsum("bki,bki->bk", np.cross(v, top), upright)
    ground = np.einsum("bi,bki->bk", horizon, base)
    ratio: Array = to_top / (ground * from_vertical)
    return ratio


def _usable_height(ends: Sequence[Mark], what: str, least_px: float) -> None:
    if len(ends) != 2:
        raise MarksNotUsable("too-few-points", f"The {what} needs its base and its top marked.")
    checks.finite_marks(ends)
    length = float(np.hypot(*np.diff(coordinates(ends), axis=0)[0]))
    if length < least_px or length <= checks.TELL_APART * sigmas(ends).max():
        raise MarksNotUsable(
            "degenerate-points",
            f"Base and top of the {what}, {checks.named(ends)}, are only {length:.0f} px apart; take a taller or nearer "
            f"thing of known height.",
        )


def _usable_directions(level_edges: tuple[Edges, Edges], px: Array, shape: Sequence[int]) -> None:
    """Refuse level edges that all run in one direction as far as the marks can tell: they give no horizon."""
    edges = px[:-4].reshape(-1, 2, 2)
    first, second = edges[: shape[0]], edges[shape[0] : shape[0] + shape[1]]
    for these, marked, others in ((first, level_edges[0], second), (second, level_edges[1], first)):
        sigma = np.array([sigmas(edge) for edge in marked])
        if np.all(through_point(these, crossing(others[None])[0]) <= checks.TELL_APART * sigma):
            raise MarksNotUsable(
                "one-direction",
                f"The level edges {checks.named([edge[0] for edge in marked])} run in the same direction as the others, and "
                f"one direction gives no horizon; mark level edges of a second direction, at an angle to the first.",
            )


def _below_the_horizon(horizon: Array, bases: Array, tops: Array, ends: Sequence[Sequence[Mark]]) -> None:
    """Refuse a base on or above the horizon, for nothing stands on the ground there; the first base tells the side."""
    ground = float(horizon @ homogeneous(bases[0]))
    for base_px, top_px, (base, _top) in zip(bases, tops, ends, strict=True):
        distance = float(horizon @ homogeneous(base_px))
        rising = float(horizon[:2] @ (top_px - base_px))
        near = abs(distance) <= checks.TELL_APART * base.sigma_px
        if near or distance * rising > 0 or distance * ground < 0:
            raise MarksNotUsable(
                "beyond-horizon",
                f"The base '{base.name}' lies on or above the horizon that the level edges give, where there is no ground; "
                f"mark where the thing meets the ground, and check that base and top are not exchanged.",
            )


def _leaning(
    vertical: Array, bases: Array, tops: Array, ends: Sequence[Sequence[Mark]]
) -> tuple[Caution, ...]:
    upright = np.cross(homogeneous(bases), vertical[:, None])
    upright = upright / np.linalg.norm(upright[..., :2], axis=-1, keepdims=True)
    off = np.abs(np.einsum("bki,bki->bk", upright, homogeneous(tops)))[0]
    length = np.hypot(*(tops - bases)[0].T)
    leaning = [pair for pair, px, span in zip(ends, off, length, strict=True) if px > 0.05 * span]
    return tuple(
        Caution(
            "not-upright",
            f"The top '{top.name}' does not stand over '{base.name}'; the height is that of its foot point.",
        )
        for base, top in leaning
    )
