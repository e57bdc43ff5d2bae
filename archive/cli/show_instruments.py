"""Instruments on the terminal: what they are, and how far they can be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli import show
from archive.records.things import Dimension, Instrument, as_json

if TYPE_CHECKING:
    from archive.dimensions.checking import CheckNoted, InstrumentSheet
    from archive.dimensions.instruments import InstrumentLine
    from archive.metrology.instrument_kinds import InstrumentKind


def instrument_line(instrument: Instrument, *, checked: bool = False) -> str:
    """An instrument in one line."""
    parts = [
        instrument.name,
        instrument.kind or "",
        f"reads to {_step(instrument)}" if instrument.resolution_mm else "",
        f"within {instrument.limit_as_written}" if instrument.limit_as_written else "",
        f"drawn at {instrument.drawn_at}" if instrument.drawn_at else "",
        "steady" if instrument.steady else "changing",
        "checked" if checked else "unchecked",
    ]
    return ", ".join(part for part in parts if part)


def instrument_table(lines: Sequence[InstrumentLine]) -> None:
    """All instruments."""
    show.table(
        ("Instrument", "Kind", "Reads to", "Within", "Its error is", "Checks"),
        [
            (
                line.instrument.name,
                line.instrument.kind or "",
                _step(line.instrument),
                _limit(line),
                "steady" if line.instrument.steady else "changing",
                str(line.checks or "none"),
            )
            for line in lines
        ],
        nothing="There are no instruments yet. Add one with: rivetbook instrument add NAME --kind tape",
    )


def instrument_kinds(kinds: Sequence[InstrumentKind]) -> None:
    """The kinds of instrument with the limits that they begin with."""
    show.table(
        ("Kind", "Also", "May be off by", "Reads to", "Its error is", "Where that comes from"),
        [
            (
                kind.id,
                ", ".join(kind.also),
                usual_limit(kind),
                f"{kind.resolution_mm:g} mm" if kind.resolution_mm else "",
                "steady" if kind.steady else "changing",
                kind.why,
            )
            for kind in kinds
        ],
        nothing="",
    )


def usual_limit(kind: InstrumentKind) -> str:
    """How far off instruments of a kind may be until they are checked: '1 mm + 0.6 mm/m'."""
    constant = kind.constant_mm or kind.constant_on_paper_mm
    parts = [f"{constant:g} mm{' on the paper' if kind.constant_on_paper_mm else ''}"] if constant else []
    parts += [f"{kind.per_m_mm:g} mm/m"] if kind.per_m_mm else []
    return " + ".join(parts) or "0 mm"


def _limit(line: InstrumentLine) -> str:
    if line.instrument.limit_as_written or line.usual is None:
        return line.instrument.limit_as_written or ""
    return f"{usual_limit(line.usual)}, as usual"


def _step(instrument: Instrument) -> str:
    return f"{instrument.resolution_mm:g} mm" if instrument.resolution_mm else ""


def worked_out_anew(sizes: Sequence[Dimension]) -> None:
    """How many sizes followed a change."""
    if sizes:
        click.echo(
            f"{wording.counted(len(sizes), 'size that it took was', 'sizes that it took were')} worked out anew."
        )


def instrument_json(sheet: InstrumentSheet) -> dict[str, Any]:
    """What is known of an instrument, for a JSON document; lengths in mm, unrounded."""
    return {
        "instrument": as_json(sheet.instrument),
        "checks": [as_json(check) for check in sheet.checks],
        "verdict": [as_json(judged) for judged in sheet.verdict],
        "warnings": [as_json(warned) for warned in sheet.warnings],
    }


def instrument_sheet(sheet: InstrumentSheet) -> None:
    """An instrument with its checks and what they say of it."""
    click.echo(instrument_line(sheet.instrument, checked=bool(sheet.checks)))
    if sheet.checks:
        show.table(
            ("Known", "It read", "On", "Visit", "Check"),
            [
                (c.reference_as_written, c.reading_as_written, c.taken_on or "", c.visit or "", c.id)
                for c in sheet.checks
            ],
            nothing="",
        )
    for judged in sheet.verdict:
        click.echo(judged.sentence)
    if not sheet.verdict:
        click.echo(
            "It is unchecked and nobody said how far off it may be, so its readings count as right to their step."
        )
    if not sheet.checks:
        click.echo(
            f'Compare it with a length known better: rivetbook instrument check "{sheet.instrument.name}" '
            '--reference "2743mm ± 1mm" --reading LENGTH'
        )
    for warned in sheet.warnings:
        click.echo(warned.message)


def check_noted(noted: CheckNoted) -> None:
    """What a check did."""
    check, tool = noted.check, noted.sheet.instrument
    click.echo(
        f"Noted that the {tool.name} read {check.reading_as_written} of a length known to be {check.reference_as_written}."
    )
    for judged in noted.sheet.verdict:
        click.echo(judged.sentence)
    for warned in noted.sheet.warnings:
        click.echo(warned.message)
    worked_out_anew(noted.sizes)
