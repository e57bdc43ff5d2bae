"""How far a size can be trusted, on the terminal: its readings, where its doubt comes from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli import show
from archive.records.things import as_json
from archive.scales import Scale

if TYPE_CHECKING:
    from archive.dimensions.gaps import Gap, Gaps
    from archive.dimensions.overview import SizeLine
    from archive.dimensions.runs import RunRecorded
    from archive.dimensions.tallying import TallyLine
    from archive.metrology.drawn_sizes import DrawnSize
    from archive.metrology.instrument_kinds import InstrumentKind
    from archive.records.things import Dimension, Reading


def size_sheet(line: SizeLine, scale: Scale | None) -> None:
    """One size in full."""
    dimension, best = line.dimension, line.estimate
    click.echo(f"{_label(dimension)} of {dimension.subject}  ({dimension.id})")
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


def gaps(found: Gaps) -> None:
    """How the sizes of a build or a subject stand."""
    click.echo(f"{found.asked}: {_judged_by(found)}.")
    several = len({gap.subject for gap in found.gaps}) > 1
    show.table(
        ("Size", "How it stands", "Known to", "Would do", "On the model", "What would mend it"),
        [_gap_row(gap, found, several) for gap in found.open],
        nothing="Nothing is missing, and all sizes are known well enough."
        if found.gaps
        else "No sizes are asked for: it has no kind and nothing was measured. Ask for one with --want LABEL PRECISION",
    )
    for stands, said in (
        ("enough", "Known well enough"),
        ("not needed", "Not needed"),
        ("it has none", "It has none"),
    ):
        names = [_gap_name(gap, several) for gap in found.standing(stands)]
        if names:
            click.echo(f"{said}: {', '.join(names)}.")


def gaps_json(found: Gaps) -> dict[str, Any]:
    """How sizes stand, for a JSON document; numbers unrounded, in the unit of the size."""
    standard = found.standard
    return {
        "asked": found.asked,
        "scale": standard.scale.as_written if standard.scale else None,
        "ratio": float(standard.scale.ratio) if standard.scale else None,
        "tolerance_mm": standard.tolerance_mm if standard.scale else None,
        "build": standard.build,
        "gaps": [
            {
                "subject": gap.subject,
                "dimension": gap.label,
                "quantity": gap.quantity,
                "stands": gap.stands,
                "value": gap.line.estimate.value if gap.line and gap.line.estimate else None,
                "half_width": gap.half_width,
                "would_do": gap.allowed,
                "precision": gap.precision,
                "mend": as_json(gap.mend) if gap.mend else None,
            }
            for gap in found.gaps
        ],
    }


def _judged_by(found: Gaps) -> str:
    standard = found.standard
    if standard.scale is None:
        return "no build and no scale, so each size is judged at 1 % of itself"
    tolerance = wording.size("length", standard.tolerance_mm)
    whose = f", as for '{standard.build}'" if standard.build and standard.build != found.asked else ""
    return f"judged at {standard.scale.text} to ± {tolerance} on the model{whose}"


def _gap_name(gap: Gap, several: bool) -> str:
    return f"{gap.subject}: {gap.label}" if several else gap.label


def _gap_row(gap: Gap, found: Gaps, several: bool) -> tuple[str, ...]:
    scale = found.standard.scale
    on_model = scale is not None and gap.quantity == "length" and gap.half_width is not None
    return (
        _gap_name(gap, several),
        gap.stands,
        "" if gap.half_width is None else f"± {wording.two_figures(gap.quantity, gap.half_width)}",
        "" if gap.allowed is None else f"± {wording.two_figures(gap.quantity, gap.allowed)}",
        f"± {wording.two_figures('length', scale.model_mm(gap.half_width or 0.0))}"
        if on_model and scale
        else "",
        gap.mend.sentence if gap.mend else "",
    )


def run_recorded(done: RunRecorded) -> None:
    """The sizes that a run gave."""
    again = ", in place of the one before" if done.replaced else ""
    click.echo(f"Wrote down the run '{done.run.title}' of {done.subject.name}{again}.")
    show.table(
        ("Size", "Read", "Best figure", "In feet"),
        [
            (
                _label(each.dimension),
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
            click.echo(f"{_label(each.dimension)}: {warned.message}")


def _label(dimension: Dimension) -> str:
    more = [m for m, usual in ((dimension.span, "plain"), (dimension.state, "as found")) if m != usual]
    return dimension.label + (f" ({', '.join(more)})" if more else "")


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


def instrument_kinds(kinds: Sequence[InstrumentKind]) -> None:
    """The kinds of instrument with the limits that they begin with."""
    show.table(
        ("Kind", "Also", "May be off by", "Reads to", "Its error is", "Where that comes from"),
        [
            (
                kind.id,
                ", ".join(kind.also),
                show.usual_limit(kind),
                f"{kind.resolution_mm:g} mm" if kind.resolution_mm else "",
                "steady" if kind.steady else "changing",
                kind.why,
            )
            for kind in kinds
        ],
        nothing="",
    )
