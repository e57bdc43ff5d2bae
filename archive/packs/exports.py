"""The pack's figures for other programs: `dimensions.csv` and `pack.json`, with unrounded numbers."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from archive.packs.cautions import cautions_for
from archive.packs.content import PackContent, PackPhoto, PackSize, PackSubject
from archive.records.things import Warned

FORMAT = 1
# A spreadsheet takes a cell that begins with one of these for a formula and may run it.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

CSV_COLUMNS = (
    "subject",
    "part",
    "size",
    "span",
    "state",
    "quantity",
    "real_mm",
    "real_u_mm",
    "real_low_95_mm",
    "real_high_95_mm",
    "model_mm",
    "model_u_mm",
    "model_low_95_mm",
    "model_high_95_mm",
    "other_value",
    "other_u",
    "other_low_95",
    "other_high_95",
    "other_unit",
    "grade",
    "as_written",
    "source",
    "notes",
)


def write_dimensions_csv(content: PackContent, file: Path) -> None:
    """Write one row a size: UTF-8, a comma between cells, point decimals, units in the header (RFC 4180).

    Lengths fill the `_mm` columns, other quantities the `other_` ones. Text that a spreadsheet could
    take for a formula gets a leading apostrophe.
    """
    with file.open("w", encoding="utf-8", errors="backslashreplace", newline="") as stream:
        rows = csv.DictWriter(stream, CSV_COLUMNS, restval="")
        rows.writeheader()
        rows.writerows(_csv_row(size) for size in _in_order(content))


def write_pack_json(content: PackContent, copies: Mapping[str, str], file: Path) -> None:
    """Write the pack as one JSON document; `copies` are the photos' paths in the pack by photo id."""
    document = pack_document(content, copies)
    text = json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)
    file.write_text(text + "\n", encoding="utf-8", errors="backslashreplace", newline="\n")


def pack_document(content: PackContent, copies: Mapping[str, str]) -> dict[str, Any]:
    """Return the pack as plain data for JSON; unknown is null."""
    return {
        "format": FORMAT,
        "made_on": content.made_on.isoformat(),
        "program": f"Rivetbook {content.program_version}",
        "build": content.build,
        "scale": {
            "as_written": content.scale_text,
            "ratio": float(content.ratio),
            "ratio_exact": str(content.ratio),
        },
        "process": content.process,
        "tolerance_mm": content.tolerance_mm,
        "subjects": [_subject(subject) for subject in content.subjects],
        "sizes": [_size(content, size) for size in _in_order(content)],
        "photos": [_photo(photo, copies.get(photo.id)) for photo in content.photos],
        "photos_not_chosen": content.photos_not_chosen,
        "cautions": [f"{c.heading}. {c.text}" for c in cautions_for(content.process)],
    }


def _in_order(content: PackContent) -> list[PackSize]:
    return [size for subject in content.subjects for size in content.sizes_of(subject.name)]


def _csv_row(size: PackSize) -> dict[str, str]:
    texts = {
        "subject": size.subject,
        "part": size.part,
        "size": size.label,
        "span": size.span,
        "state": size.state,
        "quantity": size.quantity,
        "other_unit": "" if size.quantity == "length" else size.unit,
        "grade": size.grade,
        "as_written": "; ".join(size.as_written),
        "source": size.source_text,
        "notes": " ".join(warning.message for warning in size.warnings),
    }
    kind, tail = ("real", "_mm") if size.quantity == "length" else ("other", "")
    low, high = size.interval_95 or (None, None)
    value_name = "real_mm" if size.quantity == "length" else "other_value"
    numbers = {
        value_name: size.value,
        f"{kind}_u{tail}": size.u,
        f"{kind}_low_95{tail}": low,
        f"{kind}_high_95{tail}": high,
    }
    if size.model:
        model_low, model_high = size.model.interval_95_mm or (None, None)
        numbers |= {
            "model_mm": size.model.value_mm,
            "model_u_mm": size.model.u_mm,
            "model_low_95_mm": model_low,
            "model_high_95_mm": model_high,
        }
    shown = {name: repr(number) for name, number in numbers.items() if number is not None}
    return {name: safe_cell(text) for name, text in texts.items()} | shown


def safe_cell(text: str) -> str:
    """Return text that no spreadsheet runs: with a leading apostrophe where it looks like a formula."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text


def _subject(subject: PackSubject) -> dict[str, Any]:
    return {
        "name": subject.name,
        "kind": subject.kind,
        "maker": subject.maker,
        "era": subject.era,
        "notes": subject.notes,
        "place": subject.place,
        "visits": list(subject.visits),
    }


def _size(content: PackContent, size: PackSize) -> dict[str, Any]:
    interval = list(size.interval_95) if size.interval_95 else None
    value: dict[str, Any]
    if size.quantity == "length":
        value = {
            "value_mm": size.value,
            "standard_uncertainty_mm": size.u,
            "interval_95_mm": interval,
        }
    else:
        value = {
            "value": size.value,
            "unit": size.unit,
            "standard_uncertainty": size.u,
            "interval_95": interval,
        }
    return {
        "subject": size.subject,
        "dimension": size.label,
        "part": size.part,
        "quantity": size.quantity,
        "span": size.span,
        "state": size.state,
        "grade": size.grade,
        **value,
        "text": size.real_text,
        "imperial_text": size.imperial_text or None,
        "model": _model(content, size),
        "as_written": list(size.as_written),
        "source": size.source_text,
        "warnings": [_warning(warning) for warning in size.warnings],
    }


def _model(content: PackContent, size: PackSize) -> dict[str, Any] | None:
    if size.model is None:
        return None
    return {
        "model_mm": size.model.value_mm,
        "standard_uncertainty_mm": size.model.u_mm,
        "interval_95_mm": list(size.model.interval_95_mm) if size.model.interval_95_mm else None,
        "text": size.model.text,
        "exceeds_tolerance": content.exceeds_tolerance(size),
    }


def _photo(photo: PackPhoto, copy: str | None) -> dict[str, Any]:
    return {
        "id": photo.id,
        "file": photo.name,
        "copy": copy,
        "width": photo.width,
        "height": photo.height,
        "taken": photo.taken.isoformat() if photo.taken else None,
        "caption": photo.caption,
        "creator": photo.creator,
        "rights": photo.rights,
        "visit": photo.visit,
        "sightings": [
            {
                "subject": seen.subject,
                "view": seen.view,
                "mirrored": seen.mirrored,
                "region": asdict(seen.region) if seen.region else None,
            }
            for seen in photo.sightings
        ],
    }


def _warning(warning: Warned) -> dict[str, str]:
    return {"code": warning.code, "message": warning.message}
