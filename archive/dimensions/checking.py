"""Checks of instruments as use cases: writing one down, and what all of them say of an instrument."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from archive import wording
from archive.dimensions.estimates import recompute
from archive.dimensions.observations import no_drawing_scale
from archive.dimensions.trust import SOME_DAY, Tools
from archive.errors import NotAccepted
from archive.lengths import WrittenLength, parse_length
from archive.metrology.checks import Checked, DayToDay, Verdict, verdict
from archive.metrology.coverage import NORMAL_95, coverage_factor_95
from archive.metrology.instrument_kinds import InstrumentKind
from archive.records import checks, instruments, sizes, visits
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.entering import parse_day
from archive.records.things import Check, Dimension, Instrument, Warned
from archive.scales import Scale

_POINTS = 41  # of the curve in a plot
_APART = 1.2  # lengths that differ by less than this factor are one place on the tape
_USUAL_MM = 1000.0  # where an instrument is judged that was checked nowhere


@dataclass(frozen=True, slots=True)
class Judged:
    """How an instrument reads near a length, on a day (None: on all days), in numbers and in a sentence."""

    day: str | None
    near_mm: float
    error_mm: float
    half_width_mm: float
    sentence: str


@dataclass(frozen=True, slots=True)
class InstrumentSheet:
    """What is known of an instrument. `curve` has (length, error, half-width of 95 %), all mm, for a plot."""

    instrument: Instrument
    checks: tuple[Check, ...]
    verdict: tuple[Judged, ...]
    curve: tuple[tuple[float, float, float], ...]
    warnings: tuple[Warned, ...]


@dataclass(frozen=True, slots=True)
class CheckNoted:
    """What a check did: the instrument as it is known now, and the sizes that were worked out anew."""

    sheet: InstrumentSheet
    check: Check
    sizes: tuple[Dimension, ...]


def check_instrument(
    archive: Archive,
    instrument: str,
    *,
    reference: str,
    reading: str,
    on: str | None = None,
    visit: str | None = None,
    at: Scale | None = None,
) -> CheckNoted:
    """Write down what an instrument read of a length known better, and work out anew all sizes that it took.

    Raises
    ------
    LengthNotUnderstood, RecordNotFound, NotAccepted
        Nothing is saved then; a changing instrument needs the day of the check.
    """
    known, read = _length(reference), _length(reading)
    with archive.change() as writer:
        tool = instruments.instrument_named(writer, instrument)
        writer.sentence = f"Checked the {tool.name}: it read {reading} of {reference}"
        trip = visits.visit_named(writer, visit) if visit else None
        one_day = trip.first_day if trip and trip.first_day == trip.last_day else None
        day = parse_day(on) if on else one_day
        if day is None and not tool.steady:
            raise NotAccepted(
                f"The error of the {tool.name} differs from day to day, and it was not said when it was checked",
                "Say the day with --on, such as --on 2023-06-17: the check serves the readings of that day.",
            )
        checks.add_check(writer, tool, known, read, day=day, visit=trip)
        taken = sizes.dimensions_taken_with(writer, tool)
        recompute(writer, taken)
        sheet = _sheet(writer, tool, at)
    return CheckNoted(sheet, sheet.checks[-1], tuple(taken))


def instrument_sheet(archive: Archive, instrument: str, *, at: Scale | None = None) -> InstrumentSheet:
    """Return what is known of the instrument of this name or id; raises `RecordNotFound`."""
    with archive.look() as look:
        return _sheet(look, instruments.instrument_named(look, instrument), at)


def _length(as_written: str) -> WrittenLength:
    written = parse_length(as_written)
    if written.value_mm <= 0:
        raise NotAccepted(
            f"'{as_written}' is no length to check by", "Check at a length that you would measure."
        )
    return written


def _sheet(look: Look, instrument: Instrument, at: Scale | None) -> InstrumentSheet:
    tools = Tools(look)
    made = tools.checks_of(instrument)
    longest = max((c.reference_mm for c in made), default=_USUAL_MM)
    judged = _verdict(tools, instrument, made, at)
    return InstrumentSheet(
        instrument,
        tuple(made),
        tuple(judged),
        _curve(tools, instrument, longest),
        _warnings(tools, instrument),
    )


def _verdict(tools: Tools, instrument: Instrument, made: list[Check], at: Scale | None) -> list[Judged]:
    if not made:
        return _unchecked(tools, instrument, at)
    if instrument.steady:
        known = tools.known_of(instrument, None)
        return [_judged(each, None, "It ", at) for each in _at_checked_lengths(known, made)]
    by_day = groupby(sorted(made, key=_day_of), key=_day_of)
    days = [(day, list(of_day)) for day, of_day in by_day]
    judged = [
        _judged(each, day, f"On {day} it ", at)
        for day, of_day in days
        for each in _at_checked_lengths(tools.known_of(instrument, day), of_day)
    ]
    return [*judged, _on_other_days(tools.between_days(instrument), made, at)]


def _at_checked_lengths(known: Checked | None, made: list[Check]) -> list[Verdict]:
    """In the middle of what was checked, or at both ends where these lie apart."""
    if known is None:
        return []
    shortest, longest = min(c.reference_mm for c in made), max(c.reference_mm for c in made)
    if longest < _APART * shortest:
        return [verdict(known)]
    return [verdict(known, shortest), verdict(known, longest)]


def _judged(found: Verdict, day: str | None, start: str, at: Scale | None) -> Judged:
    said = wording.reads(found.error_mm, found.half_width_mm, found.near_mm, at)
    return Judged(day, found.near_mm, found.error_mm, found.half_width_mm, f"{start}{said}.")


def _unchecked(tools: Tools, instrument: Instrument, at: Scale | None) -> list[Judged]:
    limits, known = tools.limits_of(instrument), tools.known_of(instrument, None)
    if limits is None or known is None:
        return []
    found = verdict(known, _USUAL_MM)
    whose = (
        "its stated limit"
        if instrument.limit_constant_mm is not None
        else _of_kind(tools.kind_of(instrument))
    )
    said = f"It is unchecked. By {whose} it may be off by {_shown(limits.at_mm(_USUAL_MM), at)} at 1 m, either way."
    return [Judged(None, _USUAL_MM, 0.0, found.half_width_mm, said)]


def _of_kind(kind: InstrumentKind | None) -> str:
    return f"what is usual for a {kind.id} ({kind.why})" if kind else "what is usual"


def _on_other_days(spread: DayToDay, made: list[Check], at: Scale | None) -> Judged:
    near = sum(c.reference_mm for c in made) / len(made)
    half = NORMAL_95 * (spread.offset_mm**2 + (spread.scale * near) ** 2) ** 0.5
    many = wording.counted(spread.days, "day was", "days were")
    if not half:
        said = f"{many} checked, which does not say how much other days differ. Give it a limit, or check on another day."
    else:
        said = (
            f"{many} checked. On another day it may be off by {_shown(half, at)} near {_about(near)}, "
            "either way: its error differs from day to day, so a check corrects the readings of its own day only."
        )
    return Judged(None, near, 0.0, half, said)


def _shown(length_mm: float, at: Scale | None) -> str:
    figure = wording.two_figures("length", length_mm)
    if at is None:
        return figure
    return f"{figure} ({wording.two_figures('length', at.model_mm(length_mm))} at {at.text})"


def _about(length_mm: float) -> str:
    return f"{length_mm / 1000:.1f} m" if length_mm >= 1000 else f"{length_mm:.0f} mm"


def _day_of(check: Check) -> str:
    return check.taken_on or SOME_DAY


def _curve(tools: Tools, instrument: Instrument, longest: float) -> tuple[tuple[float, float, float], ...]:
    """The error along the lengths; of a changing instrument, what any day without a check may have."""
    lengths = [1.1 * longest * n / (_POINTS - 1) for n in range(_POINTS)]
    if not instrument.steady and tools.checks_of(instrument):
        spread = tools.between_days(instrument)
        return tuple(
            (x, 0.0, NORMAL_95 * (spread.offset_mm**2 + (spread.scale * x) ** 2) ** 0.5) for x in lengths
        )
    known = tools.known_of(instrument, None)
    if known is None:
        return ()
    errors = [known.error.at_mm(x) for x in lengths]
    # Whole degrees of freedom would put a step into the band: the widest factor serves all of it.
    factor = max(coverage_factor_95(error) for error in errors)
    return tuple(
        (x, error.value, factor * error.standard_uncertainty)
        for x, error in zip(lengths, errors, strict=True)
    )


def _blamed(odd: Check | None) -> str:
    if odd is None:
        return "one may be misread, or it does not read alike each time. Check it once more."
    return (
        f"without '{odd.reading_as_written}' of {odd.reference_as_written} the others agree, so that one may be "
        f"misread. Check it once more there, or take that one away: rivetbook instrument remove-check {odd.id}."
    )


def _warnings(tools: Tools, instrument: Instrument) -> tuple[Warned, ...]:
    made = tools.checks_of(instrument)
    if not made and tools.lacks_scale(instrument):
        return (no_drawing_scale(instrument),)
    days = [None] if instrument.steady else sorted({_day_of(check) for check in made})
    found: dict[str, Warned] = {}
    for day in days if made else ():
        known = tools.known_of(instrument, day)
        if known is None:
            continue
        if not known.agree:
            found["checks-disagree"] = Warned(
                "checks-disagree",
                "The checks scatter more than their steps and references allow: "
                f"{_blamed(tools.misfit_among_checks(instrument, day))} "
                "Until then its scatter is counted in every reading.",
            )
        if not known.within_limits:
            found["beyond-limits"] = Warned(
                "beyond-limits",
                "By the checks its error grows with the length by more than its limit allows; the checks were believed.",
            )
        if not known.scale_known:
            found["one-length-checked"] = Warned(
                "one-length-checked",
                f"It was checked near {_about(known.error.pivot_mm)} only and has no limit, so nothing is known of it "
                "at other lengths. Check it at a second length, or give it a limit.",
            )
    return tuple(found.values())
