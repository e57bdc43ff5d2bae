"""Photos: bringing them in, listing them, saying what they show."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli import show, show_photos
from archive.cli.door import (
    DONE_WITH_DOUBTS,
    BookGroup,
    fact_option,
    json_option,
    pass_archive,
    pass_archive_to_look,
    show_json,
)
from archive.records import marks, visits
from archive.records import photos as records
from archive.records.archive import Archive
from archive.records.linking import link_photos
from archive.records.things import Photo, as_json


@click.command("import")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@click.option("--visit", help="The visit they belong to; one of this name is made if there is none.")
@click.option(
    "--without-films", is_flag=True, help="Leave out films and voice notes that came with no photo."
)
@click.option(
    "--pages",
    metavar="PAGES",
    default="1",
    help="Which pages of drawings with several become photos: 2, 1,3-5 or all; else the first.",
)
@click.option("--taken-out-too", is_flag=True, help="Bring photos in again that were taken out, as new ones.")
@json_option
@pass_archive
@click.pass_context
def import_photos(
    ctx: click.Context,
    archive: Archive,
    paths: tuple[str, ...],
    visit: str | None,
    without_films: bool,
    pages: str,
    taken_out_too: bool,
    as_json_: bool,
) -> None:
    """Bring photos in from files, folders and ZIP files. The files themselves are never altered.

    \b
    Examples:
        rivetbook import ~/Pictures/trip --visit "Wendle Basin, June"
        rivetbook import "crane plan.pdf" --visit "Wendle Basin, June" --pages 1,3-5
    """
    from archive.ingest.importing import import_files
    from archive.ingest.pages import parse_pages

    chosen = parse_pages(pages)
    with show.progress() as progress:
        report = import_files(
            archive,
            [Path(p).expanduser() for p in paths],
            visit=visit,
            films=not without_films,
            pages=chosen,
            taken_out=taken_out_too,
            progress=progress,
        )
    if as_json_:
        show_json(show_photos.import_json(report))
    else:
        show_photos.import_report(report)
    if report.has_doubts:
        ctx.exit(DONE_WITH_DOUBTS)


@click.command()
@click.option("--visit", help="Only those of this visit.")
@click.option("--unlinked", is_flag=True, help="Only those that are not linked to any subject yet.")
@click.option(
    "--alike",
    is_flag=True,
    help="Only those that look like another, group by group: taken in a burst, or the same picture again.",
)
@json_option
@pass_archive_to_look
def photos(archive: Archive, visit: str | None, unlinked: bool, alike: bool, as_json_: bool) -> None:
    """List photos in order of time taken.

    \b
    Examples:
        rivetbook photos --visit "Wendle Basin, June"
        rivetbook photos --alike
    """
    with archive.look() as look:
        trip = visits.visit_named(look, visit) if visit else None
        found = records.all_photos(look, visit=trip, unlinked=unlinked)
        linked = unlinked and not found and bool(records.all_photos(look, visit=trip))
    if alike:
        _show_look_alikes(archive, found, as_json_)
        return
    if as_json_:
        show_json({"photos": [show_photos.photo_json(p) for p in found]})
        return
    if linked:
        click.echo("Every photo shows something: none is left to be linked.")
        return
    show_photos.photo_table(found)


def _show_look_alikes(archive: Archive, found: list[Photo], as_json_: bool) -> None:
    from archive.records.look_alikes import groups_of_look_alikes

    with show.progress() as progress:
        groups = groups_of_look_alikes(archive, found, progress=progress)
    if as_json_:
        document = [{"sort": g.sort, "photos": [show_photos.photo_json(p) for p in g.photos]} for g in groups]
        show_json({"groups": document})
        return
    show_photos.look_alikes(groups)


@click.command()
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...")
@click.option("--to", "subjects", multiple=True, required=True, metavar="SUBJECT", help="What they show.")
@click.option("--view", help="From where: front, rear, left side, right side, top, detail...")
@click.option(
    "--mirrored/--not-mirrored", default=None, help="The picture is the wrong way round, or is not after all."
)
@click.option(
    "--region",
    metavar="CORNERS",
    help="Where on the photo it is, by two corners: '1200,300 to 1600,800' (pixels) or '10%,20% to 50%,80%'; "
    "'whole' takes it away.",
)
@json_option
@pass_archive
def link(
    archive: Archive,
    photos: tuple[str, ...],
    subjects: tuple[str, ...],
    view: str | None,
    mirrored: bool | None,
    region: str | None,
    as_json_: bool,
) -> None:
    """Say what photos show. A photo is named by its file name, with or without the ending; 'A to B' is a run.

    \b
    Examples:
        rivetbook link HC20_0412 HC20_0415 --to "Wharf crane" --view front
        rivetbook link HC20_0412 to HC20_0419 --to "Wharf crane" --to "Weighbridge hut"
        rivetbook link HC20_0412 --to "Wharf crane" --region "10%,20% to 50%,80%"

    A region's corners are counted across and down from the upper left corner of the upright picture.
    """
    linked = link_photos(archive, photos, subjects, view=view, mirrored=mirrored, region=region)
    if as_json_:
        show_json(
            {
                "linked": [p.file for p in linked.photos],
                "already_linked": [p.file for p in linked.unchanged],
                "subjects": [s.name for s in linked.subjects],
                "view": linked.view,
                "region": show_photos.region_json(linked.region),
                "warnings": list(linked.warnings),
            }
        )
        return
    show_photos.linked(linked)


@click.command()
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...")
@click.option(
    "--from", "subjects", multiple=True, required=True, metavar="SUBJECT", help="What they do not show."
)
@pass_archive
def unlink(archive: Archive, photos: tuple[str, ...], subjects: tuple[str, ...]) -> None:
    """Say that photos do not show a subject after all; both stay.

    \b
    Example:
        rivetbook unlink HC20_0412 to HC20_0415 --from "Wharf crane"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.unlink_photos(archive, photos, subjects))


@click.group(cls=BookGroup)
def photo() -> None:
    """One photo in full; photos put right: to another visit, another caption, taken out."""


@photo.command("show")
@click.argument("photo")
@json_option
@pass_archive_to_look
def show_photo(archive: Archive, photo: str, as_json_: bool) -> None:
    """Show what is known of PHOTO: its facts, what it shows and where on it, its marks.

    \b
    Example:
        rivetbook photo show HC20_0412
    """
    with archive.look() as look:
        found = records.photo_named(look, photo)
        placed = marks.marks_of(look, found)
    if as_json_:
        show_json({"photo": show_photos.photo_json(found), "marks": [as_json(mark) for mark in placed]})
        return
    show_photos.photo_sheet(found, [mark.name for mark in placed])


@photo.command("move")
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...")
@click.option("--to", required=True, metavar="VISIT", help="The visit that they were taken on.")
@pass_archive
def move_photos(archive: Archive, photos: tuple[str, ...], to: str) -> None:
    """Put photos into another visit; their files follow into its folder.

    \b
    Example:
        rivetbook photo move HC20_0412 to HC20_0415 --to "Wendle Basin, June"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.move_photos(archive, photos, to))


@photo.command("amend")
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...")
@fact_option("--caption", help="What it is a picture of, in a sentence.")
@fact_option("--creator", help="Who took it.")
@fact_option("--rights", help="Who may use it, and how.")
@pass_archive
def amend_photos(archive: Archive, /, photos: tuple[str, ...], **facts: str | None) -> None:
    """Put in another caption, creator or rights; "" takes one away. The files themselves are never altered.

    \b
    Example:
        rivetbook photo amend HC20_0415 --caption "The crane from the lock side"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.amend_photos(archive, photos, **facts))


@photo.command("remove")
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...")
@pass_archive
def remove_photos(archive: Archive, photos: tuple[str, ...]) -> None:
    """Take photos out: their files go to the archive's folder 'removed', and 'rivetbook undo' brings them back.

    \b
    Example:
        rivetbook photo remove HC20_0418
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.remove_photos(archive, photos))
