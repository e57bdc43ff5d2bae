"""Pictures made for the tests: known colours in known corners, so that any turn can be told."""

from __future__ import annotations

import io
import random
import struct
import zlib
from collections.abc import Mapping

from PIL import Image, ImageDraw

RED, GREEN, BLUE, GREY = (200, 30, 30), (30, 170, 30), (30, 30, 200), (128, 128, 128)


def upright_scene(width: int = 120, height: int = 80) -> Image.Image:
    """Red top left, green top right, blue bottom left, grey bottom right."""
    scene = Image.new("RGB", (width, height), GREY)
    scene.paste(RED, (0, 0, width // 2, height // 2))
    scene.paste(GREEN, (width // 2, 0, width, height // 2))
    scene.paste(BLUE, (0, height // 2, width // 2, height))
    return scene


def made_view(seed: int, size: tuple[int, int] = (480, 360)) -> Image.Image:
    """A made view of sky, ground and some blocks, like no other."""
    chance = random.Random(seed)
    width, height = size
    picture = Image.new("RGB", size, (150, 180, 210))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, chance.uniform(0.5, 0.8) * height, width, height), fill=(90, 80, 60))
    for _ in range(9):
        left, top = chance.uniform(0, 0.8) * width, chance.uniform(0.1, 0.7) * height
        shade = chance.randrange(30, 250)
        box = (left, top, left + chance.uniform(0.1, 0.3) * width, top + chance.uniform(0.1, 0.3) * height)
        pen.rectangle(box, fill=(shade, chance.randrange(30, 250), shade // 2))
    return picture


# How a camera stores a scene when it writes each orientation: the inverse of what a viewer must do.
STORED_AS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def stored_for(orientation: int, scene: Image.Image | None = None) -> Image.Image:
    scene = scene or upright_scene()
    how = STORED_AS[orientation]
    return scene if how is None else scene.transpose(how)


def corners(image: Image.Image) -> list[str]:
    """The nearest of the four colours near each corner: top left, top right, bottom left, bottom right."""
    names = {"red": RED, "green": GREEN, "blue": BLUE, "grey": GREY}
    image = image.convert("RGB")
    right, bottom = image.width - 1 - image.width // 8, image.height - 1 - image.height // 8
    left, top = image.width // 8, image.height // 8
    found = []
    for at in ((left, top), (right, top), (left, bottom), (right, bottom)):
        pixel = image.getpixel(at)
        assert isinstance(pixel, tuple)
        found.append(min(names, key=lambda n: sum(abs(a - b) for a, b in zip(names[n], pixel, strict=True))))
    return found


UPRIGHT = ["red", "green", "blue", "grey"]


def exif_block(
    main: Mapping[int, tuple[int, object]],
    exif: Mapping[int, tuple[int, object]] | None = None,
    gps: Mapping[int, tuple[int, object]] | None = None,
) -> bytes:
    """A little-endian EXIF block from {tag: (type, value)}; types 2 text, 3 and 4 whole, 5 and 10 rational pairs."""
    below = [(0x8769, exif), (0x8825, gps)]
    out = b"II*\0" + struct.pack("<I", 8)
    tables: list[Mapping[int, tuple[int, object]]] = [dict(main)]
    tables += [dict(table) for _, table in below if table is not None]
    starts = [8]
    for index, table in enumerate(tables):
        pointers = sum(1 for _, t in below if t is not None) if index == 0 else 0
        size = 2 + 12 * (len(table) + pointers) + 4 + sum(_outside(*entry) for entry in table.values())
        starts.append(starts[-1] + size)
    following = iter(starts[1:])
    first = dict(tables[0])
    for tag, table in below:
        if table is not None:
            first[tag] = (4, next(following))
    tables[0] = first
    for start, table in zip(starts, tables, strict=False):
        out += _directory(start, table)
    return out


def _packed(kind: int, value: object) -> tuple[int, bytes]:
    if kind in (1, 2, 7):
        data = value if isinstance(value, bytes) else str(value).encode() + b"\0"
        return len(data), data
    if kind in (5, 10):
        pairs = value if isinstance(value, list) else [value]
        return len(pairs), b"".join(struct.pack("<II" if kind == 5 else "<ii", *pair) for pair in pairs)
    if isinstance(value, tuple):
        return len(value), struct.pack(f"<{len(value)}{'H' if kind == 3 else 'I'}", *value)
    assert isinstance(value, int)
    return 1, struct.pack("<H" if kind == 3 else "<I", value)


def _outside(kind: int, value: object) -> int:
    length = len(_packed(kind, value)[1])
    return length if length > 4 else 0


def _directory(start: int, table: Mapping[int, tuple[int, object]]) -> bytes:
    entries, values = b"", b""
    outside = start + 2 + 12 * len(table) + 4
    for tag, (kind, value) in sorted(table.items()):
        count, data = _packed(kind, value)
        if len(data) > 4:
            entries += struct.pack("<HHII", tag, kind, count, outside + len(values))
            values += data
        else:
            entries += struct.pack("<HHI", tag, kind, count) + data.ljust(4, b"\0")
    return struct.pack("<H", len(table)) + entries + b"\0\0\0\0" + values


def jpeg_bytes(image: Image.Image, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", **{"quality": 92, **options})
    return out.getvalue()


def png_bytes(image: Image.Image, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG", **options)
    return out.getvalue()


def png_chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def with_chunk_before_pixels(png: bytes, chunk: bytes) -> bytes:
    at = png.index(b"IDAT") - 4
    return png[:at] + chunk + png[at:]


def segment(marker: int, data: bytes) -> bytes:
    return b"\xff" + bytes([marker]) + struct.pack(">H", len(data) + 2) + data


def with_segments(jpeg: bytes, *segments: bytes) -> bytes:
    return jpeg[:2] + b"".join(segments) + jpeg[2:]


def with_exif(jpeg: bytes, block: bytes) -> bytes:
    return with_segments(jpeg, segment(0xE1, b"Exif\0\0" + block))


def xmp_packet(attributes: str = "", elements: str = "") -> bytes:
    names = (
        'xmlns:exif="http://ns.adobe.com/exif/1.0/" xmlns:tiff="http://ns.adobe.com/tiff/1.0/" '
        'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/" '
        'xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:exifEX="http://cipa.jp/exif/1.0/"'
    )
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description rdf:about="" {names} {attributes}>{elements}</rdf:Description></rdf:RDF></x:xmpmeta>'
        '<?xpacket end="w"?>'
    ).encode()


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def webp_of_size(width: int, height: int) -> bytes:
    """A small WebP whose header says that its canvas is `width` x `height`."""
    out = io.BytesIO()
    upright_scene().save(out, "WEBP", lossless=True, exif=exif_block({0x0112: (3, 1)}))
    data = out.getvalue()
    at = data.index(b"VP8X") + 12
    return data[:at] + (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little") + data[at + 6 :]


def dng(scene: Image.Image, orientation: int = 1) -> bytes:
    """A raw file without any preview: a 16-bit mosaic of red, green and blue in linear light (DNG 1.4)."""
    import numpy as np

    coded = np.asarray(scene.convert("RGB"), dtype=float) / 255
    light = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
    mosaic = light[..., 1].copy()
    mosaic[0::2, 0::2], mosaic[1::2, 1::2] = light[0::2, 0::2, 0], light[1::2, 1::2, 2]
    pixels = (mosaic * 65535).round().astype("<u2").tobytes()

    def block(at: int) -> bytes:
        return exif_block(
            {
                0x00FE: (4, 0), 0x0100: (4, scene.width), 0x0101: (4, scene.height), 0x0102: (3, 16), 0x0103: (3, 1),
                0x0106: (3, 32803), 0x010F: (2, "Halden"), 0x0110: (2, "C20"), 0x0111: (4, at),
                0x0112: (3, orientation), 0x0115: (3, 1), 0x0116: (4, scene.height), 0x0117: (4, len(pixels)),
                0x828D: (3, (2, 2)), 0x828E: (1, bytes([0, 1, 1, 2])), 0xC612: (1, b"\1\4\0\0"),
                0xC614: (2, "Halden C20"), 0xC61D: (4, 65535), 0xC621: (10, _XYZ_TO_LINEAR),
                0xC628: (5, [(1, 1)] * 3), 0xC65A: (3, 21),
            }, {0x9003: (2, "2023:06:17 10:20:30")}
        )  # fmt: skip

    return block(len(block(0))) + pixels


# From XYZ to linear light of the three colours, in ten-thousandths (IEC 61966-2-1).
_XYZ_TO_LINEAR = [
    (part, 10_000) for part in (32_406, -15_372, -4_986, -9_689, 18_758, 415, 557, -2_040, 10_570)
]
