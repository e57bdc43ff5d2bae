"""Read a GPS track (GPX 1.0 and 1.1): its points with a time. XML is hostile until read."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError

from archive.errors import TrackNotReadable
from archive.records.tracks import TrackPoint

_MOST_BYTES = 64 << 20
_MOST_POINTS = 200_000  # more than two days at a point a second
_MOST_OPEN = 64  # elements within one another; a track needs five


def is_gpx(head: bytes) -> bool:
    """Tell whether a text that begins so is a GPX document."""
    return b"<gpx" in head.replace(b"\0", b"")  # also in UTF-16


def read_track(path: Path) -> list[TrackPoint]:
    """Return the points of a track that have a time and a place on earth, in order of time.

    Raises `TrackNotReadable` where it is no well-formed XML, declares entities, has no such points, or is larger
    than any walk.
    """
    from defusedxml import ElementTree as SafeTree
    from defusedxml.common import DefusedXmlException

    if path.stat().st_size > _MOST_BYTES:
        raise TrackNotReadable(path.name, f"it is larger than {_MOST_BYTES >> 20} MB")
    points: list[TrackPoint] = []
    open_elements: list[Element] = []
    try:
        with path.open("rb") as file:
            for event, element in SafeTree.iterparse(file, events=("start", "end"), forbid_dtd=True):
                if event == "start":
                    open_elements.append(element)
                    if len(open_elements) > _MOST_OPEN:
                        raise TrackNotReadable(path.name, "its XML is nested deeper than any track's")
                    continue
                open_elements.pop()
                if _is(element, "trkpt"):
                    points += _point(element)
                    if len(points) > _MOST_POINTS:
                        raise TrackNotReadable(path.name, f"it has more than {_MOST_POINTS:,} points")
                if not any(_is(each, "trkpt") for each in open_elements):
                    _let_go(element, open_elements)
    except (ParseError, DefusedXmlException, ValueError, LookupError) as problem:
        raise TrackNotReadable(path.name, "its XML is damaged, or declares what no track needs") from problem
    if not points:
        raise TrackNotReadable(path.name, "it has no point with a time")
    return sorted(set(points))


def _let_go(element: Element, open_elements: list[Element]) -> None:
    """Keep only what is being read in memory."""
    element.clear()
    if open_elements:
        open_elements[-1].remove(element)


def _is(element: Element, name: str) -> bool:
    return isinstance(element.tag, str) and element.tag.rpartition("}")[2] == name


def _point(element: Element) -> list[TrackPoint]:
    try:
        north, east = float(element.get("lat", "")), float(element.get("lon", ""))
        written = next(each.text or "" for each in element if _is(each, "time"))
        moment = datetime.fromisoformat(written.strip())
        utc = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
        seconds = utc.timestamp()
    except (ValueError, StopIteration, OverflowError):
        return []
    on_earth = -90 <= north <= 90 and -180 <= east <= 180 and (north, east) != (0, 0)
    return [(seconds, north, east)] if on_earth else []
