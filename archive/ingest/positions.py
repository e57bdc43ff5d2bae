"""Where a photo was taken, as far as its metadata can be believed."""

from __future__ import annotations

import re
from dataclasses import dataclass

from archive.ingest.exif import Exif
from archive.pictures import PictureWarning


@dataclass(frozen=True, slots=True)
class Position:
    """Signed decimal degrees, both or neither, and what is doubtful about them."""

    latitude: float | None = None
    longitude: float | None = None
    warning: PictureWarning | None = None


def position(exif: Exif) -> Position:
    """The position in the GPS directory; unknown when it is absent, invalid, impossible or exactly 0, 0."""
    if "GPSLatitude" not in exif.values or "GPSLongitude" not in exif.values:
        return Position()
    sides = [(exif.text(f"{name}Ref") or "")[:1].upper() for name in ("GPSLatitude", "GPSLongitude")]
    written = isinstance(exif.values["GPSLatitude"], bytes) or isinstance(exif.values["GPSLongitude"], bytes)
    if written:
        angles = [_written_angle(exif.text(name)) for name in ("GPSLatitude", "GPSLongitude")]
    else:
        angles = [_angle(exif.numbers(name)) for name in ("GPSLatitude", "GPSLongitude")]
    latitude, longitude = angles
    if latitude is None or longitude is None:
        return _unknown("position-invalid", "Its position is not a valid number (such as 0/0)")
    if latitude == longitude == 0:
        return _unknown("position-zero", "Its position is 0, 0, which is most likely a missing fix")
    if sides[0] not in ("N", "S") or sides[1] not in ("E", "W"):
        return _unknown("position-no-hemisphere", "Its position does not say north or south, east or west")
    if not (0 <= latitude <= 90 and 0 <= longitude <= 180):
        return _unknown("position-impossible", "Its position lies outside the earth's degrees")
    odd = PictureWarning(
        "position-odd-form",
        "Its position is stored in a non-standard form, as text; it was read as far as it can be understood.",
    )
    return Position(
        -latitude if sides[0] == "S" else latitude,
        -longitude if sides[1] == "W" else longitude,
        odd if written else None,
    )


def _unknown(code: str, why: str) -> Position:
    return Position(warning=PictureWarning(code, f"{why}; the place is kept as unknown."))


def _angle(parts: tuple[float | None, ...]) -> float | None:
    """Degrees, minutes, seconds, of which the later may be absent but not invalid."""
    if not 1 <= len(parts) <= 3:
        return None
    known = [part for part in parts if part is not None and part >= 0]
    if len(known) < len(parts) or any(part >= 60.0001 for part in known[1:]):
        return None
    return sum(part / sixties for part, sixties in zip(known, (1, 60, 3600), strict=False))


def _written_angle(text: str | None) -> float | None:
    """Degrees written out: '52 50 34.01', '52.8428', or with decimal commas '52,00000,50,00000,34,01180'."""
    parts = re.findall(r"\d+(?:\.\d+)?", text or "")
    if len(parts) == 6 and "." not in "".join(parts) and (text or "").count(",") == 5:
        parts = [f"{whole}.{decimals}" for whole, decimals in zip(parts[::2], parts[1::2], strict=True)]
    return _angle(tuple(float(part) for part in parts))


def altitude_m(exif: Exif) -> float | None:
    """Metres above sea level (reference 0, 2) or below it (1, 3); None when absent or n/0 (CIPA DC-008)."""
    height = exif.number("GPSAltitude")
    if height is None or abs(height) > 100_000:
        return None
    reference = exif.number("GPSAltitudeRef")
    below = (
        reference in (1, 3) if reference is not None else (exif.text("GPSAltitudeRef") or "") in ("1", "3")
    )
    return -height if below else height


def bearing(exif: Exif) -> tuple[float | None, str | None]:
    """Degrees from north that the camera faced, and 'T' (true) or 'M' (magnetic)."""
    degrees = exif.number("GPSImgDirection")
    if degrees is None or not 0 <= degrees <= 360:
        return None, None
    reference = (exif.text("GPSImgDirectionRef") or "")[:1].upper()
    return degrees, reference if reference in ("T", "M") else None
