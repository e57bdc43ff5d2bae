"""Subjects: the real things."""

from __future__ import annotations

import click

from archive.cli import show_photos, show_sizes, show_subjects
from archive.cli.door import (
    BookGroup,
    fact_option,
    json_option,
    pass_archive,
    pass_archive_to_look,
    show_json,
)
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
    click.echo(f"Added the subject {show_subjects.subject_line(added)}.")


@subject.command("show")
@click.argument("name")
@json_option
@pass_archive_to_look
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
                "photos": [show_photos.photo_json(p) for p in shown],
                "sizes": [estimate_json(line) for line in known.lines],
            }
        )
        return
    show_subjects.subject_sheet(found, shown)
    show_sizes.size_table(known)


@subject.command("list")
@json_option
@pass_archive_to_look
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
    show_subjects.subject_table(found)


@subject.command("rename")
@click.argument("name")
@click.argument("new_name", metavar="NEW-NAME")
@click.option("--keep-old", is_flag=True, help="Keep the old name as another name that it is found by.")
@pass_archive
def rename_subject(archive: Archive, name: str, new_name: str, keep_old: bool) -> None:
    """Call the subject NAME by NEW-NAME.

    \b
    Example:
        rivetbook subject rename "Wharf crane" "Lower wharf crane" --keep-old
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.rename_subject(archive, name, new_name, keep_old=keep_old))


@subject.command("amend")
@click.argument("name")
@fact_option("--kind", help="What sort of thing: hut, crane, bollard... by any word for it.")
@click.option("--also", multiple=True, metavar="NAME", help="Another name it goes by (may be repeated).")
@click.option("--no-longer", multiple=True, metavar="NAME", help="A name that it does not go by any more.")
@fact_option("--part-of", metavar="SUBJECT", help="The larger thing that it belongs to.")
@fact_option("--place", help="Where it stands.")
@fact_option("--maker", help="Who made it.")
@fact_option("--numbers", help="Numbers it carries or was known by.")
@fact_option("--era", help="When it was made, or the time you build it in.")
@fact_option("--notes", help="Anything else worth finding it by.")
@pass_archive
def amend_subject(
    archive: Archive,
    /,
    name: str,
    also: tuple[str, ...],
    no_longer: tuple[str, ...],
    **facts: str | None,
) -> None:
    """Put in other facts of the subject NAME; what is not said stays, and "" takes a fact away.

    \b
    Example:
        rivetbook subject amend "Wharf crane" --maker "Tarn Foundry" --notes ""
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.amend_subject(archive, name, also=also, no_longer=no_longer, **facts))


@subject.command("merge")
@click.argument("other")
@click.option("--into", required=True, metavar="SUBJECT", help="The subject that it is the same thing as.")
@pass_archive
def merge_subject(archive: Archive, other: str, into: str) -> None:
    """Make OTHER and a second subject one: every reading, link and name is kept.

    \b
    Example:
        rivetbook subject merge "Hand crane" --into "Wharf crane"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.merge_subjects(archive, other, into))


@subject.command("split")
@click.argument("name")
@click.option("--into", required=True, metavar="NEW-NAME", help="What the new subject is called.")
@click.option("--size", "labels", multiple=True, metavar="LABEL", help="A size that goes there.")
@click.option(
    "--photo", "photos", multiple=True, metavar="PHOTO", help="A photo, or 'A to B', that goes there."
)
@pass_archive
def split_subject(
    archive: Archive, name: str, into: str, labels: tuple[str, ...], photos: tuple[str, ...]
) -> None:
    """Make a new subject of some sizes and photos of the subject NAME.

    \b
    Example:
        rivetbook subject split "Wharf crane" --into "Crane base" --size "base width" --photo HC20_0416
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.split_subject(archive, name, into, labels=labels, shown_by=photos))


@subject.command("remove")
@click.argument("name")
@pass_archive
def remove_subject(archive: Archive, name: str) -> None:
    """Take the subject NAME out with its sizes and links; its photos stay, and 'rivetbook undo' brings it back.

    \b
    Example:
        rivetbook subject remove "Wharf crane"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.remove_subject(archive, name))
