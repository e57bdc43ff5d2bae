"""What the residuals of a fit say about the marks: one that is wrong, or all of them worse than was thought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

import numpy as np
from scipy.special import chdtri

from archive.errors import MarksNotUsable
from archive.photogrammetry.checks import TELL_APART
from archive.photogrammetry.doubt import Caution
from archive.photogrammetry.marks import Array, Mark, sigmas


def raised_by_residuals(
    marks: Sequence[Mark], residual_px: Array, dof: int, what: str, code: str = "marks-disagree"
) -> tuple[tuple[Mark, ...], dict[str, float], tuple[Caution, ...]]:
    """Judge residuals, shape (N,) or (N, 2) px, of a fit of N marks with `dof` degrees of freedom.

    Returns the marks, chi2 with its degrees of freedom, and cautions. Where chi2 is over its 95 % point, marks
    whose doubt was not given are all raised by the Birge ratio (Birge, Phys. Rev. 40 (1932) 207); given ones stay.

    Raises
    ------
    MarksNotUsable
        With `code`, where one mark is over 5 sigma from where the others put it: it is named, never dropped.
    """
    if dof <= 0:
        return tuple(marks), {}, ()
    sigma = sigmas(marks)
    off = np.abs(residual_px) if residual_px.ndim == 1 else np.hypot(*residual_px.T)
    worst = int(np.argmax(off / sigma))
    if off[worst] > TELL_APART * sigma[worst]:
        raise MarksNotUsable(
            code,
            f"Mark '{marks[worst].name}' lies {off[worst]:.0f} px from where the other {what} put it, more than marks "
            f"can err; check that mark and what it was said to be, or give the lens if the photo's edges bend.",
        )
    chi2 = float(np.sum((off / sigma) ** 2))
    figures = {"chi2": chi2, "dof": float(dof)}
    if chi2 <= chdtri(dof, 0.05):
        return tuple(marks), figures, ()
    factor = sqrt(chi2 / dof)
    raised = tuple(mark if mark.given else replace(mark, sigma_px=mark.sigma_px * factor) for mark in marks)
    says = (
        "their given doubt was kept"
        if all(mark.given for mark in marks)
        else "their doubt was raised to match"
    )
    return (
        raised,
        figures,
        (Caution("residuals-large", f"The {what} fit worse than their doubt allows; {says}."),),
    )
