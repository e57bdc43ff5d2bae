"""Taking acts back: the rows as they were, and the best figures that rest on them worked out anew."""

from __future__ import annotations

from archive.dimensions.estimates import recompute
from archive.records import history, sizes
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.following import follow, visits_concerned
from archive.records.history import Act
from archive.records.ledgers import drop_unused_sources


def undo(archive: Archive, number: int | None = None) -> Act:
    """Take back act `number`, or the newest that is not taken back and is no undo itself.

    Returns that act, with the number of the one that took it back.

    Later acts keep what they did; an undo is taken back the same way, which restores. Files that were moved
    come back too; an import that is taken back leaves its files in `removed/`.

    Raises
    ------
    ActNotFound
        There is no such act, or it is taken back already.
    LeanedOn
        Later acts lean on it; they are named.
    FileGone
        A file that is to come back is no longer in `removed/`.
    """
    with archive.look() as look:
        act = history.act_to_take_back(look, number)
        sentence = _sentence(look, act)
    archive.begin_act()
    with archive.change(sentence, undoes=act.number) as writer:
        touched = history.take_back(writer, act)
        follow(writer, visits_concerned(writer, touched))
        affected = sizes.dimensions_resting_on(writer, touched)
        left = sizes.drop_dimensions_without_readings(writer, affected)
        recompute(writer, sizes.dimensions_by_key(writer, left))
        drop_unused_sources(writer)
    archive.begin_act()
    with archive.look() as look:
        return history.act_numbered(look, act.number)


def _sentence(look: Look, act: Act) -> str:
    """'Took back 12: Added...', or 'Restored 12: Added...' where the act is itself such a taking back."""
    restores, of = False, act
    while of.undoes is not None:
        restores, of = not restores, history.act_numbered(look, of.undoes)
    return f"{'Restored' if restores else 'Took back'} {of.number}: {of.sentence}"
