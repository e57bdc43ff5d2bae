"""Small linear systems by the batch; one that is singular becomes NaN and leaves the others alone."""

from __future__ import annotations

import numpy as np

from archive.photogrammetry.marks import Array


def solved_or_nan(matrices: Array, right: Array) -> Array:
    """Solutions of matrices (B, N, N) for right sides (B, N), shape (B, N); NaN where there is none."""
    try:
        solution: Array = np.linalg.solve(matrices, right[..., None])[..., 0]
        return solution
    except np.linalg.LinAlgError:
        solution = np.full(right.shape, np.nan)
        for i, (matrix, b) in enumerate(zip(matrices, right, strict=True)):
            if np.all(np.isfinite(matrix)) and np.linalg.matrix_rank(matrix) == len(b):
                solution[i] = np.linalg.solve(matrix, b)
        return solution


def least_squares(design: Array, right: Array) -> Array:
    """Least-squares solutions (B, P) of designs (B, M, P) for right sides (B, M), by the normal equations."""
    transposed = np.swapaxes(design, 1, 2)
    return solved_or_nan(transposed @ design, (transposed @ right[..., None])[..., 0])
