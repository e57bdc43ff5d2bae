"""A size worked out from other sizes."""

from __future__ import annotations

import click

from archive.cli import show
from archive.cli.door import json_option, pass_archive, show_json
from archive.cli.sizes import size
from archive.records.archive import Archive


@size.command("work-out")
@click.argument("subject")
@click.argument("label")
@click.argument("text", metavar="SUM")
@click.option("--span", default="plain", help="How it is taken: over, between, centres.")
@click.option(
    "--state", default="as found", help="The condition of the thing that it is a size of: 'as built'."
)
@json_option
@pass_archive
def work_out(
    archive: Archive, subject: str, label: str, text: str, span: str, state: str, as_json_: bool
) -> None:
    """Have LABEL of SUBJECT worked out from its other sizes by SUM; it follows when they change.

    Terms are as in a tally; a label may also be multiplied with a count, and divided by another label.

    \b
    Example:
        rivetbook size work-out "Weighbridge hut" "door width" "5 x door board"
    """
    from archive.dimensions.sums import work_out_size

    recorded = work_out_size(archive, subject, label, text, span=span, state=state)
    if as_json_:
        show_json(show.recorded_json(recorded))
        return
    show.recorded(recorded)
