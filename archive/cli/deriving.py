"""Sizes worked out from photos, and how they came about."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli.door import json_option, pass_archive, pass_archive_to_look, show_json
from archive.metrology.sources import Doubtful
from archive.records.archive import Archive
from archive.records.things import as_json

if TYPE_CHECKING:
    from archive.dimensions.derivations import Entered, SizeWorkedOut
    from archive.dimensions.explaining import Explanation


@click.command()
@click.argument("sheet", metavar="SHEET.toml")
@click.option("--dry-run", is_flag=True, help="Work it out and show it, and keep nothing.")
@click.option(
    "--move-marks", is_flag=True, help="Move marks that lie elsewhere on the photo than the sheet says."
)
@json_option
@pass_archive
def derive(archive: Archive, sheet: str, dry_run: bool, move_marks: bool, as_json_: bool) -> None:
    """Work sizes out from a photo, as SHEET.toml says.

    The sheet names the method, the photo, its marks, what is known and what is asked. The sizes are written down as
    readings, 'worked out', and follow when a mark or a known size changes.

    \b
    Example:
        rivetbook derive door-by-the-wall.toml --dry-run
    """
    from archive.dimensions.derivations import enter_sheet

    entered = enter_sheet(archive, Path(sheet).expanduser(), dry_run=dry_run, move_marks=move_marks)
    if as_json_:
        show_json(_entered_json(entered, dry_run))
        return
    _tell(entered, dry_run)


@click.command()
@click.argument("reading")
@click.argument("label", required=False)
@click.option("--picture", metavar="FILE", help="Draw it on its photo into this new .png or .jpg file.")
@click.option(
    "--at", "scale", metavar="SCALE", help="Say what it comes to at this scale too: 1:43.5, 7mm/ft."
)
@json_option
@pass_archive_to_look
def explain(
    archive: Archive, reading: str, label: str | None, picture: str | None, scale: str | None, as_json_: bool
) -> None:
    """Tell how a reading came about and where its doubt comes from.

    READING is its id, or the subject, and LABEL the size of it that is meant.

    \b
    Example:
        rivetbook explain "Weighbridge hut" "window height" --at 1:43.5 --picture window.png
    """
    from archive.dimensions.explaining import explain as explained
    from archive.scales import parse_scale

    told = explained(archive, reading, label, scale=parse_scale(scale) if scale else None)
    if picture:
        from archive.packs.check_picture import write_check_picture

        write_check_picture(archive, told, Path(picture).expanduser())
    if as_json_:
        show_json(_explained_json(told, picture))
        return
    for sentence in told.sentences:
        click.echo(sentence)
    if told.model_text:
        click.echo(f"On the model: {told.model_text}.")
    if told.doubt:
        click.echo(f"Its doubt: {told.doubt}.")
    for warning in told.warnings:
        click.echo(warning.message)
    if picture:
        click.echo(f"Drawn in '{picture}'.")


def _explained_json(told: Explanation, picture: str | None) -> dict[str, Any]:
    return {
        "reading": told.reading.id,
        "subject": told.dimension.subject,
        "dimension": told.dimension.label,
        "grade": told.reading.grade,
        "method": told.derivation.method if told.derivation else None,
        "photo": told.photo.file if told.photo else None,
        "value": told.known.value,
        "unit": told.reading.unit,
        "standard_uncertainty": told.known.standard_uncertainty,
        "interval_95": list(told.interval_95),
        "on_the_model": told.model_text,
        "explanation": list(told.sentences),
        "marks": [as_json(mark) for mark in told.marks],
        "solved": told.derivation.solved if told.derivation else None,
        "sources": _sources(told.known),
        "warnings": [as_json(w) for w in told.warnings],
        "picture": picture,
    }


def _sources(known: Doubtful) -> list[dict[str, Any]]:
    return [
        {"kind": s.kind, "of": s.of_record, "component": s.component, "share": share}
        for s, share in known.shares()
    ]


def _entered_json(entered: Entered, dry_run: bool) -> dict[str, Any]:
    lens = entered.lens
    return {
        "derivation": None if dry_run else entered.derivation.id,
        "method": entered.derivation.method,
        "photo": entered.photo.file,
        "dry_run": dry_run,
        "already_held": not entered.is_new,
        "moved_marks": [mark.name for mark in entered.moved],
        "snapped_marks": [as_json(mark) for mark in entered.snapped],
        "sizes": [_size_json(size, dry_run) for size in entered.sizes],
        "lens": None
        if lens is None
        else {
            "model": lens.lens.model,
            "strength": lens.lens.strength.value,
            "standard_uncertainty": lens.lens.strength.standard_uncertainty,
            "centre_px": [lens.lens.centre_x_px.value, lens.lens.centre_y_px.value],
            "norm_radius_px": lens.lens.norm_radius_px,
            "rms_before_px": lens.rms_before_px,
            "rms_after_px": lens.rms_after_px,
            "warnings": [{"code": w.code, "message": w.message} for w in lens.warnings],
        },
    }


def _size_json(size: SizeWorkedOut, dry_run: bool) -> dict[str, Any]:
    derived = size.derived
    return {
        "subject": size.dimension.subject,
        "dimension": size.dimension.label,
        "span": size.dimension.span,
        "state": size.dimension.state,
        "reading": None if dry_run else size.reading.id,
        "replaces": size.replaces,
        "method": derived.method,
        "value_mm": derived.value_mm,
        "standard_uncertainty_mm": derived.standard_uncertainty_mm,
        "interval_95_mm": list(derived.interval_95_mm),
        "sources": _sources(size.known),
        "diagnostics": dict(derived.diagnostics),
        "warnings": [{"code": w.code, "message": w.message} for w in derived.warnings],
    }


def _tell(entered: Entered, dry_run: bool) -> None:
    if entered.lens is not None:
        lens = entered.lens
        click.echo(
            f"Straight edges on {entered.photo.file} bent by {lens.rms_before_px:.1f} px and are now straight to "
            f"{lens.rms_after_px:.1f} px. The lens is kept for this camera at this focal length and pixel size."
        )
        for warning in lens.warnings:
            click.echo(warning.message)
    for size in entered.sizes:
        interval = size.derived.interval_95_mm
        known = wording.size("length", size.derived.value_mm, interval)
        other = wording.other_system("length", size.derived.value_mm, interval)
        click.echo(f"{size.dimension.label} of {size.dimension.subject}: {known} ({other}), worked out.")
        click.echo(f"  Its doubt: {size.doubt}.")
        for warning in size.derived.warnings:
            click.echo(f"  {warning.message}")
    for mark in entered.snapped:
        click.echo(f"'{mark.name}': {mark.says}")
    if entered.moved:
        click.echo(f"Moved on {entered.photo.file}: {', '.join(mark.name for mark in entered.moved)}.")
    if dry_run:
        click.echo("This was a dry run: nothing was kept.")
    elif not entered.is_new and not entered.moved:
        click.echo("The archive held just this already; nothing was added.")
