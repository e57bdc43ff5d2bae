"""Where somebody went, minute by minute (GPX), and where they stood when they took a photo.

Between two points at most 5 minutes and 200 m apart the place is interpolated; else the nearest within a minute is
taken; else the place stays unknown.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, cos, radians, sin, sqrt

from sqlalchemy import select

from archive.records import tables as t
from archive.records.changes import Look, Writer

MOST_GAP_S, MOST_GAP_M, NEAREST_S = 300.0, 200.0, 60.0
BETWEEN, NEAREST = "track, between two points", "track, nearest point"
# 95 % of the fixes of a phone or a hand-held receiver under an open sky lie within this.
_RECEIVER_M = 10.0
_WALKING_M_PER_S = 1.4
_EARTH_M = 6_371_008.8

TrackPoint = tuple[float, float, float]  # seconds UTC since 1970, latitude, longitude, degrees


@dataclass(frozen=True, slots=True)
class Placed:
    """A place on a track; `radius_m` holds the true place about 95 times in 100."""

    latitude: float
    longitude: float
    radius_m: float
    how: str


def add_track(writer: Writer, stored_path: str, points: Sequence[TrackPoint]) -> None:
    """Keep the points of a track whose file is kept under this path."""
    key = writer.value(select(t.visit_file.c.id).where(t.visit_file.c.stored_path == stored_path))
    writer.insert(t.track, visit_file_id=key, points=[list(point) for point in sorted(points)])


def points_of(look: Look, visit_key: int) -> list[TrackPoint]:
    """Return the points of all tracks of a visit, in order of time."""
    statement = (
        select(t.track.c.points)
        .join(t.visit_file, t.visit_file.c.id == t.track.c.visit_file_id)
        .where(t.visit_file.c.visit_id == visit_key)
    )
    return sorted((utc_s, north, east) for row in look.all(statement) for utc_s, north, east in row.points)


def place_at(points: Sequence[TrackPoint], utc_s: float) -> Placed | None:
    """Return where the track was at a moment, `points` in order of time; None where it does not tell.

    The radius is the receiver's 10 m and as far as one gets in the time to the nearer point, at a walk or at the pace
    of the track there.
    """
    after = bisect_left(points, (utc_s,))
    around = points[max(0, after - 1) : after + 1]
    if not around:
        return None
    nearest = min(around, key=lambda point: abs(point[0] - utc_s))
    away_s = abs(nearest[0] - utc_s)
    gap_m = distance_m(around[0], around[-1])
    gap_s = around[-1][0] - around[0][0]
    at_its_pace_m = gap_m * (away_s / gap_s) if 0 < gap_s <= MOST_GAP_S else 0.0
    radius_m = _RECEIVER_M + max(_WALKING_M_PER_S * away_s, at_its_pace_m)
    if len(around) == 2 and gap_s <= MOST_GAP_S and gap_m <= MOST_GAP_M:
        share = (utc_s - around[0][0]) / gap_s if gap_s else 0.0
        (_, north, east), (_, to_north, to_east) = around
        eastward = (to_east - east + 180) % 360 - 180  # the short way, also across the date line
        return Placed(
            north + share * (to_north - north),
            (east + share * eastward + 180) % 360 - 180,
            radius_m,
            BETWEEN,
        )
    if away_s <= NEAREST_S:
        return Placed(nearest[1], nearest[2], radius_m, NEAREST)
    return None


def distance_m(one: TrackPoint, other: TrackPoint) -> float:
    """Return the distance of two points on the ground (haversine, a round earth: right to 0.5 %)."""
    (_, north, east), (_, to_north, to_east) = one, other
    half = (
        sin(radians(to_north - north) / 2) ** 2
        + cos(radians(north)) * cos(radians(to_north)) * sin(radians(to_east - east) / 2) ** 2
    )
    return 2 * _EARTH_M * asin(sqrt(min(1.0, half)))
