"""What recipes came to last, for the readings that they work out; nothing is solved here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from archive.metrology.sources import Doubtful
from archive.records import recipes
from archive.records.changes import Look
from archive.records.ledgers import reading_ledgers
from archive.records.things import Reading, Warned

NO_LONGER_SOLVES = "no-longer-solves"


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A worked-out reading as its recipe left it: what it leans on, its 95 % interval, what must be said of it.

    `stale` says so where the recipe no longer solves.
    """

    known: Doubtful
    interval_95: tuple[float, float]
    warnings: tuple[Warned, ...]
    stale: Warned | None


def worked_out(look: Look, readings: Iterable[Reading]) -> dict[int, WorkedOut]:
    """Return what is known of those of these readings that are worked out, by key."""
    derived = [r for r in readings if r.derived_by is not None]
    if not derived:
        return {}
    ledgers = reading_ledgers(look, [r.key for r in derived])
    by_id = recipes.derivations_by_id(look, [r.derived_by for r in derived if r.derived_by])
    found = {}
    for reading in derived:
        derivation = by_id.get(reading.derived_by or "")
        results = derivation.results if derivation else ()
        result = next((each for each in results if each["reading"] == reading.id), None)
        if result is not None:
            low, high = result["interval_95_mm"] if "interval_95_mm" in result else result["interval_95"]
            said = tuple(Warned(w["code"], w["message"]) for w in result["warnings"])
            stale = _stale(reading, result)
            found[reading.key] = WorkedOut(ledgers[reading.key], (low, high), said, stale)
    return found


def _stale(reading: Reading, result: Mapping[str, Any]) -> Warned | None:
    if result["why"] is None:
        return None
    return Warned(
        NO_LONGER_SOLVES,
        f"How {reading.as_written} was worked out no longer solves: {result['why']} The figure is the last one that did.",
    )
