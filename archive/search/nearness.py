"""Where on earth: positions as people write them, and how far apart two of them are.

Distances are great circles on a sphere of the earth's mean radius (IUGG, R1); that is within 0.6 % of
the distance on the ellipsoid, which no search for what lies near asks for.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import asin, cos, degrees, pi, radians, sin, sqrt

from archive.errors import NotAccepted
from archive.lengths import parse_length

EARTH_RADIUS_M = 6_371_008.8
_FIGURES = r"(\d+(?:\.\d+)?)\s*°?\s*(?:(\d+(?:\.\d+)?)\s*['′’]\s*)?(?:(\d+(?:\.\d+)?)\s*(?:[\"″”]|'')\s*)?"
_PAIR = re.compile(
    rf"([-+−])?{_FIGURES}([ns])?\s*[,;\s]\s*([-+−])?{_FIGURES}([ew])?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Position:
    """A point on earth, degrees; north and east are positive."""

    latitude: float
    longitude: float


def parse_position(text: str) -> Position | None:
    """Return the position that `text` writes ('52.1, -1.3', '52°06'N 1°18'W'); None where it writes none.

    Raises `NotAccepted` for figures that lie outside the globe.
    """
    found = _PAIR.fullmatch(text.strip())
    if not found:
        return None
    latitude = _degrees(found[1], found[2], found[3], found[4], found[5], "s")
    longitude = _degrees(found[6], found[7], found[8], found[9], found[10], "w")
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise NotAccepted(
            f"'{text[:60]}' lies nowhere on earth", "Write latitude, then longitude, like 52.1, -1.3."
        )
    return Position(latitude, longitude)


def _degrees(
    sign: str | None, whole: str, minutes: str | None, seconds: str | None, side: str | None, negative: str
) -> float:
    value = float(whole) + float(minutes or 0) / 60 + float(seconds or 0) / 3600
    return -value if sign in ("-", "−") or (side or "").lower() == negative else value


def parse_distance_m(text: str) -> float:
    """Return a distance in metres; raises `LengthNotUnderstood`, or `NotAccepted` for one that is not above zero."""
    distance_m = parse_length(text).value_mm / 1000
    if not distance_m > 0:
        raise NotAccepted(f"'{text[:60]}' is no distance", "Write it like 2 km or 1 mile.")
    return distance_m


def great_circle_m(one: Position, other: Position) -> float:
    """Return the distance along the globe, metres (haversine formula)."""
    north_one, north_other = radians(one.latitude), radians(other.latitude)
    east = radians(other.longitude - one.longitude)
    half = sin((north_other - north_one) / 2) ** 2 + cos(north_one) * cos(north_other) * sin(east / 2) ** 2
    return 2 * EARTH_RADIUS_M * asin(sqrt(min(half, 1.0)))


def box_around(middle: Position, distance_m: float) -> tuple[float, float, float, float]:
    """Return south, north, west and east ends that hold every point so near, degrees.

    Where the circle holds a pole or crosses the 180th meridian, west and east are the whole way round.
    """
    angle = distance_m / EARTH_RADIUS_M
    reach = degrees(angle)
    south, north = middle.latitude - reach, middle.latitude + reach
    if south <= -90 or north >= 90 or angle >= pi / 2:
        return max(south, -90.0), min(north, 90.0), -180.0, 180.0
    across = degrees(asin(min(sin(angle) / cos(radians(middle.latitude)), 1.0)))
    west, east = middle.longitude - across, middle.longitude + across
    if west < -180 or east > 180:
        return south, north, -180.0, 180.0
    return south, north, west, east
