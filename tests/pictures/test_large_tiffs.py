"""Very large TIFF scans are shown, band by band, within the stated memory; so much of them is decoded at a time and no more."""

from __future__ import annotations

import io
import os
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

import made_pictures as made
import numpy as np
import pytest
from PIL import Image

from archive import pictures
from archive.errors import PictureNotReadable
from archive.pictures import raw, tiff_bands
from archive.pictures.look import look
from archive.pictures.views import open_view

FULL_SIZE = bool(os.environ.get("RIVETBOOK_LARGE_TIFFS"))
Samples = np.ndarray
UNCODED, DEFLATE = 1, 8


def blocks_of(picture: Samples, tile: int | None, rows: int) -> Iterator[Samples]:
    """Strips of some rows, or tiles padded to their full size, in the order of TIFF 6.0, section 15."""
    height, width = picture.shape[:2]
    if tile is None:
        for row in range(0, height, rows):
            yield picture[row : row + rows]
        return
    for row in range(0, height, tile):
        for column in range(0, width, tile):
            part = picture[row : row + tile, column : column + tile]
            yield np.pad(part, ((0, tile - part.shape[0]), (0, tile - part.shape[1]), (0, 0)))


def write_tiff(
    file: Path, picture: Samples, *, tile: int | None = None, rows: int = 64, coding: int = DEFLATE
) -> Path:
    """A TIFF of RGB samples of 8 or 16 bits, by hand: its blocks first, its directory behind them."""
    height, width = picture.shape[:2]
    bits = picture.dtype.itemsize * 8
    places: list[tuple[int, int]] = []
    with file.open("wb") as out:
        out.write(b"II*\0" + bytes(4))
        for block in blocks_of(picture, tile, rows):
            data = block.astype(f"<u{bits // 8}").tobytes()
            data = zlib.compress(data, 1) if coding == DEFLATE else data
            places.append((out.tell(), len(data)))
            out.write(data)
        tags = {
            0x100: (4, [width]), 0x101: (4, [height]), 0x102: (3, [bits] * 3), 0x103: (3, [coding]), 0x106: (3, [2]),
            0x115: (3, [3]), 0x11C: (3, [1]),
        }  # fmt: skip
        starts, lengths = ([place[n] for place in places] for n in (0, 1))
        if tile:
            tags |= {0x142: (4, [tile]), 0x143: (4, [tile]), 0x144: (4, starts), 0x145: (4, lengths)}
        else:
            tags |= {0x116: (4, [rows]), 0x111: (4, starts), 0x117: (4, lengths)}
        entries = b""
        for tag, (kind, values) in sorted(tags.items()):
            packed = struct.pack(f"<{len(values)}{'H' if kind == 3 else 'I'}", *values)
            if len(packed) > 4:
                at = out.tell()
                out.write(packed)
                packed = struct.pack("<I", at)
            entries += struct.pack("<HHI", tag, kind, len(values)) + packed.ljust(4, b"\0")
        directory = out.tell()
        out.write(struct.pack("<H", len(tags)) + entries + bytes(4))
        out.seek(4)
        out.write(struct.pack("<I", directory))
    return file


def scene(width: int, height: int, bits: int) -> Samples:
    eight = np.asarray(made.upright_scene(width, height))
    return eight if bits == 8 else eight.astype(np.uint16) * 257


@pytest.fixture
def by_bands(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From now on every TIFF is too large to be decoded whole, and a band has few pixels."""

    def begin() -> None:
        monkeypatch.setattr(raw, "too_large", lambda *_: True)
        monkeypatch.setattr(tiff_bands, "_BAND_PX", 20_000)

    return begin


def bands_in(file: Path) -> int:
    with open_view(file) as view:
        pixels = look(view, file.name).pixels
        return len(pixels.bands) if pixels else -1


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize(
    ("tile", "rows", "coding"),
    [(None, 7, DEFLATE), (None, 803, UNCODED), (None, 64, UNCODED), (128, 0, DEFLATE), (256, 0, UNCODED)],
    ids=["strips", "one strip", "uncoded strips", "tiles", "uncoded tiles"],
)
def test_a_picture_made_small_by_bands_is_the_same_as_by_the_whole(
    tmp_path: Path, by_bands: Callable[[], None], bits: int, tile: int | None, rows: int, coding: int
):
    # 803 rows: no number of strips, tiles or rows of the small picture divides them.
    picture = scene(1201, 803, bits)
    file = write_tiff(tmp_path / "plan.tif", picture, tile=tile, rows=rows, coding=coding)
    whole = made.opened(pictures.upright_preview(file, 100))
    by_bands()

    assert bands_in(file) > 1
    facts = pictures.inspect(file)
    assert (facts.width, facts.height, facts.viewable, facts.warnings) == (1201, 803, True, ())
    assert_alike(made.opened(pictures.upright_preview(file, 100)), whole)


def assert_alike(one: Image.Image, other: Image.Image) -> None:
    """Two ways to make a picture small differ at edges only."""
    assert one.size == other.size
    difference = np.abs(np.asarray(one.convert("RGB"), int) - np.asarray(other.convert("RGB"), int))
    assert np.median(difference) <= 1
    assert difference.mean() < 3


def saved(image: Image.Image, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "TIFF", **options)
    return out.getvalue()


GREYS = np.linspace(3000, 9000, 1200 * 800).reshape(800, 1200)
FORMS = {
    "cmyk": saved(made.upright_scene(1200, 800).convert("CMYK")),
    "lab": saved(made.upright_scene(1200, 800).convert("LAB")),
    "palette": saved(made.upright_scene(1200, 800).convert("P"), compression="tiff_lzw"),
    "see-through": saved(made.upright_scene(1200, 800).convert("RGBA"), compression="tiff_lzw"),
    "jpeg": saved(made.upright_scene(1200, 800), compression="jpeg"),
    "colour and light apart": saved(made.upright_scene(1200, 800).convert("YCbCr"), compression="jpeg"),
    "packed": saved(made.upright_scene(1200, 800), compression="packbits"),
    "with predictor": saved(made.upright_scene(1200, 800), compression="tiff_lzw", tiffinfo={0x13D: 2}),
    "two tones": saved(made.upright_scene(1200, 800).convert("1"), compression="group4"),
    "deep greys": saved(Image.fromarray(GREYS.astype(np.uint16))),
    "numbers": saved(Image.fromarray(GREYS.astype(np.float32))),
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_that_is_shown_whole_is_shown_by_bands(
    tmp_path: Path, by_bands: Callable[[], None], form: str
):
    file = tmp_path / "plan.tif"
    file.write_bytes(FORMS[form])
    whole = made.opened(pictures.upright_preview(file, 100))
    by_bands()

    assert bands_in(file) > 1
    assert_alike(made.opened(pictures.upright_preview(file, 100)), whole)


def test_a_picture_whose_lower_bands_are_gone_is_shown_as_far_as_it_goes(
    tmp_path: Path, by_bands: Callable[[], None]
):
    file = write_tiff(tmp_path / "plan.tif", scene(1200, 800, 8), rows=20)
    data = file.read_bytes()
    middle = len(data) // 2
    file.write_bytes(data[:middle] + bytes(len(data) // 4) + data[middle + len(data) // 4 :])
    by_bands()

    shown = made.corners(made.opened(pictures.upright_preview(file, 100)))
    assert shown[:2] == made.UPRIGHT[:2]
    file.write_bytes(data[:8] + bytes(middle) + data[8 + middle :])
    with pytest.raises(PictureNotReadable, match=r"plan\.tif: its picture is damaged"):
        pictures.upright_preview(file, 100)


PEAK = """
import resource, sys
from archive import pictures
from archive.pictures import decode, look, views
decode.MOST_WORKING_BYTES = int(sys.argv[2])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
with views.open_view(sys.argv[1]) as view:
    assert len(look.look(view, "plan.tif").pixels.bands) > 1
pictures.upright_preview(sys.argv[1])
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024)
"""
# Whole they would take 320 MB and 1.6 GB.
WIDTH, HEIGHT, MOST = (
    (20_000, 10_000, pictures.MOST_WORKING_BYTES) if FULL_SIZE else (8_000, 5_000, 256 << 20)
)
SHAPES = [(None, 8, DEFLATE), (1024, 16, DEFLATE)]
if FULL_SIZE:
    SHAPES += [(None, 16, UNCODED), (1024, 8, UNCODED), (None, 8, UNCODED)]


@pytest.mark.skipif(
    sys.platform != "linux", reason="must skip: the peak of memory is counted in other units elsewhere"
)
@pytest.mark.parametrize(("tile", "bits", "coding"), SHAPES)
def test_a_picture_too_large_to_be_decoded_whole_is_shown_within_the_stated_memory(
    tmp_path: Path, tile: int | None, bits: int, coding: int
):
    # One row of colours, drawn out: hardly anything when coded.
    row = scene(WIDTH, 2, bits)[:1]
    file = write_tiff(
        tmp_path / "plan.tif", np.broadcast_to(row, (HEIGHT, WIDTH, 3)), tile=tile, coding=coding
    )

    done = subprocess.run(
        [sys.executable, "-c", PEAK, str(file), str(MOST)], capture_output=True, text=True, check=True
    )

    print(
        f"{WIDTH} x {HEIGHT}, {bits} bits: {int(done.stdout) >> 20} MiB at the peak, {MOST >> 20} MiB at most"
    )
    assert int(done.stdout) < MOST
