"""Builds and their reference packs."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli import show, show_builds
from archive.cli.door import (
    DONE_WITH_DOUBTS,
    BookGroup,
    json_option,
    pass_archive,
    pass_archive_to_look,
    show_json,
)
from archive.records import builds
from archive.records.archive import Archive
from archive.records.entering import enter_build


@click.group(cls=BookGroup)
def build() -> None:
    """Model projects: what you build, at which scale."""


@build.command("add")
@click.argument("name")
@click.option("--scale", required=True, help="1:43.5, 7mm/ft, H0...")
@click.option(
    "--subject", "subjects", multiple=True, required=True, help="What it is a model of (may be repeated)."
)
@click.option("--process", help="How you make it: resin, filament, card, brass...")
@click.option("--tolerance", metavar="LENGTH", help="How exact the model should be: 0.1mm.")
@click.option("--notes", help="Anything else about it.")
@pass_archive
def add_build(
    archive: Archive,
    name: str,
    scale: str,
    subjects: tuple[str, ...],
    process: str | None,
    tolerance: str | None,
    notes: str | None,
) -> None:
    """Add the build NAME.

    \b
    Example:
        rivetbook build add "Crane in 7 mm" --scale 1:43.5 --subject "Wharf crane" --tolerance 0.1mm
    """
    added = enter_build(
        archive, name, scale=scale, of=subjects, process=process, tolerance=tolerance, notes=notes
    )
    click.echo(f"Added the build {show_builds.build_line(added)}.")


@build.command("show")
@click.argument("name")
@json_option
@pass_archive_to_look
def show_build(archive: Archive, name: str, as_json_: bool) -> None:
    """Show the build NAME.

    \b
    Example:
        rivetbook build show "Crane in 7 mm"
    """
    with archive.look() as look:
        found = builds.build_named(look, name)
    if as_json_:
        show_json({"build": show_builds.build_json(found)})
        return
    show_builds.build_sheet(found)


@build.command("list")
@json_option
@pass_archive_to_look
def list_builds(archive: Archive, as_json_: bool) -> None:
    """List all builds.

    \b
    Example:
        rivetbook build list
    """
    with archive.look() as look:
        found = builds.all_builds(look)
    if as_json_:
        show_json({"builds": [show_builds.build_json(b) for b in found]})
        return
    show_builds.build_table(found)


@click.command()
@click.argument("build")
@click.option("--to", "folder", required=True, metavar="FOLDER", help="A folder that is not there yet.")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", help="The paper it is printed on."
)
@json_option
@pass_archive
@click.pass_context
def pack(ctx: click.Context, archive: Archive, build: str, folder: str, paper: str, as_json_: bool) -> None:
    """Write the reference pack of BUILD: a PDF to print, its sizes as a table, its photos.

    \b
    Example:
        rivetbook pack "Crane in 7 mm" --to crane-pack
    """
    from archive.packs.reference_pack import write_pack
    from archive.packs.sheets import A4, LETTER

    with show.progress() as progress:
        report = write_pack(
            archive,
            build,
            Path(folder).expanduser(),
            paper=LETTER if paper == "letter" else A4,
            progress=progress,
        )
    if as_json_:
        show_json(show_builds.pack_json(report))
    else:
        show_builds.pack_report(report)
    if report.left_out:
        ctx.exit(DONE_WITH_DOUBTS)
