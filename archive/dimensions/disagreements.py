"""Readings that do not agree, told to people: which one, how far off, and what would settle it."""

from __future__ import annotations

from collections.abc import Sequence

from archive import wording
from archive.dimensions.observations import Observation
from archive.metrology.agreement import Combined, Doubted
from archive.metrology.coverage import NORMAL_95
from archive.records.things import Reading, Warned


def warnings_of(observations: Sequence[Observation], combined: Combined, quantity: str) -> list[Warned]:
    """Say what does not agree in one size; nothing where all does."""
    warnings = [_odd_repeats(o, quantity) for o in observations if o.odd]
    if combined.doubted:
        warnings.append(_odd_observations(observations, combined.doubted, quantity))
    if combined.outside_data:
        warnings.append(
            Warned(
                "outside-readings",
                "Readings that share most of their doubt have pushed the best figure outside all of them. "
                "One more with another instrument would show whether that is right.",
            )
        )
    return warnings


def _odd_observations(
    observations: Sequence[Observation], doubted: Sequence[Doubted], quantity: str
) -> Warned:
    if len(doubted) == 1:
        odd = doubted[0]
        more = "more" if odd.off_by > 0 else "less"
        half = NORMAL_95 * odd.u
        off = wording.size(quantity, abs(odd.off_by), (abs(odd.off_by) - half, abs(odd.off_by) + half))
        message = (
            f"{_told(observations[odd.index])} does not fit: it says {off} {more} than the other readings "
            "together. Read it once more, or look whether it is another size; the best figure is widened until then."
        )
    elif len(observations) == 2:
        apart = abs(doubted[0].off_by)
        allowed = NORMAL_95 * doubted[0].u
        message = (
            f"{_told(observations[0])} and {_told(observations[1])} do not agree: they are "
            f"{wording.two_figures(quantity, apart)} apart, and their doubts allow {wording.two_figures(quantity, allowed)}. "
            "A third reading, with another instrument if you can, would tell which one is wrong."
        )
    else:
        names = " or ".join(_told(observations[d.index]) for d in doubted)
        message = (
            f"The readings do not agree within their doubts: {names} does not fit, and they are too few to tell "
            "which. One more reading, with another instrument if you can, would tell."
        )
    return Warned("readings-disagree", message)


def _odd_repeats(observation: Observation, quantity: str) -> Warned:
    values = [r.value for r in observation.readings]
    apart = wording.two_figures(quantity, max(values) - min(values))
    names = " or ".join(f"'{r.as_written}'" for r in observation.odd)
    return Warned(
        "repeats-disagree",
        f"The {len(values)} readings with the {observation.readings[0].instrument} lie {apart} apart, more than it "
        f"can be off by: {names} was misread or is another size. Read it once more.",
    )


def _told(observation: Observation) -> str:
    """'2.47 m' (phone), or the first of several repeats."""
    first: Reading = observation.readings[0]
    by = first.instrument or first.rests_on
    several = f", read {len(observation.readings)} times" if len(observation.readings) > 1 else ""
    return f"'{first.as_written}'" + (f" ({by}{several})" if by else "")
