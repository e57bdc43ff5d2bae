"""The best figure of a size, worked out anew in the transaction that changed what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isinf
from typing import Any

from archive.metrology.agreement import Doubted, combine
from archive.metrology.coverage import effective_degrees_of_freedom
from archive.metrology.readings import InstrumentError, Limits, limit_u_mm, unchecked
from archive.metrology.readings import reading as read
from archive.metrology.sources import Doubtful, Source
from archive.records import instruments, sizes
from archive.records.changes import Writer
from archive.records.things import Dimension, Instrument, Reading

FORMULAS = 1  # the version of the sums; estimates of an older one are worked out anew
# Guesses and sister examples count only where nothing else is known.
GUESSED, FROM_A_SISTER = "guessed", "from a sister"
_LAST_RESORTS = (GUESSED, FROM_A_SISTER)


def recompute(writer: Writer, dimensions: Iterable[Dimension]) -> None:
    """Work out the best figures of these sizes from all their readings, and store them."""
    dimensions = list(dimensions)
    held = sizes.readings_of(writer, dimensions)
    tools = {i.key: i for i in instruments.all_instruments(writer)}
    ledgers: dict[int, Doubtful] = {}
    figures = []
    for dimension in dimensions:
        readings = usable(held.get(dimension.key, []))
        if not readings:
            sizes.drop_estimate(writer, dimension)
            continue
        leaning = [ledger_of(r, tools.get(r.instrument_key) if r.instrument_key else None) for r in readings]
        ledgers.update(zip((r.key for r in readings), leaning, strict=True))
        figures.append((dimension, *_best_figure(dimension, readings, leaning)))
    sizes.keep_reading_sources(writer, ledgers)
    sizes.keep_estimates(writer, figures)


def usable(readings: Sequence[Reading]) -> list[Reading]:
    """Return the readings that count: not replaced, not set aside, guesses only where nothing else is."""
    standing = [r for r in readings if not r.replaced and r.set_aside is None]
    firm = [r for r in standing if r.grade not in _LAST_RESORTS]
    return firm or standing


def ledger_of(reading: Reading, instrument: Instrument | None) -> Doubtful:
    """Return a reading with everything it leans on: its rounding or written ±, its instrument's limits."""
    known = read(
        reading.value,
        of_record=reading.id,
        resolution_mm=_step(reading, instrument),
        tolerance_mm=reading.tolerance,
        # A guess is no surer than 'about', whether the person wrote that or not.
        approximate=reading.approximate or reading.grade == GUESSED,
        instrument=_error_of(instrument, reading.taken_on),
    )
    if not reading.sister_tolerance:
        return known
    apart = Source("sister", reading.id, distribution="rectangular")
    return Doubtful(known.value, {**known.sensitivities, apart: limit_u_mm(reading.sister_tolerance)})


def _step(reading: Reading, instrument: Instrument | None) -> float | None:
    """The instrument's step where it has one, else that of the digits; a range has none."""
    if reading.quantity == "length" and reading.resolution is not None and instrument is not None:
        return instrument.resolution_mm or reading.resolution
    return reading.resolution


def _error_of(instrument: Instrument | None, day: str | None) -> InstrumentError | None:
    if instrument is None or instrument.limit_constant_mm is None:
        return None
    limits = Limits(instrument.limit_constant_mm, instrument.limit_per_mm or 0.0)
    return unchecked(limits, instrument.id, "" if instrument.steady else day or "some day")


def _best_figure(
    dimension: Dimension, readings: Sequence[Reading], ledgers: Sequence[Doubtful]
) -> tuple[Doubtful, dict[str, Any]]:
    combined = combine(ledgers, of_record=dimension.id)
    weightiest = readings[max(range(len(readings)), key=lambda n: combined.weights[n])]
    low, high = combined.interval_95
    freedom = effective_degrees_of_freedom(combined.result)
    return combined.result, {
        "quantity": dimension.quantity,
        "unit": weightiest.unit,
        "value_mm": combined.value if dimension.quantity == "length" else None,
        "low_95": low,
        "high_95": high,
        "degrees_of_freedom": None if isinf(freedom) else freedom,
        "agree": combined.agree if len(readings) > 1 else None,
        "grade": weightiest.grade,
        "readings": len(readings),
        "formulas": FORMULAS,
        "warnings": _warnings(readings, combined.doubted, combined.outside_data),
    }


def _warnings(readings: Sequence[Reading], doubted: Sequence[Doubted], outside: bool) -> list[dict[str, str]]:
    warnings = []
    if doubted:
        odd = " and ".join(f"'{readings[d.index].as_written}'" for d in doubted)
        warnings.append(
            {
                "code": "readings-disagree",
                "message": f"The readings do not agree within their doubts; {odd} fits least. Read it once more.",
            }
        )
    if outside:
        warnings.append(
            {
                "code": "outside-readings",
                "message": "Readings that share most of their doubt have pushed the best figure outside all of them.",
            }
        )
    return warnings
