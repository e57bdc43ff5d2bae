"""Finding: one field for words, conditions beside it, pictures as the answer."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from archive.errors import RivetbookError
from archive.kinds import thesaurus
from archive.records import kinds, visits
from archive.records.entering import VIEWS
from archive.search import FindResult, find
from archive.web.archives import archive
from archive.web.forms import asked

page = Blueprint("finding", __name__)

_AT_ONCE = 30
_MOST = 300


@page.get("/")
def start() -> ResponseReturnValue:
    """Begin with finding."""
    return redirect(url_for("finding.find_page"))


@page.get("/find")
def find_page() -> ResponseReturnValue:
    """Show the form, and what it finds."""
    with archive().look() as look:
        names = sorted(kind.name for kind in thesaurus(kinds.own_kinds(look)))
        trips = visits.all_visits(look)
    return render_template("find.html", kinds=names, views=VIEWS, visits=trips, **_answer())


@page.get("/find/answer")
def answer() -> ResponseReturnValue:
    """Show what the form finds, alone: for the page while somebody types."""
    return render_template("find_answer.html", **_answer())


def _answer() -> dict[str, object]:
    sizes = [size.strip() for size in request.args.getlist("size") if size.strip()][:10]
    conditions = {name: asked(name) for name in ("kind", "view", "visit")}
    words = asked("words") or ""
    wanted = bool(words or sizes or any(conditions.values()))
    limit = min(request.args.get("most", _AT_ONCE, type=int), _MOST)
    result: FindResult | None = None
    complaint = ""
    if wanted:
        try:
            typing = request.args.get("typing") == "1"
            result = find(
                archive(),
                words,
                kind=conditions["kind"],
                view=conditions["view"],
                visit=conditions["visit"],
                sizes=sizes,
                limit=limit,
                typing=typing,
            )
        except RivetbookError as error:
            complaint = str(error)
    return {
        "words": words,
        "sizes": sizes,
        "asked": conditions,
        "result": result,
        "complaint": complaint,
        "limit": limit,
        "more": min(limit * 2, _MOST),
    }
