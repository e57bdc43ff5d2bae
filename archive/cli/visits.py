"""Visits: trips to a place."""

from __future__ import annotations

import click

from archive.cli import show_photos, show_visits
from archive.cli.door import (
    BookGroup,
    fact_option,
    json_option,
    pass_archive,
    pass_archive_to_look,
    show_json,
)
from archive.records import clocks, photos, visits
from archive.records.archive import Archive
from archive.records.entering import enter_visit
from archive.records.things import as_json
from archive.records.visit_files import visit_files_of


@click.group(cls=BookGroup)
def visit() -> None:
    """Trips to a place, on one or more days."""


@visit.command("add")
@click.argument("name")
@click.option("--place", help="Where it went; a new place is added.")
@click.option("--on", "days", metavar="DAY", help="The day, or 'DAY to DAY': 2023-06-17.")
@click.option("--zone", help="Time zone, such as Europe/London; else this machine's.")
@click.option("--people", help="Who was there, who let you in.")
@click.option("--access", help="How to get in: gates, hours, whom to ask.")
@pass_archive
def add_visit(
    archive: Archive,
    name: str,
    place: str | None,
    days: str | None,
    zone: str | None,
    people: str | None,
    access: str | None,
) -> None:
    """Add a visit called NAME.

    \b
    Example:
        rivetbook visit add "Wendle Basin, June" --place "Wendle Basin" --on 2023-06-17
    """
    added = enter_visit(archive, name, place=place, days=days, zone=zone, people=people, access_notes=access)
    click.echo(f"Added the visit {show_visits.visit_line(added)}.")


@visit.command("show")
@click.argument("name")
@json_option
@pass_archive_to_look
def show_visit(archive: Archive, name: str, as_json_: bool) -> None:
    """Show the visit NAME and its photos.

    \b
    Example:
        rivetbook visit show "Wendle Basin, June"
    """
    with archive.look() as look:
        found = visits.visit_named(look, name)
        shown = photos.all_photos(look, visit=found)
        beside = visit_files_of(look, found)
        wrong_clocks = clocks.clocks_of(look, found.key)
    if as_json_:
        show_json(
            {
                "visit": as_json(found),
                "photos": [show_photos.photo_json(p) for p in shown],
                "files": [as_json(file) for file in beside],
                "clocks": [as_json(each) for each in wrong_clocks],
            }
        )
        return
    show_visits.visit_sheet(found)
    show_photos.photo_table(shown, visit=f'"{found.name}"')
    for each in wrong_clocks:
        click.echo(show_visits.clock_line(each))
    for file in beside:
        click.echo(f"Beside them: {show_visits.visit_file_line(file)}")


@visit.command("list")
@json_option
@pass_archive_to_look
def list_visits(archive: Archive, as_json_: bool) -> None:
    """List all visits, the earliest first.

    \b
    Example:
        rivetbook visit list
    """
    with archive.look() as look:
        found = visits.all_visits(look)
    if as_json_:
        show_json({"visits": [as_json(v) for v in found]})
        return
    show_visits.visit_table(found)


@visit.command("rename")
@click.argument("name")
@click.argument("new_name", metavar="NEW-NAME")
@click.option("--keep-old", is_flag=True, help="Keep the old name as another name that it is found by.")
@pass_archive
def rename_visit(archive: Archive, name: str, new_name: str, keep_old: bool) -> None:
    """Call the visit NAME by NEW-NAME; its folder on disk keeps the name it has.

    \b
    Example:
        rivetbook visit rename "Wendle Basin, June" "Wendle Basin, first trip"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.rename_visit(archive, name, new_name, keep_old=keep_old))


@visit.command("amend")
@click.argument("name")
@fact_option("--place", help="Where it went; a new place is added.")
@fact_option("--on", "days", metavar="DAY", help="The day, or 'DAY to DAY': 2023-06-17.")
@click.option("--zone", help="Time zone, such as Europe/London.")
@fact_option("--people", help="Who was there, who let you in.")
@fact_option("--access", "access_notes", help="How to get in: gates, hours, whom to ask.")
@pass_archive
def amend_visit(archive: Archive, /, name: str, days: str | None, **facts: str | None) -> None:
    """Put in other facts of the visit NAME; what is not said stays, and "" takes a fact away.

    \b
    Example:
        rivetbook visit amend "Wendle Basin, June" --access "Ask at the toll house first"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.amend_visit(archive, name, days=days, **facts))


@visit.command("clock")
@click.argument("name", metavar="VISIT")
@click.option("--camera", help="Whose clock it was: 'Halden C20'; 'none' for photos that name no camera.")
@click.option(
    "--ahead", metavar="TIME", help="By how much it was ahead: 1h07m, 40s, 2 days; 0: it was right."
)
@click.option("--behind", metavar="TIME", help="By how much it was behind.")
@click.option(
    "--same-moment",
    nargs=2,
    metavar="PHOTO OTHER",
    help="Its photo, and one of another camera taken at the same moment, or the time on a clock that it shows.",
)
@pass_archive
def put_clock_right(
    archive: Archive,
    name: str,
    camera: str | None,
    ahead: str | None,
    behind: str | None,
    same_moment: tuple[str, str] | None,
) -> None:
    """Say that a camera's clock was wrong on VISIT; the times of its photos follow, what it wrote is kept.

    \b
    Examples:
        rivetbook visit clock "Wendle Basin, June" --camera "Halden C20" --ahead 1h07m
        rivetbook visit clock "Wendle Basin, June" --same-moment HC20_0412 P5_20230617_101431
        rivetbook visit clock "Wendle Basin, June" --same-moment HC20_0412 10:14:30
    """
    from archive.records import setting_clocks

    if sum(each is not None for each in (ahead, behind, same_moment)) != 1:
        raise click.UsageError("Give one of --ahead, --behind and --same-moment.")
    if same_moment is not None:
        done = setting_clocks.put_clock_right_by(
            archive, name, camera=camera, photo=same_moment[0], shows=same_moment[1]
        )
    else:
        sign, written = (1, ahead) if ahead is not None else (-1, behind)
        seconds = sign * setting_clocks.parse_duration(written or "")
        done = setting_clocks.put_clock_right(archive, name, camera=camera, ahead_s=seconds)
    click.echo(setting_clocks.told(done))


@visit.command("merge")
@click.argument("other")
@click.option("--into", required=True, metavar="VISIT", help="The visit that it was part of.")
@pass_archive
def merge_visit(archive: Archive, other: str, into: str) -> None:
    """Make the visit OTHER part of another; its photos go there with their files.

    \b
    Example:
        rivetbook visit merge "Visit of 2023-06-17" --into "Wendle Basin, June"
    """
    from archive.dimensions import putting_right

    click.echo(putting_right.merge_visits(archive, other, into))
