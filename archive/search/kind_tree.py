"""The kinds as a tree, with how many subjects are of each."""

from __future__ import annotations

from dataclasses import dataclass

from archive.kinds import ROOT, Kind, Thesaurus
from archive.records.archive import Archive
from archive.records.kinds import own_kinds, subjects_by_kind
from archive.search.kind_words import all_kinds, kinds_meant


@dataclass(frozen=True, slots=True)
class KindLine:
    """One kind in the tree: how deep it lies, how many subjects are given it and how many it or a narrower one."""

    kind: Kind
    depth: int
    own: bool  # added by the person
    subjects: int
    with_narrower: int


def kind_tree(archive: Archive, under: str | None = None, *, used: bool = False) -> list[KindLine]:
    """Return the kinds, each followed by those below it: all, or those that `under` names with theirs.

    `used` leaves out kinds that no subject is of. Raises `UnknownKind` with near ones.
    """
    with archive.look() as look:
        book = all_kinds(look)
        tops = kinds_meant(book, under) if under else book.directly_narrower(ROOT)
        counts = subjects_by_kind(look)
        own = {kind.id for kind in own_kinds(look)}
    lines: list[KindLine] = []
    for top in tops:
        _add(lines, book, top, 0, counts, own)
    return [line for line in lines if line.with_narrower or not used]


def _add(
    lines: list[KindLine], book: Thesaurus, kind: Kind, depth: int, counts: dict[str, int], own: set[str]
) -> None:
    many = counts.get(kind.id, 0)
    below = sum(counts.get(each.id, 0) for each in book.narrower(kind))
    lines.append(KindLine(kind, depth, kind.id in own, many, many + below))
    for narrower in book.directly_narrower(kind):
        _add(lines, book, narrower, depth + 1, counts, own)
