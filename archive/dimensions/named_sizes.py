"""Sizes as a sum names them: found in the archive, or refused with the place in the writing."""

from __future__ import annotations

from archive.dimensions.readings import SPANS
from archive.errors import NotationNotUnderstood, RecordNotFound, SeveralMatch
from archive.metrology.notation import Expression, SizeName, Tally
from archive.metrology.tallies import Dimension as Measures
from archive.records import sizes, subjects
from archive.records.changes import Look
from archive.records.things import Dimension, Subject

_MEASURES: dict[str, Measures] = {"length": "length", "angle": "angle", "count": "number", "slope": "number"}


def sizes_in(look: Look, subject: Subject, written: Tally | Expression) -> dict[SizeName, Dimension]:
    """Return the sizes that a sum written down for a subject names, in the order in which it names them.

    A label may end in its span, 'door width /over', where there are several.

    Raises
    ------
    NotationNotUnderstood
        At the place of a size that is not there, or that may be one of several.
    """
    return {name: _size(look, subject, written, name) for name in written.names}


def measures(dimension: Dimension) -> Measures:
    """What a size is to a sum: a length, an angle or a number."""
    return _MEASURES[dimension.quantity]


def _size(look: Look, subject: Subject, written: Tally | Expression, name: SizeName) -> Dimension:
    label, slash, span = name.label.rpartition(" /")
    if not slash or span not in SPANS:
        label, span = name.label, ""
    try:
        whose = subjects.subject_named(look, name.subject) if name.subject else subject
        found = sizes.dimensions_labelled(look, whose, label)
    except RecordNotFound as missing:
        near = (
            f" Perhaps you mean {' or '.join(repr(each) for each in missing.near)}." if missing.near else ""
        )
        raise _at(
            written,
            name,
            f"there is no {missing.sort} called '{missing.asked}'",
            f"Write it down first.{near}",
        ) from None
    except SeveralMatch as several:
        raise _at(
            written, name, f"'{several.asked}' may be {' or '.join(several.matches)}", "Name one by its id."
        ) from None
    fitting = [each for each in found if span in ("", each.span)]
    if len(fitting) > 1:
        ways = ", ".join(
            f"/{each.span} as {each.state}" if each.state != "as found" else f"/{each.span}" for each in found
        )
        as_found = [each for each in fitting if each.state == "as found"]
        if len(as_found) != 1:
            raise _at(
                written,
                name,
                f"'{label}' is taken in several ways ({ways})",
                f"Write which: {label} /{fitting[0].span}.",
            )
        fitting = as_found
    if not fitting:
        raise _at(
            written,
            name,
            f"'{label}' is not taken /{span}",
            "Leave the span off, or write that size down first.",
        )
    return fitting[0]


def _at(written: Tally | Expression, name: SizeName, why: str, instead: str) -> NotationNotUnderstood:
    column = next(term.column for term in written.terms if name in (*term.times, *term.over))
    found = written.as_written.find(name.subject or name.label, column)
    return NotationNotUnderstood(written.what, written.as_written, max(found, column), why, instead)
