"""Means of readings given as plain lists of numbers, for a notebook; `agreement` combines what the archive holds.

The same least squares: weights 1/u^2 for independent readings, the full covariance for those that share sources.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING, Any

from archive.errors import CannotEstimate
from archive.metrology.agreement import (
    NO_DOUBT_OF_THEIR_OWN,
    SIGNIFICANCE,
    chi2_upper_tail,
    generalised_mean,
    is_singular,
    lies_outside,
)
from archive.metrology.checked import (
    finite_list,
    not_negative_list,
    positive_list,
    refuse_wide,
    same_length,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class WeightedMean:
    """The mean of independent readings. Lengths in mm, the rest without unit."""

    value: float
    u_internal: float  # from the stated uncertainties
    u_external: float  # from the scatter: birge * u_internal
    u_reported: float  # max(1, birge) * u_internal, also when they agree
    birge: float
    chi2: float
    dof: int
    p: float
    consistent_at_5pct: bool
    normalised_deviation: tuple[float, ...]  # (reading - value) / u of that difference


def weighted_mean(values_mm: Sequence[float], u_mm: Sequence[float]) -> WeightedMean:
    """Mean of independent readings with weights 1/u^2, and whether they agree.

    Parameters
    ----------
    values_mm : sequence of float, shape (N,), N >= 2
        Readings of one size, mm. They must share no error source: else `weighted_mean_shared`.
    u_mm : sequence of float, shape (N,)
        Standard uncertainty of each, mm; positive.

    Returns
    -------
    WeightedMean

    Raises
    ------
    CannotEstimate
        'too-few-points' for fewer than two readings; 'bad-input' for lists of different length or what
        is no number; 'bad-uncertainty' for an u that is not positive (0 would take all the weight);
        'doubt-too-large' where u is more than a quarter of the value.

    Notes
    -----
    Nothing is dropped. The normalised deviation is (x - mean)/sqrt(u^2 - u_int^2), which has unit variance
    when the stated doubts are right. Birge, Phys. Rev. 40 (1932) 207.
    """
    import numpy as np

    values = np.array(finite_list("readings", values_mm, at_least=2))
    u = np.array(positive_list("uncertainties", u_mm, "bad-uncertainty"))
    same_length("readings and uncertainties", values, u)
    mean = generalised_mean(values, np.diag(u**2))
    dof = len(values) - 1
    birge = sqrt(mean.chi2 / dof)
    p = chi2_upper_tail(mean.chi2, dof)
    refuse_wide(mean.value, mean.u)
    return WeightedMean(
        value=mean.value,
        u_internal=mean.u,
        u_external=birge * mean.u,
        u_reported=max(1.0, birge) * mean.u,
        birge=birge,
        chi2=mean.chi2,
        dof=dof,
        p=p,
        consistent_at_5pct=p >= SIGNIFICANCE,
        normalised_deviation=tuple(_normalised(values, u, mean.weights).tolist()),
    )


@dataclass(frozen=True, slots=True)
class WeightedMeanShared:
    """The mean of readings that share error sources. Lengths in mm, the rest without unit."""

    value: float
    u: float
    weights: tuple[float, ...]  # sum to 1; may be negative
    chi2: float
    dof: int
    p: float
    birge: float
    u_reported: float  # max(1, birge) * u
    consistent_at_5pct: bool
    outside_data: bool  # the mean lies outside the readings: warn


def weighted_mean_shared(
    values_mm: Sequence[float],
    u_own_mm: Sequence[float],
    shared_sources_mm: Sequence[Sequence[float]] = (),
) -> WeightedMeanShared:
    """Generalised least-squares mean of readings that share error sources.

    Parameters
    ----------
    values_mm : sequence of float, shape (N,), N >= 2
        Readings of one size, mm.
    u_own_mm : sequence of float, shape (N,)
        Standard uncertainty that each has alone, mm; 0 or more.
    shared_sources_mm : sequence of sequences, shape (M, N)
        Signed share of each common source in each reading, mm.

    Returns
    -------
    WeightedMeanShared

    Raises
    ------
    CannotEstimate
        As `weighted_mean`; 'singular-covariance' where a mean would pretend to be exact, 'bad-uncertainty'
        where a reading has no doubt at all.

    Notes
    -----
    V = diag(u_own^2) + sum s s'; mean = (1'V^-1 x)/(1'V^-1 1), u^2 = 1/(1'V^-1 1), chi2 = r'V^-1 r
    (Aitken 1935; JCGM 100:2008, 5.2).
    """
    import numpy as np

    values = np.array(finite_list("readings", values_mm, at_least=2))
    own = np.array(not_negative_list("uncertainties", u_own_mm))
    same_length("readings and uncertainties", values, own)
    covariance = np.diag(own**2)
    for shares in shared_sources_mm:
        share = np.array(finite_list("shares of a common source", shares))
        same_length("readings and the shares of a common source", values, share)
        covariance += np.outer(share, share)
    u = np.sqrt(np.diagonal(covariance))
    if not u.all():
        raise CannotEstimate(
            "bad-uncertainty",
            f"Reading {int(np.argmin(u)) + 1} has no doubt at all and would take all the weight. "
            "Give it a step or a ±.",
        )
    if is_singular(covariance / np.outer(u, u)):
        raise CannotEstimate("singular-covariance", NO_DOUBT_OF_THEIR_OWN)
    mean = generalised_mean(values, covariance)
    dof = len(values) - 1
    birge = sqrt(mean.chi2 / dof)
    p = chi2_upper_tail(mean.chi2, dof)
    refuse_wide(mean.value, mean.u)
    return WeightedMeanShared(
        value=mean.value,
        u=mean.u,
        weights=tuple(mean.weights.tolist()),
        chi2=mean.chi2,
        dof=dof,
        p=p,
        birge=birge,
        u_reported=max(1.0, birge) * mean.u,
        consistent_at_5pct=p >= SIGNIFICANCE,
        outside_data=lies_outside(mean.value, values, u),
    )


def _normalised(values: NDArray[Any], u: NDArray[Any], weights: NDArray[Any]) -> NDArray[Any]:
    """(x - mean)/sqrt(u^2 - u_mean^2) from differences of readings, which a reading with all the weight keeps too."""
    import numpy as np

    others = np.tile(weights, (len(weights), 1))
    np.fill_diagonal(others, 0.0)
    deviations = (others * (values[:, None] - values)).sum(axis=1)
    normalised: NDArray[Any] = deviations / (u * np.sqrt(others.sum(axis=1)))
    return normalised
