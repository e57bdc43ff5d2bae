"""Readings that stand between the positions of a tape's run: neighbours share a rounding, all share the tape."""

from __future__ import annotations

from collections.abc import Iterable

from archive.dimensions.trust import Tools
from archive.metrology.sources import Doubtful
from archive.metrology.tape_runs import parse_run, run_sizes
from archive.records import runs
from archive.records.changes import Look
from archive.records.things import Reading


def from_runs(look: Look, readings: Iterable[Reading], tools: Tools) -> dict[int, Doubtful]:
    """Return what those of these readings that a run gave lean on, by key."""
    by_key = {reading.key: reading for reading in readings}
    behind = runs.runs_behind(look, by_key)
    worked_out: dict[int, tuple[Doubtful, ...]] = {}
    for key, (run, _) in behind.items():
        if run.key in worked_out:
            continue
        instrument = tools.with_key(by_key[key].instrument_key)
        parsed = parse_run(run.as_written)
        first = next((p.written.resolution_mm for p in parsed.positions if p.written), None)
        worked_out[run.key] = run_sizes(
            parsed,
            of_record=run.id,
            instrument=tools.error_of(instrument, by_key[key].taken_on) if instrument else None,
            resolution_mm=tools.step_of(instrument, first)
            if instrument and instrument.resolution_mm
            else None,
        )
    return {key: worked_out[run.key][place] for key, (run, place) in behind.items()}
