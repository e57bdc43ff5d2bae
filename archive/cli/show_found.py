"""What a search found, as a table and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from archive import wording
from archive.cli import show, show_photos, show_visits
from archive.records.things import Photo, as_json

if TYPE_CHECKING:
    from archive.scales import Scale
    from archive.search.by_ratio import RatioFound
    from archive.search.by_size import SizeFound
    from archive.search.finding import Counts, FindResult, Hit

_COUNTS_SHOWN = 12


def found_json(found: FindResult, loose: Sequence[Photo]) -> dict[str, object]:
    """Return what was found as JSON tells it; `loose` are its photos that show no subject, whole."""
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


def show_found(found: FindResult) -> None:
    """Print what was found, and what is to be said of it."""
    for message in found.messages:
        click.echo(message)
    if found.hits:
        rows = [row_of(hit, found.at) for hit in found.hits]
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
    told = [wording.counted(counts.subjects, "subject", "subjects")] if counts.subjects else []
    told += (
        [f"{wording.counted(counts.photos, 'photo', 'photos')} linked to no subject yet"]
        if counts.photos
        else []
    )
    click.echo(f"\nFound {' and '.join(told)}.")
    for title, each in (("kind", counts.kinds), ("place", counts.places), ("year", counts.years)):
        shown = [f"{name} {many}" for name, many in list(each.items())[:_COUNTS_SHOWN]]
        more = [f"{len(each) - _COUNTS_SHOWN} more"] if len(each) > _COUNTS_SHOWN else []
        if shown:
            click.echo(f"By {title}: {', '.join([*shown, *more])}.")


def row_of(hit: Hit, at: Scale | None) -> tuple[str, ...]:
    """Return a hit as a row: subject, kind, sizes asked for, best photo, visits."""
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
