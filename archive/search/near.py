"""What stands near a place or a position: by its own place, and by where photos of it were taken."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from statistics import median

from archive.errors import RecordNotFound
from archive.records.changes import Look
from archive.records.finding import spots as records
from archive.records.names import name_key, near_names
from archive.search.nearness import Position, box_around, great_circle_m, parse_distance_m, parse_position
from archive.search.unchanged import WhileUnchanged


@dataclass(frozen=True, slots=True)
class Near:
    """Stands at one of these places, or was photographed no farther than this from the middle (None: places alone)."""

    places: frozenset[int]
    middle: Position | None
    distance_m: float

    def subjects(self, look: Look, among: Collection[int] | None) -> set[int]:
        """Return the subjects that stand so near; among these, or among all."""
        found = records.subjects_at(look, self.places, among)
        if self.middle is None:
            return found
        seen = records.subjects_seen_within(look, box_around(self.middle, self.distance_m), among)
        return found | self._so_near(self.middle, seen)

    def photos(self, look: Look, among: Collection[int] | None) -> set[int]:
        """Return the loose photos that were taken so near; among these, or among all."""
        found = records.loose_photos_at(look, self.places, among)
        if self.middle is None:
            return found
        taken = records.loose_photos_within(look, box_around(self.middle, self.distance_m), among)
        return found | self._so_near(self.middle, taken)

    def _so_near(self, middle: Position, standing: Sequence[records.Standing]) -> set[int]:
        return {
            each.key
            for each in standing
            if each.key and great_circle_m(middle, Position(each.latitude, each.longitude)) <= self.distance_m
        }


_spots: WhileUnchanged[None, list[records.Spot]] = WhileUnchanged(1)


def near_condition(look: Look, place: str, distance: str, messages: list[str], stamp: object) -> Near:
    """Read 'so far from a place, or from a position'; `stamp` is that of the newest change.

    Raises `RecordNotFound` for an unknown place, `NotAccepted` or `LengthNotUnderstood` for the distance.
    """
    distance_m = parse_distance_m(distance)
    spots = _spots.of(stamp, [None], lambda _: {None: records.all_spots(look)})[None]
    middle = parse_position(place)
    if middle is not None:
        return Near(_places_near(spots, middle, distance_m), middle, distance_m)
    spot = _spot_named(spots, place)
    middle = _position_of(look, spot)
    if middle is None:
        messages.append(
            f"Where {spot.name} is on the map is not written down; showing what is at that place itself."
        )
        return Near(frozenset({spot.key}), None, distance_m)
    return Near(_places_near(spots, middle, distance_m) | {spot.key}, middle, distance_m)


def _places_near(spots: Sequence[records.Spot], middle: Position, distance_m: float) -> frozenset[int]:
    return frozenset(
        spot.key
        for spot in spots
        if spot.latitude is not None
        and spot.longitude is not None
        and great_circle_m(middle, Position(spot.latitude, spot.longitude)) <= distance_m
    )


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
