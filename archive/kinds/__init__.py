"""Kinds of things that can be modelled: a small thesaurus with British and American words.

Each kind names the views and the sizes worth bringing home, its own first, then those of the broader
kind. `kinds.json` is carried in the package; people add kinds of their own, which need an id, a name
and a broader kind. Broader and narrower as in SKOS (W3C, 2009): one broader kind each, and no circles.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache, lru_cache
from pathlib import Path

from archive.errors import NotAccepted, SeveralMatch, UnknownKind

__all__ = ["ALL_INHERITED", "ROOT", "Kind", "Thesaurus", "carried_kinds", "thesaurus"]

ROOT = "thing"
ALL_INHERITED = "*"


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind as it is listed, without what it inherits."""

    id: str
    name: str
    broader: str | None  # the id of the broader kind; None for the root
    gb: tuple[str, ...] = ()  # what it is called in Britain
    us: tuple[str, ...] = ()  # and in America
    also: tuple[str, ...] = ()
    views: tuple[str, ...] = ()
    sizes: tuple[str, ...] = ()  # 'part measure', the most telling first
    without: tuple[str, ...] = ()  # inherited sizes that it has not; '*' for all of them
    purpose: str = ""  # what people say of it who forgot its name: words, no sentence
    sides: str | None = None  # whose left and right: 'viewer', 'forward', 'port and starboard'

    @property
    def words(self) -> tuple[str, ...]:
        """Its name and its synonyms on both sides of the Atlantic, each once."""
        return tuple(dict.fromkeys([self.name, *self.gb, *self.us, *self.also]))


class Thesaurus:
    """The carried kinds with a person's own; made by `thesaurus`."""

    def __init__(self, kinds: Iterable[Kind]) -> None:
        self._kinds = {kind.id: kind for kind in kinds}
        self._check()
        self._below: dict[str, list[Kind]] = {kind_id: [] for kind_id in self._kinds}
        for kind in self:
            if kind.broader is not None:
                self._below[kind.broader].append(kind)

    def __iter__(self) -> Iterator[Kind]:
        return iter(self._kinds.values())

    def __len__(self) -> int:
        return len(self._kinds)

    def _check(self) -> None:
        for kind in self:
            passed = [kind.id]
            while (above := self._kinds[passed[-1]].broader) is not None:
                if above not in self._kinds:
                    raise UnknownKind(above, self._near(above))
                if above in passed:
                    round_trip = " is a kind of ".join([*passed, above])
                    raise NotAccepted(
                        f"Kinds go round in a circle: {round_trip}", "Give one of them another broader kind."
                    )
                passed.append(above)

    def find(self, text: str) -> Kind:
        """Return the kind that `text` names, by id, name or synonym, in the singular or the plural.

        An id or a name goes before a synonym. Raises `SeveralMatch` where a word names several kinds
        ('truck'), and `UnknownKind` with near ones where it names none.
        """
        asked = _forms(text)
        by_name = [kind for kind in self if asked & (_forms(kind.id) | _forms(kind.name))]
        found = by_name or [kind for kind in self if any(asked & _forms(word) for word in kind.words)]
        if len(found) > 1:
            exact = [kind for kind in found if _key(text) in (_key(kind.id), _key(kind.name))]
            found = exact or found
        if not found:
            raise UnknownKind(text, self._near(text))
        if len(found) > 1:
            raise SeveralMatch("kind", text, tuple(kind.name for kind in found))
        return found[0]

    def _near(self, text: str) -> tuple[str, ...]:
        words = {_key(word): word for kind in self for word in (kind.id, *kind.words)}
        near = get_close_matches(_key(text)[:100], words, n=3, cutoff=0.6)
        return tuple(dict.fromkeys(words[key] for key in near))

    def _of(self, kind: Kind | str | None) -> Kind:
        if isinstance(kind, Kind):
            return kind
        return self._kinds[ROOT] if kind is None else self._kinds.get(kind) or self.find(kind)

    def broader(self, kind: Kind | str | None) -> tuple[Kind, ...]:
        """Return the kinds above `kind`, the nearest first; empty for the root."""
        above: list[Kind] = []
        at = self._of(kind)
        while at.broader is not None:
            at = self._kinds[at.broader]
            above.append(at)
        return tuple(above)

    def directly_narrower(self, kind: Kind | str | None) -> tuple[Kind, ...]:
        """Return the kinds one step below `kind`, in the order they are listed."""
        return tuple(self._below[self._of(kind).id])

    def narrower(self, kind: Kind | str | None) -> tuple[Kind, ...]:
        """Return all kinds below `kind`, each followed by those below it; without `kind` itself."""
        below: list[Kind] = []
        for child in self.directly_narrower(kind):
            below += [child, *self.narrower(child)]
        return tuple(below)

    def views(self, kind: Kind | str | None) -> tuple[str, ...]:
        """Return the views worth taking, the kind's own first, then the inherited ones; no kind, the root's."""
        own = self._of(kind)
        return tuple(dict.fromkeys(view for each in (own, *self.broader(own)) for view in each.views))

    def sizes(self, kind: Kind | str | None) -> tuple[str, ...]:
        """Return the sizes worth taking: the kind's own, then the inherited ones that it is not `without`."""
        own = self._of(kind)
        inherited = self.sizes(own.broader) if own.broader is not None else ()
        if ALL_INHERITED in own.without:
            inherited = ()
        kept = [size for size in inherited if size not in own.without]
        return tuple(dict.fromkeys([*own.sizes, *kept]))

    def sides(self, kind: Kind | str | None) -> str:
        """Return whose left and right are meant, the nearest kind's that says so."""
        own = self._of(kind)
        return next((each.sides for each in (own, *self.broader(own)) if each.sides), "viewer")

    def words(self, kind: Kind | str | None, *, with_broader: bool = False) -> tuple[str, ...]:
        """Return every word for `kind` on both sides of the Atlantic, its name first.

        `with_broader` adds the words of the kinds above it, the nearest first and without the root,
        so that 'vehicle' finds a lorry.
        """
        own = self._of(kind)
        above = [each for each in self.broader(own) if each.broader is not None] if with_broader else []
        return tuple(dict.fromkeys(word for each in (own, *above) for word in each.words))


@cache
def carried_kinds() -> tuple[Kind, ...]:
    """Return the kinds that come with the program."""
    rows = json.loads(Path(__file__).with_name("kinds.json").read_text(encoding="utf-8"))
    return tuple(
        Kind(
            id=row["id"],
            name=row["name"],
            broader=row["broader"],
            gb=tuple(row["gb"]),
            us=tuple(row["us"]),
            also=tuple(row["also"]),
            views=tuple(row["views"]),
            sizes=tuple(row["sizes"]),
            without=tuple(row["without"]),
            purpose=row.get("purpose", ""),
            sides=row.get("sides"),
        )
        for row in rows
    )


def thesaurus(own_kinds: Iterable[Kind] = ()) -> Thesaurus:
    """Return the carried kinds with the person's own; one of the same id takes the place of a carried one.

    Raises `UnknownKind` for a broader kind that is not there, and `NotAccepted` for kinds in a circle.
    """
    kinds = {kind.id: kind for kind in carried_kinds()}
    for kind in own_kinds:
        kinds[kind.id] = kind if kind.broader is not None or kind.id == ROOT else replace(kind, broader=ROOT)
    return Thesaurus(kinds.values())


@lru_cache(4096)
def _key(text: str) -> str:
    """Return `text` without case, accents, hyphens and doubled spaces."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(character for character in plain if not unicodedata.combining(character))
    return " ".join(re.findall(r"\w+", letters))


@lru_cache(4096)
def _forms(text: str) -> frozenset[str]:
    """Return the keys under which a word may stand: as it is, and what it may be the plural of."""
    key = _key(text)
    forms = {key}
    for ending, singular in (("ies", "y"), ("ves", "f"), ("es", ""), ("s", "")):
        if key.endswith(ending) and not key.endswith("ss") and len(key) > len(ending) + 2:
            forms.add(key.removesuffix(ending) + singular)
    return frozenset(forms) - {""}
