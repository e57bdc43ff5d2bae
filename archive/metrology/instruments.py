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
    if not references:
        raise CannotEstimate(
            "too-few-points", "There is no check of this instrument yet. Compare it with a known length."
        )
    errors = [reading - reference for reading, reference in zip(readings, references, strict=True)]
    if len(references) == 1:
        grown = not_negative("The u of the scale", u_scale or 0.0) * (new - errors[0] - references[0])
        answer = InstrumentCheck(
            "offset only", 0, new - errors[0], sqrt(2 * u_rounding**2 + u_reference**2 + grown**2), errors[0]
        )
    else:
        line = _line_through(references, errors, u_reference)
        if len(references) == 2:
            answer = _by_stated_doubts(line, new, u_reference, u_rounding)
        else:
            answer = _by_scatter(line, new)
    refuse_wide(answer.corrected_mm, answer.u)
    return answer


@dataclass(frozen=True, slots=True)
class _Line:
    """Errors against references, e = a + b (L - mean), by least squares; mm, b without unit."""

    references: Sequence[float]
    errors: Sequence[float]
    mean: float
    a: float
    b: float
    sxx: float

    def corrected(self, reading: float) -> float:
        return (reading - self.a + self.b * self.mean) / (1 + self.b)


def _line_through(references: Sequence[float], errors: Sequence[float], u_reference: float) -> _Line:
    if max(references) - min(references) <= u_reference or len(set(references)) == 1:
        raise CannotEstimate(
            "degenerate-points",
            "All the checks were made at one length, so an offset cannot be told from a scale error. "
            "Check the instrument at a second length, well away from the first.",
        )
    mean = sum(references) / len(references)
    sxx = sum((x - mean) ** 2 for x in references)
    b = sum((x - mean) * e for x, e in zip(references, errors, strict=True)) / sxx
    if b <= -1:
        raise CannotEstimate(
            "degenerate-points",
            "By these checks a longer length reads shorter, so no reading can be corrected by them.",
        )
    return _Line(references, errors, mean, sum(errors) / len(errors), b, sxx)


def _by_stated_doubts(line: _Line, new: float, u_reference: float, u_rounding: float) -> InstrumentCheck:
    """Two checks leave no scatter: u from the steps and the references, propagated through the line."""
    corrected, slope = line.corrected(new), 1 + line.b
    # Each check weighs in the corrected length by its part of the line through both.
    parts = [1 / 2 + (corrected - line.mean) * (x - line.mean) / line.sxx for x in line.references]
    # A reference moves the line by its error, a step by the reading: both enter as e = R - L does,
    # the reference with the slope of the line as well.
    moved = sum((p * u_rounding) ** 2 + (p * slope * u_reference) ** 2 for p in parts)
    return InstrumentCheck(
        "offset and scale", 0, corrected, sqrt(u_rounding**2 + moved) / slope, line.a, line.b
    )


def _by_scatter(line: _Line, new: float) -> InstrumentCheck:
    """Three checks and more: u with the scatter about the line, of one new reading."""
    n, corrected = len(line.references), line.corrected(new)
    dof = n - 2
    residuals = [
        e - line.a - line.b * (x - line.mean) for x, e in zip(line.references, line.errors, strict=True)
    ]
    s = sqrt(sum(r * r for r in residuals) / dof)
    u_a, u_b = s / sqrt(n), s / sqrt(line.sxx)
    u = s * sqrt(1 + 1 / n + (corrected - line.mean) ** 2 / line.sxx) / (1 + line.b)
    t95 = student_t(dof)
    return InstrumentCheck(
        model="offset and scale",
        dof=dof,
        corrected_mm=corrected,
        u=u,
        a_mm=line.a,
        b=line.b,
        u_a_mm=u_a,
        u_b=u_b,
        s_mm=s,
        t95=t95,
        b_p_value=_two_sided_p(line.b, u_b, dof),
        U95=t95 * u,
    )


def _two_sided_p(number: float, u: float, dof: int) -> float:
    """How often chance alone gives a Student ratio as large as number/u, either way."""
    from scipy.special import stdtr

    ratio = abs(number) / u if u else (inf if number else 0.0)
    return float(2 * stdtr(dof, -ratio))
