"""Subjects: all of them, a new one, and the page of one."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from archive.dimensions.putting_right import amend_subject
from archive.kinds import thesaurus
from archive.records import glance, kinds, subjects
from archive.records.entering import enter_subject
from archive.web.archives import archive
from archive.web.forms import amended, text_of
from archive.web.subject_page import subject_page

page = Blueprint("subjects", __name__)

_FACTS = ("kind", "part_of", "place", "maker", "numbers", "era", "notes")


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
    facts = {name: text_of(name) for name in _FACTS}
    made = enter_subject(archive(), text_of("name") or "", also=_lines(text_of("also")), **facts)
    flash(f"Added the subject {made.name}.")
    return redirect(url_for("subjects.show", subject_id=made.id))


@page.get("/subject/<id:subject_id>")
def show(subject_id: str) -> ResponseReturnValue:
    """Show a subject: photos by view, sizes, and the form for more sizes."""
    return subject_page(subject_id)


@page.post("/subject/<id:subject_id>/amend")
def amend(subject_id: str) -> ResponseReturnValue:
    """Put in other facts of a subject, its name among them; what was left as it is is not touched."""
    with archive().look() as look:
        subject = subjects.subject_named(look, subject_id)
    held = {name: getattr(subject, name) for name in ("name", *_FACTS)}
    held |= {"kind": (subject.kind or "").replace("-", " "), "also": "\n".join(subject.also)}
    facts = amended(held)
    also = _lines(facts.pop("also", held["also"]))
    added = [name for name in also if name not in subject.also]
    dropped = [name for name in subject.also if name not in also]
    if facts or added or dropped:
        flash(amend_subject(archive(), subject.name, also=added, no_longer=dropped, **facts))
    return redirect(url_for("subjects.show", subject_id=subject_id))


def _lines(text: str | None) -> tuple[str, ...]:
    return tuple(line.strip() for line in (text or "").splitlines() if line.strip())
