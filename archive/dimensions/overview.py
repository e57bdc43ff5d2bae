"""A subject's sizes as both doors show them: best figures, readings, and what they come to at a scale."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from archive import wording
from archive.dimensions.doubts import causes_of_doubt, unchecked_among
from archive.dimensions.trust import Tools
from archive.kinds.parts import part_of
from archive.metrology.drawn_sizes import DrawnSize, likely_drawn
from archive.metrology.sources import Doubtful
from archive.records import sizes, subjects
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.ledgers import estimate_ledgers
from archive.records.things import Dimension, Estimate, Reading, Subject
from archive.scales import Scale

OTHER_PARTS = "other parts"


@dataclass(frozen=True, slots=True)
class SizeLine:
    """One size of a subject; the figures on the model are None where the size is no length or has no figure."""

    dimension: Dimension
    estimate: Estimate | None
    ledger: Doubtful | None
    readings: tuple[Reading, ...]
    model_mm: float | None
    model_interval_95_mm: tuple[float, float] | None
    causes: tuple[
        tuple[str, float], ...
    ] = ()  # of its doubt, in words, with shares; only where it was asked for
    unchecked: tuple[str, ...] = ()  # instruments that it leans on and nobody checked; likewise
    drawn: tuple[
        DrawnSize, ...
    ] = ()  # round figures that its works may have drawn, the likeliest first; likewise

    @property
    def doubt(self) -> str:
        """Where its doubt comes from, in one phrase."""
        return wording.share_list(self.causes)


@dataclass(frozen=True, slots=True)
class SubjectSizes:
    """All sizes of one subject, at a scale where one was asked for."""

    subject: Subject
    scale: Scale | None
    lines: tuple[SizeLine, ...]


def sizes_of(archive: Archive, subject: str, *, scale: Scale | None = None) -> SubjectSizes:
    """Return every size of the subject of this name or id; raises `RecordNotFound`."""
    with archive.look() as look:
        return sizes_of_subject(look, subjects.subject_named(look, subject), scale=scale)


def size_labelled(archive: Archive, subject: str, label: str, *, scale: Scale | None = None) -> SubjectSizes:
    """Return the sizes of this label, whatever their span and state, with where their doubt comes from.

    Raises `RecordNotFound` for a subject or a label that is not there.
    """
    with archive.look() as look:
        found = subjects.subject_named(look, subject)
        wanted = {d.key for d in sizes.dimensions_labelled(look, found, label)}
        known = with_doubts(look, sizes_of_subject(look, found, scale=scale))
    return replace(known, lines=tuple(line for line in known.lines if line.dimension.key in wanted))


def with_doubts(look: Look, known: SubjectSizes) -> SubjectSizes:
    """Return the same sizes, each with where its doubt comes from in words."""
    tools = Tools(look)
    return replace(known, lines=tuple(_with_doubt(line, tools) for line in known.lines))


def _with_doubt(line: SizeLine, tools: Tools) -> SizeLine:
    if line.ledger is None:
        return line
    unchecked = tuple(i.name for i in unchecked_among(line.ledger, tools))
    return replace(
        line,
        causes=causes_of_doubt(line.ledger, tools),
        unchecked=unchecked,
        drawn=_drawn(line.estimate) if line.estimate else (),
    )


def _drawn(best: Estimate) -> tuple[DrawnSize, ...]:
    """Nothing where readings disagree, or where what is published says by itself how it was drawn."""
    if best.quantity != "length" or best.agree is False or best.grade == "published":
        return ()
    return likely_drawn(best.value, best.standard_uncertainty, (best.low_95, best.high_95))


def sizes_of_subject(look: Look, subject: Subject, *, scale: Scale | None = None) -> SubjectSizes:
    """Return every size of a subject, in the order in which they were first written down."""
    dimensions = sizes.dimensions_of(look, subject)
    readings = sizes.readings_of(look, dimensions)
    estimates = sizes.estimates_of(look, dimensions)
    ledgers = estimate_ledgers(look, [e.key for e in estimates.values()])
    lines = []
    for dimension in dimensions:
        estimate = estimates.get(dimension.key)
        model_mm, interval = _on_the_model(estimate, scale)
        lines.append(
            SizeLine(
                dimension=dimension,
                estimate=estimate,
                ledger=ledgers[estimate.key] if estimate else None,
                readings=tuple(readings.get(dimension.key, ())),
                model_mm=model_mm,
                model_interval_95_mm=interval,
            )
        )
    return SubjectSizes(subject, scale, tuple(lines))


def _on_the_model(
    estimate: Estimate | None, scale: Scale | None
) -> tuple[float | None, tuple[float, float] | None]:
    if estimate is None or scale is None or estimate.quantity != "length":
        return None, None
    low, high = (scale.model_mm(end) for end in (estimate.low_95, estimate.high_95))
    return scale.model_mm(estimate.value), (low, high)


def by_part(lines: Iterable[SizeLine]) -> list[tuple[str, list[SizeLine]]]:
    """Return sizes by the part that they are of: '' (the whole) first, what is alone of its part last, under OTHERS."""
    shelves: dict[str, list[SizeLine]] = {"": []}
    for line in lines:
        shelves.setdefault(part_of(line.dimension.label), []).append(line)
    alone = [part for part, held in shelves.items() if part and len(held) == 1]
    others = [line for part in alone for line in shelves.pop(part)]
    return [(part, held) for part, held in (*shelves.items(), (OTHER_PARTS, others)) if held]


def estimate_json(line: SizeLine) -> dict[str, Any]:
    """Return a size for a JSON document: the estimate with its readings and sources, unrounded."""
    dimension, estimate = line.dimension, line.estimate
    known = estimate is not None and estimate.quantity == "length"
    return {
        "id": dimension.id,
        "subject": dimension.subject,
        "dimension": dimension.label,
        "quantity": dimension.quantity,
        "span": dimension.span,
        "state": dimension.state,
        "grade": estimate.grade if estimate else None,
        "value": estimate.value if estimate else None,
        "unit": estimate.unit if estimate else None,
        "value_mm": estimate.value_mm if estimate else None,
        "standard_uncertainty": estimate.standard_uncertainty if estimate else None,
        "standard_uncertainty_mm": estimate.standard_uncertainty if estimate and known else None,
        "interval_95": [estimate.low_95, estimate.high_95] if estimate else None,
        "interval_95_mm": [estimate.low_95, estimate.high_95] if estimate and known else None,
        "degrees_of_freedom": estimate.degrees_of_freedom if estimate else None,
        "agree": estimate.agree if estimate else None,
        "model_mm": line.model_mm,
        "model_interval_95_mm": line.model_interval_95_mm,
        "readings": [reading_json(reading) for reading in line.readings],
        "sources": [
            {"kind": s.kind, "of": s.of_record, "component": s.component, "share": share}
            for s, share in (line.ledger.shares() if line.ledger else ())
        ],
        "warnings": [{"code": w.code, "message": w.message} for w in (estimate.warnings if estimate else ())],
    }


def reading_json(reading: Reading) -> dict[str, Any]:
    """Return a reading for a JSON document, unrounded."""
    names = (
        "id dimension as_written value_mm value unit resolution_mm approximate instrument grade rests_on photo visit "
        "replaces derived_by set_aside note"
    )
    return {name: getattr(reading, name) for name in names.split()} | {"taken": reading.taken_on}
