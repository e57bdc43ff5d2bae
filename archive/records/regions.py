"""Where on a photo a subject is seen: a region of the upright picture, said of the link between the two."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import asdict

from sqlalchemy import select

from archive.errors import NotAccepted
from archive.records import photos, subjects
from archive.records import tables as t
from archive.records.archive import Archive
from archive.records.changes import Look, Writer
from archive.records.things import Photo, Region, Subject

LEAST_PX = 4  # a smaller one is a slip of the hand
WHOLE = "whole"
_NUMBER = r"(-?[0-9]+(?:\.[0-9]+)?)\s*(%?)"
_WRITTEN = re.compile(rf"{_NUMBER}\s*,\s*{_NUMBER}\s+to\s+{_NUMBER}\s*,\s*{_NUMBER}(?:\s*px)?", re.IGNORECASE)


def parse_region(written: str, photo: Photo) -> Region | None:
    """Read a region by two opposite corners of it, '1200,300 to 1600,800' (px) or '10%,20% to 50%,80%'.

    'whole' is None: no region, the photo as a whole. Raises `NotAccepted` for what is no region of the photo.
    """
    if written.strip().casefold() == WHOLE:
        return None
    found = _WRITTEN.fullmatch(written.strip())
    if found is None:
        raise NotAccepted(
            f"'{written}' is not a region of a photo",
            "Write two opposite corners of it, across and down from the upper left corner of the picture: "
            f"'1200,300 to 1600,800' in pixels or '10%,20% to 50%,80%'; '{WHOLE}' takes it away.",
        )
    wide, tall = _size_of(photo)
    across = sorted(_px(found[n], found[n + 1], wide) for n in (1, 5))
    down = sorted(_px(found[n], found[n + 1], tall) for n in (3, 7))
    return check_region(
        Region(across[0], down[0], across[1] - across[0], down[1] - down[0]),
        photo,
    )


def _px(number: str, per_cent: str, whole_px: int) -> int:
    value = min(max(float(number), -1e9), 1e9)  # beyond any picture in any case
    return round(value * whole_px / 100 if per_cent else value)


def _size_of(photo: Photo) -> tuple[int, int]:
    if not photo.width or not photo.height:
        raise NotAccepted(
            f"How many pixels {photo.file} has is not known", "A region needs a picture that can be opened."
        )
    return photo.width, photo.height


def check_region(region: Region, photo: Photo) -> Region:
    """Return the region if it lies within the photo and is large enough to point at; raises `NotAccepted`."""
    wide, tall = _size_of(photo)
    if region.width_px < LEAST_PX or region.height_px < LEAST_PX:
        raise NotAccepted(
            f"A region of {region.width_px} × {region.height_px} px is too small to show anything",
            f"Make it at least {LEAST_PX} px wide and high.",
        )
    right, bottom = region.left_px + region.width_px, region.top_px + region.height_px
    if region.left_px < 0 or region.top_px < 0 or right > wide or bottom > tall:
        raise NotAccepted(
            f"The region {region} lies outside {photo.file}",
            f"The upright picture reaches from 0,0 to {wide},{tall} px.",
        )
    return region


def put_region(writer: Writer, photo: Photo, subject: Subject, region: Region | None) -> bool:
    """Say where on the photo the subject is; None takes that away. Returns whether anything changed."""
    key = photos.sighting_key(writer, photo, subject)
    before, now = writer.row(t.sighting, key), asdict(region) if region else None
    if before is None or before["region"] == now:
        return False
    writer.update(t.sighting, key, region=now)
    return True


def set_region(archive: Archive, photo: str, subject: str, region: Region | None) -> str:
    """Say where on a photo a subject that it shows is; None takes that away. Returns what was done, in a sentence."""
    with archive.look() as look:
        shown = photos.photo_named(look, photo)
        seen = subjects.subject_named(look, subject)
    if region is not None:
        check_region(region, shown)
    done = f"{shown.file} shows {seen.name}, {where_told(region)}"
    with archive.change(f"Said where: {done}") as writer:
        put_region(writer, shown, seen, region)
    return f"{done}."


def where_told(region: Region | None) -> str:
    """Return where on a photo something is, for the end of a sentence."""
    return f"at {region}" if region else "without a region"


def regions_on(look: Look, photo_keys: Collection[int]) -> dict[tuple[int, int], Region]:
    """Return the regions on these photos, each by the keys of its photo and its subject."""
    rows = look.all(
        select(t.sighting.c.photo_id, t.sighting.c.subject_id, t.sighting.c.region).where(
            t.sighting.c.photo_id.in_(photo_keys)
        )
    )
    return {(row.photo_id, row.subject_id): Region(**row.region) for row in rows if row.region}
