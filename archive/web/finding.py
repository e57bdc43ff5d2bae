"""Finding: one field for words, conditions beside it, pictures as the answer; searches kept by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import parse_qsl

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from archive.errors import RivetbookError
from archive.kinds import thesaurus
from archive.records import glance, kinds, subjects, visits
from archive.records.entering import VIEWS
from archive.records.regions import regions_on
from archive.records.things import Visit
from archive.search import FindResult, find
from archive.search.kept import forget_search, keep_search, kept_searches
from archive.web.archives import archive
from archive.web.forms import filled, text_of

page = Blueprint("finding", __name__)

_AT_ONCE = 30
_MOST = 300
_LATELY = 6
_MOST_CONDITIONS = 10
_MOST_NARROWER = 12
_MOST_LETTERS = 20_000
_NEAR = "1 km"  # how near, where only a place is given
# What `find` calls a condition, and what the address calls it.
_ONE = {
    name: name.replace("_", "-")
    for name in ("words", "kind", "view", "visit", "taken", "at", "good_for", "looks_like")
}
_MANY = {"sizes": "size", "model_sizes": "model-size", "ratios": "ratio", "has": "has"}


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
    found = _answer(trips)
    is_empty = found["lately"] is not None and not any(found["lately"].values())
    return render_template("find.html", kinds=names, views=VIEWS, visits=trips, is_empty=is_empty, **found)


@page.get("/find/answer")
def answer() -> ResponseReturnValue:
    """Show what the form finds, alone: for the page while somebody types."""
    return render_template("find_answer.html", **_answer())


@page.post("/find/keep")
def keep() -> ResponseReturnValue:
    """Keep the search whose address was sent, by a name."""
    asked = _asked_in(_question(request.form.get("question", "")))
    flash(keep_search(archive(), text_of("name") or "", asked))
    return redirect(_address_of(asked))


@page.post("/find/forget")
def forget() -> ResponseReturnValue:
    """Forget a kept search."""
    gone = forget_search(archive(), text_of("name") or "")
    flash(f"The search '{gone.name}' is forgotten.")
    return redirect(url_for("finding.find_page"))


def _answer(trips: Sequence[Visit] = ()) -> dict[str, Any]:
    """Return what the template of an answer shows; `trips` are all visits, where they are read already."""
    asked = _asked_in(request.args)
    limit = min(max(request.args.get("most", _AT_ONCE, type=int), 1), _MOST)
    typing = request.args.get("typing") == "1"
    result: FindResult | None = None
    complaint = ""
    if asked:
        try:
            result = find(archive(), **asked, limit=limit, typing=typing, counting=not typing)
        except RivetbookError as error:
            complaint = str(error)
    with archive().look() as look:
        regions = regions_on(look, [hit.photos[0].key for hit in result.hits if hit.photos] if result else [])
    return {
        "regions": regions,
        "asked": asked,
        "lately": _lately(trips) if not asked else None,
        "narrower": _narrower(asked, result) if result else [],
        "question": request.query_string.decode("ascii", "replace"),
        "result": result,
        "complaint": complaint,
        "limit": limit,
        "more": min(limit * 2, _MOST),
    }


def _lately(trips: Sequence[Visit]) -> dict[str, Any]:
    """Return what to look at before anything is asked: kept searches, the newest subjects and the latest visits."""
    kept = [(each.name, _address_of(each.asked)) for each in kept_searches(archive())]
    with archive().look() as look:
        things = subjects.newest_subjects(look, _LATELY)
        latest = (trips or visits.all_visits(look))[: -_LATELY - 1 : -1]
        return {
            "kept": kept,
            "subjects": things,
            "subject_faces": glance.subjects_at_a_glance(look, [thing.key for thing in things]),
            "visits": latest,
            "visit_faces": glance.visits_at_a_glance(look, [trip.key for trip in latest]),
        }


def _narrower(asked: Mapping[str, Any], result: FindResult) -> list[tuple[str, list[tuple[str, int, str]]]]:
    """Return what the found can be narrowed by: kinds and years, each with how many there are and its address."""
    if result.counts is None:
        return []
    offered = []
    for called, condition, counts in (
        ("Kind", "kind", result.counts.kinds),
        ("Year", "taken", result.counts.years),
    ):
        if condition not in asked and len(counts) > 1:
            by = [(name, many, _address_of({**asked, condition: name})) for name, many in counts.items()]
            offered.append((called, by[:_MOST_NARROWER]))
    return offered


def _question(query: str) -> MultiDict[str, str]:
    """The parts of an address's question that a form sent."""
    return MultiDict(parse_qsl(query[:_MOST_LETTERS], max_num_fields=200))


def _asked_in(question: MultiDict[str, str]) -> dict[str, Any]:
    """Return the arguments of `find` that a question holds; what was left empty is left off."""
    asked: dict[str, Any] = {name: filled(question.get(part, "")) for name, part in _ONE.items()}
    for name, part in _MANY.items():
        asked[name] = [text for each in question.getlist(part) if (text := filled(each))][:_MOST_CONDITIONS]
    if not asked["model_sizes"]:
        asked["at"] = None  # a scale alone asks for nothing
    near = filled(question.get("near", ""))
    asked["near"] = (near, filled(question.get("within", "")) or _NEAR) if near else None
    asked["unlinked"] = question.get("unlinked") == "1"
    return {name: value for name, value in asked.items() if value}


def _address_of(asked: Mapping[str, Any]) -> str:
    """Return the address of the page that shows what these arguments of `find` find."""
    parts: dict[str, Any] = {part: asked[name] for name, part in (_ONE | _MANY).items() if asked.get(name)}
    if asked.get("near"):
        parts["near"], parts["within"] = asked["near"]
    if asked.get("unlinked"):
        parts["unlinked"] = 1
    return url_for("finding.find_page", **parts)
