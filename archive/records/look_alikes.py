"""Which photos show the very same picture as another: saved again, made smaller, turned or mirrored.

They are suggested, never made one. Fingerprints are kept at import; those of photos that have none yet (from before
there were any) are taken when first asked for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

from sqlalchemy import Row, delete, func, insert, select

from archive import pictures
from archive.errors import PictureNotReadable
from archive.pictures.likeness import Fingerprints, difference, fingerprints_any_way_round
from archive.records import originals
from archive.records import tables as t
from archive.records.archive import Archive
from archive.records.changes import Look, Writer
from archive.records.clocks import camera_name
from archive.records.kept_previews import PREVIEW_PX, kept_preview
from archive.records.photos import photos_by_key
from archive.records.things import Photo

# Of 128 bits. Measured on 84 pictures: saved again at a quarter of the size and quality 30, or cropped by 1.5 % a side, 95 %
# are within 11; the nearest two of different scenes, any way turned, are 35 apart.
MOST_DIFFERENCE = 16

# Pictures that one camera took one after the other differ more than copies do, and less than those of other things.
_MOST_IN_A_BURST, _BURST_S = 24, 3.0

Progress = Callable[[str, int, int], None]
_BATCH = 200


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A photo that looks like the one asked for; `difference` is in how many of 128 bits it does not."""

    photo: Photo
    difference: int


def look_alikes(
    archive: Archive,
    photo: Photo,
    *,
    most_difference: int = MOST_DIFFERENCE,
    progress: Progress = lambda _stage, _done, _total: None,
) -> list[LookAlike]:
    """Return the photos that look like this one, the most alike first; an even surface looks like nothing.

    Raises `ArchiveBusy` where fingerprints are to be kept and another program writes all the while, or
    `PictureNotReadable` or `FileGone` where this photo's file is not what it was.
    """
    fingerprints = all_fingerprints(archive, progress=progress)
    if not fingerprints.pop(photo.key, ""):
        return []
    path = originals.picture_there(archive, photo)
    mine = fingerprints_any_way_round(_preview(archive, photo.id, path, photo.page_index))
    apart = {key: min(difference(one, each) for one in mine) for key, each in fingerprints.items() if each}
    near = {key: bits for key, bits in apart.items() if bits <= most_difference}
    with archive.look() as look:
        found = [LookAlike(each, near[each.key]) for each in photos_by_key(look, near)]
    return sorted(found, key=lambda each: each.difference)


@dataclass(frozen=True, slots=True)
class Group:
    """Photos that belong together by their looks: a 'burst' in order of time, or the 'same picture' held several times."""

    sort: str
    photos: tuple[Photo, ...]


def groups_of_look_alikes(
    archive: Archive,
    photos: Sequence[Photo],
    *,
    progress: Progress = lambda _stage, _done, _total: None,
) -> list[Group]:
    """Return which of these photos are bursts, and which hold the same picture (upright), in order of time."""
    kept = all_fingerprints(archive, progress=progress)
    bits = {photo.key: kept[photo.key] for photo in photos if kept.get(photo.key)}
    seen = [photo for photo in photos if photo.key in bits]
    return [Group("burst", run) for run in _bursts(seen, bits)] + [
        Group("same picture", group) for group in _same(seen, bits)
    ]


def same_pictures(look: Look, keys: Collection[int]) -> dict[int, list[int]]:
    """Return, for each of these photos that has any, the photos that hold the same picture upright, by their keys.

    Only what is kept is compared; photos that say different times are different pictures, however alike.
    """
    rows = look.all(
        select(t.fingerprint.c.photo_id, t.fingerprint.c.bits, t.photo.c.taken).join(
            t.photo, t.photo.c.id == t.fingerprint.c.photo_id
        )
    )
    known = [row for row in rows if row.bits]
    every, wanted = Fingerprints([row.bits for row in known]), set(keys)
    found = {
        row.photo_id: [
            known[other].photo_id
            for other in every.near(number, MOST_DIFFERENCE)
            if _may_be_one(row.taken, known[other].taken)
        ]
        for number, row in enumerate(known)
        if row.photo_id in wanted
    }
    return {key: others for key, others in found.items() if others}


def _bursts(photos: Sequence[Photo], bits: Mapping[int, str]) -> list[tuple[Photo, ...]]:
    shelves: dict[tuple[int, str], list[tuple[float, Photo]]] = defaultdict(list)
    for photo in photos:
        camera = camera_name(photo.make, photo.model)
        if camera and photo.taken is not None:
            moment = datetime.fromisoformat(photo.taken).replace(tzinfo=UTC).timestamp()
            shelves[photo.visit_key, camera].append((moment + float(f"0.{photo.subsecond or 0}"), photo))
    runs: list[list[Photo]] = []
    for shelf in shelves.values():
        shelf.sort(key=lambda each: (each[0], each[1].turn_key))
        for (before_s, before), (after_s, after) in pairwise(shelf):
            alike = difference(bits[before.key], bits[after.key]) <= _MOST_IN_A_BURST
            if after_s - before_s <= _BURST_S and alike:
                if runs and runs[-1][-1] is before:
                    runs[-1].append(after)
                else:
                    runs.append([before, after])
    return [tuple(run) for run in runs]


def _same(photos: Sequence[Photo], bits: Mapping[int, str]) -> list[tuple[Photo, ...]]:
    every = Fingerprints([bits[photo.key] for photo in photos])
    group_of = {photo.key: [photo] for photo in photos}
    for number, photo in enumerate(photos):
        for other in (photos[n] for n in every.near(number, MOST_DIFFERENCE) if n < number):
            mine, theirs = group_of[photo.key], group_of[other.key]
            if mine is not theirs and _may_be_one(photo.taken, other.taken):
                theirs += mine
                group_of |= dict.fromkeys((each.key for each in mine), theirs)
    groups = {id(group): group for group in group_of.values() if len(group) > 1}
    return [tuple(group) for group in groups.values()]


def _may_be_one(taken: str | None, other: str | None) -> bool:
    return taken is None or other is None or taken == other


def all_fingerprints(
    archive: Archive, *, progress: Progress = lambda _stage, _done, _total: None
) -> dict[int, str]:
    """Return the fingerprint of every photo by its key ('' for one that has none), taken where it is not kept yet."""
    with archive.look() as look:
        rows = look.all(select(t.fingerprint.c.photo_id, t.fingerprint.c.bits))
        kept: dict[int, str] = {row.photo_id: row.bits for row in rows}
        first = {row.id: row for row in reversed(look.all(_PICTURES))}
    missing = [row for key, row in sorted(first.items()) if key not in kept]
    taken: dict[int, str] = {}
    for number, row in enumerate(missing):
        progress("Looking at photos", number, len(missing))
        bits = _taken_of(archive, row)
        if bits is not None:
            kept[row.id] = taken[row.id] = bits
        if len(taken) == _BATCH:
            _keep(archive, taken)
            taken = {}
    if taken:
        _keep(archive, taken)
    return kept


def keep_fingerprints(writer: Writer, by_photo: Mapping[int, str], *, anew: bool = False) -> None:
    """Keep the fingerprints of photos that have none, or `anew`. They follow from the pictures, so no history tells of them."""
    keys = list(by_photo)
    if anew:
        writer._connection.execute(delete(t.fingerprint).where(t.fingerprint.c.photo_id.in_(keys)))
    there = {row.id for row in writer.all(select(t.photo.c.id).where(t.photo.c.id.in_(keys)))}
    had = {row.photo_id for row in writer.all(_HAVING.where(t.fingerprint.c.photo_id.in_(keys)))}
    rows = [{"photo_id": key, "bits": by_photo[key]} for key in keys if key in there - had]
    if rows:
        writer._connection.execute(insert(t.fingerprint), rows)


_HAVING = select(t.fingerprint.c.photo_id)
_PICTURES = (
    select(t.photo.c.id, t.photo.c.public_id, t.photo.c.page, t.original.c.stored_path)
    .join(t.original, t.original.c.photo_id == func.coalesce(t.photo.c.page_of_id, t.photo.c.id))
    .order_by(t.photo.c.id, t.original.c.role != "picture", t.original.c.id)
)


def _keep(archive: Archive, taken: Mapping[int, str]) -> None:
    if not archive.read_only:
        with archive.change("Kept what the photos look like") as writer:
            keep_fingerprints(writer, taken)


def _taken_of(archive: Archive, row: Row[tuple[int, str, int | None, str]]) -> str | None:
    """The fingerprint of a photo; None where its file is not there just now."""
    path = archive.path_of(row.stored_path)
    try:
        return pictures.fingerprint(_preview(archive, row.public_id, path, (row.page or 1) - 1))
    except PictureNotReadable:
        return "" if path.exists() else None


def _preview(archive: Archive, photo_id: str, path: Path, page: int) -> bytes:
    return kept_preview(archive, photo_id) or pictures.upright_preview(path, PREVIEW_PX, page)
