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
_MOST_CONDITIONS = 10
_NEAR = "1 km"  # how near, where only a place is given


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
    sizes, model_sizes, ratios, has = (_listed(name) for name in ("size", "model-size", "ratio", "has"))
    one = {name: asked(name) for name in ("kind", "view", "visit", "taken", "at", "near", "within")}
    words, unlinked = asked("words") or "", request.args.get("unlinked") == "1"
    limit = min(request.args.get("most", _AT_ONCE, type=int), _MOST)
    place = one["near"]
    conditions = (one["kind"], one["view"], one["visit"], one["taken"], place, unlinked)
    result: FindResult | None = None
    complaint = ""
    if words or sizes or model_sizes or ratios or has or any(conditions):
        try:
            result = find(
                archive(),
                words,
                kind=one["kind"],
                view=one["view"],
                visit=one["visit"],
                taken=one["taken"],
                near=(place, one["within"] or _NEAR) if place else None,
                sizes=sizes,
                model_sizes=model_sizes,
                at=one["at"] if model_sizes else None,
                ratios=ratios,
                has=has,
                unlinked=unlinked,
                limit=limit,
                typing=request.args.get("typing") == "1",
            )
        except RivetbookError as error:
            complaint = str(error)
    return {
        "words": words,
        "sizes": sizes,
        "model_sizes": model_sizes,
        "ratios": ratios,
        "has": has,
        "asked": {**one, "unlinked": unlinked},
        "result": result,
        "complaint": complaint,
        "limit": limit,
        "more": min(limit * 2, _MOST),
    }


def _listed(name: str) -> list[str]:
    return [text.strip() for text in request.args.getlist(name) if text.strip()][:_MOST_CONDITIONS]
