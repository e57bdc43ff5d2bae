"""Bringing photos in: files dropped on the page or chosen, how far it is, and the import's own report."""

from __future__ import annotations

from typing import BinaryIO, cast

from flask import Blueprint, abort, current_app, jsonify, render_template, request, url_for
from flask.typing import ResponseReturnValue

from archive.errors import ArchiveReadOnly
from archive.records import visits
from archive.web.archives import DOOR, archive
from archive.web.batches import MOST_FILE_BYTES, Batch, Batches
from archive.web.forms import asked

page = Blueprint("bringing_in", __name__, url_prefix="/bring-in")


@page.get("")
def form() -> ResponseReturnValue:
    """Show where files are dropped."""
    with archive().look() as look:
        trips = visits.all_visits(look)
    return render_template("bring_in.html", visits=trips, visit=asked("visit"), most_bytes=MOST_FILE_BYTES)


@page.post("")
def begin() -> ResponseReturnValue:
    """Open a delivery."""
    if archive().read_only:
        raise ArchiveReadOnly(str(archive().folder))
    batch = _batches().new()
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
    sent = request.get_json(silent=True)
    said = sent if isinstance(sent, dict) else {}
    visit = said.get("visit")
    visit = visit.strip() if isinstance(visit, str) else ""
    taken_out = said.get("taken_out") is True
    _batch(batch_id).begin(archive().folder, visit or None, DOOR, taken_out=taken_out)
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
    return render_template("import_report.html", report=batch.report, name=batch.shown_name)


def _batches() -> Batches:
    held: Batches = current_app.extensions["batches"]
    return held


def _batch(batch_id: str) -> Batch:
    found = _batches().get(batch_id)
    if found is None:
        abort(404, "That delivery is gone. Start another one.")
    return found
