"""Files that are broken, that lie or that want to harm: a plain reason or a warning, never harm."""

from __future__ import annotations

import contextlib
import io
import struct
import subprocess
import sys
import tracemalloc
import zlib
from pathlib import Path

import made_pictures as made
import pytest
from PIL import Image

from archive import pictures
from archive.errors import PictureNotReadable


@pytest.fixture
def file(tmp_path: Path):
    def write(data: bytes, name: str = "photo.jpg") -> Path:
        path = tmp_path / name
        path.write_bytes(data)
        return path

    return write


def codes(path: Path) -> set[str]:
    return {warning.code for warning in pictures.inspect(path).warnings}


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "the file is empty"),
        (b"Wharf crane, seen in June.\nPost 2.71 m", "it is a text file"),
        ("Łódź – 模型\n".encode(), "it is a text file"),
        ("notes".encode("utf-16"), "it is a text file"),
        (b"PK\x03\x04" + bytes(60), "it is a ZIP file"),
        (b"\0\0\0\x18ftypmp42" + bytes(60), "film"),
        (bytes(5000), "it holds nothing, as after a failed copy"),
        (b"\xff" * 5000, "it holds nothing, as after a failed copy"),  # what an erased card reads as
        (b"\xff\x0a" + bytes(60), "a JPEG XL picture, which is not read here; save it as"),
        (b"\0\0\0\x0cJXL \r\n\x87\n" + bytes(60), "a JPEG XL picture, which is not read here; save it as"),
        (b"\0\0\0\x0cjP  \r\n\x87\n" + bytes(60), "a JPEG 2000 picture, which is not read here; save it as"),
        (b"GIF89a" + bytes(60), "a GIF, which is not read here; save it as PNG"),
        (b"BM" + bytes(60), "a BMP picture, which is not read here; save it as PNG"),
        (bytes(range(7, 256)) * 20, "not a picture"),
    ],
)
def test_what_is_no_picture_is_refused_with_a_plain_reason(file, data: bytes, why: str):
    with pytest.raises(PictureNotReadable, match=why) as refused:
        pictures.inspect(file(data, "day one.jpg"))

    assert str(refused.value).startswith("day one.jpg: ")


@pytest.mark.parametrize("kept", [0.9, 0.5, 0.2])
@pytest.mark.parametrize("progressive", [False, True])
def test_a_cut_off_jpeg_shows_what_is_left_of_it(file, kept: float, progressive: bool):
    data = made.jpeg_bytes(made.upright_scene(640, 480).effect_spread(9), progressive=progressive)
    path = file(data[: int(len(data) * kept)])

    assert codes(path) == {"cut-off"}
    assert pictures.inspect(path).viewable
    assert made.corners(made.opened(pictures.upright_preview(path)))[0] == "red"


def test_a_jpeg_that_a_card_reader_padded_with_zeros_is_cut_off_too(file):
    data = made.jpeg_bytes(made.upright_scene(640, 480).effect_spread(9))
    path = file(data[: len(data) // 2] + bytes(len(data) - len(data) // 2))

    assert codes(path) == {"cut-off"}
    assert made.corners(made.opened(pictures.upright_preview(path)))[0] == "red"


def test_a_jpeg_that_ends_before_its_picture_is_kept_without_a_preview(file):
    data = made.jpeg_bytes(made.upright_scene())
    path = file(data[: data.index(b"\xff\xda")])

    facts = pictures.inspect(path)

    assert (facts.viewable, facts.width) == (False, 120)
    assert codes(path) == {"cut-off"}
    with pytest.raises(PictureNotReadable):
        pictures.upright_preview(path)


def test_what_lies_behind_a_whole_jpeg_does_not_matter(file):
    path = file(made.jpeg_bytes(made.upright_scene()) + b"a short film" * 5000)

    assert codes(path) == set()


@pytest.mark.parametrize("kept", [0.9, 0.5])
def test_a_cut_off_png_shows_what_is_left_of_it(file, kept: float):
    data = made.png_bytes(made.upright_scene(640, 480).effect_spread(9))
    path = file(data[: int(len(data) * kept)], "a.png")

    assert codes(path) == {"cut-off"}
    assert made.corners(made.opened(pictures.upright_preview(path)))[0] == "red"


def png_of(width: int, height: int, colour_type: int = 2, rows: int | None = None) -> bytes:
    """A PNG that says one size and holds black pixels for it, cheaply."""
    channels = {0: 1, 2: 3, 6: 4}[colour_type]
    packer = zlib.compressobj(9)
    row = bytes(1 + width * channels)
    packed = b"".join(packer.compress(row) for _ in range(height if rows is None else rows)) + packer.flush()
    header = struct.pack(">IIBBBBB", width, height, 8, colour_type, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + made.png_chunk(b"IHDR", header)
        + made.png_chunk(b"IDAT", packed)
        + made.png_chunk(b"IEND", b"")
    )


def test_a_bomb_is_kept_but_never_decoded(file):
    path = file(png_of(60_000, 60_000, rows=10), "a.png")

    tracemalloc.start()
    facts = pictures.inspect(path)
    with pytest.raises(PictureNotReadable, match="far too large"):
        pictures.upright_preview(path)
    with pytest.raises(PictureNotReadable, match="far too large"):
        pictures.upright_array(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert (facts.width, facts.height, facts.viewable) == (60_000, 60_000, False)
    assert codes(path) == {"too-large-to-decode"}
    assert peak < 8 << 20


def test_a_progressive_bomb_is_weighed_by_what_its_coefficients_take(file):
    # Reduced decoding helps a plain JPEG; a progressive one keeps every coefficient in memory all the same.
    small = made.jpeg_bytes(made.upright_scene(), progressive=True)
    frame = small.index(b"\xff\xc2")
    huge = small[: frame + 5] + struct.pack(">HH", 65_000, 65_000) + small[frame + 9 :]

    assert codes(file(huge)) == {"too-large-to-decode"}


def test_a_jpeg_that_says_it_is_huge_never_takes_more_than_stated(file):
    small = made.jpeg_bytes(made.upright_scene())
    frame = small.index(b"\xff\xc0")
    huge = small[: frame + 5] + struct.pack(">HH", 65_000, 65_000) + small[frame + 9 :]

    # 65,000 x 65,000 reduced to an eighth each way is 66 million pixels of 4 bytes: 252 MiB. Whole: 16 GiB.
    assert pictures.inspect(file(huge)).viewable
    with pytest.raises(PictureNotReadable, match="far too large"):
        pictures.upright_array(file(huge))


def test_a_text_that_unpacks_to_a_flood_is_left_unread(file):
    flood = made.png_chunk(b"zTXt", b"Comment\0\0" + zlib.compress(bytes(200 << 20), 9))
    path = file(made.with_chunk_before_pixels(made.png_bytes(made.upright_scene()), flood), "a.png")

    tracemalloc.start()
    found = codes(path)
    preview = pictures.upright_preview(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert found == {"text-left-out"}
    assert made.corners(made.opened(preview)) == made.UPRIGHT
    assert peak < 8 << 20


def test_a_colour_profile_that_unpacks_to_a_flood_is_left_aside(file):
    flood = made.png_chunk(b"iCCP", b"x\0\0" + zlib.compress(bytes(200 << 20), 9))
    path = file(made.with_chunk_before_pixels(made.png_bytes(made.upright_scene()), flood), "a.png")

    assert made.corners(made.opened(pictures.upright_preview(path))) == made.UPRIGHT


def test_the_content_decides_and_a_name_that_differs_is_said(file):
    path = file(made.jpeg_bytes(made.upright_scene()), "crane.png")

    facts = pictures.inspect(path)

    assert (facts.format, facts.media) == ("JPEG", "image/jpeg")
    assert [warning.code for warning in facts.warnings] == ["name-differs-from-content"]
    assert "JPEG although the name says .png" in facts.warnings[0].message


@pytest.mark.parametrize("name", ["crane.JPG", "crane.jpeg", "crane", "crane.backup"])
def test_a_name_that_says_nothing_else_brings_no_warning(file, name: str):
    assert codes(file(made.jpeg_bytes(made.upright_scene()), name)) == set()


def test_a_picture_with_stray_bytes_between_its_segments_is_shown(file):
    data = made.jpeg_bytes(made.upright_scene())
    quantisation = data.index(b"\xff\xdb")
    path = file(data[:quantisation] + b"\0stray\0" + data[quantisation:])

    assert made.corners(made.opened(pictures.upright_preview(path))) == made.UPRIGHT


PEAK = """
import resource, sys
from archive import pictures
from archive.errors import PictureNotReadable
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for path in sys.argv[1:]:
    for show in (pictures.upright_preview, pictures.upright_array):
        try:
            show(path)
        except PictureNotReadable:
            pass
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024)
"""


@pytest.mark.skipif(
    sys.platform != "linux", reason="must skip: the peak of memory is counted in other units elsewhere"
)
def test_no_bomb_takes_more_memory_than_is_stated(file, tmp_path: Path):
    jpeg = made.jpeg_bytes(made.upright_scene())
    frame = jpeg.index(b"\xff\xc0")
    tall = made.jpeg_bytes(made.upright_scene(), progressive=True)
    coefficients = tall.index(b"\xff\xc2")
    size = struct.pack(">HH", 65_000, 65_000)
    bombs = [
        file(png_of(50_000, 50_000, rows=10), "a.png"),
        file(png_of(14_000, 14_000, colour_type=6), "within-the-limit.png"),
        file(jpeg[: frame + 5] + size + jpeg[frame + 9 :], "a.jpg"),
        file(tall[: coefficients + 5] + size + tall[coefficients + 9 :], "b.jpg"),
        file(made.webp_of_size(16_383, 16_383), "a.webp"),
    ]

    done = subprocess.run(
        [sys.executable, "-c", PEAK, *map(str, bombs)], capture_output=True, text=True, check=True
    )

    assert int(done.stdout) < pictures.MOST_WORKING_BYTES


def test_no_bytes_at_random_can_do_more_than_be_refused(file):
    import random

    chance = random.Random(20230617)
    whole = [
        made.with_exif(made.jpeg_bytes(made.upright_scene()), made.exif_block({0x0112: (3, 6)})),
        made.png_bytes(made.upright_scene()),
    ]
    for round_ in range(300):
        data = bytearray(whole[round_ % len(whole)])
        for _ in range(chance.randint(1, 12)):
            data[chance.randrange(2, len(data))] = chance.randrange(256)
        path = file(bytes(data))
        try:
            pictures.inspect(path)
            pictures.metadata_blocks(path)
            pictures.upright_preview(path)
        except PictureNotReadable:
            pass


def test_one_decoder_s_own_limit_does_not_stop_a_very_large_photo(file):
    # 200 megapixels: beyond what Pillow opens by default, within what is stated here.
    path = file(made.jpeg_bytes(Image.new("L", (16_400, 12_200), 90), quality=30))

    assert pictures.inspect(path).viewable
    assert made.opened(pictures.upright_preview(path)).size == (512, 381)


def test_a_damaged_tiff_writes_nothing_to_the_terminal(file, capfd: pytest.CaptureFixture[str]):
    out = io.BytesIO()
    made.made_view(3, (640, 480)).save(out, "TIFF", compression="tiff_adobe_deflate")
    data = bytearray(out.getvalue())
    middle = len(data) // 2
    data[middle : middle + 200] = bytes(200)
    path = file(bytes(data), "plan.tif")

    with contextlib.suppress(PictureNotReadable):
        pictures.upright_preview(path)

    assert capfd.readouterr() == ("", "")


def test_a_tiff_of_impossible_samples_writes_nothing_either(file, capfd: pytest.CaptureFixture[str]):
    block = made.exif_block(
        {
            0x100: (4, 8),
            0x101: (4, 8),
            0x102: (3, 8),
            0x106: (3, 2),
            0x111: (4, 8),
            0x115: (3, 128),
            0x117: (4, 64),
        }
    )

    with pytest.raises(PictureNotReadable):
        pictures.upright_preview(file(block, "plan.tif"))

    assert capfd.readouterr() == ("", "")
