"""Finding things again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from archive import wording
from archive.cli import show, show_photos, show_visits
from archive.cli.door import WholeNumber, json_option, pass_archive, show_json
from archive.records.archive import Archive
from archive.records.originals import picture_path
from archive.records.photos import photos_by_key
from archive.records.things import Photo, as_json

if TYPE_CHECKING:
    from archive.scales import Scale
    from archive.search.by_ratio import RatioFound
    from archive.search.by_size import SizeFound
    from archive.search.finding import Counts, FindResult, Hit


_COUNTS_SHOWN = 12


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
@pass_archive
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
            show_json(_json(found, photos_by_key(look, [photo.key for photo in found.photos])))
        return
    _show(found)
    if asked.get("good_for") and not found.hits:
        click.echo(f"To see what a subject lacks: rivetbook gaps SUBJECT --at {quote(asked['good_for'])}")
    if sheet:
        click.echo(f"\nThe sheet of {_counted(pictures, 'picture')} is in '{sheet}'.")
    if said:
        click.echo(f"\n{said}")


def _keep(archive: Archive, name: str, asked: dict[str, Any]) -> str:
    from archive.search.kept import keep_search

    return keep_search(archive, name, asked)


@click.command()
@click.option("--forget", metavar="NAME", help="Forget this search.")
@json_option
@pass_archive
def searches(archive: Archive, forget: str | None, as_json_: bool) -> None:
    """List the searches that are kept by name.

    \b
    Example:
        rivetbook searches
        rivetbook searches --forget "Posts to model"
    """
    from archive.search.kept import forget_search, kept_searches

    if forget:
        gone = forget_search(archive, forget)
        if not as_json_:
            click.echo(f"The search '{gone.name}' is forgotten; 'rivetbook undo' brings it back.")
            return
    found = kept_searches(archive)
    if as_json_:
        show_json({"searches": [{"name": each.name, "asked": dict(each.asked)} for each in found]})
        return
    rows = [(each.name, _asked_text(each.asked)) for each in found]
    show.table(
        ("Name", "What it finds"),
        rows,
        nothing="No search is kept yet. Keep one with 'rivetbook find WORDS --keep-as NAME'.",
    )


_TOLD_AS = {"sizes": "size", "model_sizes": "model size", "ratios": "ratio"}


def _asked_text(asked: Mapping[str, Any]) -> str:
    """Return a kept search in the words of the options that it was asked with."""
    told = [str(asked["words"])] if asked.get("words") else []
    for name, value in asked.items():
        if name == "words":
            continue
        called = _TOLD_AS.get(name, name.replace("_", " "))
        if value is True:
            told.append(called)
        elif name == "near":
            told.append(f"near {value[0]}, {value[1]}")
        else:
            each = value if isinstance(value, (list, tuple)) else [value]
            told += [f"{called} {one}" for one in each]
    return "; ".join(told)


def _write_sheet(archive: Archive, found: FindResult, file: Path) -> int:
    from archive.packs.contact_sheet import Tile, write_contact_sheet

    cards = [hit.photos[0] if hit.photos else None for hit in found.hits] + list(found.photos)
    with archive.look() as look:
        photos = {p.key: p for p in photos_by_key(look, [card.key for card in cards if card])}
    files = [picture_path(archive, photos[card.key]) if card else None for card in cards]
    pages = [photos[card.key].page_index if card else 0 for card in cards]
    names = [hit.subject for hit in found.hits] + [photo.file for photo in found.photos]
    details = [_row(hit, found.at)[2] or hit.kind or "" for hit in found.hits]
    details += [photo.caption or "" for photo in found.photos]
    tiles = [Tile(*told) for told in zip(names, details, files, pages, strict=True)]
    return write_contact_sheet(file, found.words, tiles)


def _json(found: FindResult, loose: Sequence[Photo]) -> dict[str, object]:
    return {
        "words": found.words,
        "hits": [
            {
                "subject": hit.subject,
                "id": hit.id,
                "kind": hit.kind,
                "place": hit.place,
                "visits": list(hit.visits),
                "photos": [photo.file for photo in hit.photos],
                "sizes": [_size_json(size) for size in hit.sizes],
                "ratios": [_ratio_json(ratio) for ratio in hit.ratios],
                "in_range_probability": hit.in_range_probability,
                "score": hit.score,
            }
            for hit in found.hits
        ],
        "photos": [show_photos.photo_json(photo) for photo in loose],
        "visits": [as_json(visit) for visit in found.visits],
        "messages": list(found.messages),
        "more": found.more,
        "counts": as_json(found.counts) if found.counts else None,
    }


def _show(found: FindResult) -> None:
    for message in found.messages:
        click.echo(message)
    if found.hits:
        rows = [_row(hit, found.at) for hit in found.hits]
        show.table(("Subject", "Kind", "Sizes asked for", "Best photo", "Seen on"), rows, nothing="")
    if found.photos:
        click.echo("\nPhotos that are not linked to a subject yet:")
        show_photos.card_table(found.photos)
    if found.visits:
        click.echo("\nVisits:")
        show_visits.visit_table(found.visits)
    if found.counts and found.counts.subjects + found.counts.photos > 1:
        _show_counts(found.counts)
    if found.more:
        click.echo("There are more; add a word or a size to find fewer, or ask for more with --most.")


def _show_counts(counts: Counts) -> None:
    told = [_counted(counts.subjects, "subject")] if counts.subjects else []
    told += [f"{_counted(counts.photos, 'photo')} linked to no subject yet"] if counts.photos else []
    click.echo(f"\nFound {' and '.join(told)}.")
    for title, each in (("kind", counts.kinds), ("place", counts.places), ("year", counts.years)):
        shown = [f"{name} {many}" for name, many in list(each.items())[:_COUNTS_SHOWN]]
        more = [f"{len(each) - _COUNTS_SHOWN} more"] if len(each) > _COUNTS_SHOWN else []
        if shown:
            click.echo(f"By {title}: {', '.join([*shown, *more])}.")


def _counted(many: int, what: str) -> str:
    return f"{many} {what}{'' if many == 1 else 's'}"


def _row(hit: Hit, at: Scale | None) -> tuple[str, ...]:
    told = [*(_size_text(size, at) for size in hit.sizes), *(_ratio_text(ratio) for ratio in hit.ratios)]
    photo = hit.photos[0].file if hit.photos else ""
    return (hit.subject, hit.kind or "", "; ".join(told), photo, "; ".join(hit.visits))


def _size_text(found: SizeFound, at: Scale | None) -> str:
    size = found.size
    known = wording.size(size.quantity, size.value, (size.low_95, size.high_95))
    if at is not None:
        known += f", {wording.model_size(size.value, (size.low_95, size.high_95), at)} at {at.text}"
    return f"{size.label} {known} ({found.likelihood}; {size.grade})"


def _ratio_text(found: RatioFound) -> str:
    known = wording.ratio(found.ratio, found.u_ratio)
    return f"{found.first.label} to {found.second.label} {known} ({found.likelihood})"


def _size_json(found: SizeFound) -> dict[str, object]:
    size = found.size
    return {
        "dimension": size.label,
        "span": size.span,
        "state": size.state,
        "grade": size.grade,
        "value_mm": size.value if size.quantity == "length" else None,
        "value": size.value,
        "interval_95": [size.low_95, size.high_95],
        "in_range_probability": found.in_range_probability,
    }


def _ratio_json(found: RatioFound) -> dict[str, object]:
    return {
        "first": found.first.label,
        "second": found.second.label,
        "ratio": found.ratio,
        "standard_uncertainty": found.u_ratio,
        "in_range_probability": found.in_range_probability,
    }
