"""What must hold of a thing to be found, beside its words: as keys of the subjects and photos that may be shown."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from statistics import median

from archive.errors import NotAccepted, RecordNotFound
from archive.kinds import Thesaurus
from archive.lengths import SizeRange, parse_size_range
from archive.records import finding as records
from archive.records.changes import Look
from archive.records.entering import check_view
from archive.records.names import name_key, near_names
from archive.records.periods import parse_period
from archive.records.visits import visit_named
from archive.scales import Scale, parse_scale
from archive.search.by_ratio import RatioFound, parse_ratio, ratio_asked_for
from archive.search.by_size import Likely, labels_known, labels_meant, sizes_asked_for, together
from archive.search.kind_words import kinds_meant, with_narrower
from archive.search.nearness import Position, box_around, great_circle_m, parse_distance_m, parse_position


@dataclass(frozen=True, slots=True)
class Asking:
    """Conditions as somebody gives them; None and empty: any. They are read by `conditions_of`.

    `near` is a place, or a position, and a distance. `model_sizes` are those on a model at the scale `at`.
    `has` are labels of sizes. `unlinked` asks for photos that show no subject yet.
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
    unlinked: bool = False


@dataclass(slots=True)
class Conditions:
    """Which subjects and which photos that show none may be in the answer; None: any."""

    subjects: set[int] | None = None
    photos: set[int] | None = None
    shot: records.Shot = field(default_factory=records.Shot)
    sizes: tuple[SizeRange, ...] = ()
    likely: Mapping[int, tuple[Likely, ...]] = field(default_factory=dict)
    ratios: dict[int, tuple[RatioFound, ...]] = field(default_factory=dict)
    at: Scale | None = None
    messages: list[str] = field(default_factory=list)

    def keep_subjects(self, keys: Collection[int]) -> None:
        """Leave out every subject that is not among these."""
        self.subjects = set(keys) if self.subjects is None else self.subjects & set(keys)

    def keep_photos(self, keys: Collection[int]) -> None:
        """Leave out every loose photo that is not among these."""
        self.photos = set(keys) if self.photos is None else self.photos & set(keys)

    def probability(self, subject: int) -> float:
        """Return how probable it is that a subject has all the sizes and proportions asked for."""
        sizes = [size.probability for size in self.likely.get(subject, ())]
        return together([*sizes, *(ratio.in_range_probability for ratio in self.ratios.get(subject, ()))])

    @property
    def judged(self) -> bool:
        """Tell whether what is found is ranked by how probable its sizes are."""
        return bool(self.likely or self.ratios)

    @property
    def none_given(self) -> bool:
        """Tell whether anything may be in the answer."""
        return self.subjects is None and self.photos is None


def conditions_of(look: Look, kinds: Thesaurus, asking: Asking, stamp: object) -> Conditions:
    """Return what may be in the answer; `stamp` is that of the newest change.

    Raises `UnknownKind`, `RecordNotFound` or `NotAccepted` for a condition that cannot be read.
    """
    keep = Conditions()
    if asking.kind:
        _keep_kind(look, kinds, asking.kind, keep)
    if asking.view or asking.visit or asking.taken:
        keep.shot = records.Shot(
            view=check_view(asking.view) if asking.view else None,
            visit_key=visit_named(look, asking.visit).key if asking.visit else None,
            taken=parse_period(asking.taken) if asking.taken else None,
        )
        keep.keep_subjects(records.subjects_shown(look, keep.shot))
        keep.keep_photos(records.loose_photos(look, keep.shot))
    if asking.near:
        _keep_near(look, *asking.near, keep)
    for label in asking.has:
        keep.keep_subjects(records.subjects_with_sizes(look, labels_meant(label, labels_known(look, stamp))))
        keep.keep_photos(())
    if asking.unlinked:
        keep.keep_subjects(())
        if keep.photos is None:
            keep.keep_photos(records.loose_photos(look, keep.shot))
    keep.at = parse_scale(asking.at) if asking.at else None
    if asking.sizes or asking.model_sizes:
        on_model = [_real(parse_size_range(size), keep.at) for size in asking.model_sizes]
        keep.sizes = (*(parse_size_range(size) for size in asking.sizes), *on_model)
        keep.likely = sizes_asked_for(look, keep.sizes, stamp, keep.subjects)
        keep.keep_subjects(keep.likely)
        keep.keep_photos(())
    for ratio in asking.ratios:
        found = ratio_asked_for(look, parse_ratio(ratio), stamp, keep.subjects)
        keep.ratios = {key: (*keep.ratios.get(key, ()), one) for key, one in found.items()}
        keep.keep_subjects(found)
        keep.keep_photos(())
    return keep


def _real(size: SizeRange, at: Scale | None) -> SizeRange:
    """Return the sizes of the real thing that are of this range on the model."""
    if at is None:
        raise NotAccepted("A size on the model needs its scale", "Say it with --at, like --at 1:43.5.")
    low, high = (None if end is None else at.real_mm(end) for end in (size.low_mm, size.high_mm))
    return replace(size, low_mm=low, high_mm=high)


def _keep_kind(look: Look, kinds: Thesaurus, asked: str, keep: Conditions) -> None:
    meant = kinds_meant(kinds, asked)
    if len(meant) > 1:
        names = ", ".join(kind.name for kind in meant)
        keep.messages.append(f"'{asked}' is the word for several kinds: {names}.")
    keep.keep_subjects(records.subjects_of_kinds(look, with_narrower(kinds, meant)))
    keep.keep_photos(())


def _keep_near(look: Look, place: str, distance: str, keep: Conditions) -> None:
    """Leave out what is farther from the place than the distance."""
    distance_m = parse_distance_m(distance)
    spots = records.all_spots(look)
    middle, at_it = parse_position(place), set()
    if middle is None:
        spot = _spot_named(spots, place)
        middle, at_it = _position_of(look, spot), {spot.key}
    if middle is None:
        keep.messages.append(
            f"Where {spot.name} is on the map is not written down; showing what is at that place itself."
        )
        subjects, photos = records.standing_at(look, at_it)
    else:
        near_it = {
            spot.key
            for spot in spots
            if spot.latitude is not None
            and spot.longitude is not None
            and great_circle_m(middle, Position(spot.latitude, spot.longitude)) <= distance_m
        }
        subjects, photos = records.standing_at(look, near_it | at_it)
        for seen in records.standing_within(look, *box_around(middle, distance_m)):
            if great_circle_m(middle, Position(seen.latitude, seen.longitude)) <= distance_m:
                if seen.subject_key is None:
                    photos.add(seen.photo_key)
                else:
                    subjects.add(seen.subject_key)
    keep.keep_subjects(subjects)
    keep.keep_photos(photos)


def _spot_named(spots: Sequence[records.Spot], asked: str) -> records.Spot:
    found = next((spot for spot in spots if name_key(spot.name) == name_key(asked)), None)
    if found is None:
        raise RecordNotFound("place", asked, near_names(asked, [spot.name for spot in spots]))
    return found


def _position_of(look: Look, spot: records.Spot) -> Position | None:
    """Return where a place is: as written down, else the middle of where its photos were taken."""
    if spot.latitude is not None and spot.longitude is not None:
        return Position(spot.latitude, spot.longitude)
    taken_at = records.positions_at(look, spot.key)
    if not taken_at:
        return None
    return Position(median(at[0] for at in taken_at), median(at[1] for at in taken_at))
