"""Finding things again."""

from __future__ import annotations

from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli.door import WholeNumber, json_option, pass_archive_to_look, show_json
from archive.cli.show_found import found_json, row_of, show_found
from archive.records.archive import Archive
from archive.records.originals import picture_path
from archive.records.photos import photos_by_key

if TYPE_CHECKING:
    from archive.search.finding import FindResult


@click.command()
@click.argument("words", nargs=-1)
@click.option("--kind", help="Only this kind of thing and narrower ones, by any word for it.")
@click.option(
    "--size", "sizes", multiple=True, metavar="SIZE", help="'post height 2.5 to 3 m', 'length over 4 m'."
)
@click.option(
    "--model-size",
    "model_sizes",
    multiple=True,
    metavar="SIZE",
    help="A size on the model, at the scale of --at: 'overall height 14 to 18 mm'.",
)
@click.option("--at", metavar="SCALE", help="The scale of your model.")
@click.option(
    "--ratio",
    "ratios",
    multiple=True,
    metavar="RATIO",
    help="'height to width about 2 to 1', 'length to width over 3'.",
)
@click.option(
    "--has", multiple=True, metavar="LABEL", help="Only what this size is known of (may be repeated)."
)
@click.option(
    "--good-for",
    "good_for",
    metavar="SCALE",
    help="Only subjects whose sizes are all known well enough for a model: 1:43.5.",
)
@click.option(
    "--looks-like",
    "looks_like",
    metavar="PHOTO",
    help="Only photos that show the same picture as this one, and the subjects on them.",
)
@click.option("--view", help="Only what a photo shows from this view: front, rear, left side...")
@click.option("--visit", help="Only what was seen on this visit.")
@click.option(
    "--taken", metavar="WHEN", help="Only what was photographed then: 'June 2023', autumn, '2019 to 2021'."
)
@click.option(
    "--near",
    nargs=2,
    metavar="PLACE DISTANCE",
    help="Only what is so near: '\"Wendle Basin\" 2km', '\"52.1, -1.3\" 5km'.",
)
@click.option("--unlinked", is_flag=True, help="Only photos that show no subject yet.")
@click.option("--keep-as", metavar="NAME", help="Keep this search by a name, to ask it again.")
@click.option("--kept", metavar="NAME", help="Ask a kept search again; words and conditions are added to it.")
@click.option(
    "--contact-sheet",
    "sheet",
    metavar="FILE.jpg",
    help="Put the pictures of what is found on one sheet, into this new file.",
)
@click.option(
    "--most",
    "limit",
    type=WholeNumber(1, 1000),
    default=20,
    metavar="NUMBER",
    help="How many to show at most (20).",
)
@json_option
@pass_archive_to_look
def find(
    archive: Archive,
    /,
    words: tuple[str, ...],
    keep_as: str | None,
    kept: str | None,
    sheet: str | None,
    limit: int,
    as_json_: bool,
    **conditions: Any,
) -> None:
    """Find subjects and photos by any WORDS for them, by kind, size, place and time.

    \b
    Example:
        rivetbook find mooring post --size "height 2 to 3 ft"
        rivetbook find --model-size "height 14 to 18 mm" --at 1:43.5
        rivetbook find iron ring --taken autumn --near "Wendle Basin" 2km --contact-sheet rings.jpg
        rivetbook find post --good-for 1:43.5 --keep-as "Posts to model"
        rivetbook find --kept "Posts to model"
    """
    from archive.search import find as look_for

    file = Path(sheet).expanduser() if sheet else None
    if file is not None:
        from archive.packs.contact_sheet import check_sheet_name

        check_sheet_name(file)
    asked: dict[str, Any] = {"words": " ".join(words), **conditions}
    if kept is not None:
        from archive.search.kept import asked_again

        asked = asked_again(archive, kept, asked)
    if keep_as is not None:
        from archive.search.kept import check_name

        check_name(keep_as)
    found = look_for(archive, counting=True, limit=limit, **asked)
    said = _keep(archive, keep_as, asked) if keep_as is not None else None
    pictures = _write_sheet(archive, found, file) if file else 0
    if as_json_:
        with archive.look() as look:
            show_json(found_json(found, photos_by_key(look, [photo.key for photo in found.photos])))
        return
    show_found(found)
    if asked.get("good_for") and not found.hits:
        click.echo(f"To see what a subject lacks: rivetbook gaps SUBJECT --at {quote(asked['good_for'])}")
    if sheet:
        click.echo(f"\nThe sheet of {wording.counted(pictures, 'picture', 'pictures')} is in '{sheet}'.")
    if said:
        click.echo(f"\n{said}")


def _keep(archive: Archive, name: str, asked: dict[str, Any]) -> str:
    from archive.search.kept import keep_search

    return keep_search(archive, name, asked)


def _write_sheet(archive: Archive, found: FindResult, file: Path) -> int:
    from archive.packs.contact_sheet import Tile, write_contact_sheet

    cards = [hit.photos[0] if hit.photos else None for hit in found.hits] + list(found.photos)
    with archive.look() as look:
        photos = {p.key: p for p in photos_by_key(look, [card.key for card in cards if card])}
    files = [picture_path(archive, photos[card.key]) if card else None for card in cards]
    pages = [photos[card.key].page_index if card else 0 for card in cards]
    names = [hit.subject for hit in found.hits] + [photo.file for photo in found.photos]
    details = [row_of(hit, found.at)[2] or hit.kind or "" for hit in found.hits]
    details += [photo.caption or "" for photo in found.photos]
    tiles = [Tile(*told) for told in zip(names, details, files, pages, strict=True)]
    return write_contact_sheet(file, found.words, tiles)
