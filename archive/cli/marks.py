"""Marks on photos."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from archive.cli import show
from archive.cli.door import Number, json_option, pass_archive, pass_archive_to_look, show_json
from archive.records.archive import Archive
from archive.records.things import PhotoMark, as_json

if TYPE_CHECKING:
    from archive.dimensions.marking import MarksOfPhoto
    from archive.photogrammetry.marks import Clearness


@click.command()
@click.argument("photo")
@click.argument("name")
@click.argument("x", type=Number())
@click.argument("y", type=Number())
@click.option("--crisp", is_flag=True, help="A sharp corner or edge, placed to 0.7 of a pixel.")
@click.option("--worn", is_flag=True, help="A rounded, worn or blurred edge, placed to 2.5 pixels.")
@click.option("--snap", type=click.Choice(["corner", "edge"]), help="Move it to the corner or edge near it.")
@json_option
@pass_archive
def mark(
    archive: Archive,
    photo: str,
    name: str,
    x: float,
    y: float,
    crisp: bool,
    worn: bool,
    snap: str | None,
    as_json_: bool,
) -> None:
    """Put the mark NAME on PHOTO at X Y, or move it there.

    X and Y are pixels of the upright picture at full resolution, from the middle of its top left pixel, to the right and
    down. What was worked out from a mark follows it.

    \b
    Example:
        rivetbook mark P5_20230617_101431 "door head left" 487.7 366.4 --crisp
    """
    from archive.dimensions.marking import put_mark

    if crisp and worn:
        raise click.UsageError(
            "A mark is either --crisp or --worn; without both it is plain, placed to 1 pixel."
        )
    clear: Clearness = "crisp" if crisp else "worn" if worn else "plain"
    done = put_mark(archive, photo, name, x, y, clear=clear, snap=snap)  # type: ignore[arg-type]
    if as_json_:
        show_json({"mark": _mark_json(done.mark, done.u_px), "says": done.says})
        return
    where = f"({done.mark.x_px:.1f}, {done.mark.y_px:.1f})"
    click.echo(
        f"Marked '{done.mark.name}' on {done.mark.photo} at {where}, to {done.u_px:.1f} px, {done.mark.clear}."
    )
    if done.says:
        click.echo(done.says)


@click.command()
@click.argument("photo")
@json_option
@pass_archive_to_look
def marks(archive: Archive, photo: str, as_json_: bool) -> None:
    """List the marks on PHOTO, and by how many recipes each is used.

    \b
    Example:
        rivetbook marks P5_20230617_101431
    """
    from archive.dimensions.marking import marks_of_photo

    found = marks_of_photo(archive, photo)
    if as_json_:
        show_json(
            {
                "photo": found.photo.file,
                "marks": [
                    {**_mark_json(mark, u_px), "used_by": uses}
                    for mark, u_px, uses in zip(found.marks, found.u_px, found.uses, strict=True)
                ],
            }
        )
        return
    _mark_table(found)


def _mark_json(mark: PhotoMark, u_px: float) -> dict[str, Any]:
    return as_json(mark, u_px=u_px)


def _mark_table(found: MarksOfPhoto) -> None:
    show.table(
        ("Mark", "Across", "Down", "Clear", "Placed to", "Snapped to", "Used by"),
        [
            (
                m.name,
                f"{m.x_px:.1f}",
                f"{m.y_px:.1f}",
                m.clear,
                f"{u:.1f} px",
                m.snapped or "",
                str(n) if n else "",
            )
            for m, u, n in zip(found.marks, found.u_px, found.uses, strict=True)
        ],
        nothing=f'Nothing is marked on {found.photo.file} yet. Mark something with: rivetbook mark "{found.photo.file}" NAME X Y',
    )
