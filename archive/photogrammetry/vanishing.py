"""Vanishing points of parallel edges, in homogeneous form so that points at infinity are as good as any.

[HZ] Hartley & Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., Cambridge 2004, 2.2 and 8.6.
"""

from __future__ import annotations

import numpy as np

from archive.photogrammetry.marks import Array


def homogeneous(px: Array) -> Array:
    """Places (..., 2) as (..., 3)."""
    return np.concatenate([px, np.ones_like(px[..., :1])], axis=-1)


def crossing(edges: Array) -> Array:
    """Vanishing points (B, 3) of edges (B, E, 2, 2) px, E >= 2, of unit length and free sign.

    Two edges: where they cross. More: least sum of squared algebraic distances, coordinates scaled first.
    """
    middle = edges.mean(axis=(1, 2), keepdims=True)
    reach = np.abs(edges - middle).max(axis=(1, 2, 3), keepdims=True)
    ends = homogeneous((edges - middle) / reach)
    lines = np.cross(ends[:, :, 0], ends[:, :, 1])
    if edges.shape[1] == 2:
        point = np.cross(lines[:, 0], lines[:, 1])
    else:
        lines = lines / np.linalg.norm(lines[..., :2], axis=-1, keepdims=True)
        point = np.linalg.eigh(np.swapaxes(lines, 1, 2) @ lines)[1][..., 0]
    x = point[:, :2] * reach[:, 0, 0] + middle[:, 0, 0] * point[:, 2:]
    point = np.concatenate([x, point[:, 2:]], axis=1)
    unit: Array = point / np.linalg.norm(point, axis=1, keepdims=True)
    return unit


def through_point(edges: Array, point: Array) -> Array:
    """Distance (E, 2) px of each edge's marks (E, 2, 2) from the line through its middle and a point (3,)."""
    middle = edges.mean(axis=1)
    lines = np.cross(homogeneous(middle), point)
    lines = lines / np.linalg.norm(lines[:, :2], axis=-1, keepdims=True)
    distance: Array = np.abs(np.einsum("eki,ei->ek", homogeneous(edges), lines))
    return distance
