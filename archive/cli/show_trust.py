"""How far a size can be trusted, on the terminal: its readings, where its doubt comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from archive import wording
from archive.cli import show
from archive.scales import Scale

if TYPE_CHECKING:
    from archive.dimensions.overview import SizeLine
    from archive.records.things import Reading


def size_sheet(line: SizeLine, scale: Scale | None) -> None:
    """One size in full."""
    dimension, best = line.dimension, line.estimate
    more = [m for m, usual in ((dimension.span, "plain"), (dimension.state, "as found")) if m != usual]
    marks = f" ({', '.join(more)})" if more else ""
    click.echo(f"{dimension.label}{marks} of {dimension.subject}  ({dimension.id})")
    for name, value in _facts(line, scale):
        click.echo(f"{name:<14}{value}")
    show.table(
        ("Reading", "As written", "With", "On", "Visit", "Photo", "Known how", "Remark"),
        [_reading_row(reading) for reading in line.readings],
        nothing="It has no reading yet.",
    )
    for warned in best.warnings if best else ():
        click.echo(warned.message)
    for name in line.unchecked:
        click.echo(
            f'Nobody has checked {name}. Compare it with a length known better: rivetbook instrument check "{name}"'
        )


def _facts(line: SizeLine, scale: Scale | None) -> list[tuple[str, str]]:
    best = line.estimate
    if best is None:
        return [("Best figure", "none: no reading counts")]
    interval = (best.low_95, best.high_95)
    other = wording.other_system(best.quantity, best.value, interval)
    known = wording.size(best.quantity, best.value, interval) + (f" ({other})" if other else "")
    count = "" if best.readings == 1 else f" from {best.readings} readings"
    facts = [("Best figure", f"{known}{count}, {wording.grade(best.grade)}")]
    if scale is not None and line.model_mm is not None:
        facts.append(
            (
                "On the model",
                f"{wording.size('length', line.model_mm, line.model_interval_95_mm)} at {scale.text}",
            )
        )
    if line.doubt:
        facts.append(("Doubt from", line.doubt))
    return facts


def _reading_row(reading: Reading) -> tuple[str, ...]:
    remark = [reading.note or ""]
    if reading.replaced:
        remark.append("replaced by a later one")
    if reading.set_aside is not None:
        remark.append(f"set aside: {reading.set_aside}")
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
