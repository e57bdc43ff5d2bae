"""Bringing photos in: files dropped on the page or chosen, how far it is, and the import's own report."""

from __future__ import annotations

from typing import BinaryIO, cast

from flask import Blueprint, abort, current_app, jsonify, render_template, request, url_for
from flask.typing import ResponseReturnValue

from archive.errors import ArchiveReadOnly
from archive.ingest.pages import FIRST, parse_pages
from archive.records import visits
from archive.web.archives import DOOR, archive
from archive.web.batches import MOST_FILE_BYTES, Batch, Batches
from archive.web.forms import asked

page = Blueprint("bringing_in", __name__, url_prefix="/bring-in")

# What may be done here about a hint, by its code.
_ON_THE_PAGE = {
    "more-pages": "For others, say which above and give it again.",
    "picture-of-screen": (
        "Where it shows a figure, link it to its subject and write the size down there, with this as the photo that shows it."
    ),
    "other-trip": (
        "If that was another trip, take this import back in the history, and bring each trip in by itself, with a visit of its own."
    ),
    "zone-differs": "If the visit was elsewhere, put its zone right on its page.",
    "track-elsewhen": "If a clock or the zone is wrong, put it right on the visit's page.",
}


@page.get("")
def form() -> ResponseReturnValue:
    """Show where files are dropped."""
    with archive().look() as look:
        trips = visits.all_visits(look)
    return render_template("bring_in.html", visits=trips, visit=asked("visit"), most_bytes=MOST_FILE_BYTES)


@page.post("")
def begin() -> ResponseReturnValue:
    """Open a delivery, of these pages of drawings that have several."""
    if archive().read_only:
        raise ArchiveReadOnly(str(archive().folder))
    pages = _text_in(_sent(), "pages")
    batch = _batches().new(parse_pages(pages) if pages else FIRST)
    return jsonify(
        file=url_for("bringing_in.file", batch_id=batch.id),
        start=url_for("bringing_in.start", batch_id=batch.id),
        state=url_for("bringing_in.state", batch_id=batch.id),
        report=url_for("bringing_in.report", batch_id=batch.id),
    )


@page.post("/<string(length=32):batch_id>/file")
def file(batch_id: str) -> ResponseReturnValue:
    """Take one file; its bytes are the body, its name is in the address."""
    batch = _batch(batch_id)
    request.max_content_length = MOST_FILE_BYTES
    if request.content_length is None:
        abort(411, "The browser did not say how large the file is, so nothing was kept.")
    if request.content_length > MOST_FILE_BYTES:
        abort(413)
    batch.receive(request.args.get("name", ""), request.content_length, cast(BinaryIO, request.stream))
    return jsonify(kept=True)


@page.post("/<string(length=32):batch_id>/start")
def start(batch_id: str) -> ResponseReturnValue:
    """Import what came."""
    sent = _sent()
    taken_out = sent.get("taken_out") is True
    _batch(batch_id).begin(archive().folder, _text_in(sent, "visit") or None, DOOR, taken_out=taken_out)
    return jsonify(begun=True), 202


@page.get("/<string(length=32):batch_id>/state")
def state(batch_id: str) -> ResponseReturnValue:
    """Tell how far the import is."""
    batch = _batch(batch_id)
    return jsonify(
        stage=batch.stage, done=batch.done, total=batch.total, finished=batch.finished, error=batch.complaint
    )


@page.get("/<string(length=32):batch_id>/report")
def report(batch_id: str) -> ResponseReturnValue:
    """Show what the import did, alone."""
    batch = _batch(batch_id)
    if batch.report is None:
        abort(404)
    return render_template(
        "import_report.html", report=batch.report, name=batch.shown_name, instead=_ON_THE_PAGE
    )


def _sent() -> dict[str, object]:
    """What our own script sent."""
    sent = request.get_json(silent=True)
    return sent if isinstance(sent, dict) else {}


def _text_in(sent: dict[str, object], name: str) -> str:
    text = sent.get(name)
    return text.strip() if isinstance(text, str) else ""


def _batches() -> Batches:
    held: Batches = current_app.extensions["batches"]
    return held


def _batch(batch_id: str) -> Batch:
    found = _batches().get(batch_id)
    if found is None:
        abort(404, "That delivery is gone. Start another one.")
    return found
