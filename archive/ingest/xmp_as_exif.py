"""What an XMP packet says of the camera, the time and the place, in EXIF's terms (CIPA DC-X010, ISO 16684-2)."""

from __future__ import annotations

import re
from collections.abc import Mapping

from archive.ingest.exif import TAGS, Exif
from archive.pictures import tiff

READER = "XMP"
_PREFIXES = ("exif", "exifEX", "tiff")
_NUMBERS = frozenset(
    [
        "FocalLength",
        "FocalLengthIn35mmFilm",
        "DigitalZoomRatio",
        "PixelXDimension",
        "PixelYDimension",
        "FocalPlaneXResolution",
        "FocalPlaneResolutionUnit",
        "GPSAltitude",
        "GPSAltitudeRef",
        "GPSImgDirection",
        "GPSHPositioningError",
    ]
)
# Where a property of EXIF's own name is missing, what stands in for it (Metadata Working Group 2.0, 5.3 and 5.8).
_STANDS_IN = {"DateTimeOriginal": "photoshop:DateCreated", "DateTimeDigitized": "xmp:CreateDate"}
_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_ANGLE = re.compile(rf"({_NUMBER})(?:,(\d+(?:\.\d+)?))?(?:,(\d+(?:\.\d+)?))?\s*([NSEWnsew]?)")
_TIME = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d):(\d\d)(?::(\d\d(?:\.\d+)?))?")


def exif_of_xmp(properties: Mapping[str, str]) -> Exif:
    """Return the properties of a packet ('exif:FocalLength': '1300/10') as the tags that they stand for."""
    values: dict[str, tiff.Value] = {}
    for name in TAGS:
        own = (properties.get(f"{prefix}:{name}") for prefix in _PREFIXES)
        text = next(filter(None, own), None) or properties.get(_STANDS_IN.get(name, ""))
        if text:
            values[name] = _numbers(text) if name in _NUMBERS else text.encode()
    if "DateTimeOriginal" in values:
        values.pop("DateTimeDigitized", None)  # its offset is that of another clock
    for kind in ("Original", "Digitized"):
        _split_time(values, kind)
    _split_angle(values, "GPSLatitude", "NS")
    _split_angle(values, "GPSLongitude", "EW")
    _split_satellite_time(values)
    return Exif(values, dict.fromkeys(values, READER), ())


def _numbers(text: str) -> tuple[tiff.Number, ...]:
    """The number that is written as such or as a fraction; none where it is neither."""
    fraction = re.fullmatch(r"\s*([+-]?\d{1,12})\s*/\s*(\d{1,12})\s*", text)
    if fraction:
        return ((int(fraction[1]), int(fraction[2])),)
    return (float(text),) if re.fullmatch(rf"\s*{_NUMBER}\s*", text) else ()


def _split_time(values: dict[str, tiff.Value], kind: str) -> None:
    """An ISO 8601 time holds its fraction and its offset, which EXIF keeps in tags of their own."""
    written = values.get(f"DateTime{kind}")
    found = re.search(rb"T\d\d:\d\d(?::\d\d(?:\.(\d+))?)?(Z|[+-]\d\d:?\d\d)?\s*$", written or b"")  # type: ignore[arg-type]
    if found:
        values |= {f"SubSecTime{kind}": found[1]} if found[1] else {}
        values |= {f"OffsetTime{kind}": found[2]} if found[2] else {}


def _split_angle(values: dict[str, tiff.Value], name: str, letters: str) -> None:
    """'51,30.5N' or '51,30,30N'; some write '51.508333', with a sign."""
    written = values.pop(name, b"")
    found = _ANGLE.fullmatch(written.decode().strip()) if isinstance(written, bytes) else None
    if found is None:
        return
    degrees, letter = float(found[1]), found[4].upper()
    said = values.get(f"{name}Ref", b"")
    letter = letter or (said.decode()[:1].upper() if isinstance(said, bytes) else "")
    if not letter and found[2] is None:
        letter = letters[degrees < 0]
    values[f"{name}Ref"] = letter.encode()
    values[name] = (abs(degrees), *(float(part) for part in found.groups()[1:3] if part))


def _split_satellite_time(values: dict[str, tiff.Value]) -> None:
    """In XMP the satellite time is one whole time, UTC."""
    written = values.pop("GPSTimeStamp", b"")
    found = _TIME.match(written.decode().strip()) if isinstance(written, bytes) else None
    if found:
        values["GPSDateStamp"] = found[1].encode()
        values["GPSTimeStamp"] = (int(found[2]), int(found[3]), float(found[4] or 0))
