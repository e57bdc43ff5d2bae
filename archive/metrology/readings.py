"""From what was read to a number with its doubt: the step of the digits, a written ±, the instrument.

Nothing here rounds or corrects silently: the reading stays as it was written, and what the
instrument adds or takes away comes with its sources.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, sqrt

from archive.errors import CannotEstimate
from archive.metrology.sources import Doubtful, Source


def rounding_u_mm(resolution_mm: float) -> float:
    """Standard uncertainty of rounding to the nearest step, mm (JCGM 100:2008, F.2.2.1)."""
    return _not_negative("The resolution", resolution_mm) / sqrt(12)


def limit_u_mm(half_width_mm: float) -> float:
    """Standard uncertainty of a stated limit ± a without more, mm (JCGM 100:2008, 4.3.7)."""
    return _not_negative("A limit", half_width_mm) / sqrt(3)


@dataclass(frozen=True, slots=True)
class Limits:
    """What is promised of an instrument: its error stays within ± (constant_mm + per_mm * length)."""

    constant_mm: float
    per_mm: float = 0.0

    def __post_init__(self) -> None:
        _not_negative("A limit", self.constant_mm)
        _not_negative("A limit", self.per_mm)

    def at_mm(self, length_mm: float) -> float:
        """Half-width at a length, mm."""
        return self.constant_mm + self.per_mm * abs(length_mm)


@dataclass(frozen=True, slots=True)
class InstrumentError:
    """What is known of an instrument's error: reading - true length = offset + scale * (length - pivot_mm).

    `offset_mm` is in mm, `scale` without unit. Every reading that is corrected with one
    `InstrumentError` leans on the same sources, so the common error does not average away.
    """

    offset_mm: Doubtful
    scale: Doubtful
    pivot_mm: float = 0.0

    def correct(self, reading_mm: Doubtful) -> Doubtful:
        """The length behind a reading, mm: (reading - offset + scale * pivot) / (1 + scale)."""
        a, b, pivot = self.offset_mm, self.scale, self.pivot_mm
        length = (reading_mm.value - a.value + b.value * pivot) / (1 + b.value)
        sensitivities: dict[Source, float] = {}
        for number, factor in ((reading_mm, 1.0), (a, -1.0), (b, pivot - length)):
            for source, s in number.sensitivities.items():
                sensitivities[source] = sensitivities.get(source, 0.0) + factor * s / (1 + b.value)
        return Doubtful(length, {source: s for source, s in sensitivities.items() if s})


def unchecked(limits: Limits, instrument: str, day: str = "") -> InstrumentError:
    """What an instrument may be off by when only its limits are known.

    Parameters
    ----------
    limits : Limits
        The maker's limits, or a first guess for the kind of instrument.
    instrument : str
        Its public id: all readings of a steady instrument share these sources.
    day : str
        For a changing instrument, the day: each day then has an error of its own.

    Returns
    -------
    InstrumentError
        Offset 0 and scale 0, each rectangular between its limits, u = a/sqrt 3 (JCGM 100:2008, 4.3.7).
    """
    return InstrumentError(
        Doubtful(
            0.0, _single(Source("offset", instrument, day, distribution="rectangular"), limits.constant_mm)
        ),
        Doubtful(0.0, _single(Source("scale", instrument, day, distribution="rectangular"), limits.per_mm)),
    )


def reading(
    value_mm: float,
    *,
    of_record: str,
    resolution_mm: float | None = None,
    tolerance_mm: float | None = None,
    approximate: bool = False,
    instrument: InstrumentError | None = None,
) -> Doubtful:
    """One reading of one size, with its doubt.

    Parameters
    ----------
    value_mm : float
        As read, mm on the real thing (or without unit, for a count).
    of_record : str
        Public id of the reading, whose rounding is its own.
    resolution_mm : float, optional
        The step read to, mm; none or 0 means that nothing was rounded (a count, a hooked zero).
    tolerance_mm : float, optional
        Half-width of a written '± a', mm. It replaces the step: whoever writes it has thought of both.
    approximate : bool
        'about': without a written ±, the value is good to one step either way.
    instrument : InstrumentError, optional
        What is known of the instrument, from `unchecked` or from its checks.

    Returns
    -------
    Doubtful
        The corrected length and its sources: 'rounding', 'written limit' or 'about' of the reading,
        all rectangular, and those of the instrument, mm.

    Raises
    ------
    CannotEstimate
        'bad-input' if the value is not a number, 'bad-uncertainty' if a step or limit is negative.
    """
    if not isfinite(value_mm):
        raise CannotEstimate("bad-input", f"A reading must be a number, and {value_mm} is none.")
    if tolerance_mm is not None:
        kind, half_width = "written limit", tolerance_mm
    elif approximate:
        kind, half_width = "about", resolution_mm or 0.0
    else:
        kind, half_width = "rounding", (resolution_mm or 0.0) / 2
    as_read = Doubtful(value_mm, _single(Source(kind, of_record, distribution="rectangular"), half_width))
    return instrument.correct(as_read) if instrument else as_read


def _single(source: Source, half_width: float) -> dict[Source, float]:
    u = limit_u_mm(half_width)
    return {source: u} if u else {}


def _not_negative(what: str, number: float) -> float:
    if not (isfinite(number) and number >= 0):
        raise CannotEstimate("bad-uncertainty", f"{what} must be 0 or more, and {number} was given.")
    return number
