"""Sizes on the terminal: what was written down, every reading, where the doubt comes from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli import show
from archive.records.things import Reading, as_json
from archive.scales import Scale

if TYPE_CHECKING:
    from archive.dimensions.lines import LinesRecorded
    from archive.dimensions.overview import SizeLine, SubjectSizes
    from archive.dimensions.readings import Recorded
    from archive.dimensions.runs import RunRecorded
    from archive.dimensions.tallying import TallyLine
    from archive.metrology.drawn_sizes import DrawnSize


def recorded(done: Recorded) -> None:
    """What was written down, echoed in both systems."""
    reading, estimate = done.reading, done.estimate
    known = wording.size(estimate.quantity, estimate.value, (estimate.low_95, estimate.high_95))
    other = wording.other_system(estimate.quantity, estimate.value, (estimate.low_95, estimate.high_95))
    shown = f"{known} ({other})" if other else known
    click.echo(f"Wrote down {done.dimension.called} of {done.dimension.subject}: '{reading.as_written}'.")
    count = "" if estimate.readings == 1 else f" from {estimate.readings} readings"
    click.echo(f"Best figure{count}: {shown}, {wording.grade(estimate.grade)}.")
    for warning in (*done.warnings, *estimate.warnings):
        click.echo(warning.message)
    if any(warning.code == "no-unit" for warning in done.warnings):
        click.echo(
            f'To put it right: rivetbook size amend "{done.dimension.subject}" "{done.dimension.label}" SIZE'
        )


def recorded_json(done: Recorded) -> dict[str, Any]:
    """A reading that was written down, for a JSON document."""
    from archive.dimensions.overview import reading_json

    return {"reading": reading_json(done.reading), "warnings": [as_json(w) for w in done.warnings]}


def lines_recorded(done: LinesRecorded) -> None:
    """What a file of lines brought, echoed in both systems."""
    click.echo(f"Wrote down {wording.counted(len(done.recorded), 'size', 'sizes')} of {done.subject.name}.")
    rows = []
    for each in done.recorded:
        best = each.estimate
        interval = (best.low_95, best.high_95)
        rows.append(
            (
                each.dimension.called,
                each.reading.as_written,
                wording.size(best.quantity, best.value, interval),
                wording.other_system(best.quantity, best.value, interval),
                best.grade,
            )
        )
    show.table(("Size", "As written", "Best figure", "In feet", "Known how"), rows, nothing="")
    for each in done.recorded:
        for warning in each.warnings:
            click.echo(f"{each.dimension.called}: {warning.message}")
    disagreeing = {r.dimension.called: r.estimate.warnings for r in done.recorded}
    for name, warnings in disagreeing.items():
        for warned in warnings:
            click.echo(f"{name}: {warned.message}")
    if done.left_empty:
        click.echo(
            f"{wording.counted(done.left_empty, 'line had no size and was', 'lines had no size and were')} passed over."
        )
    if done.faults:
        click.echo(f"{wording.counted(done.left_out, 'line was', 'lines were')} left out:")
        for fault in done.faults:
            click.echo(f"  {fault}")
        click.echo("Put those right and enter them alone: the others are kept.")


def lines_json(done: LinesRecorded) -> dict[str, Any]:
    """What a file of lines brought, for a JSON document."""
    from archive.dimensions.overview import reading_json

    return {
        "subject": done.subject.name,
        "readings": [reading_json(each.reading) for each in done.recorded],
        "left_empty": done.left_empty,
        "left_out": list(done.faults),
        "warnings": [as_json(w) for each in done.recorded for w in each.warnings],
    }


def size_table(known: SubjectSizes) -> None:
    """A subject's sizes, real and on the model."""
    scale = known.scale
    model = f"On the model ({scale.as_written})" if scale else "On the model"
    show.table(
        ("Size", "As written", "Best figure", "In feet", model, "Known how", "With"),
        [_size_row(line) for line in known.lines],
        nothing=f'No sizes yet. Write one down with: rivetbook size add "{known.subject.name}" LABEL SIZE',
    )
    for line in known.lines:
        for warning in line.estimate.warnings if line.estimate else ():
            click.echo(f"{line.dimension.called}: {warning.message}")


def _size_row(line: SizeLine) -> tuple[str, ...]:
    standing = [r for r in line.readings if r.stands]
    written = "; ".join(r.as_written for r in standing if not (r.derived_by and r.photo))
    by = "; ".join(dict.fromkeys(r.instrument or r.rests_on or "" for r in standing)).strip("; ")
    estimate = line.estimate
    if estimate is None:
        return (line.dimension.called, written, "no figure", "", "", "", by)
    interval = (estimate.low_95, estimate.high_95)
    model = ""
    if line.model_mm is not None and line.model_interval_95_mm is not None:
        model = wording.size("length", line.model_mm, line.model_interval_95_mm)
    return (
        line.dimension.called,
        written,
        wording.size(estimate.quantity, estimate.value, interval),
        wording.other_system(estimate.quantity, estimate.value, interval),
        model,
        estimate.grade,
        by,
    )


def size_sheet(line: SizeLine, scale: Scale | None) -> None:
    """One size in full."""
    from archive.dimensions.observations import usable

    dimension, best, counting = line.dimension, line.estimate, usable(line.readings)
    click.echo(f"{dimension.called} of {dimension.subject}  ({dimension.id})")
    show.facts(_facts(line, scale))
    show.table(
        ("Reading", "As written", "With", "On", "Visit", "Photo", "Known how", "Remark"),
        [_reading_row(reading, counts=reading in counting) for reading in line.readings],
        nothing="It has no reading yet.",
    )
    for warned in best.warnings if best else ():
        click.echo(warned.message)
    for name in line.unchecked:
        click.echo(
            f'Nobody has checked {name}. Compare it with a length known better: rivetbook instrument check "{name}"'
        )


def _facts(line: SizeLine, scale: Scale | None) -> list[tuple[str, str | None]]:
    best = line.estimate
    if best is None:
        return [("Best figure", "none: no reading counts")]
    interval = (best.low_95, best.high_95)
    other = wording.other_system(best.quantity, best.value, interval)
    known = wording.size(best.quantity, best.value, interval) + (f" ({other})" if other else "")
    count = "" if best.readings == 1 else f" from {best.readings} readings"
    facts: list[tuple[str, str | None]] = [("Best figure", f"{known}{count}, {wording.grade(best.grade)}")]
    if scale is not None and line.model_mm is not None:
        facts.append(
            (
                "On the model",
                f"{wording.size('length', line.model_mm, line.model_interval_95_mm)} at {scale.text}",
            )
        )
    if line.doubt:
        facts.append(("Doubt from", line.doubt))
    if line.drawn:
        facts.append(("Drawn as", _drawn(line.drawn)))
    return facts


def _drawn(figures: Sequence[DrawnSize]) -> str:
    """Which round figures fit, as a hint: 'perhaps 1 ft 3½ in, else 390 mm or 395 mm; 2 others would fit as well'."""
    best, *others = [figure.as_drawn for figure in figures]
    named, left = others[:2], len(others[2:])
    said = f"perhaps {best}" + (f", else {' or '.join(named)}" if named else "")
    if not others:
        said += "; no other round figure fits"
    elif left:
        said += f"; {left} {'other' if left == 1 else 'others'} would fit as well"
    return f"{said} (a hint only)"


def _reading_row(reading: Reading, *, counts: bool) -> tuple[str, ...]:
    remark = [reading.note or ""]
    if reading.replaced:
        remark.append("replaced by a later one")
    if reading.set_aside is not None:
        remark.append(f"set aside: {reading.set_aside}")
    if reading.stands and not counts:
        remark.append("counts only where nothing firmer is known")
    return (
        reading.id,
        reading.as_written,
        reading.instrument or reading.rests_on or "",
        reading.taken_on or "",
        reading.visit or "",
        reading.photo or "",
        reading.grade,
        "; ".join(part for part in remark if part),
    )


def run_recorded(done: RunRecorded) -> None:
    """The sizes that a run gave."""
    again = ", in place of the one before" if done.replaced else ""
    click.echo(f"Wrote down the run '{done.run.title}' of {done.subject.name}{again}.")
    show.table(
        ("Size", "Read", "Best figure", "In feet"),
        [
            (
                each.dimension.called,
                each.reading.as_written,
                wording.size("length", each.estimate.value, (each.estimate.low_95, each.estimate.high_95)),
                wording.other_system(
                    "length", each.estimate.value, (each.estimate.low_95, each.estimate.high_95)
                ),
            )
            for each in done.sizes
        ],
        nothing="",
    )
    for each in done.sizes:
        for warned in each.estimate.warnings:
            click.echo(f"{each.dimension.called}: {warned.message}")


def tally_json(line: TallyLine) -> dict[str, Any]:
    """A tally for a JSON document; numbers unrounded, in the unit of its sizes."""
    outcome = line.tally.outcome
    return {
        "id": line.tally.id,
        "subject": line.tally.subject,
        "as_written": line.tally.as_written,
        "sizes": [d.id for d in line.sizes],
        "left_over": outcome.get("left_over"),
        "standard_uncertainty": outcome.get("standard_uncertainty"),
        "comes_out": outcome.get("comes_out"),
        "suspects": [d.label for d in line.suspects],
        "why_unused": outcome.get("why"),
    }


def tally_added(line: TallyLine) -> None:
    """What a new tally says."""
    click.echo(f"Wrote down the tally '{line.tally.as_written}' of {line.tally.subject}.")
    click.echo(line.comes_out)


def tally_table(lines: Sequence[TallyLine]) -> None:
    """Tallies with how they come out."""
    show.table(
        ("Tally", "Of", "How it comes out", "Id"),
        [(line.tally.as_written, line.tally.subject, line.comes_out, line.tally.id) for line in lines],
        nothing='There are no tallies yet. Write one down with: rivetbook tally add SUBJECT "3 x bay + 2 x post = overall"',
    )
