"""Ellipses through marks by orthogonal distance, many at a time.

An ellipse is held as centre c and a symmetric matrix M, points c + M (cos p, sin p): no angle that
turns meaningless as the ellipse nears a circle. Start: Halir & Flusser, WSCG 1998. Orthogonal distance
with foot points eliminated: Ahn, Rauh & Warnecke, Pattern Recognition 34 (2001) 2283.
"""

from __future__ import annotations

import numpy as np

from archive.photogrammetry.batches import least_squares
from archive.photogrammetry.marks import Array

_ROUNDS = 6
_FOOT_ROUNDS = 3


def start_from_conic(px: Array) -> Array | None:
    """An ellipse (5,) near marks (N, 2) px by direct algebraic fit, None where there is none."""
    middle, reach = px.mean(axis=0), np.abs(px - px.mean(axis=0)).max()
    x, y = ((px - middle) / reach).T
    quadratic = np.column_stack([x * x, x * y, y * y])
    linear = np.column_stack([x, y, np.ones_like(x)])
    try:
        back = -np.linalg.solve(linear.T @ linear, linear.T @ quadratic)
        scatter = quadratic.T @ quadratic + quadratic.T @ linear @ back
        _, vectors = np.linalg.eig(np.array([scatter[2] / 2, -scatter[1], scatter[0] / 2]))
    except np.linalg.LinAlgError:
        return None
    if np.abs(vectors.imag).max() > 0:
        return None
    vectors = vectors.real
    inside = 4 * vectors[0] * vectors[2] - vectors[1] ** 2
    if not np.any(inside > 0):
        return None
    a, b, c = vectors[:, np.argmax(inside > 0)]
    d, e, f = back @ np.array([a, b, c])
    conic = np.array([[a, b / 2, d / 2], [b / 2, c, e / 2], [d / 2, e / 2, f]])
    found = from_conic(conic[None])[0]
    if not np.all(np.isfinite(found)):
        return None
    return np.concatenate([found[:2] * reach + middle, found[2:] * reach])


def from_conic(conic: Array) -> Array:
    """Ellipses (B, 5) from symmetric conic matrices (B, 3, 3); NaN where the conic is no ellipse."""
    block, linear = conic[:, :2, :2], conic[:, :2, 2]
    with np.errstate(invalid="ignore", divide="ignore"):
        centre = -np.linalg.solve(block, linear[..., None])[..., 0]
        level = -(np.einsum("bi,bi->b", linear, centre) + conic[:, 2, 2])
        values, vectors = np.linalg.eigh(block / level[:, None, None])
        semi = 1 / np.sqrt(values)
    root = (vectors * semi[:, None, :]) @ np.swapaxes(vectors, 1, 2)
    return np.column_stack([centre, root[:, 0, 0], root[:, 0, 1], root[:, 1, 1]])


def matrix(ellipse: Array) -> Array:
    """M (B, 2, 2) of ellipses (B, 5)."""
    return ellipse[:, [2, 3, 3, 4]].reshape(-1, 2, 2)


def to_conic(ellipse: Array) -> Array:
    """Conic matrices (B, 3, 3) with x'Cx = 0 on the rim, below 0 inside."""
    inverse = np.linalg.inv(matrix(ellipse))
    block = inverse @ inverse
    centre = ellipse[:, :2, None]
    side = -block @ centre
    corner = np.swapaxes(centre, 1, 2) @ block @ centre - 1
    upper = np.concatenate([block, side], axis=2)
    lower = np.concatenate([np.swapaxes(side, 1, 2), corner], axis=2)
    return np.concatenate([upper, lower], axis=1)


def semi_axes(ellipse: Array) -> Array:
    """Semi-axes (B, 2), the longer first."""
    values = np.linalg.eigvalsh(matrix(ellipse))
    longer_first: Array = np.abs(values)[:, ::-1]
    return longer_first


def from_rim(px: Array, ellipse: Array) -> tuple[Array, Array]:
    """Signed distances (B, N) of marks from their ellipse's rim, outside positive, with derivatives (B, N, 5)."""
    # By components: sums over an axis of two are most of the time otherwise, and Monte Carlo comes here often.
    cx, cy, m11, m12, m22 = (column[:, None] for column in ellipse.T)
    away_x, away_y = px[..., 0] - cx, px[..., 1] - cy
    with np.errstate(divide="ignore", invalid="ignore"):  # an ellipse that fell flat comes out as NaN
        p = np.arctan2(
            (m11 * away_y - m12 * away_x) / (m11 * m22 - m12**2),
            (m22 * away_x - m12 * away_y) / (m11 * m22 - m12**2),
        )
        for _ in range(_FOOT_ROUNDS):
            c, s = np.cos(p), np.sin(p)
            rim_x, rim_y = m11 * c + m12 * s, m12 * c + m22 * s
            along_x, along_y = m12 * c - m11 * s, m22 * c - m12 * s
            gap_x, gap_y = away_x - rim_x, away_y - rim_y
            along_square = along_x**2 + along_y**2
            bend = -along_square - (gap_x * rim_x + gap_y * rim_y)
            p = p - (gap_x * along_x + gap_y * along_y) / np.minimum(bend, -0.1 * along_square)
        c, s = np.cos(p), np.sin(p)
        rim_x, rim_y = m11 * c + m12 * s, m12 * c + m22 * s
        along_x, along_y = m12 * c - m11 * s, m22 * c - m12 * s
        outwards = np.sign(along_y * rim_x - along_x * rim_y) / np.hypot(along_x, along_y)
    nx, ny = along_y * outwards, -along_x * outwards
    distance = (away_x - rim_x) * nx + (away_y - rim_y) * ny
    return distance, -np.stack([nx, ny, nx * c, nx * s + ny * c, ny * s], axis=-1)


def nearest(px: Array, sigma_px: Array, start: Array, rounds: int = _ROUNDS) -> Array:
    """Ellipses (B, 5) of least squared orthogonal distance over sigma: marks (B, N, 2), start (5,)."""
    ellipse = np.tile(start, (len(px), 1))
    weight = (sigma_px.min() / sigma_px)[:, None]
    for _ in range(rounds):
        distance, slope = from_rim(px, ellipse)
        ellipse = ellipse - least_squares(slope * weight, distance * weight[:, 0])
    return ellipse


def u_semi_axes(px: Array, sigma_px: Array, ellipse: Array) -> Array:
    """Standard uncertainties (2,) of the semi-axes of one fitted ellipse (5,), the longer axis first, px."""
    _, slope = from_rim(px[None], ellipse[None])
    jacobian = slope[0] / sigma_px[:, None]
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    _, vectors = np.linalg.eigh(matrix(ellipse[None])[0])
    x, y = vectors
    by_axis = np.stack([np.zeros(2), np.zeros(2), x * x, 2 * x * y, y * y], axis=1)
    u: Array = np.sqrt(np.einsum("ai,ij,aj->a", by_axis, covariance, by_axis))
    return u[::-1]
