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
    m, away = matrix(ellipse), px - ellipse[:, None, :2]
    on_circle = np.swapaxes(np.linalg.solve(m, np.swapaxes(away, 1, 2)), 1, 2)
    p = np.arctan2(on_circle[..., 1], on_circle[..., 0])
    for _ in range(_FOOT_ROUNDS):
        unit = np.stack([np.cos(p), np.sin(p)], axis=-1)
        rim, along = unit @ m, np.stack([-unit[..., 1], unit[..., 0]], axis=-1) @ m
        gap = away - rim
        slope = (gap * along).sum(-1)
        bend = -(along**2).sum(-1) - (gap * rim).sum(-1)
        p = p - slope / np.minimum(bend, -0.1 * (along**2).sum(-1))
    unit = np.stack([np.cos(p), np.sin(p)], axis=-1)
    rim, along = unit @ m, np.stack([-unit[..., 1], unit[..., 0]], axis=-1) @ m
    normal = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    normal = normal / np.linalg.norm(normal, axis=-1, keepdims=True)
    normal = normal * np.sign((normal * rim).sum(-1, keepdims=True))
    distance = ((away - rim) * normal).sum(-1)
    c, s = unit[..., 0], unit[..., 1]
    nx, ny = normal[..., 0], normal[..., 1]
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
