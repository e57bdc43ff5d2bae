"""The history as headlines: what was done, newest first, without the rows that each act changed.

A history holds every row that was ever written; a page that only tells what was done reads none of them.
"""

from __future__ import annotations

from sqlalchemy import select

from archive.records.changes import Look
from archive.records.history import Act
from archive.records.tables import change


def newest_acts(look: Look, *, most: int, before: int | None = None) -> list[Act]:
    """Return up to `most` acts, the newest first; with `before`, those older than that act."""
    statement = select(change.c.act).distinct().order_by(change.c.act.desc()).limit(most)
    if before is not None:
        statement = statement.where(change.c.act < before)
    numbers = [row.act for row in look.all(statement)]
    return _told(look, numbers, _taken_back(look))


def act_to_offer(look: Look) -> Act | None:
    """Return the newest act that can be taken back and is no undo itself, None where there is none."""
    taken_back = _taken_back(look)
    number = look.value(
        select(change.c.act)
        .where(change.c.undoes.is_(None), change.c.act.not_in(list(taken_back)))
        .order_by(change.c.act.desc())
        .limit(1)
    )
    return _told(look, [number], taken_back)[0] if number is not None else None


def _told(look: Look, numbers: list[int], taken_back: dict[int, int]) -> list[Act]:
    columns = (change.c.act, change.c.at_utc, change.c.door, change.c.sentence, change.c.undoes)
    lines: dict[int, list[tuple[str, str, str, int | None]]] = {number: [] for number in numbers}
    for row in look.all(select(*columns).where(change.c.act.in_(numbers)).order_by(change.c.number)):
        lines[row.act].append((row.at_utc, row.door, row.sentence, row.undoes))
    return [
        Act(
            number,
            told[0][0],
            told[0][1],
            tuple(dict.fromkeys(line[2] for line in told)),
            told[0][3],
            taken_back.get(number),
        )
        for number, told in lines.items()
    ]


def _taken_back(look: Look) -> dict[int, int]:
    """For each act that is taken back, the act that did it: an undo that is taken back itself does not count."""
    undos = look.all(
        select(change.c.act, change.c.undoes)
        .where(change.c.undoes.is_not(None))
        .order_by(change.c.act.desc())
    )
    taken_back: dict[int, int] = {}
    for undo in undos:
        if undo.act not in taken_back:
            taken_back.setdefault(undo.undoes, undo.act)
    return taken_back
