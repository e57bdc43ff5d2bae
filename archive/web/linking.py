"""What our own scripts send of a run of photos: what they show, and their caption, creator and rights."""

from __future__ import annotations

from flask import Blueprint, abort, jsonify, request
from flask.typing import ResponseReturnValue

from archive.dimensions.putting_right import amend_photos
from archive.errors import NotAccepted, RecordNotFound
from archive.records import photos
from archive.records.entering import check_view, enter_subject
from archive.records.linking import link_photos
from archive.records.names import has_id_form
from archive.records.things import Photo
from archive.web.archives import archive

page = Blueprint("linking", __name__)

_MOST_AT_ONCE = 2000
_LONGEST_FACT = 4000
_FACTS = frozenset({"caption", "creator", "rights"})


@page.post("/link")
def link() -> ResponseReturnValue:
    """Say that photos show a subject, a new one where that is said; answers with what each of them shows now."""
    sent, ids = _sent()
    subject, view = sent.get("subject"), sent.get("view")
    if not isinstance(subject, str) or not (view is None or isinstance(view, str)):
        raise NotAccepted("It was not said what the photos show", "Choose a subject first.")
    if sent.get("new") is True:
        _add_subject(subject, ids, view)
    try:
        done = link_photos(archive(), ids, [subject], view=view)
    except RecordNotFound as error:
        if error.sort != "subject":
            raise
        sentence = f"{error.without_commands} Is it new here? Then add it."
        return jsonify(error=sentence, unknown=error.sort), 404
    with archive().look() as look:
        now = photos.photos_by_key(look, [p.key for p in (*done.photos, *done.unchanged)])
    return jsonify(
        subject=done.subjects[0].name,
        linked=len(done.photos),
        warnings=done.warnings,
        shows={photo.id: shown_by(photo) for photo in now},
    )


def _add_subject(name: str, ids: list[str], view: str | None) -> None:
    """Add a subject once it is sure that the photos can be linked to it: both or nothing."""
    if view:
        check_view(view)
    with archive().look() as look:
        for each in ids:
            photos.photo_named(look, each)
    enter_subject(archive(), name)


@page.post("/describe")
def describe() -> ResponseReturnValue:
    """Give photos a caption, creator or rights; '' takes one away."""
    sent, ids = _sent()
    facts = sent.get("facts")
    if not isinstance(facts, dict) or not _FACTS.issuperset(facts):
        abort(400, "The page sent facts that photos have not, so nothing was changed.")
    if not all(isinstance(text, str) and len(text) <= _LONGEST_FACT for text in facts.values()):
        raise NotAccepted("One of the texts is too long", f"Keep it under {_LONGEST_FACT} letters.")
    return jsonify(said=amend_photos(archive(), ids, **facts))


def _sent() -> tuple[dict[str, object], list[str]]:
    """What was sent, and the ids of the photos that it is about."""
    sent = request.get_json(silent=True)
    if not isinstance(sent, dict):
        abort(400, "The page sent something that it cannot mean, so nothing was changed.")
    ids = sent.get("photos")
    if not isinstance(ids, list) or not ids or len(ids) > _MOST_AT_ONCE:
        raise NotAccepted(f"This takes 1 to {_MOST_AT_ONCE} photos at once", "Choose some and try again.")
    if not all(isinstance(each, str) and has_id_form(each) for each in ids):
        abort(400, "The page named a photo wrongly, so nothing was changed.")
    return sent, ids


def shown_by(photo: Photo) -> list[str]:
    """Return what a photo shows, each as 'crane, front'."""
    facts = [(s.subject_name, s.view, "mirrored" if s.mirrored else None) for s in photo.sightings]
    return [", ".join(fact for fact in each if fact) for each in facts]
