"""Sizes and the instruments that took them."""

from __future__ import annotations

import click

from archive.cli import show
from archive.cli.door import BookGroup, json_option, pass_archive, show_json
from archive.records import instruments
from archive.records.archive import Archive
from archive.records.entering import enter_instrument
from archive.records.things import as_json


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
@click.option("--notes", help="Anything else about it.")
@pass_archive
def add_instrument(
    archive: Archive,
    name: str,
    kind: str | None,
    resolution: str | None,
    limit: str | None,
    steady: bool | None,
    notes: str | None,
) -> None:
    """Add the instrument NAME.

    \b
    Example:
        rivetbook instrument add "long tape" --kind tape --resolution 1mm --limit "0.3 mm + 0.2 mm/m" --steady
    """
    added = enter_instrument(
        archive, name, kind=kind, resolution=resolution, limit=limit, steady=steady, notes=notes
    )
    click.echo(f"Added the instrument {show.instrument_line(added)}.")


@instrument.command("list")
@json_option
@pass_archive
def list_instruments(archive: Archive, as_json_: bool) -> None:
    """List all instruments.

    \b
    Example:
        rivetbook instrument list
    """
    with archive.look() as look:
        found = instruments.all_instruments(look)
    if as_json_:
        show_json({"instruments": [as_json(i) for i in found]})
        return
    show.instrument_table(found)


@click.group(cls=BookGroup)
def size() -> None:
    """Sizes of subjects: write down what was read."""


@size.command("add")
@click.argument("subject")
@click.argument("label")
@click.argument("as_written", metavar="SIZE")
@click.option("--with", "instrument", metavar="INSTRUMENT", help="What took the reading.")
@click.option("--photo", help="The photo that shows the reading being taken.")
@click.option("--visit", help="The visit it was taken on.")
@click.option("--on", metavar="DAY", help="The day it was taken: 2023-06-17.")
@json_option
@pass_archive
def add_size(
    archive: Archive,
    subject: str,
    label: str,
    as_written: str,
    instrument: str | None,
    photo: str | None,
    visit: str | None,
    on: str | None,
    as_json_: bool,
) -> None:
    """Write down one reading of LABEL on SUBJECT, as you would note it: 1ft 3in, 2.74 m, 381.

    \b
    Example:
        rivetbook size add "Wharf crane" "crank throw" "1ft 3in" --with "long tape"
    """
    from archive.dimensions.overview import reading_json
    from archive.dimensions.readings import record_reading

    recorded = record_reading(
        archive, subject, label, as_written, instrument=instrument, photo=photo, visit=visit, on=on
    )
    if as_json_:
        show_json(
            {"reading": reading_json(recorded.reading), "warnings": [as_json(w) for w in recorded.warnings]}
        )
        return
    show.recorded(recorded)


@click.command()
@click.argument("subject")
@click.option("--at", "scale", metavar="SCALE", help="Show them at this scale too: 1:43.5, 7mm/ft, N (GB).")
@json_option
@pass_archive
def sizes(archive: Archive, subject: str, scale: str | None, as_json_: bool) -> None:
    """Show the sizes of SUBJECT: as written, in mm, in feet and inches, with their doubt, and on the model.

    \b
    Example:
        rivetbook sizes "Weighbridge hut" --at 1:43.5
    """
    from archive.dimensions.overview import estimate_json, sizes_of
    from archive.scales import parse_scale

    known = sizes_of(archive, subject, scale=parse_scale(scale) if scale else None)
    if as_json_:
        show_json(
            {
                "subject": known.subject.name,
                "scale": scale,
                "ratio": float(known.scale.ratio) if known.scale else None,
                "sizes": [estimate_json(line) for line in known.lines],
            }
        )
        return
    show.size_table(known)
