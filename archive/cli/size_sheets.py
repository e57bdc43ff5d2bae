"""One size in full: its readings, and where its doubt comes from."""

from __future__ import annotations

import click

from archive.cli import show_sizes
from archive.cli.door import json_option, pass_archive_to_look, show_json
from archive.cli.sizes import size
from archive.records.archive import Archive
from archive.records.things import as_json


@size.command("show")
@click.argument("subject")
@click.argument("label")
@click.option("--at", "scale", metavar="SCALE", help="Show it at this scale too: 1:43.5, 7mm/ft, N (GB).")
@json_option
@pass_archive_to_look
def show_size(archive: Archive, subject: str, label: str, scale: str | None, as_json_: bool) -> None:
    """Show the size LABEL of SUBJECT in full: every reading, how sure the best figure is, and why not surer.

    \b
    Example:
        rivetbook size show "Weighbridge hut" "door height" --at 1:43.5
    """
    from archive.dimensions.overview import estimate_json, size_labelled
    from archive.scales import parse_scale

    known = size_labelled(archive, subject, label, scale=parse_scale(scale) if scale else None)
    if as_json_:
        show_json(
            {
                "subject": known.subject.name,
                "scale": scale,
                "ratio": float(known.scale.ratio) if known.scale else None,
                "sizes": [
                    {
                        **estimate_json(line),
                        "doubt": line.doubt,
                        "unchecked": list(line.unchecked),
                        "drawn": [as_json(figure) for figure in line.drawn],
                    }
                    for line in known.lines
                ],
            }
        )
        return
    for line in known.lines:
        show_sizes.size_sheet(line, known.scale)
