"""What must hold of a thing to be found, beside its words: as keys of the subjects and photos that may be shown.

Conditions are read at once, so that one that cannot be read is refused; they are judged when it is known of how
many things: of a few that the words have found, or of all.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from archive.errors import NotAccepted
from archive.kinds import Thesaurus
from archive.lengths import SizeRange, parse_size_range
from archive.records import verdicts
from archive.records.changes import Look
from archive.records.entering import check_view
from archive.records.finding import shots
from archive.records.finding.sizes import subjects_with_sizes
from archive.records.periods import parse_period
from archive.records.things import USUAL_TOLERANCE_MM
from archive.records.visits import visit_named
from archive.scales import Scale, parse_scale
from archive.search.by_ratio import AskedRatio, RatioFound, ratio_asked_for, read_ratio
from archive.search.by_size import (
    Likely,
    SizeFound,
    labels_known,
    labels_meant,
    sizes_asked_for,
    sizes_found,
    together,
)
from archive.search.kind_words import kinds_meant, with_narrower
from archive.search.near import near_condition
from archive.search.unchanged import WhileUnchanged

Keys = Collection[int] | None  # None: of all


@dataclass(frozen=True, slots=True)
class Asking:
    """Conditions as somebody gives them; None and empty: any. They are read by `conditions_of`.

    `near` is a place, or a position, and a distance. `model_sizes` are those on a model at the scale `at`.
    `has` are labels of sizes. `good_for` is a scale at which all sizes would do. `like` are the keys of photos.
    `unlinked` asks for photos that show no subject yet.
    """

    kind: str | None = None
    view: str | None = None
    visit: str | None = None
    taken: str | None = None
    near: tuple[str, str] | None = None
    sizes: tuple[str, ...] = ()
    model_sizes: tuple[str, ...] = ()
    at: str | None = None
    ratios: tuple[str, ...] = ()
    has: tuple[str, ...] = ()
    good_for: str | None = None
    like: frozenset[int] | None = None
    unlinked: bool = False


class Condition(Protocol):
    """One thing that must hold, of subjects and of photos that show none."""

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        """Return the subjects that keep to it; among these, or among all."""

    def photos(self, look: Look, among: Keys) -> Collection[int]:
        """Return the loose photos that keep to it; among these, or among all."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """Which subjects and which photos that show none may be in the answer."""

    conditions: tuple[Condition, ...]
    shot: shots.Shot
    sized: _Sized
    proportions: _InProportion
    at: Scale | None
    messages: tuple[str, ...]

    def subjects(self, look: Look, among: Keys = None) -> Collection[int]:
        """Return the subjects that keep to every condition; among a few, or among all."""
        return _keeping([condition.subjects for condition in self.conditions], look, among)

    def photos(self, look: Look, among: Keys = None) -> Collection[int]:
        """Return the loose photos that keep to every condition; among a few, or among all."""
        return _keeping([condition.photos for condition in self.conditions], look, among)

    def probability(self, subject: int) -> float:
        """Return how probable it is that a subject has all the sizes and proportions asked for."""
        sizes = [size.probability for size in self.sized.likely.get(subject, ())]
        return together([*sizes, *(ratio.in_range_probability for ratio in self.ratios_of(subject))])

    @property
    def takes_photos(self) -> bool:
        """Tell whether a photo that shows no subject can keep to every condition."""
        return not any(isinstance(condition, _OfSubjects) for condition in self.conditions)

    def sizes_of(self, look: Look, keys: Sequence[int]) -> dict[int, tuple[SizeFound, ...]]:
        """Return the sizes that these subjects were found by."""
        likely = self.sized.likely
        asked = [size for size, _ in self.sized.asked]
        return sizes_found(look, asked, {key: likely[key] for key in keys if key in likely})

    def ratios_of(self, subject: int) -> tuple[RatioFound, ...]:
        """Return the proportions that a subject was found by."""
        return self.proportions.found.get(subject, ())

    @property
    def judged(self) -> bool:
        """Tell whether what is found is ranked by how probable its sizes are."""
        return bool(self.sized.asked or self.proportions.asked)

    @property
    def none_given(self) -> bool:
        """Tell whether anything may be in the answer."""
        return not self.conditions


def _keeping(
    judges: Sequence[Callable[[Look, Keys], Collection[int]]], look: Look, among: Keys
) -> Collection[int]:
    for judge in judges:
        among = judge(look, among)
        if not among:
            break
    return among or ()


def conditions_of(look: Look, kinds: Thesaurus, asking: Asking, stamp: object) -> Conditions:
    """Read what may be in the answer; `stamp` is that of the newest change.

    Raises `UnknownKind`, `RecordNotFound` or `NotAccepted` for a condition that cannot be read.
    """
    messages: list[str] = []
    given: list[Condition] = []
    if asking.kind:
        given.append(_of_kind(kinds, asking.kind, messages, stamp))
    given += [_Has(labels_meant(label, labels_known(look, stamp))) for label in asking.has]
    if asking.good_for:
        given.append(_GoodFor(parse_scale(asking.good_for)))
    if asking.like is not None:
        given.append(_Like(asking.like))
    shot = shots.Shot(
        view=check_view(asking.view) if asking.view else None,
        visit_key=visit_named(look, asking.visit).key if asking.visit else None,
        taken=parse_period(asking.taken) if asking.taken else None,
    )
    if shot:
        given.append(_Shown(shot))
    if asking.near:
        given.append(near_condition(look, *asking.near, messages, stamp))
    if asking.unlinked:
        given.append(_Unlinked())
    at = parse_scale(asking.at) if asking.at else None
    on_model = [_real(parse_size_range(size), at) for size in asking.model_sizes]
    sizes = (*(parse_size_range(size) for size in asking.sizes), *on_model)
    sized = _Sized(tuple((size, _labels(look, size, stamp)) for size in sizes), stamp)
    ratios = (read_ratio(ratio, labels_known(look, stamp)) for ratio in asking.ratios)
    proportions = _InProportion(tuple(ratios))
    given += [condition for condition in (sized, proportions) if condition.asked]
    return Conditions(tuple(given), shot, sized, proportions, at, tuple(messages))


def _labels(look: Look, size: SizeRange, stamp: object) -> list[str] | None:
    return labels_meant(size.label, labels_known(look, stamp)) if size.label else None


def _real(size: SizeRange, at: Scale | None) -> SizeRange:
    """Return the sizes of the real thing that are of this range on the model."""
    if at is None:
        raise NotAccepted("A size on the model needs its scale", "Say it with --at, like --at 1:43.5.")
    low, high = (None if end is None else at.real_mm(end) for end in (size.low_mm, size.high_mm))
    return replace(size, low_mm=low, high_mm=high)


def _of_kind(kinds: Thesaurus, asked: str, messages: list[str], stamp: object) -> Condition:
    meant = kinds_meant(kinds, asked)
    if len(meant) > 1:
        names = ", ".join(kind.name for kind in meant)
        messages.append(f"'{asked}' is the word for several kinds: {names}.")
    return _OfKinds(with_narrower(kinds, meant), stamp)


class _OfSubjects:
    """A condition that only a subject can keep to."""

    def photos(self, look: Look, among: Keys) -> Collection[int]:  # noqa: ARG002
        return ()


@dataclass(frozen=True, slots=True)
class _OfKinds(_OfSubjects):
    kinds: frozenset[str]
    stamp: object

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        def read(_: object) -> dict[frozenset[str], frozenset[int]]:
            return {self.kinds: shots.subjects_of_kinds(look, self.kinds)}

        found = _of_kinds.of(self.stamp, [self.kinds], read)[self.kinds]
        return found if among is None else found.intersection(among)


_of_kinds: WhileUnchanged[frozenset[str], frozenset[int]] = WhileUnchanged(50)


@dataclass(frozen=True, slots=True)
class _Has(_OfSubjects):
    labels: list[str] | None

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        return subjects_with_sizes(look, self.labels, among)


@dataclass(frozen=True, slots=True)
class _GoodFor(_OfSubjects):
    scale: Scale

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        judged = verdicts.verdicts_of(look, among)
        ratio = float(self.scale.ratio)
        return {key for key, verdict in judged.items() if verdict.good_for(ratio, USUAL_TOLERANCE_MM)}


@dataclass(frozen=True, slots=True)
class _Shown:
    shot: shots.Shot

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        return shots.subjects_shown(look, self.shot, among)

    def photos(self, look: Look, among: Keys) -> Collection[int]:
        return shots.loose_photos(look, self.shot, among)


@dataclass(frozen=True, slots=True)
class _Like:
    """Looks like one of these photos: the subjects that they show, and those that show none."""

    keys: frozenset[int]

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        shown = shots.subjects_on(look, self.keys)
        return shown if among is None else shown & set(among)

    def photos(self, look: Look, among: Keys) -> Collection[int]:
        wanted = self.keys if among is None else self.keys & set(among)
        return shots.loose_photos(look, shots.Shot(), wanted)


@dataclass(frozen=True, slots=True)
class _Unlinked:
    def subjects(self, look: Look, among: Keys) -> Collection[int]:  # noqa: ARG002
        return ()

    def photos(self, look: Look, among: Keys) -> Collection[int]:
        return shots.loose_photos(look, shots.Shot(), among)


@dataclass(slots=True)
class _Sized(_OfSubjects):
    """Has every size; `likely` keeps, of the subjects that may, the likeliest size for each."""

    asked: tuple[tuple[SizeRange, list[str] | None], ...]
    stamp: object
    likely: dict[int, tuple[Likely, ...]] = field(default_factory=dict)

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        found = sizes_asked_for(look, self.asked, among, self.stamp)
        self.likely.update(found)
        return found.keys()


@dataclass(slots=True)
class _InProportion(_OfSubjects):
    """Has every proportion; `found` keeps, of the subjects that may, the likeliest pair of sizes for each."""

    asked: tuple[AskedRatio, ...]
    found: dict[int, tuple[RatioFound, ...]] = field(default_factory=dict)

    def subjects(self, look: Look, among: Keys) -> Collection[int]:
        held: dict[int, tuple[RatioFound, ...]] | None = None
        for ratio in self.asked:
            found = ratio_asked_for(look, ratio, among)
            held = {key: (*(held or {}).get(key, ()), one) for key, one in found.items()}
            among = held.keys()
        self.found.update(held or {})
        return (held or {}).keys()
