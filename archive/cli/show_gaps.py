"""What is missing or too rough, on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli import show
from archive.records.things import as_json

if TYPE_CHECKING:
    from archive.dimensions.gaps import Gap, Gaps


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
        labels: dict[str, list[str]] = {}
        for gap in found.standing(stands):
            labels.setdefault(gap.subject, []).append(gap.label)
        whose = [
            f"{subject}: {', '.join(its)}" if several else ", ".join(its) for subject, its in labels.items()
        ]
        if whose:
            click.echo(f"{said}: {'; '.join(whose)}.")


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
    real = wording.size("length", standard.allowed("length", 0.0))
    return f"judged at {standard.scale.text} to ± {tolerance} on the model, ± {real} of the real thing{whose}"


def _gap_name(gap: Gap, several: bool) -> str:
    return f"{gap.subject}: {gap.label}" if several else gap.label


def _gap_row(gap: Gap, found: Gaps, several: bool) -> tuple[str, ...]:
    scale = found.standard.scale
    on_model = scale is not None and gap.quantity == "length" and gap.half_width is not None
    return (
        _gap_name(gap, several),
        gap.stands,
        "" if gap.half_width is None else wording.doubt(gap.quantity, gap.half_width),
        "" if gap.allowed is None else wording.doubt(gap.quantity, gap.allowed),
        wording.doubt("length", scale.model_mm(gap.half_width or 0.0)) if on_model and scale else "",
        gap.mend.sentence if gap.mend else "",
    )
