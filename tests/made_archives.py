"""Archives for the finder's tests, put together from plain descriptions straight through the records."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from wendle_basin import new_archive, photo_facts

from archive.lengths import parse_length
from archive.metrology.sources import Doubtful, Source
from archive.records import photos, sizes, subjects, visits
from archive.records.archive import Archive
from archive.records.changes import Writer
from archive.records.things import Original, Subject, Visit


def described(
    where: Path, told: Iterable[Mapping[str, Any]], *, visit: str = "Round of the district"
) -> Archive:
    """Return an archive of the subjects told of, with a photo for each caption and an estimate for each size."""
    archive = new_archive(where)
    with archive.change("Put together for a test") as writer:
        made = visits.add_visit(writer, visit, zone="Europe/London", first_day="2021-05-02")
        for number, one in enumerate(told):
            add_subject(writer, made, one, number)
    return archive


def add_subject(writer: Writer, visit: Visit, told: Mapping[str, Any], number: int = 0) -> Subject:
    """Add a subject as it is told of, with its photos and sizes."""
    facts = {
        name: told.get(name) for name in ("kind", "part_of", "place", "maker", "numbers", "era", "notes")
    }
    subject = subjects.add_subject(writer, told["name"], also=tuple(told.get("also", ())), **facts)
    views = ("front", "three-quarter", "right side", "detail")
    for n, caption in enumerate(told.get("captions", ())):
        photo = add_photo(writer, visit, f"round_{number:04d}_{n}.jpg", caption=caption)
        photos.link(writer, photo, subject, view=views[n % len(views)])
    for label, written in told.get("sizes", {}).items():
        add_size(writer, subject, label, written)
    return subject


def add_photo(writer: Writer, visit: Visit, file: str, **facts: Any) -> Any:
    """Add a photo that has no file behind it; returns it."""
    row = photo_facts(file, **facts)
    original = Original("picture", f"visits/{visit.folder}/{file}", file, f"{visit.key}/{file}", 1)
    (key,) = photos.add_photos(writer, visit, [(row, [original])])
    return photos.photos_by_key(writer, [key])[0]


def add_size(
    writer: Writer,
    subject: Subject,
    label: str,
    written: str,
    *,
    u: float | None = None,
    grade: str = "measured",
    leans_on: Source | None = None,
) -> None:
    """Add a size whose best figure is as written; a count where only figures are written, else a length."""
    if re.fullmatch(r"\d+", written):
        quantity, unit, value, half = "count", "1", float(written), 0.0
    else:
        length = parse_length(written)
        quantity, unit, value, half = "length", "mm", length.value_mm, length.half_width_mm
    standard = u if u is not None else half / 3**0.5
    dimension = sizes.add_dimensions(writer, subject, [(label, "as found", "plain", quantity)])[0]
    facts = {
        "quantity": quantity,
        "unit": unit,
        "value_mm": value if quantity == "length" else None,
        "low_95": value - 1.959963984540054 * standard,
        "high_95": value + 1.959963984540054 * standard,
        "degrees_of_freedom": None,
        "agree": None,
        "grade": grade,
        "readings": 1,
        "formulas": 1,
        "warnings": [],
    }
    figure = Doubtful(value, {leans_on or Source("rounding", dimension.id): standard})
    sizes.keep_figures(writer, {}, [(dimension, figure, facts)])
