"""Which sizes a person wants of a subject, and how precisely; which it has not, and which nobody needs."""

from __future__ import annotations

from sqlalchemy import select

from archive.records import tables as t
from archive.records.changes import Look, Writer
from archive.records.names import clean_name, name_key
from archive.records.things import Subject, WantedSize


def wants_of(look: Look, subject_key: int) -> list[WantedSize]:
    """Return what was decided about sizes of a subject, in the order in which it was."""
    statement = (
        select(t.wanted_size).where(t.wanted_size.c.subject_id == subject_key).order_by(t.wanted_size.c.id)
    )
    return [
        WantedSize(r.id, r.label, r.decision, r.precision_as_written, r.precision_constant, r.precision_share)
        for r in look.all(statement)
    ]


def decide(
    writer: Writer,
    subject: Subject,
    label: str,
    decision: str,
    *,
    precision_as_written: str | None = None,
    precision_constant: float | None = None,
    precision_share: float | None = None,
) -> None:
    """Keep a decision about a size, in place of the one before: 'wanted', 'it has none' or 'not needed'."""
    facts = {
        "label": clean_name(label),
        "decision": decision,
        "precision_as_written": precision_as_written,
        "precision_constant": precision_constant,
        "precision_share": precision_share,
    }
    held = _key(writer, subject, label)
    if held is None:
        writer.insert(t.wanted_size, subject_id=subject.key, label_key=name_key(label), **facts)
    else:
        writer.update(t.wanted_size, held, **facts)


def forget(writer: Writer, subject: Subject, label: str) -> bool:
    """Take back what was decided about a size; tells whether anything was."""
    held = _key(writer, subject, label)
    if held is not None:
        writer.delete(t.wanted_size, held)
    return held is not None


def _key(look: Look, subject: Subject, label: str) -> int | None:
    wanted = t.wanted_size.c
    found: int | None = look.value(
        select(wanted.id).where(wanted.subject_id == subject.key, wanted.label_key == name_key(label))
    )
    return found
