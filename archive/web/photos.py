"""One photo: its picture to look at closely, its facts, what it shows."""

from __future__ import annotations

from flask import Blueprint, Response, abort, current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from archive.dimensions.putting_right import amend_photos, unlink_photos
from archive.errors import NotAccepted
from archive.ingest import previews
from archive.ingest.closeups import Closeups, part_of, screen_picture_of
from archive.pictures.closeup import TILE_PX
from archive.records import glance, marks, photos, subjects, visits
from archive.records.entering import VIEWS
from archive.records.kept_previews import kept_preview
from archive.records.linking import link_photos
from archive.records.look_alikes import look_alikes
from archive.records.photo_facts import facts_of
from archive.records.regions import LEAST_PX, check_region, set_region
from archive.records.things import Photo, Region
from archive.web.archives import archive
from archive.web.forms import amended, text_of

page = Blueprint("photos", __name__, url_prefix="/photo")

_COARSEST_LEVEL = 8


@page.get("/<id:photo_id>")
def show(photo_id: str) -> ResponseReturnValue:
    """Show one photo with its facts, and the way to the next."""
    with archive().look() as look:
        photo = photos.photo_named(look, photo_id)
        beside = glance.neighbours(look, photo)
        visit = visits.visit_named(look, photo.visit)
        known = subjects.all_subjects(look)
        placed = marks.marks_of(look, photo)
    return render_template(
        "photo.html",
        photo=photo,
        beside=beside,
        visit=visit,
        subjects=known,
        facts=facts_of(photo),
        views=VIEWS,
        marks=placed,
        tile_px=TILE_PX,
        least_px=LEAST_PX,
    )


@page.get("/<id:photo_id>/look-alikes")
def alike(photo_id: str) -> ResponseReturnValue:
    """Show the photos that are the same picture as this one, it seems."""
    photo = _photo(photo_id)
    return render_template("look_alikes.html", photo=photo, alike=look_alikes(archive(), photo))


@page.post("/<id:photo_id>/link")
def link_one(photo_id: str) -> ResponseReturnValue:
    """Say that this photo shows a subject."""
    mirrored = bool(request.form.get("mirrored"))
    done = link_photos(
        archive(), [photo_id], [text_of("subject") or ""], view=text_of("view"), mirrored=mirrored
    )
    for sentence in done.warnings:
        flash(sentence)
    flash(f"This photo shows {done.subjects[0].name}.")
    return redirect(url_for("photos.show", photo_id=photo_id))


@page.post("/<id:photo_id>/unlink")
def unlink(photo_id: str) -> ResponseReturnValue:
    """Say that this photo does not show a subject after all."""
    flash(unlink_photos(archive(), [photo_id], [text_of("subject") or ""]))
    return redirect(url_for("photos.show", photo_id=photo_id))


@page.post("/<id:photo_id>/region")
def say_where(photo_id: str) -> ResponseReturnValue:
    """Say where on this photo a subject is, or take that away."""
    region = None if request.form.get("whole") else _region_sent()
    flash(set_region(archive(), photo_id, text_of("subject") or "", region))
    return redirect(url_for("photos.show", photo_id=photo_id))


def _region_sent() -> Region:
    try:
        left, top, wide, tall = (
            round(float(request.form.get(name, ""))) for name in ("left", "top", "width", "height")
        )
    except (ValueError, OverflowError):  # of no number, and of an endless one
        raise NotAccepted(
            "The four numbers of the region were not understood", "Draw it again, or write whole pixels."
        ) from None
    return Region(left, top, wide, tall)


@page.post("/<id:photo_id>/amend")
def amend(photo_id: str) -> ResponseReturnValue:
    """Put in another caption, creator or rights; what was left as it is is not touched."""
    photo = _photo(photo_id)
    facts = amended({name: getattr(photo, name) for name in ("caption", "creator", "rights")})
    if facts:
        flash(amend_photos(archive(), [photo_id], **facts))
    return redirect(url_for("photos.show", photo_id=photo_id))


@page.get("/<id:photo_id>/small.jpg")
def small(photo_id: str) -> ResponseReturnValue:
    """Send the preview; pages ask for many, so one that is kept is not looked up in the records."""
    return _picture(kept_preview(archive(), photo_id) or previews.preview_of(archive(), _photo(photo_id)))


@page.get("/<id:photo_id>/screen.jpg")
def screen(photo_id: str) -> ResponseReturnValue:
    """Send the picture that fills a screen."""
    return _picture(screen_picture_of(archive(), _photo(photo_id)))


@page.get("/<id:photo_id>/part/<int:left>/<int:top>/<int:width>/<int:height>.jpg")
def part(photo_id: str, left: int, top: int, width: int, height: int) -> ResponseReturnValue:
    """Send what the photo shows within a region, small."""
    photo = _photo(photo_id)
    region = check_region(Region(left, top, width, height), photo)
    return _picture(part_of(archive(), photo, region))


@page.get("/<id:photo_id>/tile/<int:level>/<int:column>/<int:row>.jpg")
def tile(photo_id: str, level: int, column: int, row: int) -> ResponseReturnValue:
    """Send a piece of the whole picture."""
    if level > _COARSEST_LEVEL:
        abort(404)
    closeups: Closeups = current_app.extensions.setdefault("closeups", Closeups())
    piece = closeups.tile(archive(), _photo(photo_id), level, column, row)
    if piece is None:
        abort(404)
    return _picture(piece)


def _photo(photo_id: str) -> Photo:
    with archive().look() as look:
        return photos.photo_named(look, photo_id)


def _picture(content: bytes) -> Response:
    """An original never changes, so neither does what was made from it."""
    answer = Response(content, mimetype="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=86400, immutable"
    return answer
