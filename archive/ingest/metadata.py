"""The facts of a photo: when, where and with what it was taken, and what is written in it.

Text comes from XMP, else IPTC, else EXIF; technical facts come from EXIF, and what it does not tell from XMP; but
the time only where there is no EXIF at all, for else it is as likely the time of an edit. What is not known is
None, never a made-up value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import isfinite
from os import PathLike
from pathlib import Path
from types import MappingProxyType
from typing import Any

from archive import pictures
from archive.errors import PictureNotReadable
from archive.ingest import positions, times
from archive.ingest.exif import Exif, read_exif
from archive.ingest.iptc import Texts, read_iptc
from archive.ingest.xmp import Xmp, read_xmp
from archive.ingest.xmp_as_exif import exif_of_xmp
from archive.pictures import PictureWarning

_MOST_SIDECAR_BYTES = 4 << 20


@dataclass(frozen=True, slots=True)
class PhotoMetadata:
    """What a file says of its photo.

    `taken_as_read` is the date character for character; `taken` the same as local ISO 8601 without a zone,
    or None when it is impossible. `utc_offset` is what the file's own offset tag says ('+01:00');
    `utc_offset_by_gps` is what its satellite time implies. `width_as_taken` and `height_as_taken` are those that the
    camera wrote, px as stored, and `sensor_px_per_mm` is the sensor's resolution at that size. `readers` names for each key that has a value
    who read it: exifread, directories (our own EXIF reader), XMP, IPTC or sidecar.
    """

    taken_as_read: str | None = None
    taken: str | None = None
    subsecond: str | None = None
    utc_offset: str | None = None
    utc_offset_by_gps: str | None = None
    gps_utc: str | None = None
    make: str | None = None
    model: str | None = None
    lens: str | None = None
    focal_mm: float | None = None
    focal_35mm: float | None = None
    digital_zoom: float | None = None
    width_as_taken: int | None = None
    height_as_taken: int | None = None
    sensor_px_per_mm: float | None = None
    latitude: float | None = None
    longitude: float | None = None
    position_radius_m: float | None = None
    altitude_m: float | None = None
    bearing_deg: float | None = None
    bearing_reference: str | None = None
    caption: str | None = None
    keywords: tuple[str, ...] = ()
    creator: str | None = None
    rights: str | None = None
    is_of_screen: bool = False
    readers: Mapping[str, str] = field(default_factory=dict)
    warnings: tuple[PictureWarning, ...] = ()


def read_metadata(path: str | PathLike[str]) -> PhotoMetadata:
    """Read what a picture file says; raises PictureNotReadable only when it is no picture at all.

    Damaged metadata gives what can be read and a warning. Time and memory are bounded.
    """
    return of_blocks(pictures.metadata_blocks(path))


def read_sidecar(path: str | PathLike[str]) -> PhotoMetadata:
    """Read an XMP sidecar file; raises PictureNotReadable when it is no readable XMP."""
    file = Path(path)
    if file.stat().st_size > _MOST_SIDECAR_BYTES:
        raise PictureNotReadable(file.name, "it is too large for an XMP sidecar, and was left unread")
    packet = file.read_bytes()
    xmp = read_xmp(packet)
    if xmp.damaged or not packet.strip(b"\0 \t\r\n"):
        raise PictureNotReadable(file.name, "it is not a readable XMP sidecar (its XML is empty or damaged)")
    return of_blocks(pictures.MetadataBlocks(xmp=packet))


_SCREENSHOT = b"Screenshot"  # what some phones note in the comment of a picture of their screen
_TEXTS = ("caption", "keywords", "creator", "rights")
_TIME = ("taken_as_read", "taken", "subsecond", "utc_offset")
# What is taken from one reader or not at all, so that no two sources are mixed in one fact.
_TOGETHER = (
    _TIME,
    ("latitude", "longitude", "position_radius_m"),
    ("altitude_m",),
    ("bearing_deg", "bearing_reference"),
    ("make", "model"),
    ("lens",),
    ("focal_mm",),
    ("focal_35mm",),
    ("digital_zoom",),
    ("width_as_taken", "height_as_taken", "sensor_px_per_mm"),
)


def with_sidecar(photo: PhotoMetadata, sidecar: PhotoMetadata) -> PhotoMetadata:
    """Put in what a sidecar says: its words before the picture's, for they are the later ones; facts only where the picture has none."""
    said: dict[str, Any] = {}
    for key in _TEXTS:
        if getattr(sidecar, key):
            said[key] = getattr(sidecar, key)
    for keys in _TOGETHER:
        if all(getattr(photo, key) is None for key in keys):
            said |= {key: getattr(sidecar, key) for key in keys if getattr(sidecar, key) is not None}
    readers = {**photo.readers, **dict.fromkeys(said, "sidecar")}
    return replace(photo, **said, readers=readers)


def of_blocks(blocks: pictures.MetadataBlocks) -> PhotoMetadata:
    """Put together what the blocks of one file say."""
    exif = read_exif(blocks.exif) if blocks.exif else None
    xmp = read_xmp(blocks.xmp, *filter(None, [blocks.more_xmp])) if blocks.xmp else Xmp()
    iptc = read_iptc(blocks.iptc) if blocks.iptc else Texts()
    from_xmp = _facts(exif_of_xmp(xmp.properties))
    if exif is None:
        gathered = from_xmp
    else:
        gathered = _facts(exif)
        _fill_in(gathered, from_xmp)
    _texts(gathered, xmp.texts, iptc, exif)
    damage = (
        *blocks.damage,
        *(exif.damage if exif else ()),
        *(("its XMP is no valid XML",) if xmp.damaged else ()),
    )
    if damage:
        gathered.warn(
            "metadata-damaged", f"Its metadata is damaged ({damage[0]}); what could still be read was kept."
        )
    readers = _one_for_all(tuple(gathered.readers.items()))
    return PhotoMetadata(**gathered.values, readers=readers, warnings=tuple(gathered.warnings))


def _fill_in(gathered: _Gathered, from_xmp: _Gathered) -> None:
    """Take what EXIF does not tell from XMP; not a place where EXIF's own was refused."""
    latitude, longitude = (from_xmp.values.get(key) for key in ("latitude", "longitude"))
    for keys in _TOGETHER:
        if keys is _TIME or not gathered.values.keys().isdisjoint(keys):
            continue
        if "latitude" in keys and gathered.place_refused:
            if latitude is not None:
                also = f" Its XMP block gives {latitude:.5f}, {longitude:.5f}, which was not used."
                last = gathered.warnings.pop()
                gathered.warn(last.code, last.message + also)
            continue
        for key in keys:
            gathered.put(key, from_xmp.values.get(key), from_xmp.readers.get(key, ""))


@lru_cache(maxsize=256)
def _one_for_all(readers: tuple[tuple[str, str], ...]) -> Mapping[str, str]:
    """The readers as a mapping that photos share: those of one camera have the same, and a card holds thousands."""
    return MappingProxyType(dict(readers))


@dataclass(slots=True)
class _Gathered:
    values: dict[str, Any] = field(default_factory=dict)
    readers: dict[str, str] = field(default_factory=dict)
    warnings: list[PictureWarning] = field(default_factory=list)
    place_refused: bool = False

    def put(self, key: str, value: object, reader: str) -> None:
        if value is not None and value != ():
            self.values[key], self.readers[key] = value, reader

    def warn(self, code: str, message: str) -> None:
        self.warnings.append(PictureWarning(code, message))


def _facts(exif: Exif) -> _Gathered:
    gathered = _Gathered()
    _times(gathered, exif)
    _camera(gathered, exif)
    _frame(gathered, exif)
    _place(gathered, exif)
    return gathered


def _times(gathered: _Gathered, exif: Exif) -> None:
    source = "DateTimeOriginal"
    taken = times.moment(exif.as_written(source))
    if taken.local is None and taken.why_not is None:
        digitized = times.moment(exif.as_written("DateTimeDigitized"))
        if digitized.local is not None or digitized.why_not is not None or taken.as_read is None:
            source, taken = "DateTimeDigitized", digitized
    reader = exif.readers.get(source, "")
    gathered.put("taken_as_read", taken.as_read, reader)
    gathered.put("taken", taken.local.isoformat() if taken.local else None, reader)
    if taken.why_not:
        gathered.warn(
            "taken-impossible",
            f"The date in the file, '{taken.as_read}', is not a valid time ({taken.why_not}); "
            "when it was taken is kept as unknown.",
        )
    suffix = source.removeprefix("DateTime")
    digits = exif.text(f"SubSecTime{suffix}") or ""
    gathered.put(
        "subsecond",
        digits if digits.isascii() and digits.isdigit() else None,
        exif.readers.get(f"SubSecTime{suffix}", ""),
    )
    for tag in (f"OffsetTime{suffix}", "OffsetTimeOriginal", "OffsetTimeDigitized"):
        if "utc_offset" not in gathered.values:
            gathered.put("utc_offset", times.offset(exif.text(tag)), exif.readers.get(tag, ""))
    satellite = times.gps_utc(exif.text("GPSDateStamp"), exif.numbers("GPSTimeStamp"))
    if satellite is not None:
        reader = exif.readers.get("GPSTimeStamp", "")
        gathered.put("gps_utc", satellite.replace(microsecond=0, tzinfo=None).isoformat() + "Z", reader)
        if taken.local is not None:
            gathered.put("utc_offset_by_gps", times.offset_from_gps(taken.local, satellite), reader)


def _camera(gathered: _Gathered, exif: Exif) -> None:
    for key, tag in (("make", "Make"), ("model", "Model"), ("lens", "LensModel")):
        gathered.put(key, exif.text(tag), exif.readers.get(tag, ""))
    for key, tag in (("focal_mm", "FocalLength"), ("focal_35mm", "FocalLengthIn35mmFilm")):
        length = exif.number(tag)
        possible = length is not None and isfinite(length) and 0 < length < 10_000
        gathered.put(key, length if possible else None, exif.readers.get(tag, ""))


def _frame(gathered: _Gathered, exif: Exif) -> None:
    zoom = exif.number("DigitalZoomRatio")
    reader = exif.readers.get("DigitalZoomRatio", "")
    gathered.put("digital_zoom", zoom if zoom and 0 < zoom < 1000 else None, reader)  # 0: none was used
    for key, tag in (("width_as_taken", "PixelXDimension"), ("height_as_taken", "PixelYDimension")):
        side = exif.number(tag)
        gathered.put(key, round(side) if side and 0 < side < 1_000_000 else None, exif.readers.get(tag, ""))
    resolution = exif.number("FocalPlaneXResolution")
    unit_mm = _UNITS_MM.get(exif.number("FocalPlaneResolutionUnit") or _INCH)
    if resolution and unit_mm and 1 < resolution / unit_mm < 10_000:
        reader = exif.readers.get("FocalPlaneXResolution", "")
        gathered.put("sensor_px_per_mm", resolution / unit_mm, reader)


_INCH = 2.0
_UNITS_MM = {_INCH: 25.4, 3.0: 10.0, 4.0: 1.0, 5.0: 0.001}  # the last two are makers' own


def _place(gathered: _Gathered, exif: Exif) -> None:
    place = positions.position(exif)
    gathered.put("latitude", place.latitude, exif.readers.get("GPSLatitude", ""))
    gathered.put("longitude", place.longitude, exif.readers.get("GPSLongitude", ""))
    if place.latitude is not None:
        radius_m = exif.number("GPSHPositioningError")
        possible = radius_m is not None and isfinite(radius_m) and 0 < radius_m < 1_000_000
        reader = exif.readers.get("GPSHPositioningError", "")
        gathered.put("position_radius_m", radius_m if possible else None, reader)
    gathered.put("altitude_m", positions.altitude_m(exif), exif.readers.get("GPSAltitude", ""))
    degrees, reference = positions.bearing(exif)
    gathered.put("bearing_deg", degrees, exif.readers.get("GPSImgDirection", ""))
    gathered.put("bearing_reference", reference, exif.readers.get("GPSImgDirectionRef", ""))
    if place.warning is not None:
        gathered.warn(place.warning.code, place.warning.message)
        gathered.place_refused = place.latitude is None


# Where EXIF says it: in the standard's own tag, else in those of Windows.
_TAGS_OF = {
    "caption": ("ImageDescription", "XPTitle", "XPSubject", "XPComment"),
    "keywords": ("XPKeywords",),
    "creator": ("Artist", "XPAuthor"),
    "rights": ("Copyright",),
}


def _texts(gathered: _Gathered, xmp: Texts, iptc: Texts, exif: Exif | None) -> None:
    for key in _TEXTS:
        for said, reader in ((getattr(xmp, key), "XMP"), (getattr(iptc, key), "IPTC"), _said_by(exif, key)):
            if said and key not in gathered.values:
                gathered.put(key, said, reader)
    if exif is not None and _SCREENSHOT in exif.comment():
        gathered.values["is_of_screen"] = True


def _said_by(exif: Exif | None, key: str) -> tuple[str | tuple[str, ...] | None, str]:
    for tag in _TAGS_OF[key]:
        text = exif.any_text(tag) if exif is not None else None
        if exif is not None and text:
            words = tuple(filter(None, (word.strip() for word in text.split(";"))))
            return words if key == "keywords" else text, exif.readers[tag]
    return None, ""
