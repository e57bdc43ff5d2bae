"""The history told and taken back: acts with what they did, and the rows as they were before one.

An act is what one command did, in one transaction or several. Taking it back writes a new act; only what
the act itself changed goes back, so that later acts keep theirs. Where one leans on it, it is named.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from sqlalchemy import Table, select

from archive.errors import ActNotFound, LeanedOn, RecordNotFound, SeveralMatch
from archive.records import photos, removing, subjects, visits
from archive.records import tables as t
from archive.records.changes import Change, Look, Row_, Touched, Writer, changes_after, changes_of_act
from archive.records.names import name_key, near_names
from archive.records.structure import (
    Key,
    is_derived,
    is_kept_if_needed,
    points_at,
    rows_alike,
    rows_pointing_at,
    worked_out_columns,
)

_MOST_SENTENCES = 4


@dataclass(frozen=True, slots=True)
class Act:
    """What one command did. `undoes` is the act it took back; `taken_back_by` the one that took it back."""

    number: int
    at_utc: str
    door: str
    sentences: tuple[str, ...]
    undoes: int | None
    taken_back_by: int | None

    @property
    def sentence(self) -> str:
        """What it did, in one line; of many sentences the first few."""
        if len(self.sentences) <= _MOST_SENTENCES:
            return "; ".join(self.sentences)
        told = self.sentences[: _MOST_SENTENCES - 1]
        return f"{'; '.join(told)}; and {len(self.sentences) - len(told)} things more"


def all_acts(look: Look, *, concerning: Collection[Key] | None = None) -> list[Act]:
    """Return the acts, the newest first: all, or those that touched one of these rows or what hangs on it."""
    lines = list(changes_after(look, 0))
    undone_by = _standing_undoers(lines)
    wanted = None if concerning is None else _acts_concerning(lines, concerning)
    acts = []
    for number, group in groupby(
        sorted(lines, key=lambda line: (line.act, line.number)), lambda line: line.act
    ):
        if wanted is None or number in wanted:
            acts.append(_as_act(list(group), undone_by.get(number)))
    return acts[::-1]


def acts_concerning(look: Look, named: str) -> list[Act]:
    """Return the acts that touched the subject, photo or visit of this name or id, also one that is gone.

    What was merged is one with what it was merged into. Raises `RecordNotFound`, or `SeveralMatch` when several things have or had the name.
    """
    lines = list(changes_after(look, 0))
    found = _now_named(look, named) or _once_named(lines, named)
    if not found:
        raise RecordNotFound("subject, photo or visit", named, near_names(named, _names(look)))
    merged = _merged(lines)
    (key, *others) = dict.fromkeys(merged.get(each, each) for each in found)
    if others:
        raise SeveralMatch("thing", named, tuple(found.values()))
    return all_acts(look, concerning={key, *(other for other, into in merged.items() if into == key)})


def act_numbered(look: Look, number: int) -> Act:
    """Return the act of this number; raises `ActNotFound`."""
    for act in all_acts(look):
        if act.number == number:
            return act
    raise ActNotFound(f"There is no act {number} in this archive's history")


def act_to_take_back(look: Look, number: int | None) -> Act:
    """Return the act of this number; without one, the newest that is not taken back and is no undo itself.

    Raises `ActNotFound` when there is none, or it is taken back already.
    """
    if number is None:
        for act in all_acts(look):
            if act.undoes is None and act.taken_back_by is None:
                return act
        raise ActNotFound("There is nothing to take back")
    act = act_numbered(look, number)
    if act.taken_back_by is not None:
        raise ActNotFound(
            f"Act {number} ({act.sentence}) is taken back already; taking back act {act.taken_back_by} restores it"
        )
    return act


def taken_out(look: Look) -> dict[str, Act]:
    """Return the files of photos that somebody took out, by checksum, each with the act that did it last.

    Those that lie in `removed/` because an import was taken back are not among them: nobody took these out.
    """
    held = {row.id: row.sha256 for row in look.all(select(t.removed_file.c.id, t.removed_file.c.sha256))}
    if not held:
        return {}
    acts = {act.number: act for act in all_acts(look)}
    found = {
        held[row.row_id]: acts[line.act]
        for line in changes_after(look, 0)
        for row in line.rows
        if row.table == t.removed_file.name and row.after is not None and row.row_id in held
    }
    return {sha256: act for sha256, act in found.items() if not _takes_back(act, acts)}


def _takes_back(act: Act, acts: Mapping[int, Act]) -> bool:
    """Tell whether an act takes another back, and does not restore one that was taken back."""
    return act.undoes is not None and not _takes_back(acts[act.undoes], acts)


def take_back(writer: Writer, act: Act) -> list[Touched]:
    """Put back what the act changed; returns the rows that it had touched.

    Derived rows that others have changed since are left: the caller works them out anew. Raises `LeanedOn`
    with the later acts that must be taken back first; nothing is changed then.
    """
    rows = _net(changes_of_act(writer, act.number))
    _TakingBack(writer, act, rows).do()
    return rows


def _as_act(lines: Sequence[Change], taken_back_by: int | None) -> Act:
    first = lines[0]
    sentences = tuple(dict.fromkeys(line.sentence for line in lines))
    return Act(first.act, first.at_utc, first.door, sentences, first.undoes, taken_back_by)


def _standing_undoers(lines: Iterable[Change]) -> dict[int, int]:
    """For each act that is taken back, the act that did it: an undo that is taken back itself does not count."""
    undoes = {line.act: line.undoes for line in lines if line.undoes is not None}
    taken_back: dict[int, int] = {}
    for act in sorted(undoes, reverse=True):
        if act not in taken_back:
            taken_back[undoes[act]] = act
    return taken_back


def _acts_concerning(lines: Iterable[Change], keys: Collection[Key]) -> set[int]:
    related, acts = set(keys), set[int]()
    for line in lines:
        for row in line.rows:
            if (row.table, row.row_id) in related or _points_into(row, related):
                related.add((row.table, row.row_id))
                acts.add(line.act)
    return acts


_NAMED = ((t.subject, "name"), (t.photo, "file"), (t.visit, "name"))


def _now_named(look: Look, named: str) -> dict[Key, str]:
    """Things that go by this name, each with the id that tells it from others."""
    found: dict[Key, str] = {}
    subject, visit = subjects.find_subject(look, named), visits.find_visit(look, named)
    if subject is not None:
        found[t.subject.name, subject.key] = f"the subject {subject.name} ({subject.id})"
    if visit is not None:
        found[t.visit.name, visit.key] = f"the visit {visit.name} ({visit.id})"
    for photo in photos.photos_matching(look, named):
        found[t.photo.name, photo.key] = f"the photo {photo.visit}/{photo.file} ({photo.id})"
    return found


def _once_named(lines: Iterable[Change], named: str) -> dict[Key, str]:
    """Things that went by this name and do no longer, or are gone."""
    key, found = name_key(named), dict[Key, str]()
    columns = {table.name: column for table, column in _NAMED}
    for line in lines:
        for row in line.rows:
            if row.table in columns:
                for side in row.sides:
                    name = side[columns[row.table]]
                    if key in (name_key(name), side.get("stem_key")) or named == side["public_id"]:
                        found[row.table, row.row_id] = f"the {row.table} {name} ({side['public_id']})"
    return found


def _merged(lines: Iterable[Change]) -> dict[Key, Key]:
    """Subjects and visits that were merged, each with the one it belongs to now: that took its name as it went."""
    into: dict[Key, Key] = {}
    for line in lines:
        gone = {}
        for row in line.rows:
            if row.table in (t.subject.name, t.visit.name):
                into.pop((row.table, row.row_id), None)  # it is back
                if row.before is not None and row.after is None:
                    gone[f"{row.table}_name", row.before["name_key"]] = row.table, row.row_id
        for row in line.rows:
            other = gone.get((row.table, (row.after or {}).get("name_key")))
            if other is not None and row.after is not None:
                into[other] = other[0], row.after[f"{other[0]}_id"]
    for key, kept in into.items():
        while kept in into:
            kept = into[kept]
        into[key] = kept
    return into


def _names(look: Look) -> list[str]:
    return [row[0] for table, column in _NAMED for row in look.all(select(table.c[column]))]


def _points_into(row: Touched, related: set[Key]) -> bool:
    table = t.metadata.tables.get(row.table)
    if table is None or is_derived(table):
        return False
    return any(
        (aim.name, side.get(column)) in related for side in row.sides for column, aim in points_at(table)
    )


def _net(lines: Iterable[Change]) -> list[Touched]:
    """The rows of several transactions: as before the first, as after the last."""
    net: dict[Key, Touched] = {}
    for line in lines:
        for row in line.rows:
            held = net.get((row.table, row.row_id), row)
            net[row.table, row.row_id] = Touched(row.table, row.row_id, held.before, row.after)
    return [row for row in net.values() if row.before != row.after and row.table in t.metadata.tables]


class _TakingBack:
    """One act being taken back: what each row is to be, and which later acts stand in the way."""

    def __init__(self, writer: Writer, act: Act, rows: Sequence[Touched]) -> None:
        self._writer, self._act, self._rows = writer, act, rows
        self._wanted: dict[Key, Row_ | None] = {}
        self._needed_by: dict[Key, list[Key]] = {}
        self._in_the_way: set[int] = set()
        self._later: list[Change] | None = None

    def do(self) -> None:
        for row in self._rows:
            self._want(row)
        self._drop_what_hangs_on_goers()
        self._check_what_is_kept()
        self._refuse_if_leaned_on()
        if not self._wanted:
            raise ActNotFound(
                f"Act {self._act.number} ({self._act.sentence}) has nothing left to take back: later acts did so"
            )
        into_removed = removing.files_that_would_be_lost(self._writer, self._wanted)
        self._writer.put_back(
            (t.metadata.tables[name], key, values) for (name, key), values in self._wanted.items()
        )
        for file in into_removed:
            self._writer.insert(t.removed_file, **file)

    def _want(self, row: Touched) -> None:
        table = t.metadata.tables[row.table]
        now = self._writer.row(table, row.row_id)
        before, after = _as_columns(table, row.before), _as_columns(table, row.after)
        if now == before:
            return
        worked_out = worked_out_columns(table)
        if _without(now, worked_out) == _without(after, worked_out):
            self._wanted[row.table, row.row_id] = before
        elif is_derived(table):
            return
        elif now is None or before is None or after is None:
            self._blame(row.table, row.row_id)
            self._wanted[row.table, row.row_id] = (
                before  # not to be done, but what hangs on it leans on the act too
            )
        else:
            changed = {name for name in before if before[name] != after[name]} - worked_out
            touched_since = {name for name in changed if now[name] not in (after[name], before[name])}
            if touched_since:
                self._blame(row.table, row.row_id, touched_since)
            self._wanted[row.table, row.row_id] = {**now, **{name: before[name] for name in changed}}

    def _drop_what_hangs_on_goers(self) -> None:
        """Rows that point at one that goes: derived ones go with it, others stand in the way."""
        going = [key for key, values in self._wanted.items() if values is None]
        while going:
            name, row_id = going.pop()
            hanging = [
                (table, (table.name, row["id"]))
                for table, row in rows_pointing_at(self._writer, t.metadata.tables[name], row_id)
                if self._will_point_at((table.name, row["id"]), row, name, row_id)
            ]
            leaning = [key for table, key in hanging if name == t.source.name or not is_derived(table)]
            if leaning and is_kept_if_needed(t.metadata.tables[name]):
                going += self._keep((name, row_id), leaning)
                continue
            for table, key in hanging:
                if is_derived(table):
                    self._wanted[key] = None
                    going.append(key)
                else:
                    self._blame_what_needs(key)

    def _keep(self, key: Key, leaning: list[Key]) -> list[Key]:
        """Let a row stay that others need since; returns what it needs in turn and is to be looked at again."""
        del self._wanted[key]
        self._needed_by[key] = leaning
        table = t.metadata.tables[key[0]]
        row = self._writer.row(table, key[1])
        return [aim for aim in self._aims(table, row or {}) if self._wanted.get(aim, row) is None]

    def _blame_what_needs(self, key: Key) -> None:
        """A row that was kept is not to blame itself: what needs it is."""
        for needing in self._needed_by.get(key, ()):
            self._blame_what_needs(needing)
        if key not in self._needed_by:
            self._blame(*key)

    def _will_point_at(self, key: Key, row: Row_, name: str, row_id: int) -> bool:
        values = self._wanted.get(key, row)
        if values is None:
            return False
        table = t.metadata.tables[key[0]]
        return any(aim.name == name and values[column] == row_id for column, aim in points_at(table))

    def _check_what_is_kept(self) -> None:
        """Rows that come back need what they point at, and a name that nobody has taken meanwhile."""
        for key, values in list(self._wanted.items()):
            if values is None:
                continue
            table = t.metadata.tables[key[0]]
            missing = [k for k in self._aims(table, values) if not self._will_be_there(k)]
            alike = [
                (table.name, row_id)
                for row_id in rows_alike(self._writer, table, key[1], values)
                if (table.name, row_id) not in self._wanted
            ]
            if is_derived(table) and (missing or alike):
                del self._wanted[key]
            else:
                for other in missing + alike:
                    self._blame(*other)

    def _aims(self, table: Table, values: Row_) -> list[Key]:
        return [
            (aim.name, values[column]) for column, aim in points_at(table) if values.get(column) is not None
        ]

    def _will_be_there(self, key: Key) -> bool:
        if key in self._wanted:
            return self._wanted[key] is not None
        return self._writer.row(t.metadata.tables[key[0]], key[1]) is not None

    def _blame(self, table: str, row_id: int, columns: set[str] | None = None) -> None:
        """Note the newest later act that touched the row (in these columns)."""
        if self._later is None:
            self._later = [line for line in changes_after(self._writer, 0) if line.act > self._act.number]
        for line in reversed(self._later):
            for row in line.rows:
                if (row.table, row.row_id) == (table, row_id) and _touches(row, columns):
                    self._in_the_way.add(line.act)
                    return
        raise ActNotFound(
            f"Act {self._act.number} ({self._act.sentence}) cannot be taken back: a row of '{table}' is no longer as the history says"
        )

    def _refuse_if_leaned_on(self) -> None:
        if self._in_the_way:
            sentences = {act.number: act.sentence for act in all_acts(self._writer)}
            later = tuple((number, sentences[number]) for number in sorted(self._in_the_way, reverse=True))
            raise LeanedOn(self._act.number, self._act.sentence, later)


def _touches(row: Touched, columns: set[str] | None) -> bool:
    if columns is None or row.before is None or row.after is None:
        return True
    return any(row.before.get(name) != row.after.get(name) for name in columns)


def _without(values: Row_ | None, columns: frozenset[str]) -> Row_ | None:
    return values and {name: value for name, value in values.items() if name not in columns}


def _as_columns(table: Table, values: Any) -> Row_ | None:
    """A noted row in the columns that the table has today: the history may be older than the newest migration."""
    if values is None:
        return None
    return {c.name: values.get(c.name, getattr(c.default, "arg", None)) for c in table.columns}
