"""The best figure of a size, worked out anew in the transaction that changed what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import isinf
from typing import Any, NamedTuple

from archive.dimensions.disagreements import warnings_of
from archive.dimensions.from_runs import from_runs
from archive.dimensions.observations import (
    Observation,
    instrument_cautions,
    ledger_of,
    observations_of,
    usable,
)
from archive.dimensions.trust import Tools
from archive.dimensions.verdicts import judge_touched
from archive.dimensions.worked_out import WorkedOut, worked_out
from archive.metrology.agreement import combine
from archive.metrology.coverage import effective_degrees_of_freedom, interval_95
from archive.metrology.sources import Doubtful
from archive.records import recipes, sizes, tallies
from archive.records.changes import Writer
from archive.records.things import Dimension, Estimate, Reading, Tally, Warned

FORMULAS = 2  # the version of the sums; estimates of an older one are worked out anew


class Figures(NamedTuple):
    """By the size's key: the readings that each rests on or might, and the best figure where there is one."""

    readings: dict[int, list[Reading]]
    estimates: dict[int, Estimate]


def recompute(writer: Writer, dimensions: Iterable[Dimension]) -> Figures:
    """Work out the best figures of these sizes from all their readings, and of all that is worked out from them.

    Recipes that lean on other rows which this transaction has touched (marks, lenses) follow too.
    """
    dimensions = list(dimensions)
    figures = best_figures(writer, dimensions)
    leaning = recipes.keys_leaning_on_dimensions(writer, figures.readings)
    leaning |= recipes.keys_resting_on_touched(writer)
    if leaning:
        from archive.dimensions.solving import solve_again  # slow to load, and seldom needed

        solve_again(writer, leaning)
        return figures._replace(estimates=sizes.estimates_of(writer, dimensions))
    judge_touched(writer)
    return figures


def best_figures(writer: Writer, dimensions: Iterable[Dimension]) -> Figures:
    """Work out the best figures of these sizes, and of those that tallies tie to them, and store them."""
    dimensions = list(dimensions)
    keys, found = tallies.tied_together(writer, [d.key for d in dimensions])
    dimensions += sizes.dimensions_by_key(writer, keys - {d.key for d in dimensions})
    held = sizes.readings_of(writer, dimensions)
    tools = Tools(writer)
    every = [r for readings in held.values() for r in readings]
    derived = worked_out(writer, every)
    of_runs = from_runs(writer, every, tools)
    given = of_runs | {key: each.known for key, each in derived.items()}
    ledgers: dict[int, Doubtful] = {}
    figures: list[tuple[Dimension, Doubtful, dict[str, Any]]] = []
    for dimension in dimensions:
        readings = usable(held[dimension.key])
        if not readings:
            sizes.drop_estimate(writer, dimension)
            continue
        known = {r.key: given.get(r.key) or ledger_of(r, tools) for r in readings}
        ledgers.update({key: each for key, each in known.items() if key not in derived})
        observations = observations_of(readings, tools, known, apart=given)
        figures.append((dimension, *_best_figure(dimension, observations, derived, tools)))
    if found:
        figures = _with_tallies(writer, found, figures)
    return Figures(held, sizes.keep_figures(writer, ledgers, figures))


def _with_tallies(
    writer: Writer, found: Sequence[Tally], figures: Sequence[tuple[Dimension, Doubtful, dict[str, Any]]]
) -> list[tuple[Dimension, Doubtful, dict[str, Any]]]:
    """The figures adjusted to the tallies among them."""
    from archive.dimensions.adjusting import (
        adjust_tied,  # where there are no tallies, nothing of it is needed
    )

    tied = adjust_tied(writer, found, {d.key: (d, known) for d, known, _ in figures})
    adjusted = []
    for dimension, known, facts in figures:
        if dimension.key in tied:
            known, warnings = tied[dimension.key].known, tied[dimension.key].warnings
            told = [{"code": w.code, "message": w.message} for w in warnings]
            facts = {**facts, **_figure(dimension, known), "warnings": [*facts["warnings"], *told]}
        adjusted.append((dimension, known, facts))
    return adjusted


def _figure(dimension: Dimension, known: Doubtful) -> dict[str, Any]:
    low, high = interval_95(known)
    freedom = effective_degrees_of_freedom(known)
    return {
        "value_mm": known.value if dimension.quantity == "length" else None,
        "low_95": low,
        "high_95": high,
        "degrees_of_freedom": None if isinf(freedom) else freedom,
    }


def _best_figure(
    dimension: Dimension,
    observations: Sequence[Observation],
    derived: Mapping[int, WorkedOut],
    tools: Tools,
) -> tuple[Doubtful, dict[str, Any]]:
    combined = combine([o.known for o in observations], of_record=dimension.id)
    weightiest = observations[max(range(len(observations)), key=lambda n: combined.weights[n])].readings[0]
    told = derived.get(weightiest.key)
    low, high = told.interval_95 if told and len(observations) == 1 else combined.interval_95
    freedom = effective_degrees_of_freedom(combined.result)
    count = sum(len(o.readings) for o in observations)
    return combined.result, {
        "quantity": dimension.quantity,
        "unit": weightiest.unit,
        "value_mm": combined.value if dimension.quantity == "length" else None,
        "low_95": low,
        "high_95": high,
        "degrees_of_freedom": None if isinf(freedom) else freedom,
        "agree": combined.agree and not any(o.odd for o in observations) if count > 1 else None,
        "grade": weightiest.grade,
        "readings": count,
        "formulas": FORMULAS,
        "warnings": [
            {"code": w.code, "message": w.message}
            for w in dict.fromkeys(
                (
                    *warnings_of(observations, combined, dimension.quantity),
                    *instrument_cautions(observations, tools),
                    *(told.warnings if told else ()),
                    *(w for o in observations for w in _stale(o, derived)),
                )
            )
        ],
    }


def _stale(observation: Observation, derived: Mapping[int, WorkedOut]) -> list[Warned]:
    told = [derived[r.key].stale for r in observation.readings if r.key in derived]
    return [each for each in told if each is not None]
