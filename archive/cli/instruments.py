"""Instruments, their checks, and what these say of one."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli import show_instruments
from archive.cli.door import (
    BookGroup,
    fact_option,
    json_option,
    pass_archive,
    pass_archive_to_look,
    show_json,
)
from archive.records.archive import Archive
from archive.records.entering import enter_instrument
from archive.records.things import as_json

at_option = click.option(
    "--at", "scale", metavar="SCALE", help="Say it at this scale too: 1:43.5, 7mm/ft, N (GB)."
)


@click.group(cls=BookGroup)
def instrument() -> None:
    """What takes the readings: a tape, a laser, a phone, a drawing, a book."""


@instrument.command("add")
@click.argument("name")
@click.option("--kind", help="tape, laser, phone, calliper, drawing, book...")
@click.option("--resolution", metavar="LENGTH", help="The smallest step it shows, such as 1mm.")
@click.option("--limit", metavar="LIMIT", help="How far off it may be: '0.3 mm + 0.2 mm/m', '± 2 mm', '1 %'.")
@click.option(
    "--steady/--changing",
    default=None,
    help="Steady: it keeps its error from day to day (a tape). Changing: it does not (a phone). Else by its kind.",
)
@click.option("--drawn-at", metavar="SCALE", help="Of a drawing: the scale it is drawn to, as 1:48.")
@click.option("--notes", help="Anything else about it.")
@pass_archive
def add_instrument(
    archive: Archive,
    name: str,
    kind: str | None,
    resolution: str | None,
    limit: str | None,
    steady: bool | None,
    drawn_at: str | None,
    notes: str | None,
) -> None:
    """Add the instrument NAME: what takes readings.

    \b
    Example:
        rivetbook instrument add "long tape" --kind tape --resolution 1mm --limit "0.3 mm + 0.2 mm/m" --steady
    """
    from archive.dimensions.instruments import told_of_kind

    added = enter_instrument(
        archive,
        name,
        kind=kind,
        resolution=resolution,
        limit=limit,
        steady=steady,
        notes=notes,
        drawn_at=drawn_at,
    )
    click.echo(f"Added the instrument {show_instruments.instrument_line(added)}.")
    for sentence in told_of_kind(added):
        click.echo(sentence)


@instrument.command("list")
@json_option
@pass_archive_to_look
def list_instruments(archive: Archive, as_json_: bool) -> None:
    """List all instruments.

    \b
    Example:
        rivetbook instrument list
    """
    from archive.dimensions.instruments import instrument_lines

    found = instrument_lines(archive)
    if as_json_:
        show_json({"instruments": [as_json(line.instrument) for line in found]})
        return
    show_instruments.instrument_table(found)


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
        show_json(
            {**show_instruments.instrument_json(noted.sheet), "worked_out_anew": [d.id for d in noted.sizes]}
        )
        return
    show_instruments.check_noted(noted)


@instrument.command("show")
@click.argument("name")
@at_option
@click.option("--plot", "plot_to", metavar="FILE", help="Draw its checks into this new SVG file.")
@json_option
@pass_archive_to_look
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
        show_json(show_instruments.instrument_json(sheet))
        return
    show_instruments.instrument_sheet(sheet)
    if plot_to is not None:
        click.echo(f"The plot is in '{plot_to}'.")


@instrument.command("amend")
@click.argument("name")
@click.option("--name", "new_name", metavar="NEW", help="Call it so instead.")
@fact_option("--kind", help="tape, laser, phone, calliper, drawing, book...")
@fact_option("--resolution", metavar="LENGTH", help="The smallest step it shows, such as 1mm.")
@fact_option("--limit", metavar="LIMIT", help="How far off it may be: '0.3 mm + 0.2 mm/m', '± 2 mm', '1 %'.")
@click.option(
    "--steady/--changing", default=None, help="Whether it keeps its error from day to day (a tape does)."
)
@fact_option("--drawn-at", metavar="SCALE", help="Of a drawing: the scale it is drawn to, as 1:48.")
@fact_option("--notes", help="Anything else about it.")
@pass_archive
def amend(
    archive: Archive,
    name: str,
    new_name: str | None,
    kind: str | None,
    resolution: str | None,
    limit: str | None,
    steady: bool | None,
    drawn_at: str | None,
    notes: str | None,
) -> None:
    """Put in other facts of the instrument NAME; all sizes that it took are worked out anew. '' clears a fact.

    \b
    Example:
        rivetbook instrument amend "long tape" --limit "0.6 mm + 0.4 mm/m"
    """
    from archive.dimensions.instruments import amend_instrument, told_of_kind

    done = amend_instrument(
        archive,
        name,
        name=new_name,
        kind=kind,
        resolution=resolution,
        limit=limit,
        steady=steady,
        drawn_at=drawn_at,
        notes=notes,
    )
    click.echo(f"It is now {show_instruments.instrument_line(done.instruments[0])}.")
    for sentence in told_of_kind(done.instruments[0]):
        click.echo(sentence)
    show_instruments.worked_out_anew(done.sizes)


@instrument.command("remove-check")
@click.argument("check_", metavar="CHECK")
@pass_archive
def remove_check_(archive: Archive, check_: str) -> None:
    """Take away a mistaken CHECK (its id, see 'instrument show'); sizes are worked out as if it had not been.

    \b
    Example:
        rivetbook instrument remove-check h4k2m9pq7rt
    """
    from archive.dimensions.instruments import remove_check

    done = remove_check(archive, check_)
    click.echo(f"Took the check of {done.instruments[0].name} away. To bring it back: rivetbook undo")
    show_instruments.worked_out_anew(done.sizes)


@instrument.command("kinds")
@json_option
@pass_archive_to_look
def kinds(archive: Archive, as_json_: bool) -> None:
    """List the kinds of instrument with how far off each may be until it is checked, and where that comes from.

    \b
    Example:
        rivetbook instrument kinds
    """
    from archive.dimensions.instruments import kinds_of_instrument

    found = kinds_of_instrument(archive)
    if as_json_:
        show_json({"kinds": [as_json(kind) for kind in found]})
        return
    show_instruments.instrument_kinds(found)


@instrument.command("usual")
@click.argument("kind")
@click.option("--limit", metavar="LIMIT", help="How far off such a thing may be: '0.3 mm + 0.2 mm/m', '1 %'.")
@click.option("--why", metavar="WHY", help="Where that comes from: its data sheet, the mark on it.")
@click.option("--resolution", metavar="LENGTH", help="The smallest step it shows, such as 1mm.")
@click.option("--forget", is_flag=True, help="Let what Rivetbook begins with stand again.")
@pass_archive
def usual(
    archive: Archive, kind: str, limit: str | None, why: str | None, resolution: str | None, forget: bool
) -> None:
    """Say how far off instruments of a KIND may be that have no limit of their own; see 'instrument kinds'.

    Of a drawing the limit is that on the paper.

    \b
    Example:
        rivetbook instrument usual laser --limit "1.5 mm + 0.1 mm/m" --why "the maker's sheet"
    """
    from archive.dimensions.instruments import forget_usual_limit, set_usual_limit

    if forget == bool(limit) or (forget and (why or resolution)):
        raise click.UsageError("Say the limit with --limit and --why, or --forget.")
    if forget:
        known, done = forget_usual_limit(archive, kind)
    else:
        known, done = set_usual_limit(archive, kind, limit=limit or "", why=why or "", resolution=resolution)
    click.echo(
        f"Until it is checked, a {known.id} may be off by {show_instruments.usual_limit(known)}: {known.why}."
    )
    show_instruments.worked_out_anew(done.sizes)
