"""From what was read to a number with its doubt: the step of the digits, a written ±, the instrument.

Nothing here rounds or corrects silently: the reading stays as it was written, and what the
instrument adds or takes away comes with its sources.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, sqrt

from archive.metrology.checked import finite, finite_list, fraction, not_negative, refuse_wide
from archive.metrology.coverage import normal_quantile, student_t, truncated
from archive.metrology.sources import Doubtful, Source, linear


def rounding_u_mm(resolution_mm: float) -> float:
    """Standard uncertainty of rounding to the nearest step, mm (JCGM 100:2008, F.2.2.1)."""
    return not_negative("The resolution", resolution_mm) / sqrt(12)


def limit_u_mm(half_width_mm: float) -> float:
    """Standard uncertainty of a stated limit ± a without more, mm (JCGM 100:2008, 4.3.7)."""
    return not_negative("A limit", half_width_mm) / sqrt(3)


@dataclass(frozen=True, slots=True)
class Limits:
    """What is promised of an instrument: its error stays within ± (constant_mm + per_mm * length)."""

    constant_mm: float
    per_mm: float = 0.0

    def __post_init__(self) -> None:
        not_negative("A limit", self.constant_mm)
        not_negative("A limit", self.per_mm)

    def at_mm(self, length_mm: float) -> float:
        """Half-width at a length, mm."""
        return self.constant_mm + self.per_mm * abs(length_mm)


@dataclass(frozen=True, slots=True)
class InstrumentError:
    """What is known of an instrument's error: reading - true length = offset + scale * (length - pivot_mm).

    `offset_mm` is in mm, `scale` without unit. Every reading that is corrected with one
    `InstrumentError` leans on the same sources, so the common error does not average away. What each
    reading scatters by itself is `u_scatter_mm`; as the step already shows in it, the larger of both counts.
    """

    offset_mm: Doubtful
    scale: Doubtful
    pivot_mm: float = 0.0
    u_scatter_mm: float = 0.0
    scatter_degrees_of_freedom: float = inf
    instrument: str = ""  # its public id, whose estimate the scatter is

    def at_mm(self, length_mm: float) -> Doubtful:
        """The error at a length, mm: positive where the instrument reads long."""
        return linear([(1.0, self.offset_mm), (length_mm - self.pivot_mm, self.scale)])

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
    component: str = "",
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
    of_record, component : str
        Public id of the reading, whose rounding is its own; and which of several positions in it.
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
    finite("A reading", value_mm)
    if tolerance_mm is not None:
        kind, half_width = "written limit", tolerance_mm
    elif approximate:
        kind, half_width = "about", resolution_mm or 0.0
    else:
        kind, half_width = "rounding", (resolution_mm or 0.0) / 2
    own = _single(Source(kind, of_record, component, distribution="rectangular"), half_width)
    if instrument is None:
        return Doubtful(value_mm, own)
    if instrument.u_scatter_mm > limit_u_mm(half_width):
        dof = instrument.scatter_degrees_of_freedom
        which = f"{of_record} {component}".strip()
        scatter = Source("scatter", instrument.instrument, which, dof, "normal" if dof == inf else "t")
        own = {scatter: instrument.u_scatter_mm}
    return instrument.correct(Doubtful(value_mm, own))


@dataclass(frozen=True, slots=True)
class RepeatedReadings:
    """What several readings with one instrument say. Lengths in mm; `dof_eff` None means infinite."""

    mean_mm: float
    s_mm: float | None  # scatter of a single reading; None with one reading
    u_typeA_mm: float | None  # noqa: N815 (Type A is the standard's own name)
    u_resolution_mm: float
    u_instrument_mm: float
    u: float
    dof_eff: float | None  # Welch-Satterthwaite, not truncated
    k: float  # with `dof_eff` truncated
    U: float


def repeated_readings(
    readings_mm: Sequence[float],
    resolution_mm: float,
    instrument_mpe_mm: float = 0.0,
    coverage: float = 0.95,
) -> RepeatedReadings:
    """Readings of one size with one instrument: their mean, and how far to trust it.

    Parameters
    ----------
    readings_mm : sequence of float, shape (N,), N >= 1
    resolution_mm : float
        The step read to, mm.
    instrument_mpe_mm : float
        The instrument's limit, half-width of a rectangle, mm, common to all readings.
    coverage : float
        Of the expanded uncertainty U = k u; between 0 and 1.

    Returns
    -------
    RepeatedReadings

    Raises
    ------
    CannotEstimate
        'too-few-points' without a reading; 'bad-input' for what is no number or a coverage outside (0, 1);
        'bad-uncertainty' for a negative step or limit; 'doubt-too-large' where u is more than a quarter
        of the mean.

    Notes
    -----
    The larger of s/sqrt N (Type A, N - 1 degrees of freedom) and step/sqrt 12, not both: the step already
    shows in the scatter, and equal readings do not mean no doubt. JCGM 100:2008, 4.2, F.2.2.1 and G.4.
    """
    values = finite_list("readings", readings_mm, at_least=1)
    u_resolution, u_instrument = rounding_u_mm(resolution_mm), limit_u_mm(instrument_mpe_mm)
    fraction("The coverage", coverage)
    n = len(values)
    mean, s, by_scatter, u_reading = _mean_and_u(values, resolution_mm)
    u_type_a = None if s is None else s / sqrt(n)
    u = sqrt(u_reading**2 + u_instrument**2)
    dof_eff = (n - 1) * (u / u_reading) ** 4 if by_scatter else None
    k = normal_quantile(coverage) if dof_eff is None else student_t(truncated(dof_eff), coverage)
    refuse_wide(mean, u)
    return RepeatedReadings(mean, s, u_type_a, u_resolution, u_instrument, u, dof_eff, k, k * u)


@dataclass(frozen=True, slots=True)
class Repeats:
    """Repeated readings of one size with one instrument, taken together."""

    result: Doubtful
    s_mm: float | None
    agree: bool
    doubted: tuple[int, ...]  # one if it can be placed, several if it can only be seen


def repeats(
    values_mm: Sequence[float],
    *,
    of_record: str,
    resolution_mm: float,
    instrument: InstrumentError | None = None,
    limits: Limits | None = None,
) -> Repeats:
    """Readings of one size with one instrument, as one number that other readings can be combined with.

    Parameters
    ----------
    values_mm : sequence of float, shape (N,), N >= 1
    of_record : str
        Public id of what was repeated, whose scatter is its own.
    resolution_mm : float
        The step that all were read to, mm.
    instrument : InstrumentError, optional
        What is known of the instrument; common to all, so it does not average away.
    limits : Limits, optional
        The instrument's limits: two readings further apart than these and the step allow disagree.
        None given, no reading is doubted.

    Returns
    -------
    Repeats
        The mean. Its own doubt is the scatter's ('repeats', Student t) or the step's ('rounding'),
        the larger, as in `repeated_readings`; where they disagree, a blunder and not the scatter is the
        cause, and the scatter of the mean is carried as 'disagreement'.
    """
    mean, s, by_scatter, u = _mean_and_u(finite_list("readings", values_mm, at_least=1), resolution_mm)
    doubted = _doubted_repeats(values_mm, mean, resolution_mm + 2 * limits.at_mm(mean)) if limits else ()
    if not by_scatter:
        source = Source("rounding", of_record, "repeats", distribution="rectangular")
    elif doubted:
        source = Source("disagreement", of_record, "repeats")
    else:
        source = Source("repeats", of_record, "repeats", len(values_mm) - 1, "t")
    own = Doubtful(mean, {source: u} if u else {})
    return Repeats(instrument.correct(own) if instrument else own, s, not doubted, doubted)


def _mean_and_u(values: Sequence[float], resolution_mm: float) -> tuple[float, float | None, bool, float]:
    """Mean, scatter of one (None for one), whether the scatter decides, and the u of the mean (Type A or step)."""
    n, u_resolution = len(values), rounding_u_mm(resolution_mm)
    mean = sum(values) / n
    if n == 1:
        return mean, None, False, u_resolution
    s = sqrt(sum((v - mean) ** 2 for v in values) / (n - 1))
    by_scatter = s > 0 and s / sqrt(n) >= u_resolution
    return mean, s, by_scatter, s / sqrt(n) if by_scatter else u_resolution


def _doubted_repeats(values: Sequence[float], mean: float, allowed: float) -> tuple[int, ...]:
    if max(values) - min(values) <= allowed * (1 + 1e-9):
        return ()
    furthest = max(abs(v - mean) for v in values) * (1 - 1e-9)
    return tuple(n for n, v in enumerate(values) if abs(v - mean) >= furthest)


def _single(source: Source, half_width: float) -> dict[Source, float]:
    u = limit_u_mm(half_width)
    return {source: u} if u else {}
