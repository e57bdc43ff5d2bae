"""Read an EXIF block: exifread first, our own directory reader for what it leaves out (CIPA DC-008)."""

from __future__ import annotations

import io
import time
from dataclasses import dataclass
from math import isfinite

from archive.ingest.words import clean, decoded_text
from archive.pictures import tiff

FIRST_READER, SECOND_READER = "exifread", "directories"
_MOST_READS = 60_000  # exifread takes some 2,000 for a photo; a hostile block could ask for milliards
_MOST_BYTES = 64 << 20
_MOST_SECONDS = 5.0

# name -> directory, tag number, exifread's key
TAGS = {
    "Make": ("main", 0x010F, "Image Make"),
    "Model": ("main", 0x0110, "Image Model"),
    "ImageDescription": ("main", 0x010E, "Image ImageDescription"),
    "Artist": ("main", 0x013B, "Image Artist"),
    "Copyright": ("main", 0x8298, "Image Copyright"),
    "XPTitle": ("main", 0x9C9B, "Image XPTitle"),
    "XPComment": ("main", 0x9C9C, "Image XPComment"),
    "XPAuthor": ("main", 0x9C9D, "Image XPAuthor"),
    "XPKeywords": ("main", 0x9C9E, "Image XPKeywords"),
    "XPSubject": ("main", 0x9C9F, "Image XPSubject"),
    "DateTime": ("main", 0x0132, "Image DateTime"),
    "DateTimeOriginal": ("exif", 0x9003, "EXIF DateTimeOriginal"),
    "DateTimeDigitized": ("exif", 0x9004, "EXIF DateTimeDigitized"),
    "OffsetTime": ("exif", 0x9010, "EXIF OffsetTime"),
    "OffsetTimeOriginal": ("exif", 0x9011, "EXIF OffsetTimeOriginal"),
    "OffsetTimeDigitized": ("exif", 0x9012, "EXIF OffsetTimeDigitized"),
    "UserComment": ("exif", 0x9286, "EXIF UserComment"),
    "SubSecTimeOriginal": ("exif", 0x9291, "EXIF SubSecTimeOriginal"),
    "SubSecTimeDigitized": ("exif", 0x9292, "EXIF SubSecTimeDigitized"),
    "FocalLength": ("exif", 0x920A, "EXIF FocalLength"),
    "FocalLengthIn35mmFilm": ("exif", 0xA405, "EXIF FocalLengthIn35mmFilm"),
    "DigitalZoomRatio": ("exif", 0xA404, "EXIF DigitalZoomRatio"),
    "PixelXDimension": ("exif", 0xA002, "EXIF ExifImageWidth"),
    "PixelYDimension": ("exif", 0xA003, "EXIF ExifImageLength"),
    "FocalPlaneXResolution": ("exif", 0xA20E, "EXIF FocalPlaneXResolution"),
    "FocalPlaneResolutionUnit": ("exif", 0xA210, "EXIF FocalPlaneResolutionUnit"),
    "LensModel": ("exif", 0xA434, "EXIF LensModel"),
    "GPSLatitudeRef": ("gps", 0x0001, "GPS GPSLatitudeRef"),
    "GPSLatitude": ("gps", 0x0002, "GPS GPSLatitude"),
    "GPSLongitudeRef": ("gps", 0x0003, "GPS GPSLongitudeRef"),
    "GPSLongitude": ("gps", 0x0004, "GPS GPSLongitude"),
    "GPSAltitudeRef": ("gps", 0x0005, "GPS GPSAltitudeRef"),
    "GPSAltitude": ("gps", 0x0006, "GPS GPSAltitude"),
    "GPSTimeStamp": ("gps", 0x0007, "GPS GPSTimeStamp"),
    "GPSImgDirectionRef": ("gps", 0x0010, "GPS GPSImgDirectionRef"),
    "GPSImgDirection": ("gps", 0x0011, "GPS GPSImgDirection"),
    "GPSHPositioningError": ("gps", 0x001F, "GPS Tag 0x001F"),
    "GPSDateStamp": ("gps", 0x001D, "GPS GPSDate"),
}

OF_WINDOWS = ("XPTitle", "XPComment", "XPAuthor", "XPKeywords", "XPSubject")


@dataclass(frozen=True, slots=True)
class Exif:
    """The wanted tags of a block by their standard names, who read each, and what was found broken."""

    values: dict[str, tiff.Value]
    readers: dict[str, str]
    damage: tuple[str, ...]

    def text(self, name: str) -> str | None:
        """A tag's text up to its first NUL, cleaned; None when it is absent, empty or no text."""
        value = self.values.get(name)
        return clean(decoded_text(_up_to_nul(value))) if isinstance(value, bytes) else None

    def any_text(self, name: str) -> str | None:
        """A tag's text in the form of that tag: UTF-16 in those of Windows, two texts in the one of rights."""
        value = self.values.get(name)
        if name in OF_WINDOWS and isinstance(value, bytes):
            return clean(value.decode("utf-16-le", "replace").partition("\0")[0])
        return self._both_texts(name) if name == "Copyright" else self.text(name)

    def _both_texts(self, name: str) -> str | None:
        """The text before the first NUL and the one after it, a line each: the photographer's rights and the editor's."""
        value = self.values.get(name)
        if not isinstance(value, bytes) or value.startswith((b"\xff\xfe", b"\xfe\xff")):
            return self.text(name)
        parts = [clean(decoded_text(part)) for part in value.split(b"\0")[:2]]
        return "\n".join(filter(None, parts)) or None

    def comment(self) -> bytes:
        """The user's comment as its bytes, without NULs; whatever its encoding, plain letters can be told."""
        value = self.values.get("UserComment", b"")
        if isinstance(value, tuple):  # exifread gives it as numbers
            whole = [number for number in value if isinstance(number, int) and 0 < number < 256]
            return bytes(whole)
        return value.replace(b"\0", b"")

    def as_written(self, name: str) -> str | None:
        """A tag's text up to its first NUL, with its blanks; None when it is absent or no text."""
        value = self.values.get(name)
        return decoded_text(_up_to_nul(value)) or None if isinstance(value, bytes) else None

    def number(self, name: str) -> float | None:
        """A tag's first number; None when it is absent, n/0 or not finite."""
        numbers = self.numbers(name)
        return numbers[0] if numbers else None

    def numbers(self, name: str) -> tuple[float | None, ...]:
        """A tag's numbers; one that is n/0 or not finite is None."""
        value = self.values.get(name)
        return tuple(_as_float(number) for number in value) if isinstance(value, tuple) else ()


def _up_to_nul(data: bytes) -> bytes:
    return data if data.startswith((b"\xff\xfe", b"\xfe\xff")) else data.split(b"\0", 1)[0]


def _as_float(number: tiff.Number) -> float | None:
    if isinstance(number, tuple):
        return number[0] / number[1] if number[1] else None
    return float(number) if isfinite(number) else None


def read_exif(block: bytes) -> Exif:
    """Read the wanted tags; never raises and never takes more than some seconds, whatever the bytes.

    A value comes from exifread; where exifread fails, stops or has none, from our own reader.
    """
    tree = tiff.read_tree(block)
    own = _by_directories(tree) if tree else {}
    first = _by_exifread(block)
    for name in (
        "Copyright",
        *OF_WINDOWS,
    ):  # exifread stops at the first NUL, and reads UTF-16 in its own way
        if name in own:
            first.pop(name, None)
    values = {name: value for name, value in {**own, **first}.items() if value not in (b"", ())}
    readers = {name: FIRST_READER if name in first else SECOND_READER for name in values}
    return Exif(values, readers, tuple(tree.damage) if tree else ("its EXIF block cannot be read",))


def _by_directories(tree: tiff.Tree) -> dict[str, tiff.Value]:
    found: dict[str, tiff.Value] = {}
    for name, (kind, tag, _) in TAGS.items():
        value = tree.value(tree.first(kind), tag)
        if value is not None:
            found[name] = value
    return found


class _Rationed(io.BytesIO):
    """Bytes that may be read only so often, so that no block can keep its reader busy."""

    def __init__(self, data: bytes) -> None:
        super().__init__(data)
        self._reads, self._bytes, self._until = 0, 0, time.monotonic() + _MOST_SECONDS

    def read(self, size: int | None = -1, /) -> bytes:
        data = super().read(size)
        self._reads += 1
        self._bytes += len(data)
        if self._reads > _MOST_READS or self._bytes > _MOST_BYTES or time.monotonic() > self._until:
            raise TimeoutError("the metadata asks for more reading than any photo needs")
        return data


def _by_exifread(block: bytes) -> dict[str, tiff.Value]:
    import logging

    import exifread

    logging.getLogger("exifread").setLevel(logging.CRITICAL + 1)  # what it says is said by our warnings
    try:
        # Its own values, not `builtin_types`: those rewrite dates and turn 0/0 into 0.
        tags = exifread.process_file(_Rationed(block), details=False, extract_thumbnail=False)
    except Exception:  # it may fail in any way on hostile bytes
        return {}
    found: dict[str, tiff.Value] = {}
    for name, (_, _, key) in TAGS.items():
        value = _plain(getattr(tags.get(key), "values", None))
        if value is not None:
            found[name] = value
    return found


def _plain(values: object) -> tiff.Value | None:
    if isinstance(values, str):
        return values.encode("utf-8", "surrogateescape")
    if isinstance(values, bytes):
        return values
    if not isinstance(values, list) or not values:
        return None
    numbers: list[tiff.Number] = []
    for value in values:
        if hasattr(value, "num") and hasattr(value, "den"):
            numbers.append((int(value.num), int(value.den)))
        elif isinstance(value, int | float):
            numbers.append(value)
        else:
            return None
    return tuple(numbers)
