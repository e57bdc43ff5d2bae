"""A subject: its best pictures by view, its sizes at a scale, and readings written down several at once."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest

from flask import Blueprint, flash, jsonify, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue

from archive import wording
from archive.dimensions.gaps import MISSING, ROUGH, decide, gaps_of
from archive.dimensions.overview import SizeLine, sizes_of_subject, with_doubts
from archive.dimensions.readings import GRADES, SPANS, record_reading
from archive.dimensions.standards import HAS_NONE, NOT_NEEDED
from archive.dimensions.tallying import add_tally, remove_tally, tallies_of
from archive.errors import NotAccepted, RivetbookError
from archive.kinds import thesaurus
from archive.lengths import parse_quantity
from archive.records import glance, instruments, kinds, photos, subjects
from archive.records.changes import Look
from archive.records.entering import enter_subject
from archive.records.things import Subject
from archive.scales import Scale, parse_scale
from archive.web.archives import archive
from archive.web.forms import asked, text_of

page = Blueprint("subjects", __name__)

_ROWS = 4
_ASK_AGAIN = "ask again"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the form: a size as it was typed, and what was wrong with it."""

    label: str = ""
    written: str = ""
    span: str = "plain"
    wrong: str = ""


@page.get("/subjects")
def all_subjects() -> ResponseReturnValue:
    """List all subjects."""
    with archive().look() as look:
        found = subjects.all_subjects(look)
        faces = glance.subjects_at_a_glance(look)
        words = thesaurus(kinds.own_kinds(look))
    return render_template("subjects.html", subjects=found, faces=faces, kinds=sorted(k.name for k in words))


@page.post("/subjects")
def add_subject() -> ResponseReturnValue:
    """Add a subject."""
    also = tuple(name.strip() for name in (text_of("also") or "").split(",") if name.strip())
    facts = {name: text_of(name) for name in ("kind", "part_of", "place", "maker", "numbers", "era", "notes")}
    made = enter_subject(archive(), text_of("name") or "", also=also, **facts)
    flash(f"Added the subject {made.name}.")
    return redirect(url_for("subjects.show", subject_id=made.id))


@page.get("/subject/<id:subject_id>")
def show(subject_id: str) -> ResponseReturnValue:
    """Show a subject: photos by view, sizes, and the form for more sizes."""
    return _page(subject_id, [Row()] * _ROWS)


@page.post("/subject/<id:subject_id>/sizes")
def write_down(subject_id: str) -> ResponseReturnValue:
    """Write down every line that can be read; the others come back with what is wrong with them."""
    labels, written, spans = (request.form.getlist(name) for name in ("label", "written", "span"))
    instrument, photo, on, rests_on = (text_of(name) for name in ("instrument", "photo", "on", "rests_on"))
    with archive().look() as look:
        subject = subjects.subject_named(look, subject_id)
    kept: list[str] = []
    back: list[Row] = []
    spans += ["plain"] * len(labels)
    for label, as_written, span in zip_longest(labels, written, spans[: len(labels)], fillvalue=""):
        row = Row(label, as_written, span or "plain")
        if not row.label.strip() and not row.written.strip():
            continue
        try:
            done = record_reading(
                archive(),
                subject.name,
                row.label,
                row.written,
                span=row.span,
                instrument=instrument,
                photo=photo,
                on=on,
                grade=text_of("grade") or GRADES[0],
                rests_on=rests_on,
            )
        except RivetbookError as error:
            back.append(Row(row.label, row.written, row.span, str(error)))
            continue
        kept.append(f"{done.dimension.label} {done.reading.as_written}")
        for warning in done.warnings:
            flash(warning.message)
    if kept:
        flash(f"Wrote down {', '.join(kept)}.")
    if back:
        return _page(subject_id, [*back, Row()]), 422
    return redirect(url_for("subjects.show", subject_id=subject_id, _anchor="sizes"))


@page.post("/subject/<id:subject_id>/wanted")
def say_what_is_wanted(subject_id: str) -> ResponseReturnValue:
    """Note that it has no such size, that nobody needs it, or that it is asked for after all."""
    labels = [text_of("label") or ""]
    decision = text_of("decision")
    if decision == HAS_NONE:
        said = decide(archive(), subject_id, has_none=labels)
    elif decision == NOT_NEEDED:
        said = decide(archive(), subject_id, not_needed=labels)
    elif decision == _ASK_AGAIN:
        said = decide(archive(), subject_id, ask_again=labels)
    else:
        raise NotAccepted("It was not said what is to be noted of the size", "Use one of the page's buttons.")
    flash(" ".join(said))
    return redirect(url_for("subjects.show", subject_id=subject_id, _anchor="open"))


@page.post("/subject/<id:subject_id>/tallies")
def add_sum(subject_id: str) -> ResponseReturnValue:
    """Write down a sum that sizes must come to."""
    with archive().look() as look:
        subject = subjects.subject_named(look, subject_id)
    line = add_tally(archive(), subject.name, text_of("sum") or "")
    flash(f"Wrote down the tally '{line.tally.as_written}'. {line.comes_out}")
    return redirect(url_for("subjects.show", subject_id=subject_id, _anchor="tallies"))


@page.post("/subject/<id:subject_id>/tallies/<id:tally_id>/remove")
def remove_sum(subject_id: str, tally_id: str) -> ResponseReturnValue:
    """Take a sum out; its sizes stay as they were read."""
    gone = remove_tally(archive(), tally_id)
    flash(f"Took out the tally '{gone.as_written}'; its sizes are as they were read.")
    return redirect(url_for("subjects.show", subject_id=subject_id, _anchor="tallies"))


@page.get("/read-size")
def read_size() -> ResponseReturnValue:
    """Say how a size that is being typed is understood."""
    label, written = asked("label") or "", asked("written") or ""
    read = parse_quantity(label, written)
    both = [wording.size(read.quantity, read.value), wording.other_system(read.quantity, read.value)]
    return jsonify(understood=", ".join(text for text in both if text))


def _page(subject_id: str, rows: list[Row]) -> str:
    scale, complaint = _scale()
    with archive().look() as look:
        subject = subjects.subject_named(look, subject_id)
        shown = photos.photos_showing(look, subject)
        views, missing = glance.by_view(look, subject, shown)
        known = with_doubts(look, sizes_of_subject(look, subject, scale=scale))
        tools = instruments.all_instruments(look)
        wanted = _sizes_worth_taking(look, subject)
    judged = gaps_of(archive(), subject.id, at=scale)
    return render_template(
        "subject.html",
        subject=subject,
        tallies=tallies_of(archive(), subject.id),
        standard=judged.standard,
        open_sizes=[*judged.standing(MISSING), *judged.standing(ROUGH)],
        closed_sizes=[*judged.standing(NOT_NEEDED), *judged.standing(HAS_NONE)],
        views=views,
        missing=missing,
        photos=shown,
        lines=[(line, _on_the_model(line), doubt_bar(line)) for line in known.lines],
        scale=scale,
        scale_complaint=complaint,
        instruments=tools,
        wanted=wanted,
        spans=SPANS,
        grades=GRADES,
        rows=rows,
        form=request.form,
    )


def _scale() -> tuple[Scale | None, str]:
    """The scale asked for, else the one asked for last; what cannot be read is said and asked for again."""
    if "scale" in request.args:
        session["scale"] = asked("scale") or ""
    written = str(session.get("scale", ""))
    if not written:
        return None, ""
    try:
        return parse_scale(written), ""
    except RivetbookError as error:
        session["scale"] = ""
        return None, str(error)


def _sizes_worth_taking(look: Look, subject: Subject) -> tuple[str, ...]:
    return thesaurus(kinds.own_kinds(look)).sizes(subject.kind)


def _on_the_model(line: SizeLine) -> str:
    if line.model_mm is None or line.model_interval_95_mm is None:
        return ""
    return wording.size("length", line.model_mm, line.model_interval_95_mm)


def doubt_bar(line: SizeLine) -> list[tuple[float, float]]:
    """Return the sources of a size's doubt as the pieces of a bar of 100: where each begins, how wide it is."""
    bar, start = [], 0.0
    for _, share in line.ledger.shares() if line.ledger else ():
        bar.append((round(start, 2), round(100 * share, 2)))
        start += 100 * share
    return bar
