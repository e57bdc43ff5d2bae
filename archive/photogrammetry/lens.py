"""Lens distortion from edges that are straight in the real thing, the plumb-line way.

Brown, Photogramm. Eng. 37 (1971) 855; Devernay & Faugeras, Machine Vision and Applications 13 (2001) 14;
division model: Fitzgibbon, CVPR 2001. Corrected = centre + (mark - centre) s(q), q = (r / norm_radius)^2,
with s = 1/(1 + lambda q) (division) or s = 1 + k1 q (polynomial).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot, isfinite, sqrt
from typing import Literal, NoReturn

import numpy as np

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful, Source
from archive.photogrammetry import checks
from archive.photogrammetry.doubt import Caution
from archive.photogrammetry.marks import Array, Mark, Shot, coordinates, sigmas, stated
from archive.photogrammetry.residuals import raised_by_residuals

Model = Literal["division", "polynomial"]

BOUND = 0.6
U_CENTRE_OF_DIAGONAL = 0.01
BEND_PX = 1.0
_GRID = np.linspace(-0.58, 0.58, 59)
_ROUNDS = 30


@dataclass(frozen=True, slots=True)
class Lens:
    """A radial distortion with its centre; the three numbers share sources where they were fitted together."""

    strength: Doubtful
    centre_x_px: Doubtful
    centre_y_px: Doubtful
    norm_radius_px: float
    model: Model = "division"

    @property
    def numbers(self) -> tuple[Doubtful, Doubtful, Doubtful]:
        """Strength, centre x and y: the order in which `straightened` takes them."""
        return self.strength, self.centre_x_px, self.centre_y_px

    def straightened(self, px: Array, numbers: Array) -> Array:
        """Marks (B, N, 2) px without distortion, for lens numbers (B, 3); NaN beyond where the lens folds."""
        away = px - numbers[:, None, 1:]
        q = (away**2).sum(axis=-1) / self.norm_radius_px**2
        s, slope = _stretch(self.model, numbers[:, :1], q)
        corrected: Array = numbers[:, None, 1:] + away * s[..., None]
        corrected[s + 2 * q * slope <= 0] = np.nan
        return corrected

    def bent(self, px: Array) -> Array:
        """Where the lens puts places without distortion, (N, 2) px -> (N, 2): `straightened` backwards, by Newton steps.

        NaN where no place of the photo is straightened to there.
        """
        strength, *centre = (number.value for number in self.numbers)
        away = px - centre
        reach = np.hypot(*away.T) / self.norm_radius_px
        bent = reach.copy()
        for _ in range(_ROUNDS):
            s, slope = _stretch(self.model, np.array([strength]), bent**2)
            bent = bent - (bent * s - reach) / (s + 2 * bent**2 * slope)
        s, slope = _stretch(self.model, np.array([strength]), bent**2)
        found = (np.abs(bent * s - reach) < 1e-9) & (s + 2 * bent**2 * slope > 0) & (bent >= 0)
        factor = np.divide(bent, reach, out=np.ones_like(reach), where=reach > 0)
        result: Array = np.where(found[:, None], centre + away * factor[:, None], np.nan)
        return result


@dataclass(frozen=True, slots=True)
class LensFit:
    """A lens with how well the edges came out straight; rms over all marks, px of the photo."""

    lens: Lens
    rms_before_px: float
    rms_after_px: float
    chi2: float
    dof: int
    warnings: tuple[Caution, ...] = ()


def _stretch(model: Model, strength: Array, q: Array) -> tuple[Array, Array]:
    """The factor s(q) and its slope ds/dq."""
    if model == "polynomial":
        return 1 + strength * q, np.broadcast_to(strength, q.shape)
    with np.errstate(divide="ignore"):
        s = 1 / (1 + strength * q)
    return np.where(s > 0, s, np.nan), -strength * s**2


class _Edges:
    """Marks of all edges as one array with where each edge begins, for sums edge by edge."""

    def __init__(self, edges: Sequence[Sequence[Mark]], norm_radius_px: float, model: Model) -> None:
        self.marks = tuple(mark for edge in edges for mark in edge)
        self.px, self.sigma = coordinates(self.marks), sigmas(self.marks)
        self.starts = np.cumsum([0, *(len(edge) for edge in edges[:-1])])
        self.edge_of = np.repeat(np.arange(len(edges)), [len(edge) for edge in edges])
        self.norm_radius_px, self.model = norm_radius_px, model

    def off_line(self, lens: Array) -> Array:
        """Distances of the marks from their own edges' lines, (B, M) photo px, for lens numbers (B, 3).

        Lines by regression of the corrected marks, each weighted by how far the correction stretches its error.
        """
        away = self.px - lens[:, None, 1:]
        q = (away**2).sum(axis=-1) / self.norm_radius_px**2
        s, slope = _stretch(self.model, lens[:, :1], q)
        s = np.where(s + 2 * q * slope > 0, s, np.nan)
        corrected = away * s[..., None]
        stretch = np.ones_like(q)
        for _ in range(2):
            off, normal = self._regression(corrected, 1 / (self.sigma * stretch) ** 2)
            towards = (away * normal).sum(axis=-1)
            pulled = s[..., None] * normal + (2 * slope / self.norm_radius_px**2 * towards)[..., None] * away
            stretch = np.sqrt((pulled**2).sum(axis=-1))
        off, _ = self._regression(corrected, 1 / (self.sigma * stretch) ** 2)
        result: Array = off / stretch
        return result

    def _regression(self, points: Array, weight: Array) -> tuple[Array, Array]:
        """Signed distance of each point from its edge's orthogonal-regression line, and the normals."""
        total = self._per_edge(weight)
        middle = self._per_edge(points * weight[..., None]) / total[..., None]
        away = points - middle[:, self.edge_of]
        x, y = away[..., 0], away[..., 1]
        xx, yy, xy = (self._per_edge(weight * product) for product in (x * x, y * y, x * y))
        angle = 0.5 * np.arctan2(2 * xy, xx - yy)[:, self.edge_of]
        normal = np.stack([-np.sin(angle), np.cos(angle)], axis=-1)
        return (away * normal).sum(axis=-1), normal

    def _per_edge(self, values: Array) -> Array:
        summed: Array = np.add.reduceat(values, self.starts, axis=1)
        return summed


def lens_from_edges(
    edges: Sequence[Sequence[Mark]],
    size_px: tuple[float, float],
    *,
    model: Model = "division",
    centre_px: tuple[float, float] | None = None,
    u_centre_px: float | None = None,
    norm_radius_px: float | None = None,
    record: str = "lens",
) -> LensFit:
    """The distortion that makes marked edges straight, by default with a floating centre.

    Parameters
    ----------
    edges : sequence of sequences of marks
        Each edge three marks or more, better five on three long edges near the borders, in two directions.
    size_px : (width, height)
        Pixel size of the upright photo.
    model : 'division' or 'polynomial'
        Division leaves a quarter of what the polynomial leaves on very wide lenses.
    centre_px : (x, y), optional
        Where the centre is looked for; by default the middle of the picture.
    u_centre_px : float, optional
        Doubt of that, in x and in y, px; by default 1 % of the diagonal. 0 holds the centre.
    norm_radius_px : float, optional
        By default half the diagonal.
    record : str
        Whose sources of kind 'lens' these are.

    Returns
    -------
    LensFit
        Strength (lambda or k1, no unit) and centre (px), jointly fitted, as shares of independent sources.

    Raises
    ------
    MarksNotUsable
        'too-few-points', 'no-information' (all edges through the centre, strength at a bound, or a correction
        that folds within the marks), 'no-distortion-found' (no more than its own doubt), 'not-collinear'.

    Notes
    -----
    Least sum of squared distances from the edges' lines, in photo px over sigma, plus the centre as an
    observation; started from a coarse grid, for the cost has false minima far out. Devernay & Faugeras 2001.
    """
    if len(size_px) != 2 or not all(isfinite(side) and side > 0 for side in size_px):
        raise MarksNotUsable(
            "bad-input", "The pixel size of the photo is not known; give its width and height."
        )
    diagonal = hypot(*size_px)
    centre = np.array(
        centre_px if centre_px is not None else ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2), dtype=float
    )
    u_centre = U_CENTRE_OF_DIAGONAL * diagonal if u_centre_px is None else u_centre_px
    radius = diagonal / 2 if norm_radius_px is None else norm_radius_px
    stated("centre of the lens", record, 0.0, u_centre)
    if not (np.isfinite(centre).all() and np.isfinite(radius) and radius > 0):
        raise MarksNotUsable(
            "bad-input", "The pixel size of the photo is not known; give its width and height."
        )
    _usable_edges(edges, centre)

    fitted = _Edges(edges, radius, model)
    best = _settled(fitted, centre, u_centre)
    residual = fitted.off_line(best[None])[0]
    dof = len(residual) - 2 * len(edges) - 1
    _, figures, cautions = raised_by_residuals(
        fitted.marks, residual, dof, "marks of its edge", "not-collinear"
    )
    raise_by = 1.0
    if cautions and not all(mark.given for mark in fitted.marks):
        raise_by = sqrt(figures["chi2"] / dof)
    covariance = _covariance(fitted, best, centre, u_centre) * raise_by**2
    if abs(best[0]) <= sqrt(covariance[0, 0]):
        raise MarksNotUsable(
            "no-distortion-found",
            "The edges show no bending beyond what the marks can err, so the photo is best left uncorrected; to be "
            "surer, mark long edges near the borders of the picture.",
        )
    lens = _with_sources(best, covariance, radius, model, record)
    before = fitted.off_line(np.array([[0.0, *centre]]))[0]
    observed = float(np.sum((best[1:] - centre) ** 2)) / u_centre**2 if u_centre else 0.0
    chi2 = float(np.sum((residual / fitted.sigma) ** 2)) + observed
    return LensFit(lens, _rms(before), _rms(residual), chi2, dof, cautions)


def _rms(values: Array) -> float:
    return sqrt(float(np.mean(values**2)))


def _usable_edges(edges: Sequence[Sequence[Mark]], centre: Array) -> None:
    if not edges:
        raise MarksNotUsable(
            "too-few-points", "No edges are marked; mark three long straight edges, five marks on each."
        )
    for i, edge in enumerate(edges):
        if len(edge) < 3:
            raise MarksNotUsable(
                "too-few-points",
                f"Edge {i + 1} has {len(edge)} marks, and fewer than three cannot show bending; mark five along it.",
            )
        checks.finite_marks(edge)
        px, sigma = coordinates(edge), sigmas(edge)
        span = np.hypot(*(px[:, None] - px[None]).reshape(-1, 2).T).max()
        if span <= checks.TELL_APART * sigma.max():
            raise MarksNotUsable(
                "degenerate-points",
                f"All marks of edge {i + 1} are at one place; mark places all along the edge.",
            )
    if all(_through(edge, centre) for edge in edges):
        raise MarksNotUsable(
            "no-information",
            "All marked edges pass through the centre of the picture, where no lens bends them; mark edges near the "
            "borders.",
        )


def _through(edge: Sequence[Mark], centre: Array) -> bool:
    """Whether the edge's regression line passes the centre as far as its marks can tell."""
    px = coordinates(edge)
    middle = px.mean(axis=0)
    _, _, vt = np.linalg.svd(px - middle)
    return bool(abs((centre - middle) @ vt[1]) <= checks.TELL_APART * sigmas(edge).max())


def _cost_terms(fitted: _Edges, lens: Array, centre: Array, u_centre: float) -> Array:
    terms = fitted.off_line(lens) / fitted.sigma
    return np.concatenate([terms, (lens[:, 1:] - centre) / u_centre], axis=1) if u_centre else terms


def _jacobian(terms: Callable[[Array], Array], lens: Array, free: int) -> Array:
    """Derivatives (M, free) of the cost's terms by the first `free` lens numbers, central differences."""
    steps = np.array([1e-5, 1e-2, 1e-2])[:free]
    varied = np.concatenate(
        [lens + np.diag([*steps, 0, 0])[:free, :3], lens - np.diag([*steps, 0, 0])[:free, :3]]
    )
    up, down = np.split(terms(varied), 2)
    jacobian: Array = ((up - down) / (2 * steps[:, None])).T
    return jacobian


def _settled(fitted: _Edges, centre: Array, u_centre: float) -> Array:
    """The least cost inside the bounds, (3,): from the best of a coarse grid by damped Gauss-Newton steps."""

    def terms(lens: Array) -> Array:
        return _cost_terms(fitted, lens, centre, u_centre)

    grid = np.column_stack([_GRID, np.tile(centre, (len(_GRID), 1))])
    costs = (terms(grid) ** 2).sum(axis=1)
    if not np.isfinite(costs).any():
        _at_the_bound()
    best: Array = grid[np.nanargmin(costs)]
    cost = float(np.nanmin(costs))
    free, damping = (3 if u_centre else 1), 0.0
    for _ in range(_ROUNDS):
        jacobian = _jacobian(terms, best, free)
        normal = jacobian.T @ jacobian
        scale = np.diag(np.diag(normal))
        try:
            step = np.linalg.solve(normal + damping * scale, -jacobian.T @ terms(best[None])[0])
        except np.linalg.LinAlgError:
            _at_the_bound()
        tried = best + np.concatenate([step, np.zeros(3 - free)])
        tried_cost = float((terms(tried[None]) ** 2).sum()) if abs(tried[0]) < 1 else np.inf
        if not tried_cost <= cost * (1 + 1e-12):
            damping = max(10 * damping, 1e-3)
            continue
        best, cost, damping = tried, min(cost, tried_cost), damping / 10
        if np.all(np.abs(step) <= 1e-10 * np.array([1.0, 1e3, 1e3])[:free]):
            break
    if not abs(best[0]) < BOUND or not np.isfinite(cost):
        _at_the_bound()
    return best


def _at_the_bound() -> NoReturn:
    raise MarksNotUsable(
        "no-information",
        "No believable lens makes these edges straight; check that each is straight in the real thing, and mark long "
        "edges near the borders.",
    )


def _covariance(fitted: _Edges, best: Array, centre: Array, u_centre: float) -> Array:
    jacobian = _jacobian(lambda lens: _cost_terms(fitted, lens, centre, u_centre), best, 3 if u_centre else 1)
    covariance: Array = np.linalg.inv(jacobian.T @ jacobian)
    return covariance


def _with_sources(best: Array, covariance: Array, radius: float, model: Model, record: str) -> Lens:
    lower = np.linalg.cholesky(covariance)
    sources = [Source("lens", record, str(i)) for i in range(len(lower))]

    def doubtful(i: int) -> Doubtful:
        shares = dict(zip(sources, map(float, lower[i]), strict=True)) if i < len(lower) else {}
        return Doubtful(float(best[i]), {source: s for source, s in shares.items() if s})

    return Lens(doubtful(0), doubtful(1), doubtful(2), radius, model)


def straight_edge_cautions(shot: Shot) -> tuple[Caution, ...]:
    """Warn when edges marked as straight bend by more than about 1 px, with what would put it right."""
    bending = [edge for edge in shot.straight_edges if len(edge) >= 3 and _bends(edge, shot.lens)]
    if not bending:
        return ()
    names = checks.named([edge[0] for edge in bending])
    if shot.lens is not None:
        says = f"Straight edges (from {names}) still bend after the lens was corrected; find the lens anew from them."
        return (Caution("lens-doubtful", says),)
    return (
        Caution(
            "lens-unknown",
            f"Straight edges (from {names}) bend in this photo and no lens is known, so sizes may be several per cent off; "
            f"mark five places along each of three long edges near the borders and find the lens from them.",
        ),
    )


def _bends(edge: Sequence[Mark], lens: Lens | None) -> bool:
    """Whether a parabola through the marks has a sagitta over 1 px that is also over twice its own doubt."""
    px = coordinates(edge)
    if lens is not None:
        px = lens.straightened(px[None], np.array([[number.value for number in lens.numbers]]))[0]
    away = px - px.mean(axis=0)
    _, _, vt = np.linalg.svd(away, full_matrices=False)
    along, off = away @ vt.T[:, 0], away @ vt.T[:, 1]
    half = np.ptp(along) / 2
    if half == 0:
        return False
    t = along / half
    design = np.column_stack([np.ones_like(t), t, t**2]) / sigmas(edge)[:, None]
    covariance = np.linalg.pinv(design.T @ design)
    sagitta = (covariance @ design.T @ (off / sigmas(edge)))[2]
    return bool(abs(sagitta) > max(BEND_PX, 2 * sqrt(covariance[2, 2])))
