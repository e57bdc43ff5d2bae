"""Sizes worked out from other sizes, or from a count of even spacings."""

from __future__ import annotations

import click

from archive.cli import show_sizes
from archive.cli.door import WholeNumber, json_option, pass_archive, show_json
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
        show_json(show_sizes.recorded_json(recorded))
        return
    show_sizes.recorded(recorded)


@size.command("count")
@click.argument("subject")
@click.argument("label")
@click.argument("count", type=WholeNumber(min=1, max=100_000))
@click.option(
    "--over",
    type=WholeNumber(min=1, max=100_000),
    required=True,
    help="How many of them were measured together.",
)
@click.option("--measured", required=True, metavar="LENGTH", help="The length over those.")
@click.option(
    "--uneven", metavar="LENGTH", help="How far a single one may depart from the even spacing: 2 mm."
)
@click.option("--with", "instrument", metavar="INSTRUMENT", help="What took the reading.")
@click.option("--photo", help="The photo that shows it.")
@click.option("--visit", help="The visit it was taken on.")
@click.option("--on", metavar="DAY", help="The day it was taken: 2023-06-17.")
@json_option
@pass_archive
def count_spacings(
    archive: Archive,
    subject: str,
    label: str,
    count: int,
    over: int,
    measured: str,
    uneven: str | None,
    instrument: str | None,
    photo: str | None,
    visit: str | None,
    on: str | None,
    as_json_: bool,
) -> None:
    """Write down LABEL of SUBJECT as a COUNT of even spacings, courses or boards, some of them measured together.

    \b
    Example:
        rivetbook size count "Weighbridge hut" "chimney height" 34 --over 8 --measured "602 mm" --with "long tape"
    """
    from archive.dimensions.counting import record_count

    done = record_count(
        archive,
        subject,
        label,
        count,
        over=over,
        measured=measured,
        uneven=uneven,
        instrument=instrument,
        photo=photo,
        visit=visit,
        on=on,
    )
    if as_json_:
        show_json(show_sizes.recorded_json(done.size))
        return
    show_sizes.recorded(done.measured)
    show_sizes.recorded(done.size)
