"""Sizes of a subject: written down several at once, asked for or not, and the sums that they must come to."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import zip_longest

from flask import Blueprint, flash, jsonify, redirect, request, url_for
from flask.typing import ResponseReturnValue

from archive import wording
from archive.dimensions.gaps import decide
from archive.dimensions.lines import parse_lines, record_lines
from archive.dimensions.putting_right import amend_size, set_reading_aside
from archive.dimensions.readings import GRADES, record_reading
from archive.dimensions.standards import HAS_NONE, NOT_NEEDED
from archive.dimensions.tallying import add_tally, remove_tally
from archive.errors import LinesNotSaved, NotAccepted, RivetbookError
from archive.lengths import parse_quantity
from archive.records import subjects
from archive.records.things import Subject
from archive.web.archives import archive
from archive.web.forms import asked, long_text_of, text_of
from archive.web.subject_page import Entered, Row, subject_page

page = Blueprint("sizes", __name__)

_ASK_AGAIN = "ask again"
_HOW = ("instrument", "photo", "on", "rests_on", "grade")


@dataclass(slots=True)
class _Outcome:
    """What became of a form of sizes: what was kept, and what comes back with what is wrong with it."""

    kept: list[str] = field(default_factory=list)
    back: Entered = field(default_factory=Entered)


@page.post("/subject/<id:subject_id>/sizes")
def write_down(subject_id: str) -> ResponseReturnValue:
    """Write down every row that can be read, and the lines if all can; the others come back with their faults."""
    subject = _subject(subject_id)
    how = {name: text_of(name) for name in _HOW} | {"grade": text_of("grade") or GRADES[0]}
    outcome = _Outcome()
    for row in _rows_sent():
        _write_row(subject, row, how, outcome)
    _write_lines(subject, long_text_of("lines"), how, outcome)
    if outcome.kept:
        flash(f"Wrote down {', '.join(outcome.kept)}.")
    if outcome.back.rows or outcome.back.lines:
        return subject_page(subject_id, outcome.back), 422
    return _back_to(subject_id, "sizes")


def _rows_sent() -> list[Row]:
    labels, written, spans = (request.form.getlist(name) for name in ("label", "written", "span"))
    spans += ["plain"] * len(labels)
    rows = zip_longest(labels, written, spans[: len(labels)], fillvalue="")
    return [Row(label, text, span or "plain") for label, text, span in rows if label.strip() or text.strip()]


def _write_row(subject: Subject, row: Row, how: dict[str, str | None], outcome: _Outcome) -> None:
    try:
        done = record_reading(archive(), subject.name, row.label, row.written, span=row.span, **how)
    except RivetbookError as error:
        outcome.back.rows.append(Row(row.label, row.written, row.span, error.without_commands))
        return
    outcome.kept.append(f"{done.dimension.label} {done.reading.as_written}")
    for warning in done.warnings:
        flash(warning.message)


def _write_lines(subject: Subject, text: str, how: dict[str, str | None], outcome: _Outcome) -> None:
    """Write the lines down, all or none: what can be mended at once is better sent whole again."""
    parsed = parse_lines(text)
    if not parsed.entries and not parsed.faults:
        return
    try:
        done = record_lines(archive(), subject.id, text, name="the lines", keep_good=False, **how)
    except LinesNotSaved as error:
        outcome.back.lines, outcome.back.line_faults = text, error.faults
        return
    outcome.kept += [f"{each.dimension.label} {each.reading.as_written}" for each in done.recorded]
    for message in dict.fromkeys(warning.message for each in done.recorded for warning in each.warnings):
        flash(message)


@page.post("/subject/<id:subject_id>/readings/<id:reading_id>/correct")
def correct(subject_id: str, reading_id: str) -> ResponseReturnValue:
    """Put a new reading in the place of one, which is kept as it was written."""
    label, written = text_of("label") or "", text_of("written") or ""
    done = amend_size(archive(), subject_id, label, written, reading=reading_id, why=text_of("why"))
    flash(
        f"Corrected {done.dimension.label} to {done.reading.as_written}. The old reading is kept, crossed out."
    )
    for warning in done.warnings:
        flash(warning.message)
    return _back_to(subject_id, reading_id)


@page.post("/subject/<id:subject_id>/readings/<id:reading_id>/set-aside")
def set_aside(subject_id: str, reading_id: str) -> ResponseReturnValue:
    """Let a reading count no longer, and say why."""
    flash(set_reading_aside(archive(), reading_id, text_of("why") or ""))
    return _back_to(subject_id, reading_id)


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
    return _back_to(subject_id, "open")


@page.post("/subject/<id:subject_id>/tallies")
def add_sum(subject_id: str) -> ResponseReturnValue:
    """Write down a sum that sizes must come to."""
    line = add_tally(archive(), _subject(subject_id).name, text_of("sum") or "")
    flash(f"Wrote down the tally '{line.tally.as_written}'. {line.comes_out}")
    return _back_to(subject_id, "tallies")


@page.post("/subject/<id:subject_id>/tallies/<id:tally_id>/remove")
def remove_sum(subject_id: str, tally_id: str) -> ResponseReturnValue:
    """Take a sum out; its sizes stay as they were read."""
    gone = remove_tally(archive(), tally_id)
    flash(f"Took out the tally '{gone.as_written}'; its sizes are as they were read.")
    return _back_to(subject_id, "tallies")


@page.get("/read-size")
def read_size() -> ResponseReturnValue:
    """Say how a size that is being typed is understood; what is half typed is no error of the page."""
    try:
        read = parse_quantity(asked("label") or "", asked("written") or "")
    except RivetbookError as error:
        return jsonify(wrong=str(error))
    both = [wording.size(read.quantity, read.value), wording.other_system(read.quantity, read.value)]
    return jsonify(understood=", ".join(text for text in both if text))


def _subject(subject_id: str) -> Subject:
    with archive().look() as look:
        return subjects.subject_named(look, subject_id)


def _back_to(subject_id: str, section: str) -> ResponseReturnValue:
    return redirect(url_for("subjects.show", subject_id=subject_id, _anchor=section))
