"""Visits, their photos in order of time, and linking a run of them to a subject."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from flask import Blueprint, abort, flash, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from archive.errors import NotAccepted
from archive.records import glance, photos, subjects, visits
from archive.records.entering import VIEWS, enter_visit, link_photos
from archive.records.names import has_id_form
from archive.records.things import Photo, Subject, Visit
from archive.records.visit_files import visit_files_of
from archive.web.archives import archive
from archive.web.forms import text_of

page = Blueprint("visits", __name__)

_MOST_AT_ONCE = 2000
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
        archive(),
        text_of("name") or "",
        place=text_of("place"),
        days=text_of("days"),
        zone=text_of("zone"),
        people=text_of("people"),
        access_notes=text_of("access_notes"),
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
    return render_template(
        "visit.html",
        beside=beside,
        visit=visit,
        photos=shown,
        subjects=known,
        subject_keys=_likeliest(visit, shown, known)[:_SUBJECT_KEYS],
        view_keys=VIEW_KEYS,
    )


def _likeliest(visit: Visit, shown: Sequence[Photo], known: Sequence[Subject]) -> list[Subject]:
    """Return the subjects that this visit's photos are likeliest to show: those they show, those of the place."""
    seen = Counter(s.subject_id for photo in shown for s in photo.sightings)
    return sorted(known, key=lambda s: (-seen[s.id], s.place != visit.place))


@page.post("/link")
def link() -> ResponseReturnValue:
    """Say that photos show a subject; answers with what each of them shows now."""
    asked = request.get_json(silent=True)
    if not isinstance(asked, dict):
        abort(400, "The page sent something that is no link, so nothing was changed.")
    ids, subject, view = asked.get("photos"), asked.get("subject"), asked.get("view")
    if not isinstance(ids, list) or not ids or len(ids) > _MOST_AT_ONCE:
        raise NotAccepted(f"A link takes 1 to {_MOST_AT_ONCE} photos", "Choose some and try again.")
    if not all(isinstance(each, str) and has_id_form(each) for each in ids):
        abort(400, "The page named a photo wrongly, so nothing was changed.")
    if not isinstance(subject, str) or not (view is None or isinstance(view, str)):
        raise NotAccepted("It was not said what the photos show", "Choose a subject first.")
    done = link_photos(archive(), ids, [subject], view=view, mirrored=bool(asked.get("mirrored")))
    with archive().look() as look:
        now = photos.photos_by_key(look, [p.key for p in (*done.photos, *done.unchanged)])
    return jsonify(
        subject=done.subjects[0].name,
        linked=len(done.photos),
        warnings=done.warnings,
        shows={photo.id: shown_by(photo) for photo in now},
    )


def shown_by(photo: Photo) -> list[str]:
    """Return what a photo shows, each as 'crane, front'."""
    return [s.subject_name + (f", {s.view}" if s.view else "") for s in photo.sightings]
