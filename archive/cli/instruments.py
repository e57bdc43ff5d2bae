"""Checks of instruments, and what they say of one."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli import show
from archive.cli.door import json_option, pass_archive, show_json
from archive.cli.sizes import instrument
from archive.records.archive import Archive

at_option = click.option(
    "--at", "scale", metavar="SCALE", help="Say it at this scale too: 1:43.5, 7mm/ft, N (GB)."
)


@instrument.command("check")
@click.argument("name")
@click.option(
    "--reference", required=True, metavar="LENGTH", help="A length known better, with its ±: '2743mm ± 1mm'."
)
@click.option("--reading", required=True, metavar="LENGTH", help="What the instrument read of it.")
@click.option("--on", metavar="DAY", help="The day of the check: 2023-06-17.")
@click.option("--visit", help="The visit on which it was checked.")
@at_option
@json_option
@pass_archive
def check(
    archive: Archive,
    name: str,
    reference: str,
    reading: str,
    on: str | None,
    visit: str | None,
    scale: str | None,
    as_json_: bool,
) -> None:
    """Write down what the instrument NAME read of a length known better; all sizes that it took are worked out anew.

    A check of a steady instrument corrects all its readings, earlier ones too; that of a changing one
    those of its own day.

    \b
    Example:
        rivetbook instrument check phone --reference "2743mm ± 1mm" --reading "2.75m" --on 2024-09-08
    """
    from archive.dimensions.checking import check_instrument
    from archive.scales import parse_scale

    noted = check_instrument(
        archive,
        name,
        reference=reference,
        reading=reading,
        on=on,
        visit=visit,
        at=parse_scale(scale) if scale else None,
    )
    if as_json_:
        show_json({**show.instrument_json(noted.sheet), "worked_out_anew": [d.id for d in noted.sizes]})
        return
    show.check_noted(noted)


@instrument.command("show")
@click.argument("name")
@at_option
@click.option("--plot", "plot_to", metavar="FILE", help="Draw its checks into this new SVG file.")
@json_option
@pass_archive
def show_instrument(
    archive: Archive, name: str, scale: str | None, plot_to: str | None, as_json_: bool
) -> None:
    """Say how far the instrument NAME can be trusted, by its checks or its limits.

    \b
    Example:
        rivetbook instrument show phone --at 1:43.5 --plot phone.svg
    """
    from archive.dimensions.checking import instrument_sheet
    from archive.scales import parse_scale

    sheet = instrument_sheet(archive, name, at=parse_scale(scale) if scale else None)
    if plot_to is not None:
        from archive.dimensions.check_plot import write_plot

        write_plot(sheet, Path(plot_to).expanduser())
    if as_json_:
        show_json(show.instrument_json(sheet))
        return
    show.instrument_sheet(sheet)
    if plot_to is not None:
        click.echo(f"The plot is in '{plot_to}'.")
