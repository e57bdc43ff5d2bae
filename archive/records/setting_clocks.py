"""Cameras' clocks put right: said by how much, or found from photos that show the same moment."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from archive.errors import NotAccepted, RecordNotFound
from archive.records import clocks, photos, visits
from archive.records import tables as t
from archive.records.archive import Archive
from archive.records.changes import Look, Writer
from archive.records.clocks import camera_name
from archive.records.following import follow
from archive.records.names import name_key, near_names
from archive.records.things import Photo, Visit
from archive.wording import counted

_DAY_S, _HOUR_S, _MINUTE_S = 86400, 3600, 60
_UNITS_S = {"d": _DAY_S, "h": _HOUR_S, "m": _MINUTE_S, "s": 1}
_UNIT = r"(?:d|days?|h|hrs?|hours?|m|mins?|minutes?|s|secs?|seconds?)(?![a-z])"
_DURATION = re.compile(rf"\d+\s*{_UNIT}(?:[\s,]*(?:and\s+)?\d+\s*{_UNIT})*")
_FACE = re.compile(r"(?:(\d{4}-\d\d-\d\d)[T ]+)?([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?")
_MOST_S = 100 * 366 * _DAY_S


@dataclass(frozen=True, slots=True)
class PutRight:
    """A clock that was put right: how many photos it took, and one of them with its time before and after."""

    visit: str
    camera: str
    ahead_s: int
    photos: int
    example: Photo | None
    before: str | None


def parse_duration(text: str) -> int:
    """Read '1h07m', '47 s', '2 days 3 hours' or '1:07:30' as whole seconds; raises `NotAccepted`."""
    written = text.strip().casefold()
    face = re.fullmatch(r"(\d{1,9}):([0-5]\d)(?::([0-5]\d))?", written)
    seconds: int | None = None
    if face:
        seconds = int(face[1]) * _HOUR_S + int(face[2]) * _MINUTE_S + int(face[3] or 0)
    elif written == "0":
        seconds = 0
    elif len(written) < 60 and _DURATION.fullmatch(written):
        parts = re.findall(r"(\d+)\s*([dhms])", written)
        if len({unit for _, unit in parts}) == len(parts):
            seconds = sum(int(number) * _UNITS_S[unit] for number, unit in parts)
    if seconds is None or seconds > _MOST_S:
        raise NotAccepted(f"'{text}' is not a length of time", "Write it like 1h07m, 40s, 2 days or 1:07:30.")
    return seconds


def told_duration(seconds: int) -> str:
    """Return '1 h 7 min' or '2 days 40 s'; the sign is left off."""
    left, said = abs(seconds), []
    for unit_s, one, many in ((_DAY_S, "day", "days"), (_HOUR_S, "h", "h"), (_MINUTE_S, "min", "min"), (1, "s", "s")):  # fmt: skip
        number, left = divmod(left, unit_s)
        if number:
            said.append(f"{number} {one if number == 1 else many}")
    return " ".join(said) or "0 s"


def put_clock_right(archive: Archive, visit: str, *, camera: str | None, ahead_s: int) -> PutRight:
    """Say that a camera's clock was ahead on a visit (negative: behind; 0: right after all), whatever was said before.

    Without a camera it is the only one of the visit. Raises `RecordNotFound` or `NotAccepted`.
    """
    with archive.look() as look:
        trip = visits.visit_named(look, visit)
        meant = _camera_meant(look, trip, camera)
    return _put_right(archive, trip, meant, ahead_s)


def put_clock_right_by(
    archive: Archive, visit: str, *, camera: str | None, photo: str, shows: str
) -> PutRight:
    """Put a clock right by a photo that was taken at the same moment as one of another camera, whose clock was right.

    `shows` is that other photo, or the time on a clock that the photo shows: '11:05:30' (of the day nearest to the
    photo's time) or '2023-06-17 11:05'. Without a camera it is that of `photo`. Raises as `put_clock_right`.
    """
    face = _FACE.fullmatch(shows.strip())
    with archive.look() as look:
        trip = visits.visit_named(look, visit)
        wrong = photos.photo_named(look, photo)
        right = None if face else photos.photo_named(look, shows)
        meant = _camera_meant(look, trip, camera if camera else _camera(wrong))
    if right is not None and _is(right, meant) and not _is(wrong, meant):
        wrong, right = right, wrong
    if not _is(wrong, meant):
        raise NotAccepted(
            f"'{wrong.file}' was not taken with {meant or 'that camera'}", "Name a photo that was."
        )
    if wrong.visit_key != trip.key:
        raise NotAccepted(f"'{wrong.file}' is not of the visit '{trip.name}'", "Name a photo of it.")
    if right is not None and _is(right, meant):
        raise NotAccepted(
            f"'{wrong.file}' and '{right.file}' were taken with the same camera",
            "Name a photo of another camera that shows the same moment.",
        )
    read = clocks.as_read(_taken(wrong), wrong.clock_ahead_s)
    truth = datetime.fromisoformat(_taken(right)) if right is not None else _on_the_clock(face, read)
    return _put_right(archive, trip, meant, round((read - truth).total_seconds()))


def _put_right(archive: Archive, visit: Visit, camera: str, ahead_s: int) -> PutRight:
    named = camera or "the photos that name no camera"
    with archive.change(f"Put the clock of {named} right for {visit.name}: {told_clock(ahead_s)}") as writer:
        before = photos.all_photos(writer, visit=visit)
        clocks.say(writer, visit.key, camera, ahead_s)
        follow(writer, [visit.key])
        after = photos.all_photos(writer, visit=visit)
        _days_follow(writer, visit, before, after)
    was = {photo.key: photo.taken for photo in before}
    of_it = [photo for photo in after if _is(photo, camera) and photo.taken is not None]
    example = of_it[0] if of_it else None
    return PutRight(visit.name, camera, ahead_s, len(of_it), example, was[example.key] if example else None)


def told(done: PutRight) -> str:
    """What was done, with a photo for an example, in a sentence."""
    whose = f"The clock of {done.camera}" if done.camera else "The clock of the photos that name no camera"
    if done.example is None or done.example.taken == done.before or done.before is None:
        return f"{whose} on the visit '{done.visit}': {told_clock(done.ahead_s)}. The times are as they were."
    count = counted(done.photos, "photo follows", "photos follow")
    before, after = (each.replace("T", " ") for each in (done.before, str(done.example.taken)))
    return (
        f"{whose} on the visit '{done.visit}': {told_clock(done.ahead_s)}. {count}; {done.example.file} "
        f"was taken at {after}, not at {before}. What the camera wrote is kept. To take it back: rivetbook undo"
    )


def told_clock(ahead_s: int) -> str:
    """Return 'it was 1 h 7 min ahead'."""
    if ahead_s == 0:
        return "it was right"
    return f"it was {told_duration(ahead_s)} {'ahead' if ahead_s > 0 else 'behind'}"


def _days_follow(writer: Writer, visit: Visit, before: list[Photo], after: list[Photo]) -> None:
    """Days that were the photos' stay the photos'."""
    if (visit.first_day, visit.last_day) == _days(before):
        first_day, last_day = _days(after)
        writer.update(t.visit, visit.key, first_day=first_day, last_day=last_day)


def _days(of: list[Photo]) -> tuple[str | None, str | None]:
    days = sorted(photo.taken[:10] for photo in of if photo.taken)
    return (days[0], days[-1]) if days else (None, None)


def _camera(photo: Photo) -> str:
    return camera_name(photo.make, photo.model)


def _is(photo: Photo, camera: str) -> bool:
    return name_key(_camera(photo)) == name_key(camera)


def _taken(photo: Photo) -> str:
    if photo.taken is None:
        raise NotAccepted(
            f"'{photo.file}' does not say when it was taken", "Name a photo whose time is known."
        )
    return photo.taken


def _on_the_clock(face: re.Match[str] | None, read: datetime) -> datetime:
    """What a clock in the photo says; without a day it is the one that is nearest to what the camera wrote."""
    assert face is not None
    clock = time(int(face[2]), int(face[3]), int(face[4] or 0))
    if face[1]:
        try:
            return datetime.combine(datetime.fromisoformat(face[1]).date(), clock)
        except ValueError:
            raise NotAccepted(f"'{face[1]}' is not a day", "Write it like 2023-06-17.") from None
    same_day = datetime.combine(read.date(), clock)
    return min((same_day + timedelta(days=n) for n in (-1, 0, 1)), key=lambda each: abs(each - read))


def _camera_meant(look: Look, visit: Visit, asked: str | None) -> str:
    """The camera of the visit that is called so: by make and model, or by one of them where that is clear."""
    seen = Counter(
        (photo.make, photo.model) for photo in photos.all_photos(look, visit=visit) if photo.taken is not None
    )
    if not seen:
        raise NotAccepted(
            f"No photo of the visit '{visit.name}' says when it was taken", "There is no clock to put right."
        )
    if asked is None:
        named = {camera_name(*each) for each in seen}
        if len(named) > 1:
            raise NotAccepted(
                f"More than one camera was used on the visit '{visit.name}'",
                f"Name one with --camera: {', '.join(sorted(each or 'none' for each in named))}.",
            )
        return named.pop()
    key = name_key(asked)
    if key in ("none", "") and (None, None) in seen:
        return ""
    called = {
        camera_name(make, model)
        for make, model in seen
        if key
        in {name_key(each) for each in (camera_name(make, model), f"{make} {model}", make or "", model or "")}
    }
    if len(called) != 1:
        names = tuple(sorted(camera_name(*each) or "none" for each in seen))
        raise RecordNotFound(f"camera of the visit {visit.name}", asked, near_names(asked, names) or names)
    return called.pop()
