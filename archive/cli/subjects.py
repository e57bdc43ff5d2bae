"""Subjects: the real things."""

from __future__ import annotations

import click

from archive.cli import show
from archive.cli.door import BookGroup, json_option, pass_archive, show_json
from archive.records import photos, subjects
from archive.records.archive import Archive
from archive.records.entering import enter_subject
from archive.records.things import as_json


@click.group(cls=BookGroup)
def subject() -> None:
    """Real things that can be modelled."""


@subject.command("add")
@click.argument("name")
@click.option("--kind", help="What sort of thing: hut, crane, bollard... by any word for it.")
@click.option("--also", multiple=True, metavar="NAME", help="Another name it goes by (may be repeated).")
@click.option("--part-of", metavar="SUBJECT", help="The larger thing that it belongs to.")
@click.option("--place", help="Where it stands.")
@click.option("--maker", help="Who made it.")
@click.option("--numbers", help="Numbers it carries or was known by.")
@click.option("--era", help="When it was made, or the time you build it in.")
@click.option("--notes", help="Anything else worth finding it by.")
@pass_archive
def add_subject(archive: Archive, /, name: str, also: tuple[str, ...], **facts: str | None) -> None:
    """Add the subject NAME.

    \b
    Example:
        rivetbook subject add "Wharf crane" --kind crane --place "Wendle Basin"
    """
    added = enter_subject(archive, name, also=also, **facts)
    click.echo(f"Added the subject {show.subject_line(added)}.")


@subject.command("show")
@click.argument("name")
@json_option
@pass_archive
def show_subject(archive: Archive, name: str, as_json_: bool) -> None:
    """Show the subject NAME: what is known of it, its photos, its sizes.

    \b
    Example:
        rivetbook subject show "Wharf crane"
    """
    from archive.dimensions.overview import estimate_json, sizes_of

    with archive.look() as look:
        found = subjects.subject_named(look, name)
        shown = photos.photos_showing(look, found)
    known = sizes_of(archive, found.id)
    if as_json_:
        show_json(
            {
                "subject": as_json(found),
                "photos": [show.photo_json(p) for p in shown],
                "sizes": [estimate_json(line) for line in known.lines],
            }
        )
        return
    show.subject_sheet(found, shown)
    show.size_table(known)


@subject.command("list")
@json_option
@pass_archive
def list_subjects(archive: Archive, as_json_: bool) -> None:
    """List all subjects by name.

    \b
    Example:
        rivetbook subject list
    """
    with archive.look() as look:
        found = subjects.all_subjects(look)
    if as_json_:
        show_json({"subjects": [as_json(s) for s in found]})
        return
    show.subject_table(found)
