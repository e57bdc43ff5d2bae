"""The history: what was done, and taking it back, from every page."""

from __future__ import annotations

from flask import Blueprint, abort, current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException
from werkzeug.routing import RequestRedirect

from archive.dimensions.undoing import undo
from archive.errors import RecordNotFound
from archive.records import headlines, photos, subjects, visits
from archive.records.history import Act
from archive.web.archives import archive
from archive.web.forms import asked

page = Blueprint("history", __name__)

_AT_ONCE = 50


@page.get("/history")
def show() -> ResponseReturnValue:
    """List what was done, the newest first."""
    before = request.args.get("before", type=int)
    with archive().look() as look:
        acts = headlines.newest_acts(look, most=_AT_ONCE + 1, before=before)
    return render_template("history.html", acts=acts[:_AT_ONCE], older=len(acts) > _AT_ONCE)


@page.get("/history/newest")
def newest() -> ResponseReturnValue:
    """Show the act that every page offers to take back, alone: for a page that has just changed something."""
    return render_template("newest.html", act=newest_to_take_back(), back_to=asked("from") or "")


@page.post("/history/take-back")
def take_back() -> ResponseReturnValue:
    """Take an act back, and go on where one was."""
    number = request.form.get("act", type=int)
    if number is None:
        abort(400, "It was not said what to take back, so nothing was changed.")
    act = undo(archive(), number)
    flash(f"Took back: {act.sentence}.")
    return redirect(_still_there(request.form.get("from", "")) or url_for("history.show"))


def newest_to_take_back() -> Act | None:
    """Return the act that every page offers to take back."""
    with archive().look() as look:
        return headlines.act_to_offer(look)


def _still_there(address: str) -> str | None:
    """Return one of our own addresses, unless what it showed went with the act that was taken back."""
    if not address.startswith("/") or address.startswith("//"):
        return None
    try:
        endpoint, named = current_app.url_map.bind(request.host).match(address, method="GET")
    except (HTTPException, RequestRedirect):
        return None
    finders = {
        "visit_id": visits.visit_named,
        "subject_id": subjects.subject_named,
        "photo_id": photos.photo_named,
    }
    try:
        with archive().look() as look:
            for name, value in named.items():
                if name in finders:
                    finders[name](look, value)
    except RecordNotFound:
        return None
    return url_for(endpoint, **named)
