"""Visits: all of them, a new one, and the page of one with its photos in order of time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from archive.dimensions.putting_right import amend_visit
from archive.records import clocks, glance, photos, subjects, visits
from archive.records.entering import VIEWS, enter_visit
from archive.records.things import Photo, Subject, Visit
from archive.records.visit_files import visit_files_of
from archive.web.archives import archive
from archive.web.clocks import cameras_of
from archive.web.forms import amended, text_of
from archive.web.saying import days

page = Blueprint("visits", __name__)

_FACTS = ("place", "zone", "people", "access_notes")
_SUBJECT_KEYS = 9
# One key a view: the letter that it begins with, else another of its own.
VIEW_KEYS = dict(zip(VIEWS, "frlstuqdio", strict=True))


@page.get("/visits")
def all_visits() -> ResponseReturnValue:
    """List all visits."""
    with archive().look() as look:
        found = visits.all_visits(look)
        faces = glance.visits_at_a_glance(look)
        places = visits.all_places(look)
    return render_template("visits.html", visits=found, faces=faces, places=places)


@page.post("/visits")
def add_visit() -> ResponseReturnValue:
    """Add a visit."""
    made = enter_visit(
        archive(), text_of("name") or "", **{name: text_of(name) for name in ("days", *_FACTS)}
    )
    flash(f"Added the visit {made.name}.")
    return redirect(url_for("visits.show", visit_id=made.id))


@page.get("/visit/<id:visit_id>")
def show(visit_id: str) -> ResponseReturnValue:
    """Show a visit with its photos."""
    with archive().look() as look:
        visit = visits.visit_named(look, visit_id)
        shown = photos.all_photos(look, visit=visit)
        known = subjects.all_subjects(look)
        beside = visit_files_of(look, visit)
        places = visits.all_places(look)
        put_right = clocks.clocks_of(look, visit.key)
    return render_template(
        "visit.html",
        beside=beside,
        visit=visit,
        places=places,
        photos=shown,
        subjects=known,
        subject_keys=_likeliest(visit, shown, known)[:_SUBJECT_KEYS],
        view_keys=VIEW_KEYS,
        cameras=cameras_of(shown),
        clocks=put_right,
    )


@page.post("/visit/<id:visit_id>/amend")
def amend(visit_id: str) -> ResponseReturnValue:
    """Put in other facts of a visit, its name among them; what was left as it is is not touched."""
    with archive().look() as look:
        visit = visits.visit_named(look, visit_id)
    held = {name: getattr(visit, name) for name in ("name", *_FACTS)}
    facts = amended({**held, "days": days(visit)})
    if facts:
        flash(amend_visit(archive(), visit.name, **facts))
    return redirect(url_for("visits.show", visit_id=visit_id))


def _likeliest(visit: Visit, shown: Sequence[Photo], known: Sequence[Subject]) -> list[Subject]:
    """Return the subjects that this visit's photos are likeliest to show: those they show, those of the place."""
    seen = Counter(s.subject_id for photo in shown for s in photo.sightings)
    return sorted(known, key=lambda s: (-seen[s.id], s.place != visit.place))
