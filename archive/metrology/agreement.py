"""What several readings of one size say together, and whether they agree.

Generalised least squares with the covariance that the shared sources give (JCGM 100:2008, H.3 and
F.1.2.3; Aitken 1935); chi-square and the Birge ratio judge it (Birge, Phys. Rev. 40 (1932) 207).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, sqrt
from typing import TYPE_CHECKING, Any

from archive.errors import CannotEstimate
from archive.metrology.coverage import interval_95
from archive.metrology.sources import Doubtful, Source

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Readings are said to disagree when chance alone would scatter them so in fewer than 5 of 100 cases.
SIGNIFICANCE = 0.05
# A correlation matrix with a smaller pivot than this is singular for all that its digits say.
_SINGULAR = 1e-11
# Of the variance: with less of its own the covariance is looked at as a whole.
_OWN_ENOUGH = 1e-6
NO_DOUBT_OF_THEIR_OWN = (
    "Two of these readings share all their doubt, so a mean of them would pretend to be exact. "
    "Give one of them a step or a ± of its own."
)


@dataclass(frozen=True, slots=True)
class Doubted:
    """A reading that does not fit: how far it lies from what all the others say together.

    `off_by` is reading minus the others, with `u` one standard uncertainty of that difference.
    """

    index: int
    off_by: float
    u: float


@dataclass(frozen=True, slots=True)
class Combined:
    """The best figure from several readings. Lengths in the readings' unit; weights sum to 1.

    `result` leans on the readings' own sources and, where they scatter more than their doubts allow,
    on one more: 'disagreement', so that its u is `u_reported` = max(1, birge) * `u_internal`.
    """

    result: Doubtful
    u_internal: float
    weights: tuple[float, ...]
    chi2: float
    dof: int
    p: float  # upper tail: how often chance alone would scatter them so
    birge: float
    agree: bool  # p is at least `SIGNIFICANCE`
    doubted: tuple[Doubted, ...]  # empty where they agree; several where it cannot be told which one
    outside_data: bool  # strong correlation has pushed the value out of the readings: warn

    @property
    def value(self) -> float:
        """The best figure, in the readings' unit."""
        return self.result.value

    @property
    def u_reported(self) -> float:
        """One standard uncertainty, widened where the readings scatter more than they should."""
        return self.result.standard_uncertainty

    @property
    def interval_95(self) -> tuple[float, float]:
        """Low and high ends of the 95 % interval, in the readings' unit."""
        return interval_95(self.result)


def combine(readings: Sequence[Doubtful], *, of_record: str) -> Combined:
    """Combine readings of one size, whatever sources they share.

    Parameters
    ----------
    readings : sequence of Doubtful, N >= 1
        Readings of one size, all in one unit. Exact ones (no sources: a count) take all the weight;
        where exact ones differ, their mean is given and its doubt is the scatter of the mean.
    of_record : str
        Public id of the size, whose 'disagreement' the scatter beyond the stated doubts becomes.

    Returns
    -------
    Combined

    Raises
    ------
    CannotEstimate
        'too-few-points' without a reading; 'bad-input' if one is not a number; 'singular-covariance'
        if readings that differ have no doubt but a common one.

    Notes
    -----
    Nothing is dropped. The internal uncertainty never grows with another reading; the reported one
    may. One reading alone needs no numpy.
    """
    if not readings:
        raise CannotEstimate(
            "too-few-points", "There is no reading of this size yet, so no figure can be given."
        )
    if not all(isfinite(r.value) and isfinite(r.standard_uncertainty) for r in readings):
        raise CannotEstimate("bad-input", "A reading is not a number, so no figure can be given.")
    if len(readings) == 1:
        only = readings[0]
        return Combined(only, only.standard_uncertainty, (1.0,), 0.0, 0, 1.0, 0.0, True, (), False)
    return _combine_several(readings, of_record)


@dataclass(frozen=True, slots=True)
class GeneralisedMean:
    """The least-squares mean of correlated values: value, u and weights; chi-square of what is left."""

    value: float
    u: float
    weights: NDArray[Any]  # (N,)
    chi2: float
    inverse_times_residual: NDArray[Any]  # (N,), V^-1 (x - value)


def generalised_mean(values: NDArray[Any], covariance: NDArray[Any]) -> GeneralisedMean:
    """Mean (1'V^-1 x)/(1'V^-1 1) and u^2 = 1/(1'V^-1 1).

    Parameters
    ----------
    values : array, shape (N,), N >= 1
    covariance : array, shape (N, N)
        Symmetric, with a positive diagonal, in the square of the values' unit.

    Raises
    ------
    CannotEstimate
        'singular-covariance' if a difference of values has no doubt at all and yet is not 0, or if
        some mean of them would have none.
    """
    import numpy as np

    u = np.sqrt(np.diagonal(covariance))
    correlation = covariance / np.outer(u, u)
    right = _ones_and_differences(values) / u[:, None]
    if is_singular(correlation):
        solved = _solve_singular(correlation, right)
    else:
        solved = np.linalg.solve(correlation, right)
    return _mean_from(values, solved / u[:, None])


def _ones_and_differences(values: NDArray[Any]) -> NDArray[Any]:
    """What V^-1 is applied to, (N, 2): centred on one reading, as lengths are long and their differences short."""
    import numpy as np

    return np.column_stack([np.ones(len(values)), values - values[0]])


def _mean_from(values: NDArray[Any], solved: NDArray[Any]) -> GeneralisedMean:
    """The mean, from V^-1 applied to ones and differences, (N, 2)."""
    information = float(solved[:, 0].sum())
    weights = solved[:, 0] / information
    from_first = values - values[0]
    shift = float(weights @ from_first)
    inverse_times_residual = solved[:, 1] - solved[:, 0] * shift
    chi2 = float((from_first - shift) @ inverse_times_residual)
    return GeneralisedMean(
        float(values[0]) + shift, 1 / sqrt(information), weights, max(chi2, 0.0), inverse_times_residual
    )


def chi2_upper_tail(chi2: float, dof: float) -> float:
    """How often chance alone gives this chi-square or more, between 0 and 1."""
    from scipy.special import chdtrc

    return float(chdtrc(dof, chi2)) if dof else 1.0


def _combine_several(readings: Sequence[Doubtful], of_record: str) -> Combined:
    import numpy as np

    values = np.array([r.value for r in readings])
    u = np.array([r.standard_uncertainty for r in readings])
    dof = len(readings) - 1
    if not u.all():
        return _with_exact(values, u, dof, of_record)
    sources, sensitivities = sensitivity_matrix(readings)
    parted = _OwnAndShared.of(sensitivities)
    if parted is not None:
        mean = _mean_from(values, parted.solve(_ones_and_differences(values)))
    else:
        mean = generalised_mean(values, sensitivities @ sensitivities.T)
    birge = sqrt(mean.chi2 / dof)
    p = chi2_upper_tail(mean.chi2, dof)
    carried = dict(zip(sources, (mean.weights @ sensitivities).tolist(), strict=True))
    if birge > 1:
        carried[Source("disagreement", of_record)] = mean.u * sqrt(birge * birge - 1)
    return Combined(
        result=Doubtful(mean.value, carried),
        u_internal=mean.u,
        weights=tuple(mean.weights.tolist()),
        chi2=mean.chi2,
        dof=dof,
        p=p,
        birge=birge,
        agree=p >= SIGNIFICANCE,
        doubted=() if p >= SIGNIFICANCE else _doubted(_inverse_diagonal(parted, sensitivities), mean),
        outside_data=lies_outside(mean.value, values, u),
    )


def sensitivity_matrix(numbers: Sequence[Doubtful]) -> tuple[list[Source], NDArray[Any]]:
    """The sources that numbers lean on, M of them, and their sensitivities, shape (N, M); V = S S'."""
    import numpy as np

    column: dict[Source, int] = {}
    rows, columns, entries = [], [], []
    for row, number in enumerate(numbers):
        for source, s in number.sensitivities.items():
            rows.append(row)
            columns.append(column.setdefault(source, len(column)))
            entries.append(s)
    matrix = np.zeros((len(numbers), len(column)))
    matrix[rows, columns] = entries
    return list(column), matrix


def lies_outside(value: float, values: NDArray[Any], u: NDArray[Any]) -> bool:
    """Whether a mean lies beyond its readings, where strong correlation has pushed it."""
    slack = 1e-9 * float(u.max())
    return not float(values.min()) - slack <= value <= float(values.max()) + slack


def is_singular(correlation: NDArray[Any]) -> bool:
    """Whether a correlation matrix, (N, N), says that some readings share all their doubt."""
    import numpy as np

    try:
        return bool(np.diagonal(np.linalg.cholesky(correlation)).min() ** 2 < _SINGULAR)
    except np.linalg.LinAlgError:
        return True


@dataclass(frozen=True, slots=True)
class _OwnAndShared:
    """A covariance D^2 + U U' of own doubts D and few shared sources U: solved without writing it down.

    With Q the upper part of the orthogonal factor of [D^-1 U; 1], its inverse is D^-1 (1 - Q Q') D^-1
    (Woodbury). So many readings with one tape cost no more than their number.
    """

    own: NDArray[Any]  # (N,), standard uncertainties
    factor: NDArray[Any]  # (N, K), Q

    @classmethod
    def of(cls, sensitivities: NDArray[Any]) -> _OwnAndShared | None:
        """Part the sources, (N, M); None where a number has no doubt of its own, or more is shared than there are."""
        import numpy as np

        is_own = np.count_nonzero(sensitivities, axis=0) == 1
        shared = sensitivities[:, ~is_own]
        own = (sensitivities[:, is_own] ** 2).sum(axis=1)
        if shared.shape[1] > len(own) or (own <= _OWN_ENOUGH * (own + (shared**2).sum(axis=1))).any():
            return None
        own = np.sqrt(own)
        stacked = np.vstack([shared / own[:, None], np.eye(shared.shape[1])])
        return cls(own, np.linalg.qr(stacked)[0][: len(own)])

    def solve(self, right: NDArray[Any]) -> NDArray[Any]:
        """The inverse times the columns of `right`, (N, C)."""
        scaled = right / self.own[:, None]
        solved: NDArray[Any] = (scaled - self.factor @ (self.factor.T @ scaled)) / self.own[:, None]
        return solved

    def inverse_diagonal(self) -> NDArray[Any]:
        """The diagonal of the inverse, (N,)."""
        diagonal: NDArray[Any] = (1 - (self.factor**2).sum(axis=1)) / self.own**2
        return diagonal


def _inverse_diagonal(parted: _OwnAndShared | None, sensitivities: NDArray[Any]) -> NDArray[Any]:
    import numpy as np

    if parted is not None:
        return parted.inverse_diagonal()
    diagonal: NDArray[Any] = np.diagonal(np.linalg.pinv(sensitivities @ sensitivities.T, hermitian=True))
    return diagonal


def _solve_singular(correlation: NDArray[Any], right: NDArray[Any]) -> NDArray[Any]:
    """The least solution where the right sides lie in the range; two copies of one reading do."""
    import numpy as np

    eigenvalues, vectors = np.linalg.eigh(correlation)
    kept = eigenvalues > _SINGULAR * len(eigenvalues)
    lost = vectors[:, ~kept].T @ right
    if (np.abs(lost) > 1e-7 * np.linalg.norm(right, axis=0)).any():
        raise CannotEstimate(
            "singular-covariance",
            NO_DOUBT_OF_THEIR_OWN,
        )
    solved: NDArray[Any] = vectors[:, kept] @ ((vectors[:, kept].T @ right) / eigenvalues[kept, None])
    return solved


def _doubted(inverse_diagonal: NDArray[Any], mean: GeneralisedMean) -> tuple[Doubted, ...]:
    """The reading with the largest normalised deviation, or all that tie with it (two always do)."""
    import numpy as np

    # Baarda 1968: (V^-1 r)_i over its own u; the ratio to that variance is the reading minus the others.
    variance = inverse_diagonal - (mean.weights / mean.u) ** 2
    usable = variance > 1e-9 * inverse_diagonal
    variance = np.where(usable, variance, 1.0)
    normalised = np.where(usable, np.abs(mean.inverse_times_residual) / np.sqrt(variance), 0.0)
    worst = np.flatnonzero(normalised >= normalised.max() * (1 - 1e-6))
    return tuple(
        Doubted(int(i), float(mean.inverse_times_residual[i] / variance[i]), 1 / sqrt(float(variance[i])))
        for i in worst
    )


def _with_exact(values: NDArray[Any], u: NDArray[Any], dof: int, of_record: str) -> Combined:
    """Where some readings are exact, they are the figure and the others are only judged by it."""
    import numpy as np

    exact = u == 0
    value = float(values[exact].mean())
    n_exact = int(exact.sum())
    scatter = float(np.sqrt(((values[exact] - value) ** 2).sum() / (n_exact * max(n_exact - 1, 1))))
    deviations = values - value
    chi2 = inf if scatter else float(((deviations[~exact] / u[~exact]) ** 2).sum())
    p = 0.0 if scatter else chi2_upper_tail(chi2, dof)
    doubted: tuple[Doubted, ...] = ()
    if scatter:
        doubted = tuple(
            Doubted(int(i), float(deviations[i]), 0.0) for i in np.flatnonzero(exact & (deviations != 0))
        )
    elif p < SIGNIFICANCE:
        worst = int(np.argmax(np.abs(deviations) / np.where(exact, inf, u)))
        doubted = (Doubted(worst, float(deviations[worst]), float(u[worst])),)
    return Combined(
        result=Doubtful(value, {Source("disagreement", of_record): scatter} if scatter else {}),
        u_internal=0.0,
        weights=tuple((exact / n_exact).tolist()),
        chi2=chi2,
        dof=dof,
        p=p,
        birge=sqrt(chi2 / dof),
        agree=p >= SIGNIFICANCE,
        doubted=doubted,
        outside_data=False,
    )
