"""The one use case of finding: words, sizes and conditions in, subjects and loose photos out."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from archive.errors import NotAccepted
from archive.kinds import Thesaurus
from archive.lengths import SizeRange, parse_size_range
from archive.records import finding as records
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.finding import ShownPhoto
from archive.records.photos import photos_by_key
from archive.records.subjects import subjects_by_key
from archive.records.things import Photo, Subject, Visit
from archive.records.visits import all_visits, visit_named
from archive.search import ranking
from archive.search.by_size import SizeFound, sizes_asked_for, together
from archive.search.kind_words import all_kinds, kinds_meant, with_narrower
from archive.search.saying import nothing_to_look_for, said_of
from archive.search.words import plain_words, root

if TYPE_CHECKING:
    from archive.search.lookup import Found

VIEWS = (
    "front", "rear", "left side", "right side", "top", "underside", "three-quarter", "detail", "inside", "overview",
)  # fmt: skip
_BEST_VIEWS = ("three-quarter", "front", "right side", "left side", "rear", "overview")
_POOL = 100  # of this many best by words, those with the wanted sizes are ranked by both


@dataclass(frozen=True, slots=True)
class Hit:
    """One subject that was found: why, and what there is of it."""

    key: int
    id: str
    subject: str
    kind: str | None
    place: str | None
    visits: tuple[str, ...]
    photos: tuple[ShownPhoto, ...]  # the best first
    sizes: tuple[SizeFound, ...]
    in_range_probability: float | None
    score: float


@dataclass(frozen=True, slots=True)
class FindResult:
    """What was found, the best first; `messages` are for the person, in plain sentences."""

    words: str
    hits: tuple[Hit, ...]
    photos: tuple[Photo, ...]  # that match and show no subject yet
    visits: tuple[Visit, ...]
    messages: tuple[str, ...]
    more: bool  # more subjects were found than are in `hits`


@dataclass(slots=True)
class _Conditions:
    """Which subjects and loose photos may be in the answer; None: any."""

    subjects: set[int] | None = None
    photos: set[int] | None = None
    view: str | None = None
    visit_key: int | None = None
    sizes: Mapping[int, tuple[SizeFound, ...]] = field(default_factory=dict)

    def keep_subjects(self, keys: Collection[int]) -> None:
        self.subjects = set(keys) if self.subjects is None else self.subjects & set(keys)

    def keep_photos(self, keys: Collection[int]) -> None:
        self.photos = set(keys) if self.photos is None else self.photos & set(keys)

    @property
    def none_given(self) -> bool:
        return self.subjects is None and self.photos is None


def find(
    archive: Archive,
    words: str = "",
    *,
    kind: str | None = None,
    view: str | None = None,
    visit: str | None = None,
    sizes: Sequence[str | SizeRange] = (),
    limit: int = 20,
    typing: bool = False,
) -> FindResult:
    """Find subjects, and photos that show none yet, by any words and conditions.

    Parameters
    ----------
    words : str
        Anything; what stands in quotation marks is looked for as it stands. May be empty.
    kind, view, visit : str, optional
        A kind by any word for it (narrower ones are found too), a view, a visit by name or id.
    sizes : sequence of str or SizeRange
        Sizes that a subject must have: 'post height 2.5 to 3 m', 'length over 4 m'.
    limit : int
        How many subjects to return, and how many photos.
    typing : bool
        The last word is still being typed: what begins with it is found too.

    Returns
    -------
    FindResult
        Subjects ranked by words, then by how probable it is that their sizes are in range.

    Raises
    ------
    UnknownKind, RecordNotFound, LengthNotUnderstood, NotAccepted
        For a condition that cannot be read. Words never raise anything.
    """
    asked = [size if isinstance(size, SizeRange) else parse_size_range(size) for size in sizes]
    messages: list[str] = []
    with archive.look() as look:
        kinds = all_kinds(look)
        conditions = _conditions(look, kinds, messages, kind=kind, view=view, visit=visit, sizes=asked)
    if plain_words(words):
        ranked = _by_words(archive, words, conditions, messages, limit=limit, typing=typing)
    else:
        messages += nothing_to_look_for(words, conditions.none_given)
        with archive.look() as look:
            ranked = _without_words(look, conditions, limit)
    with archive.look() as look:
        return _result(look, kinds, words, ranked, conditions, messages, limit)


@dataclass(frozen=True, slots=True)
class _Ranked:
    """Keys with their scores, the best first."""

    subjects: Mapping[int, float]
    photos: Sequence[int] = ()
    visits: Sequence[int] = ()
    found: Found | None = None  # what the words found


def _conditions(
    look: Look,
    kinds: Thesaurus,
    messages: list[str],
    *,
    kind: str | None,
    view: str | None,
    visit: str | None,
    sizes: Sequence[SizeRange],
) -> _Conditions:
    keep = _Conditions()
    if kind:
        meant = kinds_meant(kinds, kind)
        if len(meant) > 1:
            messages.append(f"'{kind}' is the word for several kinds: {', '.join(k.name for k in meant)}.")
        keep.keep_subjects(records.subjects_of_kinds(look, with_narrower(kinds, meant)))
        keep.keep_photos(())
    if view:
        keep.view = _view(view)
        keep.keep_photos(())
    if visit:
        keep.visit_key = visit_named(look, visit).key
        keep.keep_photos(records.loose_photos(look, visit_key=keep.visit_key))
    if view or visit:
        keep.keep_subjects(records.subjects_shown(look, view=keep.view, visit_key=keep.visit_key))
    if sizes:
        keep.sizes = sizes_asked_for(look, sizes, keep.subjects)
        keep.keep_subjects(keep.sizes)
        keep.keep_photos(())
    return keep


def _view(asked: str) -> str:
    view = " ".join(asked.split()).casefold()
    if view not in VIEWS:
        raise NotAccepted(f"'{asked}' is not a view", f"The views are {', '.join(VIEWS)}.")
    return view


def _by_words(
    archive: Archive, words: str, keep: _Conditions, messages: list[str], *, limit: int, typing: bool
) -> _Ranked:
    from archive.search import index as indexes
    from archive.search.lookup import Wanted, look_up

    most = max(limit, _POOL) if keep.sizes else limit
    wanted = {
        "subjects": Wanted(keep.subjects, most + 1),
        "photos": Wanted(keep.photos, limit),
        "visits": Wanted(None if keep.none_given else (), limit),
    }

    def looked_up() -> Found:
        index = indexes.up_to_date_index(archive)
        if index.message:
            messages.append(index.message)
        return look_up(index, words, wanted, typing=typing)

    try:
        found = looked_up()
    except Exception:  # whatever the library makes of a damaged file: the records are whole, begin anew
        messages.clear()
        indexes.distrust(archive)
        found = looked_up()
    scores = {
        key: score * (together(keep.sizes[key]) if key in keep.sizes else 1.0)
        for key, score in found.shelves.get("subjects", {}).items()
    }
    best = dict(sorted(scores.items(), key=lambda pair: -pair[1]))
    return _Ranked(best, list(found.shelves.get("photos", {})), list(found.shelves.get("visits", {})), found)


def _without_words(look: Look, keep: _Conditions, limit: int) -> _Ranked:
    if keep.none_given:
        return _Ranked({})
    subjects = keep.subjects or set()
    likely = {key: together(keep.sizes[key]) if key in keep.sizes else 1.0 for key in subjects}
    best = sorted(likely, key=lambda key: -likely[key])
    if len(best) > limit and likely[best[limit]] == likely[best[limit - 1]]:
        level = likely[best[limit]]  # among equals the best covered first, wherever the list is cut
        best = [key for key in best if likely[key] >= level]
    covered = records.coverage_of(look, best)
    scores = {key: likely[key] * ranking.coverage_boost(*covered[key]) for key in best}
    order = sorted(best, key=lambda key: (-likely[key], -scores[key], key))
    return _Ranked({key: scores[key] for key in order}, sorted(keep.photos or ()), ())


def _result(
    look: Look,
    kinds: Thesaurus,
    words: str,
    ranked: _Ranked,
    keep: _Conditions,
    messages: list[str],
    limit: int,
) -> FindResult:
    keys = list(ranked.subjects)[:limit]
    subjects = {s.key: s for s in subjects_by_key(look, keys)}
    shown = records.photos_of_subjects(look, keys)
    typed = {root(word) for word in plain_words(words)}
    names = {kind.id: kind.name for kind in kinds}
    hits = tuple(
        _hit(subjects[key], ranked.subjects[key], shown.get(key, []), keep, typed, names)
        for key in keys
        if key in subjects
    )
    photos = photos_by_key(look, ranked.photos[:limit])
    order = {key: n for n, key in enumerate(ranked.photos)}
    visits = [v for v in all_visits(look) if v.key in ranked.visits] if ranked.visits else []
    if ranked.found is not None:
        messages = [*messages, *said_of(look, ranked.found, keys, kinds)]
    elif not hits and not photos and not keep.none_given:
        messages = [*messages, "Nothing in this archive keeps to all of that."]
    return FindResult(
        words=words,
        hits=hits,
        photos=tuple(sorted(photos, key=lambda photo: order[photo.key])),
        visits=tuple(visits),
        messages=tuple(messages),
        more=len(ranked.subjects) > limit,
    )


def _hit(
    subject: Subject,
    score: float,
    shown: Sequence[ShownPhoto],
    keep: _Conditions,
    typed: Collection[str],
    kind_names: Mapping[str, str],
) -> Hit:
    fitting = [
        photo
        for photo in shown
        if keep.view in (None, photo.view) and keep.visit_key in (None, photo.visit_key)
    ]
    sizes = keep.sizes.get(subject.key, ())
    return Hit(
        key=subject.key,
        id=subject.id,
        subject=subject.name,
        kind=kind_names.get(subject.kind, subject.kind) if subject.kind else None,
        place=subject.place,
        visits=tuple(dict.fromkeys(photo.visit for photo in fitting)),
        photos=tuple(sorted(fitting, key=lambda photo: _worth(photo, typed))),
        sizes=sizes,
        in_range_probability=together(sizes) if sizes else None,
        score=score,
    )


def _worth(photo: ShownPhoto, typed: Collection[str]) -> tuple[int, int]:
    """Return what a subject's photos are sorted by: the most of the typed words first, then the fullest view."""
    said = {
        root(w) for text in (photo.caption, photo.file, *photo.keywords) if text for w in plain_words(text)
    }
    view = _BEST_VIEWS.index(photo.view) if photo.view in _BEST_VIEWS else len(_BEST_VIEWS)
    return -len(said & set(typed)), view
