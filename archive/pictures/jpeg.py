"""The layout of a JPEG file: its segments and where the picture begins (ITU-T T.81, annex B)."""

from __future__ import annotations

from dataclasses import dataclass

from archive.pictures.blocks import first, iptc_of_resources, joined_exif
from archive.pictures.facts import Looked, Pixels
from archive.pictures.views import View

_FRAMES = frozenset({0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF})
_PROGRESSIVE = frozenset({0xC2, 0xC6, 0xCA, 0xCE})
_LOSSLESS_OR_DIFFERENTIAL = frozenset({0xC3, 0xC5, 0xC6, 0xC7, 0xCB, 0xCD, 0xCE, 0xCF})
_START_OF_SCAN, _END_OF_IMAGE, _COMMENT = 0xDA, 0xD9, 0xFE
_MOST_SEGMENTS = 20_000
_MOST_PROFILE_BYTES = 16 << 20
_MOST_XMP_BYTES = 4 << 20
XMP_MARK = b"http://ns.adobe.com/xap/1.0/\0"
END_OF_IMAGE = b"\xff\xd9"


@dataclass(frozen=True, slots=True)
class Segment:
    """One marker segment; `offset` and `length` are those of what follows the length field."""

    marker: int
    offset: int
    length: int


@dataclass(frozen=True, slots=True)
class JpegLayout:
    """What a JPEG says before its first scan; `scan_at` is None when the file ends before it."""

    segments: tuple[Segment, ...]
    width: int
    height: int
    samples: tuple[tuple[int, int], ...]  # horizontal and vertical sampling of each component
    bits: int
    progressive: bool
    decodable: bool  # not one of the lossless or hierarchical forms
    scan_at: int | None

    @property
    def area(self) -> int:
        """Pixels."""
        return self.width * self.height

    def coefficient_bytes(self) -> int:
        """Memory that a progressive picture needs for its coefficients at any output size, bytes."""
        if not self.progressive or not self.samples:
            return 0
        most_h = max(h for h, _ in self.samples)
        most_v = max(v for _, v in self.samples)
        pixels = sum(
            (self.width * h // most_h + 8) * (self.height * v // most_v + 8) for h, v in self.samples
        )
        return 2 * pixels


def read_layout(view: View) -> JpegLayout | None:
    """Walk the segments up to the first scan; None if that is no JPEG or no frame header is left of it."""
    if view.at(0, 2) != b"\xff\xd8":
        return None
    segments: list[Segment] = []
    frame: Segment | None = None
    scan_at: int | None = None
    offset = 2
    while len(segments) < _MOST_SEGMENTS:
        head = view.at(offset, 4)
        if len(head) < 4:
            break
        if head[0] != 0xFF:  # stray bytes between segments: go on at the next marker
            offset = view.find(b"\xff", offset)
            if offset < 0:
                break
            continue
        if head[1] == 0xFF or head[1] == 0x00 or 0xD0 <= head[1] <= 0xD8:  # fill byte, or no length
            offset += 1 if head[1] in (0xFF, 0x00) else 2
            continue
        if head[1] == _END_OF_IMAGE:
            break
        length = int.from_bytes(head[2:4], "big") - 2
        if length < 0:
            offset += 2
            continue
        if head[1] == _START_OF_SCAN:
            scan_at = offset
            break
        segment = Segment(head[1], offset + 4, length)
        segments.append(segment)
        if frame is None and head[1] in _FRAMES:
            frame = segment
        offset += 4 + length
    if frame is None:
        return None
    return _layout(view, tuple(segments), frame, scan_at)


def _layout(
    view: View, segments: tuple[Segment, ...], frame: Segment, scan_at: int | None
) -> JpegLayout | None:
    data = view.at(frame.offset, min(frame.length, 6 + 3 * 255))
    if len(data) < 6 or len(data) < 6 + 3 * data[5]:
        return None
    samples = tuple(
        (max(data[at + 1] >> 4, 1), max(data[at + 1] & 15, 1)) for at in range(6, 6 + 3 * data[5], 3)
    )
    return JpegLayout(
        segments=segments,
        width=int.from_bytes(data[3:5], "big"),
        height=int.from_bytes(data[1:3], "big"),
        samples=samples,
        bits=data[0],
        progressive=frame.marker in _PROGRESSIVE,
        decodable=frame.marker not in _LOSSLESS_OR_DIFFERENTIAL and data[0] == 8,
        scan_at=scan_at,
    )


def is_complete(view: View, layout: JpegLayout) -> bool:
    """Whether the picture's end mark is there.

    Within coded data 0xFF is always followed by 0x00 or a restart mark, so the two bytes can only be
    the end. A file that a card reader padded with zeros has none.
    """
    if layout.scan_at is None:
        return False
    tail_at = max(layout.scan_at, view.size - 4096)
    if END_OF_IMAGE in view.at(tail_at, 4096):
        return True
    return view.find(END_OF_IMAGE, layout.scan_at) >= 0


def application_data(view: View, layout: JpegLayout, number: int, prefix: bytes) -> list[bytes]:
    """What follows `prefix` in each APP`number` segment that begins with it, in file order."""
    found = []
    for segment in layout.segments:
        if segment.marker == 0xE0 + number and view.at(segment.offset, len(prefix)) == prefix:
            found.append(view.at(segment.offset, segment.length)[len(prefix) :])
    return found


def colour_profile(view: View, layout: JpegLayout) -> bytes | None:
    """The ICC profile, put together from its numbered segments (ICC.1:2022, annex B.4)."""
    pieces = [data for data in application_data(view, layout, 2, b"ICC_PROFILE\0") if len(data) > 2]
    pieces.sort(key=lambda data: data[0])
    profile = b"".join(data[2:] for data in pieces)
    return profile if profile and len(profile) <= _MOST_PROFILE_BYTES else None


def pixel_pieces(layout: JpegLayout, view: View) -> list[tuple[int, int] | bytes]:
    """The parts that a decoder needs: everything but comments and application data.

    APP0 and APP14 stay: they say how the colours are coded (JFIF, and Adobe's inverted CMYK).
    """
    pieces: list[tuple[int, int] | bytes] = [b"\xff\xd8"]
    for segment in layout.segments:
        application = 0xE0 <= segment.marker <= 0xEF
        if segment.marker == _COMMENT or (application and segment.marker not in (0xE0, 0xEE)):
            continue
        pieces.append(b"\xff" + bytes([segment.marker]))
        pieces.append((segment.offset - 2, segment.length + 2))
    if layout.scan_at is not None:
        pieces.append((layout.scan_at, view.size - layout.scan_at))
    return pieces


def read_metadata(looked: Looked, view: View, layout: JpegLayout) -> None:
    """Note the EXIF, XMP and IPTC blocks of a JPEG."""
    looked.exif = joined_exif(application_data(view, layout, 1, b"Exif\0"))
    looked.xmp = first(application_data(view, layout, 1, XMP_MARK))
    looked.more_xmp = _extended_xmp(
        application_data(view, layout, 1, b"http://ns.adobe.com/xmp/extension/\0")
    )
    looked.iptc = iptc_of_resources(b"".join(application_data(view, layout, 13, b"Photoshop 3.0\0")))


def _extended_xmp(segments: list[bytes]) -> bytes | None:
    """The packet that goes on in segments of its own: 32 characters of digest, length, offset, a piece (ISO 16684-3, 1.1.3.1)."""
    pieces = {
        int.from_bytes(each[36:40], "big"): each[40:] for each in segments if each[:32] == segments[0][:32]
    }
    packet = b"".join(pieces[at] for at in sorted(pieces))
    whole = segments and len(packet) == int.from_bytes(segments[0][32:36], "big") <= _MOST_XMP_BYTES
    return packet if whole else None


def pixels(view: View, layout: JpegLayout) -> Pixels:
    """How to decode a JPEG, whether it is a file or lies within one."""
    return Pixels(
        decoder="JPEG",
        view=view,
        pieces=pixel_pieces(layout, view),
        width=layout.width,
        height=layout.height,
        bytes_per_pixel=1 if len(layout.samples) == 1 else 4,
        fixed_bytes=layout.coefficient_bytes(),
        scales=True,
        padding=END_OF_IMAGE,
    )


def pictures_of_one_scene(view: View, layout: JpegLayout) -> int:
    """How many pictures of equal rank a multi-picture file holds (CIPA DC-007, MP type codes 02xxxx).

    Previews and gain maps behind the picture do not count.
    """
    for data in application_data(view, layout, 2, b"MPF\0"):
        order = {b"II": "little", b"MM": "big"}.get(data[:2])
        if order is None:
            continue
        kinds = _picture_kinds(data, "little" if order == "little" else "big")
        alike = sum(1 for kind in kinds if kind in (0x020001, 0x020002, 0x020003))
        if alike > 1:
            return alike
    return 1


def _picture_kinds(data: bytes, order: str) -> list[int]:
    def number(at: int, size: int) -> int:
        return int.from_bytes(data[at : at + size], "little" if order == "little" else "big")

    directory = number(4, 4)
    for index in range(min(number(directory, 2), 64)):
        entry = directory + 2 + 12 * index
        if number(entry, 2) == 0xB002:
            count, where = number(entry + 4, 4) // 16, number(entry + 8, 4)
            return [
                number(where + 16 * i, 4) & 0xFFFFFF
                for i in range(min(count, 1000))
                if where + 16 * i < len(data)
            ]
    return []
