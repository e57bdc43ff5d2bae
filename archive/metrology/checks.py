"""From checks of an instrument to what its readings are corrected by, with the sources kept.

A steady instrument's checks serve all its readings. A changing one's serve their own day; between
days they only say how much it scatters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt
from typing import TYPE_CHECKING, Any

from archive.errors import CannotEstimate
from archive.metrology.agreement import SIGNIFICANCE, chi2_upper_tail, sensitivity_matrix
from archive.metrology.checked import finite, positive
from archive.metrology.coverage import NORMAL_95, coverage_factor_95
from archive.metrology.readings import InstrumentError, Limits, limit_u_mm, rounding_u_mm
from archive.metrology.sources import Distribution, Doubtful, Source

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Steps and references that are all exact would make a check exact: no comparison is better than this.
_LEAST_U_MM = 1e-3
# A stated limit is taken to be known to a quarter of itself (JCGM 100:2008, G.4.2): 8 degrees of freedom.
_LIMIT_DEGREES_OF_FREEDOM = 8
_BELIED = NORMAL_95  # standard uncertainties between a fitted scale and the limits


@dataclass(frozen=True, slots=True)
class Check:
    """One comparison of an instrument with a length known better, all in mm."""

    of_record: str
    reference: Doubtful
    reading_mm: float
    resolution_mm: float = 0.0
    day: str = ""


@dataclass(frozen=True, slots=True)
class Checked:
    """What checks say of an instrument, on the days that they serve."""

    error: InstrumentError
    checks: int
    shortest_mm: float = 0.0
    longest_mm: float = 0.0
    within_limits: bool = True  # False: the error grows with length by more than the limits allow
    scale_known: bool = True  # False: one length checked and no limits, so nothing is known away from it
    agree: bool = True  # the checks lie about one line as their steps and references allow
    p: float = 1.0

    def beyond(self, length_mm: float) -> bool:
        """Whether a length lies outside what was checked, where the correction is carried on unseen."""
        return self.checks > 0 and not self.shortest_mm <= length_mm <= self.longest_mm


@dataclass(frozen=True, slots=True)
class Verdict:
    """How an instrument reads near a length, mm: `error_mm` long (negative: short) ± `half_width_mm` (95 %)."""

    near_mm: float
    error_mm: float
    half_width_mm: float
    checks: int
    beyond_checks: bool


def verdict(checked: Checked, near_mm: float | None = None) -> Verdict:
    """Say how an instrument reads near a length, by default the middle of what was checked."""
    near = checked.error.pivot_mm if near_mm is None else positive("The length", near_mm)
    error = checked.error.at_mm(near)
    half_width = coverage_factor_95(error) * error.standard_uncertainty
    return Verdict(near, error.value, half_width, checked.checks, checked.beyond(near))


def error_of_steady(checks: Sequence[Check], *, instrument: str, limits: Limits | None = None) -> Checked:
    """What a steady instrument is off by, from all its checks.

    Parameters
    ----------
    checks : sequence of Check, N >= 1
    instrument : str
        Its public id, for the sources 'offset' and 'scale'.
    limits : Limits, optional
        The maker's; their part that grows with length is a prior of the scale error, so that the doubt
        grows away from the checked lengths. None given, none used.

    Returns
    -------
    Checked
        Readings corrected with its `error` share two components of the fit (Cholesky factor of what the
        steps and the scatter leave), the references' own sources, and the limits' scale.

    Raises
    ------
    CannotEstimate
        'too-few-points' without a check; 'bad-known' for a reference that is not above 0; 'bad-input'
        for a reading that is no number.

    Notes
    -----
    Generalised least squares of e = a + b (L - Lm) with b = 0 ± its prior. With three checks and more a
    scatter beyond the steps and references shows and is used where it is the larger, Student t with
    its degrees of freedom, and each new reading has it too (JCGM 100:2008, H.3 and G.4).
    """
    return _fit(checks, instrument, "", _scale_prior(limits, instrument, ""))


def error_of_day(
    checks: Sequence[Check], day: str, *, instrument: str, limits: Limits | None = None
) -> Checked:
    """What a changing instrument is off by on one day, from the checks of all days.

    The day's own checks correct its readings. A day without a check gets no correction, only the
    scatter from day to day: the limits, widened or narrowed by what the checked days showed
    (`day_to_day`). Parameters, errors and sources as `error_of_steady`; every day's sources are its own.
    """
    spread = day_to_day(checks, limits)
    todays = [check for check in checks if check.day == day]
    if todays:
        return _fit(todays, instrument, day, _day_source("scale", instrument, day, spread, spread.scale))
    return Checked(
        InstrumentError(
            Doubtful(0.0, _day_source("offset", instrument, day, spread, spread.offset_mm)),
            Doubtful(0.0, _day_source("scale", instrument, day, spread, spread.scale)),
        ),
        checks=0,
        scale_known=limits is not None or spread.degrees_of_freedom < inf,
    )


@dataclass(frozen=True, slots=True)
class DayToDay:
    """How much an instrument's error differs from day to day: standard uncertainties of offset and scale."""

    offset_mm: float
    scale: float
    days: int
    degrees_of_freedom: float


def day_to_day(checks: Sequence[Check], limits: Limits | None = None) -> DayToDay:
    """How much a changing instrument scatters from day to day about no error.

    With limits, their shape is kept and their size is pooled with what the days showed, the limits
    weighing as much as eight days (a limit known to a quarter of itself, JCGM 100:2008, G.4.2). Without
    limits two checked days are needed, and the scatter is taken to grow with the length; with fewer
    nothing is said (u 0, infinite degrees of freedom).
    """
    days: dict[str, list[Check]] = {}
    for check in checks:
        days.setdefault(check.day, []).append(check)
    shape, weight = (limits, _LIMIT_DEGREES_OF_FREEDOM) if limits else (Limits(0.0, 1.0), 0)
    if not limits and len(days) < 2:
        return DayToDay(0.0, 0.0, len(days), inf)
    ratios = [
        sum(_error_mm(check) / limit_u_mm(shape.at_mm(_reference_mm(check))) for check in of_day)
        / len(of_day)
        for of_day in days.values()
        if shape.at_mm(_reference_mm(of_day[0]))
    ]
    dof = weight + len(ratios)
    factor = sqrt((weight + sum(ratio * ratio for ratio in ratios)) / dof) if dof else 1.0
    return DayToDay(
        factor * limit_u_mm(shape.constant_mm),
        factor * limit_u_mm(shape.per_mm),
        len(days),
        dof if ratios else inf,
    )


def _reference_mm(check: Check) -> float:
    return positive("The reference of a check", check.reference.value)


def _error_mm(check: Check) -> float:
    return finite("The reading of a check", check.reading_mm) - _reference_mm(check)


def _scale_prior(limits: Limits | None, instrument: str, day: str) -> dict[Source, float]:
    u = limit_u_mm(limits.per_mm) if limits else 0.0
    return {Source("scale", instrument, day, distribution="rectangular"): u} if u else {}


def _day_source(kind: str, instrument: str, day: str, spread: DayToDay, u: float) -> dict[Source, float]:
    dof = spread.degrees_of_freedom
    distribution: Distribution = "rectangular" if dof == inf else "t"
    return {Source(kind, instrument, day, dof, distribution): u} if u else {}


@dataclass(frozen=True, slots=True)
class _Line:
    """A fitted line and how well it fits."""

    parameters: NDArray[Any]  # (P,) error at the pivot and, where fitted, the scale
    weights: NDArray[Any]  # (P, N) of the errors
    prior_weight: NDArray[Any]  # (P,) of the prior's unit source
    u_last: float  # of the last parameter
    own: NDArray[Any]  # (N,) u of each check, its step or its scatter
    chi2: float
    dof: float  # checks less the parameters that they really had to give
    p: float = 1.0
    u_scatter: float = 0.0  # of a single check, step and reference included; 0 if these explain it
    scatter_dof: float = inf


def _fit(checks: Sequence[Check], instrument: str, day: str, prior: dict[Source, float]) -> Checked:
    import numpy as np

    if not checks:
        raise CannotEstimate(
            "too-few-points",
            "There is no check of this instrument yet. Compare it with a length you know better.",
        )
    references = np.array([_reference_mm(check) for check in checks])
    errors = np.array([_error_mm(check) for check in checks])
    steps = np.array([max(rounding_u_mm(check.resolution_mm), _LEAST_U_MM) for check in checks])
    sources, shares = sensitivity_matrix([check.reference for check in checks])
    weights = 1 / (steps**2 + (shares**2).sum(axis=1))
    pivot = float(weights @ references / weights.sum())
    u_prior = sqrt(sum(u * u for u in prior.values()))
    u_references = max(check.reference.standard_uncertainty for check in checks)
    offset_only = np.ones((len(checks), 1))
    with_scale = np.column_stack([offset_only, references - pivot])
    two_lengths = float(np.ptp(references)) > max(u_references, 1e-6)
    within_limits = True
    if two_lengths:
        line = _with_scatter(with_scale, errors, steps, shares, 0.0)
        if u_prior:
            # Limits that the checks belie are no help: then the checks alone speak.
            within_limits = abs(line.parameters[1]) <= _BELIED * sqrt(line.u_last**2 + u_prior**2)
            if within_limits:
                line = _with_scatter(with_scale, errors, steps, shares, u_prior)
    else:
        line = _with_scatter(with_scale if u_prior else offset_only, errors, steps, shares, u_prior)
    if not within_limits:
        prior, u_prior = {}, 0.0
    parameters = _with_sources(line, sources, shares, prior, u_prior, instrument, day)
    error = InstrumentError(
        parameters[0],
        parameters[1] if len(parameters) > 1 else Doubtful(0.0, {}),
        pivot,
        u_scatter_mm=line.u_scatter,
        scatter_degrees_of_freedom=line.scatter_dof,
        instrument=instrument,
    )
    return Checked(
        error,
        checks=len(checks),
        shortest_mm=float(references.min()),
        longest_mm=float(references.max()),
        scale_known=len(parameters) > 1,
        within_limits=within_limits,
        agree=line.p >= SIGNIFICANCE,
        p=line.p,
    )


def _with_scatter(
    design: NDArray[Any], errors: NDArray[Any], steps: NDArray[Any], shares: NDArray[Any], u_prior: float
) -> _Line:
    """The fit, with the scatter about it where three checks and more show one beyond the steps."""
    import numpy as np

    line = _solve(design, errors, steps, shares, u_prior)
    if len(errors) < 3 or line.chi2 <= line.dof:
        p = chi2_upper_tail(line.chi2, line.dof) if len(errors) >= 3 else 1.0
        return replace(line, p=p)
    # So much scatter makes chi-square what it should be (Mandel and Paule, in one step).
    stated = steps**2 + (shares**2).sum(axis=1)
    scatter = float(stated.mean()) * line.chi2 / line.dof
    own = np.sqrt(np.maximum(steps**2 + scatter - stated.mean(), steps**2))
    return replace(
        _solve(design, errors, own, shares, u_prior),
        dof=line.dof,
        p=chi2_upper_tail(line.chi2, line.dof),
        u_scatter=sqrt(scatter),
        scatter_dof=line.dof,
        own=own,
    )


def _solve(
    design: NDArray[Any], errors: NDArray[Any], steps: NDArray[Any], shares: NDArray[Any], u_prior: float
) -> _Line:
    import numpy as np

    covariance = np.diag(steps**2) + shares @ shares.T
    weighted = np.linalg.solve(covariance, design)  # V^-1 A
    prior_precision = np.zeros(design.shape[1])
    if u_prior:
        prior_precision[1] = 1 / u_prior**2
    posterior = np.linalg.inv(design.T @ weighted + np.diag(prior_precision))
    weights = posterior @ weighted.T
    parameters = weights @ errors
    residual = errors - design @ parameters
    return _Line(
        parameters,
        weights,
        prior_weight=posterior @ (prior_precision * u_prior),
        u_last=sqrt(float(posterior[-1, -1])),
        own=steps,
        chi2=float(residual @ np.linalg.solve(covariance, residual)),
        dof=len(errors) - float(np.trace(design @ weights)),
    )


def _with_sources(
    line: _Line,
    sources: Sequence[Source],
    shares: NDArray[Any],
    prior: dict[Source, float],
    u_prior: float,
    instrument: str,
    day: str,
) -> list[Doubtful]:
    """The parameters on the references' sources, the prior's, and independent components of the rest."""
    dof = line.scatter_dof
    factor = _cholesky((line.weights * line.own) @ (line.weights * line.own).T)
    # What one check leaves is its step alone.
    distribution: Distribution = "rectangular" if len(line.own) == 1 else "normal" if dof == inf else "t"
    components = [
        Source(kind, instrument, f"{day} checked".strip(), dof, distribution) for kind in ("offset", "scale")
    ]
    from_references = -line.weights @ shares
    numbers = []
    for n, value in enumerate(line.parameters.tolist()):
        sensitivities = dict(zip(sources, from_references[n].tolist(), strict=True))
        for component, s in zip(components, factor[n].tolist(), strict=False):
            sensitivities[component] = s
        for source, u in prior.items():
            sensitivities[source] = float(line.prior_weight[n]) * u / u_prior
        numbers.append(Doubtful(value, {source: s for source, s in sensitivities.items() if s}))
    return numbers


def _cholesky(covariance: NDArray[Any]) -> NDArray[Any]:
    """Lower factor of a 1 x 1 or 2 x 2 covariance that may be singular: one check says nothing of scale."""
    import numpy as np

    factor = np.zeros_like(covariance)
    factor[0, 0] = sqrt(covariance[0, 0])
    if len(covariance) > 1:
        factor[1, 0] = covariance[1, 0] / factor[0, 0]
        factor[1, 1] = sqrt(max(covariance[1, 1] - factor[1, 0] ** 2, 0.0))
    return factor
