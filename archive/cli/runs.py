"""A run along a tape."""

from __future__ import annotations

import click

from archive.cli import show_sizes
from archive.cli.door import json_option, pass_archive, show_json
from archive.cli.sizes import size
from archive.records.archive import Archive


@size.command("run")
@click.argument("subject")
@click.argument("title")
@click.argument("positions")
@click.option("--with", "instrument", metavar="INSTRUMENT", help="The tape it was read from.")
@click.option("--photo", help="The photo that shows the tape.")
@click.option("--visit", help="The visit it was read on.")
@click.option("--on", metavar="DAY", help="The day it was read: 2023-06-17.")
@click.option(
    "--replace", is_flag=True, help="It corrects the run of this title, which is kept but counts no longer."
)
@json_option
@pass_archive
def run(
    archive: Archive,
    subject: str,
    title: str,
    positions: str,
    instrument: str | None,
    photo: str | None,
    visit: str | None,
    on: str | None,
    replace: bool,
    as_json_: bool,
) -> None:
    """Write down POSITIONS read along one hooked tape on SUBJECT; the sizes between neighbours follow.

    Positions are parted by ; and the first unit serves all. A size is called 'A to B', or as the brackets
    between its two positions say, with /over, /between or /centres where that matters.

    \b
    Example:
        rivetbook size run "Weighbridge hut" "front, from left corner" --with "long tape" "0; door left 0.42 m; [door width /over]; door right 1.18; end 2.73"
    """
    from archive.dimensions.overview import reading_json
    from archive.dimensions.runs import record_run

    done = record_run(
        archive,
        subject,
        title,
        positions,
        instrument=instrument,
        photo=photo,
        visit=visit,
        on=on,
        replace=replace,
    )
    if as_json_:
        show_json(
            {
                "id": done.run.id,
                "title": done.run.title,
                "readings": [reading_json(r.reading) for r in done.sizes],
            }
        )
        return
    show_sizes.run_recorded(done)
