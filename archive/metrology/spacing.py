"""Counted things at an even spacing: 34 courses, of which 8 were measured."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from archive.errors import CannotEstimate
from archive.metrology.checked import not_negative, positive, refuse_wide
from archive.metrology.sources import Doubtful, Source


@dataclass(frozen=True, slots=True)
class CountTimesSpacing:
    """The length of counted spacings, mm, and the one spacing that was measured, mm."""

    value: float
    u: float
    spacing_mm: float
    u_spacing_mm: float  # of the measured mean; the unevenness of the single ones is not in it


def count_times_spacing(
    count: float,
    measured_count: float,
    measured_mm: float,
    u_measured_mm: float = 0.0,
    u_count: float = 0.0,
    u_each_mm: float = 0.0,
    measured_among_counted: bool = True,
) -> CountTimesSpacing:
    """Length of `count` even spacings from the length of some of them.

    Parameters
    ----------
    count, u_count : float
        How many spacings are asked for, and the standard uncertainty of that count.
    measured_count : float
        How many spacings were measured over; more than 0.
    measured_mm, u_measured_mm : float
        The length over them and its standard uncertainty, mm.
    u_each_mm : float
        How far each single spacing departs from the common one, standard deviation, mm.
    measured_among_counted : bool
        Whether the measured spacings are some of those asked for.

    Returns
    -------
    CountTimesSpacing

    Raises
    ------
    CannotEstimate
        'bad-known' for a count or length that is not above 0; 'bad-uncertainty' for a negative u;
        'bad-input' for more measured than counted; 'doubt-too-large' where u is more than a quarter
        of the value.

    Notes
    -----
    value = n M/k; u^2 = (n/k)^2 u_M^2 + (M/k)^2 u_n^2 + G u_each^2, with G = n(n - k)/k when the k are
    among the n, else n + n^2/k (JCGM 100:2008, 5.1, each single departure being one source).
    """
    n, k = positive("The count", count), positive("The number of spacings measured over", measured_count)
    length = positive("The measured length", measured_mm)
    u_length, u_n = not_negative("An uncertainty", u_measured_mm), not_negative("An uncertainty", u_count)
    u_each = not_negative("The unevenness", u_each_mm)
    gain = _unevenness_gain(n, k, measured_among_counted)
    value = n * length / k
    u = sqrt((n / k * u_length) ** 2 + (length / k * u_n) ** 2 + gain * u_each**2)
    refuse_wide(value, u)
    return CountTimesSpacing(value, u, length / k, u_length / k)


def counted_length(
    count: Doubtful,
    measured_count: float,
    measured: Doubtful,
    *,
    of_record: str,
    u_each_mm: float = 0.0,
    measured_among_counted: bool = True,
) -> Doubtful:
    """As `count_times_spacing`, with the sources of the count and of the measured length kept, mm.

    The unevenness of the single spacings is a source 'unevenness' of `of_record`.
    """
    n, k = (
        positive("The count", count.value),
        positive("The number of spacings measured over", measured_count),
    )
    positive("The measured length", measured.value)
    gain = _unevenness_gain(n, k, measured_among_counted)
    sensitivities: dict[Source, float] = {}
    for number, factor in ((measured, n / k), (count, measured.value / k)):
        for source, s in number.sensitivities.items():
            sensitivities[source] = sensitivities.get(source, 0.0) + factor * s
    uneven = sqrt(gain) * not_negative("The unevenness", u_each_mm)
    if uneven:
        sensitivities[Source("unevenness", of_record)] = uneven
    return Doubtful(n * measured.value / k, sensitivities)


def _unevenness_gain(n: float, k: float, among: bool) -> float:
    if among and k > n:
        raise CannotEstimate(
            "bad-input",
            f"{k:g} spacings were measured, and only {n:g} are counted: the one is not a part of the other.",
        )
    return n * (n - k) / k if among else n + n * n / k
