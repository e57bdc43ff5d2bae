"""The one use case of finding: words, sizes and conditions in, subjects and loose photos out."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from archive.kinds import Thesaurus
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.finding.cards import PhotoCard
from archive.records.finding.stale import change_stamp
from archive.records.finding.tally import tally
from archive.records.photos import photo_named
from archive.records.things import Visit
from archive.scales import Scale
from archive.search.by_ratio import RatioFound
from archive.search.by_size import SizeFound
from archive.search.cards import Cards, cards_of, coverage_boosts, photos_shown, visits_shown
from archive.search.conditions import Asking, Conditions, conditions_of
from archive.search.kind_words import all_kinds
from archive.search.saying import nothing_to_look_for, said_of
from archive.search.words import plain_words, root

if TYPE_CHECKING:
    from archive.search.lookup import Found

_POOL = 100  # of this many best by words, those with the wanted sizes are ranked by both


class Hit(NamedTuple):
    """One subject that was found: why, and what there is of it."""

    key: int
    id: str
    subject: str
    kind: str | None
    place: str | None
    visits: tuple[str, ...]
    photos: tuple[PhotoCard, ...]  # the best first
    sizes: tuple[SizeFound, ...]
    ratios: tuple[RatioFound, ...]
    in_range_probability: float | None
    score: float


@dataclass(frozen=True, slots=True)
class FindResult:
    """What was found, the best first; `messages` are for the person, in plain sentences."""

    words: str
    hits: tuple[Hit, ...]
    photos: tuple[PhotoCard, ...]  # that match and show no subject yet
    visits: tuple[Visit, ...]
    messages: tuple[str, ...]
    at: Scale | None  # the scale that sizes were asked for at
    more: bool  # more subjects were found than are in `hits`
    counts: Counts | None = None


@dataclass(frozen=True, slots=True)
class Counts:
    """All that was found, shown or not: by kind, by place and by year, most first (years in order)."""

    subjects: int
    photos: int  # that show no subject yet
    kinds: Mapping[str, int]
    places: Mapping[str, int]
    years: Mapping[str, int]


def find(
    archive: Archive,
    words: str = "",
    *,
    kind: str | None = None,
    view: str | None = None,
    visit: str | None = None,
    taken: str | None = None,
    near: tuple[str, str] | None = None,
    sizes: Sequence[str] = (),
    model_sizes: Sequence[str] = (),
    at: str | None = None,
    ratios: Sequence[str] = (),
    has: Sequence[str] = (),
    good_for: str | None = None,
    looks_like: str | None = None,
    unlinked: bool = False,
    limit: int = 20,
    typing: bool = False,
    counting: bool = False,
) -> FindResult:
    """Find subjects, and photos that show none yet, by any words and conditions.

    Parameters
    ----------
    words : str
        Anything; what stands in quotation marks is looked for as it stands. May be empty.
    kind, view, visit : str, optional
        A kind by any word for it (narrower ones are found too), a view, a visit by name or id.
    taken : str, optional
        When it was photographed: 'June 2023', 'some autumn', '2019 to 2021'.
    near : tuple of str, optional
        A place or a position ('52.1, -1.3'), and how far from it at most ('2 km').
    sizes : sequence of str
        Sizes that a subject must have: 'post height 2.5 to 3 m', 'length over 4 m'.
    model_sizes, at : sequence of str, str, optional
        Sizes that it must have on a model, and the scale of that model.
    ratios : sequence of str
        Proportions of two sizes: 'height to width about 2 to 1'.
    has : sequence of str
        Labels of sizes that must be known, whatever they are.
    good_for : str, optional
        A scale: every size that a subject should have is known well enough for a model of it.
    looks_like : str, optional
        A photo by name or id: only what is seen on photos that show the same picture.
    unlinked : bool
        Only photos that show no subject yet.
    limit : int
        How many subjects to return, and how many photos.
    typing : bool
        The last word is still being typed: what begins with it is found too.
    counting : bool
        Count all that is found by kind, place and year too, which takes a little longer.

    Returns
    -------
    FindResult
        Subjects ranked by words, then by how probable it is that their sizes are in range.

    Raises
    ------
    UnknownKind, RecordNotFound, LengthNotUnderstood, NotAccepted
        For a condition that cannot be read. Words never raise anything.
    """
    asking = Asking(
        kind=kind,
        view=view,
        visit=visit,
        taken=taken,
        near=near,
        sizes=tuple(sizes),
        model_sizes=tuple(model_sizes),
        at=at,
        ratios=tuple(ratios),
        has=tuple(has),
        good_for=good_for,
        like=_looking_like(archive, looks_like) if looks_like else None,
        unlinked=unlinked,
    )
    with archive.look() as look:
        newest = change_stamp(look)
        kinds = all_kinds(look)
        stamp = (archive.folder, *newest)
        keep = conditions_of(look, kinds, asking, stamp)
        if plain_words(words):
            ranked = _by_words(
                archive, look, kinds, words, keep, newest, limit=limit, typing=typing, counting=counting
            )
        else:
            ranked = _without_words(look, words, keep, limit, stamp)
        found = _result(look, kinds, words, ranked, keep, limit, stamp)
        return replace(found, counts=_counts(look, kinds, ranked)) if counting else found


def _looking_like(archive: Archive, photo: str) -> frozenset[int]:
    """Return the keys of the photos that show the same picture as this one, itself among them."""
    from archive.records.look_alikes import look_alikes

    with archive.look() as look:
        own = photo_named(look, photo)
    return frozenset({own.key, *(each.photo.key for each in look_alikes(archive, own))})


@dataclass(frozen=True, slots=True)
class _Ranked:
    """Keys with their scores, the best first."""

    subjects: Mapping[int, float]
    photos: Sequence[int] = ()
    visits: Sequence[int] = ()
    all_subjects: Collection[int] = ()  # that match, shown or not, where they are to be counted
    all_photos: Collection[int] = ()
    found: Found | None = None  # what the words found
    message: str | None = None  # what is to be said first


def _by_words(
    archive: Archive,
    look: Look,
    kinds: Thesaurus,
    words: str,
    keep: Conditions,
    newest: tuple[int, str],
    *,
    limit: int,
    typing: bool,
    counting: bool,
) -> _Ranked:
    from archive.search import index as indexes
    from archive.search.lookup import Wanted, look_up

    most = max(limit, _POOL) if keep.judged else limit
    free = keep.none_given
    wanted = {"subjects": Wanted(most + 1, None if free else partial(keep.subjects, look), every=counting)}
    if keep.takes_photos:
        wanted["photos"] = Wanted(limit, None if free else partial(keep.photos, look), every=counting)
    if free:
        wanted["visits"] = Wanted(limit)

    def looked_up() -> tuple[Found, str | None]:
        index = indexes.up_to_date_index(archive, newest)
        return look_up(index, words, wanted, kinds, typing=typing), index.message

    try:
        found, message = looked_up()
    except Exception:  # whatever the library makes of a damaged file: the records are whole, begin anew
        indexes.distrust(archive)
        found, message = looked_up()
    subjects, photos, visits = (found.shelves.get(shelf, {}) for shelf in ("subjects", "photos", "visits"))
    if keep.judged:
        scores = {key: score * keep.probability(key) for key, score in subjects.items()}
        subjects = dict(sorted(scores.items(), key=lambda pair: -pair[1]))
    counted = found.matching
    return _Ranked(
        subjects,
        list(photos),
        list(visits),
        counted.get("subjects", ()),
        counted.get("photos", ()),
        found,
        message,
    )


def _without_words(look: Look, words: str, keep: Conditions, limit: int, stamp: object) -> _Ranked:
    said = nothing_to_look_for(words, keep.none_given)
    if keep.none_given:
        return _Ranked({}, message=said)
    subjects, photos = keep.subjects(look), keep.photos(look)
    likely = {key: keep.probability(key) for key in subjects}
    best = sorted(likely, key=lambda key: -likely[key])
    if len(best) > limit:
        level = likely[best[limit]]  # among equals the best covered first, wherever the list is cut
        best = [key for key in best if likely[key] >= level]
    boosts = coverage_boosts(look, best, stamp)
    order = sorted(best, key=lambda key: (-likely[key], -boosts[key], key))
    scores = {key: likely[key] * boosts[key] for key in order}
    return _Ranked(scores, sorted(photos), (), subjects, photos, message=said)


def _result(
    look: Look,
    kinds: Thesaurus,
    words: str,
    ranked: _Ranked,
    keep: Conditions,
    limit: int,
    stamp: object,
) -> FindResult:
    keys = list(ranked.subjects)[:limit]
    cards = cards_of(look, keys, keep.shot, stamp)
    sizes = keep.sizes_of(look, keys)
    typed = frozenset(root(word) for word in plain_words(words))
    names = {kind.id: kind.name for kind in kinds}
    hits = tuple(
        _hit(cards[key], typed, ranked.subjects[key], sizes.get(key, ()), keep, names)
        for key in keys
        if key in cards
    )
    photos = photos_shown(look, ranked.photos[:limit], stamp)
    messages = [*keep.messages, *([ranked.message] if ranked.message else [])]
    if ranked.found is not None:
        messages = [*messages, *said_of(look, words, ranked.found, keys, kinds)]
    elif not hits and not photos and not keep.none_given:
        messages = [*messages, "Nothing in this archive keeps to all of that."]
    return FindResult(
        words=words,
        hits=hits,
        photos=photos,
        visits=visits_shown(look, ranked.visits, stamp),
        messages=tuple(messages),
        at=keep.at,
        more=len(ranked.subjects) > limit,
    )


def _counts(look: Look, kinds: Thesaurus, ranked: _Ranked) -> Counts:
    counted = tally(look, ranked.all_subjects, ranked.all_photos)
    names = {kind.id: kind.name for kind in kinds}
    by_kind = {names.get(kind, kind): many for kind, many in counted.kinds.items()}
    return Counts(
        len(ranked.all_subjects),
        len(ranked.all_photos),
        _most_first(by_kind),
        _most_first(counted.places),
        dict(sorted(counted.years.items())),
    )


def _most_first(counts: Mapping[str, int]) -> dict[str, int]:
    return dict(sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])))


def _hit(
    cards: Cards,
    typed: frozenset[str],
    score: float,
    sizes: tuple[SizeFound, ...],
    keep: Conditions,
    kind_names: Mapping[str, str],
) -> Hit:
    subject = cards.subject
    return Hit(
        key=subject.key,
        id=subject.id,
        subject=subject.name,
        kind=kind_names.get(subject.kind, subject.kind) if subject.kind else None,
        place=subject.place,
        visits=cards.visits,
        photos=cards.best_first(typed),
        sizes=sizes,
        ratios=keep.ratios_of(subject.key),
        in_range_probability=keep.probability(subject.key) if keep.judged else None,
        score=score,
    )
