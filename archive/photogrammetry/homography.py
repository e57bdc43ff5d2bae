"""The map from a plane of the real thing to the photo, x ~ H X, many at a time [HZ 4].

[HZ] Hartley & Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., Cambridge 2004.
"""

from __future__ import annotations

import numpy as np

from archive.photogrammetry.batches import solved_or_nan
from archive.photogrammetry.marks import Array

_ROUNDS = 4


def from_four(world_mm: Array, px: Array) -> Array:
    """Exact homographies through four points: world (B, 4, 2) mm, photo (B, 4, 2) px -> (B, 3, 3), h33 = 1 [HZ 4.1]."""
    b = len(px)
    x, y = world_mm[..., 0], world_mm[..., 1]
    one, nought = np.ones_like(x), np.zeros_like(x)
    rows = np.empty((b, 8, 8))
    rows[:, 0::2] = np.stack([x, y, one, nought, nought, nought, -x * px[..., 0], -y * px[..., 0]], axis=-1)
    rows[:, 1::2] = np.stack([nought, nought, nought, x, y, one, -x * px[..., 1], -y * px[..., 1]], axis=-1)
    h = solved_or_nan(rows, px.reshape(b, 8))
    return np.concatenate([h, np.ones((b, 1))], axis=1).reshape(b, 3, 3)


def scale_to_unit(points: Array) -> Array:
    """Similarities that take points (B, N, 2) to mean 0 and mean distance sqrt 2 [HZ 4.4.4], (B, 3, 3)."""
    middle = points.mean(axis=1)
    reach = np.sqrt(((points - middle[:, None]) ** 2).sum(-1)).mean(axis=1)
    s = np.sqrt(2) / reach
    t = np.zeros((len(points), 3, 3))
    t[:, 0, 0] = t[:, 1, 1] = s
    t[:, :2, 2] = -s[:, None] * middle
    t[:, 2, 2] = 1
    return t


def apply(h: Array, points: Array) -> Array:
    """Map points (B, N, 2) by H (B, 3, 3) -> (B, N, 2)."""
    mapped = points @ np.swapaxes(h[:, :2, :2], 1, 2) + h[:, None, :2, 2]
    depth: Array = depths(h, points)[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(mapped, depth)


def depths(h: Array, points: Array) -> Array:
    """Third homogeneous coordinate of mapped points, (B, N); its sign tells the sides of the vanishing line."""
    depth: Array = points @ h[:, 2, :2, None] + h[:, None, 2, 2:]
    return depth[..., 0]


def most_likely(world_mm: Array, px: Array, sigma_px: Array) -> Array:
    """Homographies with the least squared photo residuals [HZ 4.2.3], from the normalised linear one [HZ 4.4].

    world (B, N, 2) mm taken as exact, photo (B, N, 2) px, sigma (N,) px -> (B, 3, 3). Gauss-Newton, which at
    residuals of a few pixels has settled after three rounds.
    """
    if world_mm.shape[1] == 4:
        return from_four(world_mm, px)
    to_unit_world, to_unit_px = scale_to_unit(world_mm), scale_to_unit(px)
    w, p = apply(to_unit_world, world_mm), apply(to_unit_px, px)
    weight = sigma_px.min() / sigma_px
    h = _linear(w, p, weight)
    for _ in range(_ROUNDS):
        h = h + _step(h, w, p, weight)
    return np.linalg.inv(to_unit_px) @ h @ to_unit_world


def _linear(w: Array, p: Array, weight: Array) -> Array:
    x, y = w[..., 0] * weight, w[..., 1] * weight
    one = np.broadcast_to(weight, x.shape)
    nought = np.zeros_like(x)
    u, v = p[..., 0], p[..., 1]
    upper = np.stack([x, y, one, nought, nought, nought, -x * u, -y * u, -one * u], axis=-1)
    lower = np.stack([nought, nought, nought, x, y, one, -x * v, -y * v, -one * v], axis=-1)
    _, _, vt = np.linalg.svd(np.concatenate([upper, lower], axis=1), full_matrices=True)
    h: Array = vt[:, -1].reshape(-1, 3, 3)  # of unit length
    return h


def _step(h: Array, w: Array, p: Array, weight: Array) -> Array:
    """One Gauss-Newton step in the nine numbers of H, of least length: the common factor stays as it is."""
    homogeneous = np.concatenate([w, np.ones_like(w[..., :1])], axis=-1)
    mapped = homogeneous @ np.swapaxes(h, 1, 2)
    depth = mapped[..., 2:]
    at = mapped[..., :2] / depth
    nought = np.zeros_like(homogeneous)
    lead = homogeneous / depth
    d_u = np.concatenate([lead, nought, -lead * at[..., :1]], axis=-1)
    d_v = np.concatenate([nought, lead, -lead * at[..., 1:]], axis=-1)
    jacobian = np.concatenate([d_u * weight[:, None], d_v * weight[:, None]], axis=1)
    residual = np.concatenate([(p - at)[..., 0] * weight, (p - at)[..., 1] * weight], axis=1)
    normal = np.swapaxes(jacobian, 1, 2) @ jacobian
    flat = h.reshape(len(h), 9)
    normal = normal + flat[:, :, None] * flat[:, None, :]  # holds the free factor, which no residual feels
    right = np.swapaxes(jacobian, 1, 2) @ residual[..., None]
    step: Array = solved_or_nan(normal, right[..., 0]).reshape(-1, 3, 3)
    return step
