"""Photos: bringing them in, listing them, saying what they show."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli import show
from archive.cli.door import DONE_WITH_DOUBTS, json_option, pass_archive, show_json
from archive.records import photos as records
from archive.records import visits
from archive.records.archive import Archive
from archive.records.entering import link_photos


@click.command("import")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@click.option("--visit", help="The visit they belong to; one of this name is made if there is none.")
@json_option
@pass_archive
@click.pass_context
def import_photos(
    ctx: click.Context, archive: Archive, paths: tuple[str, ...], visit: str | None, as_json_: bool
) -> None:
    """Bring photos in from files and folders. The files themselves are never altered.

    \b
    Example:
        rivetbook import ~/Pictures/trip --visit "Wendle Basin, June"
    """
    from archive.ingest.importing import import_files

    with show.progress() as progress:
        report = import_files(archive, [Path(p).expanduser() for p in paths], visit=visit, progress=progress)
    if as_json_:
        show_json(show.import_json(report))
    else:
        show.import_report(report)
    if report.has_doubts:
        ctx.exit(DONE_WITH_DOUBTS)


@click.command()
@click.option("--visit", help="Only those of this visit.")
@click.option("--unlinked", is_flag=True, help="Only those that are not linked to any subject yet.")
@json_option
@pass_archive
def photos(archive: Archive, visit: str | None, unlinked: bool, as_json_: bool) -> None:
    """List photos in order of time taken.

    \b
    Example:
        rivetbook photos --visit "Wendle Basin, June"
    """
    with archive.look() as look:
        trip = visits.visit_named(look, visit) if visit else None
        found = records.all_photos(look, visit=trip, unlinked=unlinked)
    if as_json_:
        show_json({"photos": [show.photo_json(p) for p in found]})
        return
    show.photo_table(found)


@click.command()
@click.argument("photos", nargs=-1, required=True, metavar="PHOTO...")
@click.option("--to", "subjects", multiple=True, required=True, metavar="SUBJECT", help="What they show.")
@click.option("--view", help="From where: front, rear, left side, right side, top, detail...")
@click.option("--mirrored", is_flag=True, help="The picture is the wrong way round.")
@json_option
@pass_archive
def link(
    archive: Archive,
    photos: tuple[str, ...],
    subjects: tuple[str, ...],
    view: str | None,
    mirrored: bool,
    as_json_: bool,
) -> None:
    """Say what photos show. A photo is named by its file name, with or without the ending.

    \b
    Example:
        rivetbook link HC20_0412 HC20_0413 --to "Wharf crane" --view front
    """
    linked = link_photos(archive, photos, subjects, view=view, mirrored=mirrored)
    if as_json_:
        show_json(
            {
                "linked": [p.file for p in linked.photos],
                "already_linked": [p.file for p in linked.unchanged],
                "subjects": [s.name for s in linked.subjects],
                "view": linked.view,
                "warnings": list(linked.warnings),
            }
        )
        return
    show.linked(linked)
