"""The page on which a tablet types the code that the terminal shows."""

from __future__ import annotations

from flask import Blueprint, abort, current_app, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from archive.web import safety
from archive.web.admission import Admission

page = Blueprint("admission", __name__)


def _admission() -> Admission:
    held: Admission | None = current_app.extensions.get("admission")
    if held is None:
        abort(404)
    return held


@page.get("/let-in")
def ask() -> ResponseReturnValue:
    """Ask for the code; one that came with the address is filled in, not used: a look changes nothing."""
    return render_template(
        "let_in.html", code=request.args.get("code", "")[:20], wait=_admission().seconds_closed()
    )


@page.post("/let-in")
def let_in() -> ResponseReturnValue:
    """Let the device in if the code is right."""
    admission = _admission()
    if admission.lets_in(request.form.get("code", "")[:40]):
        safety.admit()
        return redirect(url_for("finding.find_page"))
    return render_template("let_in.html", code="", wrong=True, wait=admission.seconds_closed()), 403
