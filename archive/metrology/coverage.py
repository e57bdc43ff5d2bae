"""From a standard uncertainty to an interval that holds the truth 95 times in 100.

A rectangle is narrower than a normal of the same u, a mean of few repeats wider: one factor for both
cases would promise too much here and too little there.
"""

from __future__ import annotations

from functools import lru_cache
from math import floor, inf, sqrt
from statistics import NormalDist

from archive.metrology.sources import Doubtful

# Excess kurtosis of the bounded distributions; a normal has none.
_EXCESS_KURTOSIS = {"rectangular": -1.2, "triangular": -0.6}


@lru_cache(16)
def normal_quantile(coverage: float) -> float:
    """Half-width in u of the symmetric interval of a normal, for a coverage in (0, 1)."""
    return NormalDist().inv_cdf((1 + coverage) / 2)


NORMAL_95 = normal_quantile(0.95)


def student_t(degrees_of_freedom: float, coverage: float = 0.95) -> float:
    """Two-sided Student factor; infinite degrees of freedom give the normal one (JCGM 100:2008, G.3)."""
    if degrees_of_freedom == inf:
        return normal_quantile(coverage)
    from scipy.special import stdtrit

    return float(stdtrit(degrees_of_freedom, (1 + coverage) / 2))


def effective_degrees_of_freedom(number: Doubtful) -> float:
    """Welch-Satterthwaite over the independent sources, not truncated; inf where none is finite.

    JCGM 100:2008, G.4.1. Sources of one record with finite degrees of freedom rest on one estimate of
    scatter, which is off for all of them at once: their variances are added before they are squared.
    """
    estimated: dict[str, float] = {}
    for source, s in number.sensitivities.items():
        if source.degrees_of_freedom < inf:
            part = s * s / sqrt(source.degrees_of_freedom)
            estimated[source.of_record] = estimated.get(source.of_record, 0.0) + part
    loss = sum(part * part for part in estimated.values())
    return number.standard_uncertainty**4 / loss if loss > 0 else inf


def truncated(degrees_of_freedom: float) -> float:
    """Degrees of freedom cut down to a whole number, inf as it is (JCGM 100:2008, G.4.1)."""
    if degrees_of_freedom == inf:
        return inf
    # A single source of 4 degrees must not come out as 3.9999999 and be cut down to 3.
    return float(floor(degrees_of_freedom * (1 + 1e-9)))


def coverage_factor_95(number: Doubtful) -> float:
    """Half-width of the 95 % interval in standard uncertainties, no unit.

    Finite degrees of freedom widen it by Student's t with the truncated Welch-Satterthwaite degrees
    (JCGM 100:2008, G.4.2). Rectangles and triangles narrow it by the excess kurtosis of the sum,
    along the cubic through the exact factors of one rectangle (0.95 sqrt 3), of two equal ones
    (sqrt 6 (1 - sqrt 0.05)) and of a normal: against exact convolution of up to four rectangles and
    a normal it is never short by 0.2 % of coverage, and never wider by 3 %.
    """
    factor = student_t(truncated(effective_degrees_of_freedom(number)))
    variance = number.standard_uncertainty**2
    if variance == 0:
        return factor
    excess = sum(
        _EXCESS_KURTOSIS.get(source.distribution, 0.0) * (s * s / variance) ** 2
        for source, s in number.sensitivities.items()
    )
    return factor + 0.0415 * excess + 0.1532 * excess**3


def interval_95(number: Doubtful) -> tuple[float, float]:
    """The 95 % interval (low, high) about the value, in the value's unit."""
    half_width = coverage_factor_95(number) * number.standard_uncertainty
    return number.value - half_width, number.value + half_width
