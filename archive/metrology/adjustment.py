"""Sizes that must satisfy conditions, adjusted together; a blunder among them sought.

Least squares by conditions; normalised residuals after Baarda, A testing procedure for use in geodetic
networks (1968).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from archive.errors import CannotEstimate
from archive.metrology.agreement import chi2_upper_tail, sensitivity_matrix
from archive.metrology.checked import finite_list, positive_list, refuse_wide, same_length
from archive.metrology.sources import Doubtful, Source

if TYPE_CHECKING:
    from numpy.typing import NDArray

CRITICAL_0_1_PCT = 3.2905267314919255  # two-sided normal quantile at 0.1 %
# Baarda: with that test a blunder of 4.13 u / sqrt(redundancy) is found four times in five.
_FINDABLE = 4.13
_SAME = 1 - 1e-6  # residuals that correlate more than this cannot be told apart
_NEGLIGIBLE = 1e-9


@dataclass(frozen=True, slots=True)
class Adjustment:
    """Sizes adjusted to their conditions. Lengths in mm; lists run along `names`."""

    adjusted_mm: tuple[float, ...]
    u_adjusted_mm: tuple[float, ...]
    residual_mm: tuple[float, ...]  # adjusted - measured
    normalised_residual: tuple[float, ...]
    redundancy: tuple[float, ...]  # share of a blunder that shows in its own residual
    chi2: float
    dof: int
    p: float
    critical_0_1pct: float
    suspect: str | None  # only if it can be told from the others
    suspect_group: tuple[str, ...]  # empty unless a residual is beyond the critical value


def adjust_constraints(
    names: Sequence[str],
    values_mm: Sequence[float],
    u_mm: Sequence[float],
    constraints: Sequence[Sequence[float]],
    rhs_mm: Sequence[float],
) -> Adjustment:
    """Adjust independent readings so that constraints . values = rhs holds exactly.

    Parameters
    ----------
    names : sequence of str, shape (N,)
    values_mm, u_mm : sequence of float, shape (N,)
        Readings and their standard uncertainties, mm; u positive.
    constraints : sequence of sequences, shape (C, N)
    rhs_mm : sequence of float, shape (C,)

    Returns
    -------
    Adjustment
        Nothing is removed or solved again: the suspect is named, and removing it is the person's part.

    Raises
    ------
    CannotEstimate
        'constraints-inconsistent' if they contradict one another, 'constraints-dependent' if one follows
        from the others; 'too-few-points' without a constraint, 'bad-input' for lists that do not go
        together, 'bad-uncertainty' for an u that is not positive; 'doubt-too-large' where the u of an
        adjusted size is more than a quarter of it.

    Notes
    -----
    v = Q A'(A Q A')^-1 (c - A l), Q_v = Q A'(A Q A')^-1 A Q; T = v'Q^-1 v ~ chi-square(C); with one
    condition all |w| are equal, so that a blunder is seen but cannot be placed.
    """
    import numpy as np

    values = np.array(finite_list("readings", values_mm, at_least=1))
    u = np.array(positive_list("uncertainties", u_mm, "bad-uncertainty"))
    same_length("names, readings and uncertainties", names, values, u)
    if len(set(names)) < len(names):
        raise CannotEstimate(
            "bad-input", "Two of the sizes have the same name, so a suspect could not be named."
        )
    rows = [finite_list("coefficients", row) for row in constraints]
    rhs = np.array(finite_list("right-hand sides", rhs_mm))
    same_length("constraints and right-hand sides", rows, rhs)
    if not rows:
        raise CannotEstimate(
            "too-few-points", "Without a sum that must come out there is nothing to adjust to."
        )
    for row in rows:
        same_length("readings and coefficients of a constraint", values, row)
    matrix = np.array(rows)
    _refuse_dependent(matrix, rhs)
    core = _adjust(values, np.diag(u), matrix, rhs)
    adjusted, u_adjusted = values + core.v, np.sqrt((core.sensitivities**2).sum(axis=1))
    for value, u_value in zip(adjusted.tolist(), u_adjusted.tolist(), strict=True):
        refuse_wide(value, u_value)
    worst = _worst(core.w)
    group = [names[i] for i in _inseparable(core, worst)] if abs(core.w[worst]) > CRITICAL_0_1_PCT else []
    return Adjustment(
        adjusted_mm=tuple(adjusted.tolist()),
        u_adjusted_mm=tuple(u_adjusted.tolist()),
        residual_mm=tuple(core.v.tolist()),
        normalised_residual=tuple(core.w.tolist()),
        redundancy=tuple(core.redundancy.tolist()),
        chi2=core.chi2,
        dof=len(rows),
        p=chi2_upper_tail(core.chi2, len(rows)),
        critical_0_1pct=CRITICAL_0_1_PCT,
        suspect=group[0] if len(group) == 1 else None,
        suspect_group=tuple(group),
    )


@dataclass(frozen=True, slots=True)
class AdjustedSizes:
    """Sizes adjusted to their conditions, correlation kept; lists run along the sizes given.

    `agree` is chi-square at 5 %. `suspects` are the sizes among which a blunder lies: one if it can be
    placed, several if it can only be seen, none if no normalised residual is beyond the 0.1 % value.
    """

    values: tuple[float, ...]
    sources: tuple[Source, ...]  # M of them, of all the sizes together
    sensitivities: NDArray[Any]  # (N, M)
    residual: tuple[float, ...]
    normalised_residual: tuple[float, ...]
    redundancy: tuple[float, ...]
    smallest_findable: tuple[float, ...]  # blunder found four times in five; inf where none would show
    chi2: float
    dof: int
    p: float
    agree: bool
    suspects: tuple[int, ...]

    @property
    def sizes(self) -> tuple[Doubtful, ...]:
        """The adjusted sizes, each with the sources that it leans on."""
        return tuple(
            Doubtful(value, {source: s for source, s in zip(self.sources, row, strict=True) if s})
            for value, row in zip(self.values, self.sensitivities.tolist(), strict=True)
        )


def adjust(
    sizes: Sequence[Doubtful],
    conditions: Sequence[Sequence[float]],
    rhs: Sequence[float],
    *,
    of_record: str,
) -> AdjustedSizes:
    """Adjust sizes, whatever sources they share, so that conditions . sizes = rhs.

    Parameters
    ----------
    sizes : sequence of Doubtful, N of them
        Exact ones (no sources) stay as they are.
    conditions : array_like, shape (C, N)
    rhs : sequence of float, shape (C,)
    of_record : str
        Public id to which the disagreement belongs, where the conditions do not hold within their doubt;
        all u are then widened by the Birge ratio, correlations kept.

    Raises
    ------
    CannotEstimate
        'constraints-inconsistent' if the conditions cannot all hold, 'constraints-dependent' if one
        follows from the others.
    """
    import numpy as np

    matrix, right = np.array(conditions, dtype=float), np.array(rhs, dtype=float)
    values = np.array([size.value for size in sizes])
    _refuse_dependent(matrix, right)
    sources, sensitivities = sensitivity_matrix(sizes)
    core = _adjust(values, sensitivities, matrix, right)
    p = chi2_upper_tail(core.chi2, core.dof)
    agree = p >= 0.05
    worst = _worst(core.w)
    beyond = abs(core.w[worst]) > CRITICAL_0_1_PCT
    columns, carried = list(sources), core.sensitivities
    if not agree:
        extra = _factor(core.sensitivities) * np.sqrt(core.chi2 / core.dof - 1)
        columns += [Source("disagreement", of_record, str(n + 1)) for n in range(extra.shape[1])]
        carried = np.hstack([carried, extra])
    return AdjustedSizes(
        values=tuple((values + core.v).tolist()),
        sources=tuple(columns),
        sensitivities=carried,
        residual=tuple(core.v.tolist()),
        normalised_residual=tuple(core.w.tolist()),
        redundancy=tuple(core.redundancy.tolist()),
        smallest_findable=tuple(core.findable.tolist()),
        chi2=core.chi2,
        dof=core.dof,
        p=p,
        agree=agree,
        suspects=tuple(_inseparable(core, worst)) if beyond else (),
    )


@dataclass(frozen=True, slots=True)
class _Core:
    v: NDArray[Any]  # (N,) residuals
    sensitivities: NDArray[Any]  # (N, M) of the adjusted sizes
    information: NDArray[Any]  # (N, N) A'(A Q A')^-1 A
    w: NDArray[Any]  # (N,) normalised residuals
    redundancy: NDArray[Any]  # (N,)
    findable: NDArray[Any]  # (N,)
    chi2: float
    dof: int


def _adjust(
    values: NDArray[Any], sensitivities: NDArray[Any], matrix: NDArray[Any], rhs: NDArray[Any]
) -> _Core:
    """With S of the sizes: A Q A' = (A S)(A S)', so that Q itself is never inverted and may be singular."""
    import numpy as np

    misclosure = rhs - matrix @ values
    closing = matrix @ sensitivities  # (C, M)
    inverse, dof = _invert(closing @ closing.T, misclosure)
    multipliers = inverse @ misclosure
    back = matrix.T @ multipliers  # Q^-1 v
    covariance_with_closing = sensitivities @ closing.T  # Q A', (N, C)
    v = covariance_with_closing @ multipliers
    information = matrix.T @ inverse @ matrix
    information_diagonal = np.maximum(np.diagonal(information), 0.0)
    variance = (sensitivities**2).sum(axis=1)
    # A residual that no condition controls, or of an exact size, says nothing.
    seen = information_diagonal * variance > _NEGLIGIBLE
    safe = np.where(seen, information_diagonal, 1.0)
    explained = covariance_with_closing @ inverse  # (N, C)
    return _Core(
        v=v,
        sensitivities=sensitivities - explained @ closing,
        information=information,
        w=np.where(seen, back / np.sqrt(safe), 0.0),
        redundancy=np.where(
            variance > 0,
            (explained * covariance_with_closing).sum(axis=1) / np.where(variance > 0, variance, 1.0),
            0.0,
        ),
        findable=np.where(seen, _FINDABLE / np.sqrt(safe), np.inf),
        chi2=max(float(misclosure @ multipliers), 0.0),
        dof=dof,
    )


def _invert(closing: NDArray[Any], misclosure: NDArray[Any]) -> tuple[NDArray[Any], int]:
    """Inverse of the misclosures' covariance, and its rank.

    A condition among sizes that already fulfil it exactly (one was worked out from the others) says nothing
    and is left aside; exact sizes that break it are refused.
    """
    import numpy as np

    scale = np.sqrt(np.diagonal(closing))
    largest = float(scale.max())
    scale = np.where(scale > _NEGLIGIBLE * largest, scale, largest or 1.0)
    eigenvalues, vectors = np.linalg.eigh(closing / np.outer(scale, scale))
    kept = eigenvalues > _NEGLIGIBLE
    lost = vectors[:, ~kept].T @ (misclosure / scale)
    if (np.abs(lost * scale.min()) > 1e-6 * max(1.0, float(scale.min()))).any():
        raise CannotEstimate(
            "constraints-inconsistent",
            "These sums cannot all come out: the sizes in them are exact or lean wholly on one another, and "
            "still the sums leave something over. Look at the sums, or give one of the sizes a ±.",
        )
    half = vectors[:, kept] / np.sqrt(eigenvalues[kept]) / scale[:, None]
    inverse: NDArray[Any] = half @ half.T
    return inverse, int(kept.sum())


def _refuse_dependent(matrix: NDArray[Any], rhs: NDArray[Any]) -> None:
    import numpy as np

    lengths = np.linalg.norm(matrix, axis=1)
    lengths[lengths == 0] = 1.0
    scaled, right = matrix / lengths[:, None], rhs / lengths
    if np.linalg.matrix_rank(scaled, tol=_NEGLIGIBLE) == len(matrix):
        return
    # Which combination of the sums says nothing of the sizes: its right-hand side must vanish too.
    vectors, singular, _ = np.linalg.svd(scaled)
    padded = np.concatenate([singular, np.zeros(len(matrix) - len(singular))])
    left_over = vectors[:, padded <= _NEGLIGIBLE].T @ right
    if (np.abs(left_over) > 1e-6 * max(1.0, float(np.abs(right).max()) * 1e-6)).any():
        raise CannotEstimate(
            "constraints-inconsistent",
            "Two of these sums contradict each other: the same sizes are to give different totals. "
            "Take one away.",
        )
    raise CannotEstimate(
        "constraints-dependent",
        "One of these sums follows from the others, so it says nothing new. Take it away.",
    )


def _worst(w: NDArray[Any]) -> int:
    import numpy as np

    return int(np.argmax(np.abs(w)))


def _inseparable(core: _Core, worst: int) -> list[int]:
    """All sizes whose residuals correlate fully with the worst one's."""
    import numpy as np

    diagonal = np.diagonal(core.information)
    with_worst = np.abs(core.information[worst]) / np.sqrt(
        np.where(diagonal > 0, diagonal, np.inf) * diagonal[worst]
    )
    seen = (core.w != 0) | (np.arange(len(core.w)) == worst)
    return [int(i) for i in np.flatnonzero(seen & (with_worst >= _SAME))]


def _factor(sensitivities: NDArray[Any]) -> NDArray[Any]:
    """A matrix F with F F' = S S' and no more columns than it needs."""
    import numpy as np

    vectors, singular, _ = np.linalg.svd(sensitivities, full_matrices=False)
    kept = singular > _NEGLIGIBLE * max(float(singular.max(initial=0.0)), 1e-300)
    factor: NDArray[Any] = vectors[:, kept] * singular[kept]
    return factor
