"""Subjects on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

import click

from archive.cli import show
from archive.records.things import Photo, Subject


def subject_line(subject: Subject) -> str:
    """A subject in one line."""
    kind = f", a kind of {subject.kind.replace('-', ' ')}" if subject.kind else ""
    return f"{subject.name}{kind}"


def subject_sheet(subject: Subject, photos: Sequence[Photo]) -> None:
    """What is known of a subject, and the photos that show it."""
    show.facts(
        [
            ("Subject", f"{subject.name}  ({subject.id})"),
            ("Also", ", ".join(subject.also)),
            ("Kind", subject.kind),
            ("Part of", subject.part_of),
            ("Place", subject.place),
            ("Maker", subject.maker),
            ("Numbers", subject.numbers),
            ("Era", subject.era),
            ("Notes", subject.notes),
        ]
    )
    click.echo()
    seen = {p.id: next((s for s in p.sightings if s.subject_id == subject.id), None) for p in photos}
    rows = []
    for photo in photos:
        sighting = seen[photo.id]
        view = (sighting.view or "") if sighting else ""
        rows.append((photo.file, view, show.moment(photo.taken), photo.visit, photo.caption or ""))
    show.table(
        ("Photo", "View", "Taken", "Visit", "Caption"),
        rows,
        nothing=f'No photo shows it yet. Link some with: rivetbook link PHOTO... --to "{subject.name}" --view front',
    )
    click.echo()


def subject_table(subjects: Sequence[Subject]) -> None:
    """All subjects."""
    show.table(
        ("Subject", "Kind", "Place", "Part of", "Also"),
        [(s.name, s.kind or "", s.place or "", s.part_of or "", ", ".join(s.also)) for s in subjects],
        nothing="There are no subjects yet. Add one with: rivetbook subject add NAME --kind KIND",
    )
