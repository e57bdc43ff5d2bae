"""What followed from what was just done: sizes that come out otherwise now, and recipes that no longer solve."""

from __future__ import annotations

from collections.abc import Iterable

from archive import wording
from archive.dimensions.worked_out import worked_out
from archive.records import recipes, sizes
from archive.records.archive import Archive
from archive.records.changes import Look

_MOST = 4  # of each kind told one by one


def what_followed(archive: Archive) -> list[str]:
    """Return sentences on the worked-out sizes that the act at hand has changed beside what it was asked to do."""
    stale = {
        row.row_id
        for row in archive.followed
        if row.table == "derivation" and row.after["why"] not in (None, row.before["why"])
    }
    moved = {
        row.row_id
        for row in archive.followed
        if row.table == "reading" and row.after["value"] != row.before["value"]
    }
    if not stale and not moved:
        return []
    with archive.look() as look:
        return [*_worked_out_anew(look, moved), *_no_longer_solving(look, stale)]


def _worked_out_anew(look: Look, reading_keys: Iterable[int]) -> list[str]:
    readings = [r for r in sizes.readings_by_key(look, reading_keys).values() if r.stands]
    known = worked_out(look, readings)
    dimensions = {d.key: d for d in sizes.dimensions_by_key(look, {r.dimension_key for r in readings})}
    now = []
    for reading in readings:
        if reading.key in known:
            dimension, it = dimensions[reading.dimension_key], known[reading.key]
            size = wording.size(dimension.quantity, it.known.value, it.interval_95)
            now.append(f"{dimension.label} of {dimension.subject}: {size}")
    return [f"Worked out anew: {_listed(now, '; ')}."] if now else []


def _no_longer_solving(look: Look, derivation_keys: Iterable[int]) -> list[str]:
    told = []
    for derivation in recipes.derivations_by_key(look, derivation_keys):
        readings = sizes.readings_worked_out_by(look, [derivation.id])[derivation.id]
        of = sizes.dimensions_by_key(look, {r.dimension_key for r in readings})
        names = _listed([f"{d.label} of {d.subject}" for d in of], ", ")
        what = f"{names} can no longer be worked out" if names else "The lens can no longer be found"
        place = f" from {derivation.photo}" if derivation.photo else ""
        kept = "The figures stay as they were." if names else "The one before stays."
        told.append(f"{what}{place}: {derivation.why} {kept}")
    return told


def _listed(names: list[str], between: str) -> str:
    more = len(names) - _MOST
    return between.join([*names[:_MOST], f"and {more} more"] if more > 0 else names)
