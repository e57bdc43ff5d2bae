"""Subjects: all of them, a new one, and the page of one."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from archive.kinds import thesaurus
from archive.records import glance, kinds, subjects
from archive.records.entering import enter_subject
from archive.web.archives import archive
from archive.web.forms import text_of
from archive.web.subject_page import subject_page

page = Blueprint("subjects", __name__)


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
    return subject_page(subject_id)
