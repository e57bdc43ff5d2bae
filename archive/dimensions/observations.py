"""From the readings of a size to independent observations of it, each with everything that it leans on.

Readings with one instrument, to one step, on one day are repeats: their rounding and the instrument's
error do not average away, so they count together as one observation.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass

from archive.dimensions.trust import Tools
from archive.metrology.readings import limit_u_mm, repeats
from archive.metrology.readings import reading as read
from archive.metrology.sources import Doubtful, Source
from archive.records.things import Instrument, Reading, Warned

# Guesses and sister examples count only where nothing else is known.
GUESSED, FROM_A_SISTER = "guessed", "from a sister"
_LAST_RESORTS = (GUESSED, FROM_A_SISTER)


@dataclass(frozen=True, slots=True)
class Observation:
    """One reading, or several repeats taken together; `odd` are those of them that do not fit among themselves."""

    readings: tuple[Reading, ...]
    known: Doubtful
    odd: tuple[Reading, ...] = ()


def usable(readings: Sequence[Reading]) -> list[Reading]:
    """Return the readings that count: not replaced, not set aside, guesses only where nothing else is."""
    standing = [r for r in readings if r.stands]
    firm = [r for r in standing if r.grade not in _LAST_RESORTS]
    return firm or standing


def observations_of(
    readings: Sequence[Reading], tools: Tools, known: Mapping[int, Doubtful], *, apart: Container[int]
) -> list[Observation]:
    """Return what these readings of one size observed, repeats taken together; one size, so one quantity.

    `known` is each with what it leans on, by key; those of the keys `apart` stand for themselves.
    """
    groups: dict[object, list[Reading]] = {}
    for reading in readings:
        alike = None if reading.key in apart else _taken_alike(reading, tools)
        groups.setdefault(alike or reading.key, []).append(reading)
    return [
        Observation((group[0],), known[group[0].key]) if len(group) == 1 else _repeated(group, tools)
        for group in groups.values()
    ]


def ledger_of(reading: Reading, tools: Tools) -> Doubtful:
    """Return a reading with everything it leans on: its rounding or written ±, its instrument's error."""
    instrument = tools.with_key(reading.instrument_key)
    is_length = reading.quantity == "length"
    known = read(
        reading.value,
        of_record=reading.id,
        resolution_mm=tools.step_of(instrument, reading.resolution) if is_length else reading.resolution,
        tolerance_mm=reading.tolerance,
        # A guess is no surer than 'about', whether the person wrote that or not.
        approximate=reading.approximate or reading.grade == GUESSED,
        instrument=tools.error_of(instrument, reading.taken_on) if instrument and is_length else None,
    )
    if not reading.sister_tolerance:
        return known
    apart = Source("sister", reading.id, distribution="rectangular")
    return Doubtful(known.value, {**known.sensitivities, apart: limit_u_mm(reading.sister_tolerance)})


def instrument_cautions(observations: Sequence[Observation], tools: Tools) -> list[Warned]:
    """Say where nobody knows how far an instrument is off: it was checked elsewhere only, or is a drawing without a scale."""
    found = {}
    for reading in (o.readings[0] for o in observations if o.readings[0].quantity == "length"):
        instrument = tools.with_key(reading.instrument_key)
        known = tools.known_of(instrument, reading.taken_on) if instrument else None
        if instrument and known is None and tools.lacks_scale(instrument):
            found[instrument.key] = no_drawing_scale(instrument)
        if instrument and known and not known.scale_known and known.beyond(reading.value):
            found[instrument.key] = Warned(
                "beyond-checks",
                f"The {instrument.name} was checked at another length only, and it has no limit: how far it is off "
                "here nobody knows. Check it near this length, or give it a limit.",
            )
    return list(found.values())


def no_drawing_scale(drawing: Instrument) -> Warned:
    """What is said of a drawing whose scale nobody said."""
    return Warned(
        "no-drawing-scale",
        f"How far the {drawing.name} can be trusted depends on its scale, and nobody said it. "
        f'Say it: rivetbook instrument amend "{drawing.name}" --drawn-at 1:48',
    )


def _taken_alike(reading: Reading, tools: Tools) -> tuple[object, ...] | None:
    """What repeats have in common; None for a reading that stands for itself."""
    instrument = tools.with_key(reading.instrument_key)
    if instrument is None or reading.grade != "measured" or reading.quantity != "length":
        return None
    if reading.tolerance is not None or reading.approximate or not reading.resolution:
        return None
    return instrument.key, tools.step_of(instrument, reading.resolution), reading.taken_on


def _repeated(readings: Sequence[Reading], tools: Tools) -> Observation:
    first, instrument = readings[0], tools.with_key(readings[0].instrument_key)
    if instrument is None:
        raise ValueError("readings without an instrument are no repeats")
    together = repeats(
        [r.value for r in readings],
        of_record=first.id,
        resolution_mm=tools.step_of(instrument, first.resolution) or 0.0,
        instrument=tools.error_of(instrument, first.taken_on),
        limits=tools.limits_of(instrument),
    )
    return Observation(tuple(readings), together.result, tuple(readings[n] for n in together.doubted))
