"""Tallies: sums of sizes that must come out."""

from __future__ import annotations

import click

from archive.cli import show_sizes
from archive.cli.door import BookGroup, json_option, pass_archive, pass_archive_to_look, show_json
from archive.records.archive import Archive


@click.group(cls=BookGroup)
def tally() -> None:
    """Sums of sizes that must come out: the bays and posts of a front are its length."""


@tally.command("add")
@click.argument("subject")
@click.argument("text", metavar="SUM")
@json_option
@pass_archive
def add(archive: Archive, subject: str, text: str, as_json_: bool) -> None:
    """Write down a SUM that sizes of SUBJECT must come to; they are adjusted together, and told where they cannot be.

    Terms are sizes by their labels, with a number before them or not, or lengths; between them a spaced + or -,
    and one = . A label that holds such a sign goes in quotes; 'Wharf crane: post height' reaches another subject.

    \b
    Example:
        rivetbook tally add "Weighbridge hut" "3 x bay + 2 x post = length over walls"
    """
    from archive.dimensions.tallying import add_tally

    line = add_tally(archive, subject, text)
    if as_json_:
        show_json(show_sizes.tally_json(line))
        return
    show_sizes.tally_added(line)


@tally.command("list")
@click.argument("subject", required=False)
@json_option
@pass_archive_to_look
def list_tallies(archive: Archive, subject: str | None, as_json_: bool) -> None:
    """List the tallies, of SUBJECT or all, with how they come out.

    \b
    Example:
        rivetbook tally list "Weighbridge hut"
    """
    from archive.dimensions.tallying import tallies_of

    lines = tallies_of(archive, subject)
    if as_json_:
        show_json({"tallies": [show_sizes.tally_json(line) for line in lines]})
        return
    show_sizes.tally_table(lines)


@tally.command("remove")
@click.argument("tally_", metavar="TALLY")
@pass_archive
def remove(archive: Archive, tally_: str) -> None:
    """Take out TALLY, named by its id or as it is written; the sizes in it stay as they were read.

    \b
    Example:
        rivetbook tally remove "3 x bay + 2 x post = length over walls"
    """
    from archive.dimensions.tallying import remove_tally

    gone = remove_tally(archive, tally_)
    click.echo(f"Took out the tally '{gone.as_written}' of {gone.subject}; its sizes are as they were read.")
