"""What checks say of an instrument: how far off it reads, and how sure that is.

The error of a reading R against a length L known better is e = R - L = a + b (L - Lm)
(JCGM 100:2008, H.3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from archive.errors import CannotEstimate
from archive.metrology.checked import (
    finite_list,
    not_negative,
    positive,
    positive_list,
    refuse_wide,
    same_length,
)
from archive.metrology.coverage import student_t
from archive.metrology.readings import rounding_u_mm


@dataclass(frozen=True, slots=True)
class InstrumentCheck:
    """What checks say, and a new reading corrected by them. Lengths in mm, `b` without unit.

    Fields that so few checks cannot give are None.
    """

    model: str  # 'offset only' or 'offset and scale'
    dof: int
    corrected_mm: float
    u: float
    a_mm: float  # error at the mean reference
    b: float | None = None  # scale error
    u_a_mm: float | None = None
    u_b: float | None = None
    s_mm: float | None = None  # scatter of a single check about the line
    t95: float | None = None
    b_p_value: float | None = None  # two-sided: how often a true b of 0 gives one as large
    U95: float | None = None

    @property
    def error_mm(self) -> float:
        """Error at the mean reference, mm: positive where the instrument reads long."""
        return self.a_mm


def instrument_check(
    reference_mm: Sequence[float],
    reading_mm: Sequence[float],
    u_reference_mm: float,
    resolution_mm: float,
    new_reading_mm: float,
    u_scale: float | None = None,
) -> InstrumentCheck:
    """Fit an instrument's error to its checks and correct one new reading by it.

    Parameters
    ----------
    reference_mm, reading_mm : sequence of float, shape (N,), N >= 1
        Lengths known better, and what the instrument said, mm.
    u_reference_mm : float
        Standard uncertainty of each reference, mm: independent per check for N of 1 and 2, taken as inside
        the scatter for more.
    resolution_mm : float
        The step the instrument is read to, mm; for N of 1 and 2 it counts in each check and in the new
        reading, for more it is inside the scatter.
    new_reading_mm : float
        The reading to correct, mm.
    u_scale : float, optional
        Standard uncertainty of the scale error, from the maker's limit. With one check, which says nothing
        of scale, the doubt then grows away from the checked length. None given, none used.

    Returns
    -------
    InstrumentCheck
        One check: offset only. Two: offset and scale exactly, u from the stated components, 0 degrees of
        freedom. Three and more: both by least squares, u with the scatter of one new reading, and
        U95 = t u with N - 2 degrees of freedom.

    Raises
    ------
    CannotEstimate
        'too-few-points' without a check; 'degenerate-points' if all references are one length (within
        their own u), so that offset and scale cannot be told apart; 'bad-known' for a length not above 0;
        'bad-uncertainty', 'bad-input' as they say; 'doubt-too-large' where u is more than a quarter of
        the corrected length.

    Notes
    -----
    corrected L = (R - a + b Lm)/(1 + b); for N >= 3 u = s sqrt(1 + 1/N + (L - Lm)^2/Sxx)/(1 + b)
    (JCGM 100:2008, H.3).
    """
    references = positive_list("references", reference_mm)
    readings = finite_list("readings", reading_mm)
    same_length("references and readings", references, readings)
    u_reference, u_rounding = (
        not_negative("The u of a reference", u_reference_mm),
        rounding_u_mm(resolution_mm),
    )
    new = positive("The new reading", new_reading_mm, "bad-input")
    n = len(references)
    if n == 0:
        raise CannotEstimate(
            "too-few-points", "There is no check of this instrument yet. Compare it with a known length."
        )
    errors = [reading - reference for reading, reference in zip(readings, references, strict=True)]
    mean, a = sum(references) / n, sum(errors) / n
    if n == 1:
        corrected = new - a
        grown = not_negative("The u of the scale", u_scale or 0.0) * (corrected - mean)
        u = sqrt(2 * u_rounding**2 + u_reference**2 + grown**2)
        refuse_wide(corrected, u)
        return InstrumentCheck("offset only", 0, corrected, u, a)
    if max(references) - min(references) <= u_reference or len(set(references)) == 1:
        raise CannotEstimate(
            "degenerate-points",
            "All the checks were made at one length, so an offset cannot be told from a scale error. "
            "Check the instrument at a second length, well away from the first.",
        )
    sxx = sum((x - mean) ** 2 for x in references)
    b = sum((x - mean) * e for x, e in zip(references, errors, strict=True)) / sxx
    if b <= -1:
        raise CannotEstimate(
            "degenerate-points",
            "By these checks a longer length reads shorter, so no reading can be corrected by them.",
        )
    corrected = (new - a + b * mean) / (1 + b)
    if n == 2:
        # Each check weighs in the corrected length by its part of the line through both.
        parts = [1 / n + (corrected - mean) * (x - mean) / sxx for x in references]
        # A reference moves the line by its error, a step by the reading: both enter as e = R - L does,
        # the reference with the slope of the line as well.
        u = sqrt(
            u_rounding**2 + sum((p * u_rounding) ** 2 + (p * (1 + b) * u_reference) ** 2 for p in parts)
        ) / (1 + b)
        refuse_wide(corrected, u)
        return InstrumentCheck("offset and scale", 0, corrected, u, a, b)
    dof = n - 2
    s = sqrt(sum((e - a - b * (x - mean)) ** 2 for x, e in zip(references, errors, strict=True)) / dof)
    u_a, u_b = s / sqrt(n), s / sqrt(sxx)
    u = s * sqrt(1 + 1 / n + (corrected - mean) ** 2 / sxx) / (1 + b)
    t95 = student_t(dof)
    refuse_wide(corrected, u)
    return InstrumentCheck(
        "offset and scale", dof, corrected, u, a, b, u_a, u_b, s, t95, _two_sided_p(b, u_b, dof), t95 * u
    )


def _two_sided_p(number: float, u: float, dof: int) -> float:
    """How often chance alone gives a Student ratio as large as number/u, either way."""
    from scipy.special import stdtr

    ratio = abs(number) / u if u else (inf if number else 0.0)
    return float(2 * stdtr(dof, -ratio))
