"""Cameras' clocks of a visit put right: by how much they were wrong, or from two photos of one moment."""

from __future__ import annotations

from collections.abc import Iterable

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from archive.records import photos, setting_clocks, visits
from archive.records.clocks import camera_name
from archive.records.setting_clocks import PutRight
from archive.records.things import Photo
from archive.web.archives import archive
from archive.web.forms import text_of

page = Blueprint("clocks", __name__)

NO_NAME = "none"  # how photos that name no camera are asked for
_UNDO_HINT = " To take it back: rivetbook undo"  # every page offers that itself


@page.post("/visit/<id:visit_id>/clock")
def by_how_much(visit_id: str) -> ResponseReturnValue:
    """Put a clock right by how much it was ahead or behind."""
    seconds = setting_clocks.parse_duration(text_of("amount") or "0")
    ahead_s = -seconds if text_of("way") == "behind" else seconds
    done = setting_clocks.put_clock_right(archive(), visit_id, camera=text_of("camera"), ahead_s=ahead_s)
    return _told(visit_id, done)


@page.post("/visit/<id:visit_id>/clock/same-moment")
def from_one_moment(visit_id: str) -> ResponseReturnValue:
    """Put a clock right from a photo, and another of the same moment or the time on a clock that it shows."""
    photo, shows = (_of_visit(visit_id, text_of(name) or "") for name in ("photo", "shows"))
    done = setting_clocks.put_clock_right_by(archive(), visit_id, camera=None, photo=photo, shows=shows)
    return _told(visit_id, done)


def _of_visit(visit_id: str, named: str) -> str:
    """Return the id of the visit's photo of this name, for cameras count anew and another visit's may have it too."""
    with archive().look() as look:
        matches = photos.photos_matching(look, named)
        visit = visits.visit_named(look, visit_id)
    return next((photo.id for photo in matches if photo.visit_key == visit.key), named)


def cameras_of(shown: Iterable[Photo]) -> list[str]:
    """Return the cameras of photos whose time is known; NO_NAME stands for those that name none."""
    return list(dict.fromkeys(camera_name(p.make, p.model) or NO_NAME for p in shown if p.taken_as_read))


def _told(visit_id: str, done: PutRight) -> ResponseReturnValue:
    flash(setting_clocks.told(done).removesuffix(_UNDO_HINT))
    return redirect(url_for("visits.show", visit_id=visit_id, _anchor="clocks"))
