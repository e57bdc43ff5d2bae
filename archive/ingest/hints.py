"""What is likely of a picture that comes in, and what its owner may do about it. Hints never stop or change anything."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from itertools import pairwise

from archive.ingest.metadata import PhotoMetadata
from archive.ingest.report import Hint
from archive.pictures import PictureFacts, PictureWarning
from archive.records import photos
from archive.records.archive import Archive
from archive.records.look_alikes import same_pictures
from archive.records.things import Photo

_TRIPS_APART_DAYS = 14  # photos further apart than this are hardly of one trip
# What messengers and websites make of a photo is at most so large; cameras have made larger ones for twenty years.
_COPY_PX = 2560
_SCREEN_NAME = re.compile(
    r"screen[ _-]?(?:shot|cap|grab)|(?:^|[ _-])screen(?:[ _-]|$)|bildschirmfoto|capture d.?[ée]cran|captura de pantalla"
    r"|schermafbeelding|schermata|skjermbilde|sk[aä]rmavbild|zrzut ekranu|снимок экрана|スクリーンショット|屏幕截图|截屏",
    re.IGNORECASE,
)


def hint(name: str, facts: PictureFacts, metadata: PhotoMetadata) -> PictureWarning | None:
    """Return what is likely of a picture of this name, if anything: a picture of a screen, or a shrunk copy."""
    if facts.width is None or facts.height is None or facts.paper_mm is not None:
        return None
    if metadata.is_of_screen or _SCREEN_NAME.search(name):
        return PictureWarning(
            "picture-of-screen",
            "It is a picture of a screen. Where it shows a figure, write that down with the picture as evidence: "
            f"rivetbook size add SUBJECT LABEL SIZE --with phone --photo '{name}'",
        )
    says_its_camera = metadata.make or metadata.model or metadata.lens or metadata.focal_mm
    shrunk = max(facts.width, facts.height) <= _COPY_PX and facts.format in ("JPEG", "WEBP")
    if shrunk and not says_its_camera:
        return PictureWarning(
            "likely-copy",
            f"It is small ({facts.width} × {facts.height}) and does not name its camera: most likely a copy made "
            "smaller on its way. The original is better to measure on; import that too if it can be had.",
        )
    return None


def look_alike_hints(archive: Archive, keys: Sequence[int]) -> list[Hint]:
    """Say of each photo that came in which other holds the same picture: the largest of them."""
    if not keys:
        return []
    with archive.look() as look:
        found = same_pictures(look, keys)
        wanted = {*found, *(other for others in found.values() for other in others)}
        known = {photo.key: photo for photo in photos.photos_by_key(look, wanted)}
    hints = []
    for key, others in found.items():
        largest = max((known[other] for other in others), key=lambda photo: (_pixels(photo), -photo.key))
        hints.append(Hint(known[key].file, "look-alike", _looks_like(known[key], largest)))
    return hints


def other_trip_hints(archive: Archive, keys: Sequence[int]) -> list[Hint]:
    """Say which photos were taken so long after the rest that nobody need have meant one visit."""
    with archive.look() as look:
        new = photos.photos_by_key(look, keys)
    taken = sorted((date.fromisoformat(photo.taken[:10]), photo.file) for photo in new if photo.taken)
    gaps = [(later[0] - earlier[0]).days for earlier, later in pairwise(taken)]
    if not gaps or max(gaps) < _TRIPS_APART_DAYS:
        return []
    first = gaps.index(max(gaps)) + 1
    more = len(taken) - first - 1
    others = f"{more} {'other' if more == 1 else 'others'}" if more else ""
    message = (
        f"It {f'and {others} were' if others else 'was'} taken {max(gaps)} days after the rest. If that was another "
        "trip: rivetbook photo move PHOTO... --to VISIT; or take this import back with rivetbook undo, and bring "
        "each trip in by itself with --visit NAME."
    )
    return [Hint(taken[first][1], "other-trip", message)]


def _looks_like(photo: Photo, other: Photo) -> str:
    where = other.file if other.visit_key == photo.visit_key else f"{other.visit}/{other.file}"
    better = "; that one is larger, and better to measure on" if _pixels(other) > _pixels(photo) else ""
    return f"It looks like {where} ({other.width} × {other.height}){better}. Both are kept."


def _pixels(photo: Photo) -> int:
    return (photo.width or 0) * (photo.height or 0)
