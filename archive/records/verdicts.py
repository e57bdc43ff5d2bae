"""How far the sizes of subjects would do for a model, as it was judged last."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Row, select

from archive.records import tables as t
from archive.records.changes import Look, Writer, in_chunks
from archive.records.things import Verdict


def keep_verdicts(writer: Writer, verdicts: Mapping[int, Verdict | None]) -> None:
    """Store what was judged, by the subject's key; None for a subject of which nothing is asked or known."""
    held: dict[int, Row[Any]] = {}
    for chunk in in_chunks(verdicts):
        rows = writer.all(select(t.verdict).where(t.verdict.c.subject_id.in_(chunk)))
        held.update({row.subject_id: row for row in rows})
    for subject, verdict in verdicts.items():
        row = held.get(subject)
        if verdict is None:
            if row is not None:
                writer.delete(t.verdict, row.id)
            continue
        facts = {"missing": verdict.missing, "unfit": verdict.unfit, "roughest_mm": verdict.roughest_mm}
        if row is None:
            writer.insert(t.verdict, subject_id=subject, **facts)
        elif any(row._mapping[name] != value for name, value in facts.items()):
            writer.update(t.verdict, row.id, **facts)


def verdicts_of(look: Look, subject_keys: Iterable[int] | None = None) -> dict[int, Verdict]:
    """Return what was judged of these subjects, or of all, by key; one without a verdict has no sizes."""
    if subject_keys is None:
        rows = list(look.all(select(t.verdict)))
    else:
        of = (t.verdict.c.subject_id.in_(chunk) for chunk in in_chunks(subject_keys))
        rows = [row for chosen in of for row in look.all(select(t.verdict).where(chosen))]
    return {row.subject_id: Verdict(row.missing, row.unfit, row.roughest_mm) for row in rows}


def subjects_touched(writer: Writer) -> set[int]:
    """Return the keys of the subjects whose verdict this transaction's changes so far may change."""
    keys = {row.row_id for row in writer.touched(t.subject)}
    of_subjects = writer.touched(t.dimension, t.wanted_size)
    keys.update(side["subject_id"] for row in of_subjects for side in row.sides)
    dimensions = {row.row_id for row in writer.touched(t.dimension)}
    figures = {side["dimension_id"] for row in writer.touched(t.estimate) for side in row.sides}
    for chunk in in_chunks(figures - dimensions):
        of = select(t.dimension.c.subject_id).where(t.dimension.c.id.in_(chunk)).distinct()
        keys.update(row.subject_id for row in writer.all(of))
    return keys
