"""Kinds of things: the tree, and kinds of one's own."""

from __future__ import annotations

import click

from archive.cli import show
from archive.cli.door import BookGroup, json_option, pass_archive, pass_archive_to_look, show_json
from archive.records.archive import Archive
from archive.records.entering import enter_kind, leave_out_kind
from archive.search.kind_tree import KindLine, kind_tree


@click.command()
@click.argument("under", metavar="[KIND]", required=False)
@click.option("--used", is_flag=True, help="Only kinds that some subject is of.")
@json_option
@pass_archive_to_look
def kinds(archive: Archive, under: str | None, used: bool, as_json_: bool) -> None:
    """Show the kinds of things as a tree, with how many subjects are of each: all, or those under KIND.

    \b
    Example:
        rivetbook kinds vehicle
    """
    lines = kind_tree(archive, under, used=used)
    if as_json_:
        show_json({"kinds": [_json(line) for line in lines]})
        return
    rows = [_row(line) for line in lines]
    show.table(("Kind", "Subjects", "Also called"), rows, nothing="No subject has a kind yet.")


@click.group(cls=BookGroup)
def kind() -> None:
    """Kinds of your own, beside those that Rivetbook knows."""


@kind.command("add")
@click.argument("name")
@click.option("--under", metavar="KIND", help="The broader kind: what is asked for it finds this too.")
@click.option("--also", multiple=True, metavar="WORD", help="Another word for it (may be repeated).")
@click.option("--view", "views", multiple=True, help="A view worth taking (may be repeated).")
@click.option(
    "--size", "sizes", multiple=True, metavar="LABEL", help="A size worth taking (may be repeated)."
)
@pass_archive
def add_kind(
    archive: Archive,
    name: str,
    under: str | None,
    also: tuple[str, ...],
    views: tuple[str, ...],
    sizes: tuple[str, ...],
) -> None:
    """Add the kind NAME.

    \b
    Example:
        rivetbook kind add "slipway cradle" --under vehicle --also "boat cradle" --size "cradle length"
    """
    added = enter_kind(archive, name, under=under, also=also, views=views, sizes=sizes)
    click.echo(f"Added the kind {added.name}; what is asked for a {added.broader} finds it too.")


@kind.command("remove")
@click.argument("name")
@pass_archive
def remove_kind(archive: Archive, name: str) -> None:
    """Take away the kind NAME: one of your own that no subject is of.

    \b
    Example:
        rivetbook kind remove "slipway cradle"
    """
    click.echo(f"Took away the kind {leave_out_kind(archive, name).name}.")


def _row(line: KindLine) -> tuple[str, ...]:
    also = ", ".join(word for word in line.kind.words if word != line.kind.name)
    mark = " (your own)" if line.own else ""
    many = str(line.with_narrower) if line.with_narrower else ""
    return ("  " * line.depth + line.kind.name + mark, many, also)


def _json(line: KindLine) -> dict[str, object]:
    return {
        "id": line.kind.id,
        "name": line.kind.name,
        "broader": line.kind.broader,
        "words": list(line.kind.words),
        "own": line.own,
        "subjects": line.subjects,
        "subjects_with_narrower": line.with_narrower,
    }
