"""Pictures come out upright, in sRGB and without a word of the original's metadata.

Right values: the scene's four corner colours, which every way of storing it must give back.
"""

from __future__ import annotations

import struct
from pathlib import Path

import made_pictures as made
import numpy as np
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


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_jpeg_is_turned_upright_once_whatever_its_orientation(file, orientation: int):
    stored = made.stored_for(orientation)
    path = file(made.with_exif(made.jpeg_bytes(stored), made.exif_block({0x0112: (3, orientation)})))

    facts = pictures.inspect(path)
    preview = made.opened(pictures.upright_preview(path))

    assert (facts.stored_width, facts.stored_height) == stored.size
    assert (facts.width, facts.height, facts.orientation) == (120, 80, orientation)
    assert preview.size == (120, 80)
    assert made.corners(preview) == made.UPRIGHT
    assert made.corners(Image.fromarray(pictures.upright_array(path))) == made.UPRIGHT


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_png_that_says_its_orientation_only_in_xmp_is_turned_too(file, orientation: int):
    packet = (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description xmlns:tiff="http://ns.adobe.com/tiff/1.0/" tiff:Orientation="{orientation}"/>'
        "</rdf:RDF></x:xmpmeta>"
    )
    chunk = made.png_chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + packet.encode())
    path = file(made.with_chunk_before_pixels(made.png_bytes(made.stored_for(orientation)), chunk), "a.png")

    assert pictures.inspect(path).orientation is None  # EXIF says nothing
    assert made.corners(made.opened(pictures.upright_preview(path))) == made.UPRIGHT


def test_exif_is_heard_before_xmp_and_never_both(file):
    xmp = (
        b'http://ns.adobe.com/xap/1.0/\0<a xmlns:tiff="http://ns.adobe.com/tiff/1.0/" tiff:Orientation="6"/>'
    )
    data = made.with_segments(
        made.jpeg_bytes(made.stored_for(6)),
        made.segment(0xE1, b"Exif\0\0" + made.exif_block({0x0112: (3, 6)})),
        made.segment(0xE1, xmp),
    )

    assert made.corners(made.opened(pictures.upright_preview(file(data)))) == made.UPRIGHT


def test_an_orientation_that_does_not_exist_turns_nothing(file):
    path = file(made.with_exif(made.jpeg_bytes(made.upright_scene()), made.exif_block({0x0112: (3, 99)})))

    assert pictures.inspect(path).orientation is None
    assert made.corners(made.opened(pictures.upright_preview(path))) == made.UPRIGHT


@pytest.mark.parametrize("longest", [512, 200, 64])
def test_a_preview_has_the_asked_size_and_shape(file, longest: int):
    path = file(made.jpeg_bytes(made.upright_scene(3001, 1500)))

    preview = made.opened(pictures.upright_preview(path, longest))

    assert preview.size == (longest, round(1500 * longest / 3001))
    assert made.corners(preview) == made.UPRIGHT


def test_a_small_picture_is_not_blown_up(file):
    assert made.opened(pictures.upright_preview(file(made.jpeg_bytes(made.upright_scene())))).size == (
        120,
        80,
    )


def test_a_preview_says_nothing_of_the_original(file):
    secret = b"somebody's garden gate"
    image = made.upright_scene()
    data = made.with_segments(
        made.jpeg_bytes(image, comment=secret),
        made.segment(0xE1, b"Exif\0\0" + made.exif_block({0x010E: (2, secret + b"\0")})),
        made.segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x>" + secret + b"</x>"),
        made.segment(0xED, b"Photoshop 3.0\0" + secret),
    )
    assert secret in data

    preview = pictures.upright_preview(file(data))

    assert secret not in preview
    assert not {0xE1, 0xE2, 0xED, 0xFE} & set(markers(preview))


def markers(jpeg: bytes) -> list[int]:
    found, at = [], 2
    while jpeg[at + 1] != 0xDA:
        found.append(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    return found


def test_a_copy_keeps_only_the_texts_that_it_is_given(file):
    from archive.ingest.metadata import read_metadata

    secret = b"home address"
    path = file(made.with_exif(made.jpeg_bytes(made.upright_scene()), made.exif_block({0x010E: (2, secret)})))

    copy = pictures.upright_copy_without_metadata(
        path,
        keep={
            "caption": "Crane <winch> & gear, Wendle Basin – 模型",
            "creator": "A. Visitor",
            "rights": "CC0",
        },
    )

    assert secret not in copy
    kept = read_metadata(file(copy, "copy.jpg"))
    assert kept.caption == "Crane <winch> & gear, Wendle Basin – 模型"
    assert (kept.creator, kept.rights) == ("A. Visitor", "CC0")
    assert (kept.make, kept.latitude, kept.taken) == (None, None, None)
    assert made.corners(made.opened(copy)) == made.UPRIGHT


def test_a_copy_cannot_be_asked_to_keep_anything_else(file):
    path = file(made.jpeg_bytes(made.upright_scene()))

    with pytest.raises(ValueError, match="latitude"):
        pictures.upright_copy_without_metadata(path, keep={"latitude": "51.2"})


def test_an_array_holds_the_full_picture_row_by_row(file):
    array = pictures.upright_array(file(made.png_bytes(made.upright_scene()), "a.png"))

    assert (array.shape, array.dtype) == ((80, 120, 3), np.uint8)
    assert array[0, 0].tolist() == list(made.RED)
    assert array[0, 119].tolist() == list(made.GREEN)
    assert array[79, 0].tolist() == list(made.BLUE)


def test_cmyk_is_no_negative(file):
    # Plain subtractive mixing: C 0, M 255, Y 255, K 0 is red.
    path = file(made.jpeg_bytes(Image.new("CMYK", (64, 64), (0, 255, 255, 0))))

    red, green, blue = pictures.upright_array(path)[32, 32].tolist()

    assert red > 200
    assert max(green, blue) < 60


def test_see_through_parts_lie_on_white(file):
    clear = Image.new("RGBA", (40, 40), (0, 0, 0, 0))
    clear.paste((255, 0, 0, 255), (0, 0, 20, 40))

    array = pictures.upright_array(file(made.png_bytes(clear), "a.png"))

    assert array[20, 5].tolist() == [255, 0, 0]
    assert array[20, 35].tolist() == [255, 255, 255]


def test_a_palette_picture_keeps_its_colours(file):
    path = file(made.png_bytes(made.upright_scene().quantize(8)), "a.png")

    assert made.corners(made.opened(pictures.upright_preview(path))) == made.UPRIGHT


def test_a_deep_grey_picture_is_spread_over_its_own_range(file):
    # 291 to 694 of 65535, as an instrument writes: a plain shift would be black, a plain cut white.
    ramp = np.linspace(291, 694, 64 * 64).reshape(64, 64).round().astype(np.uint16)

    array = pictures.upright_array(file(made.png_bytes(Image.fromarray(ramp)), "a.png"))

    assert array[0, 0].tolist() == [0, 0, 0]
    assert array[63, 63].tolist() == [255, 255, 255]
    assert 120 <= array[31, 63, 0] <= 136  # half-way


def matrix_profile(red: bytes, green: bytes, blue: bytes) -> bytes:
    """A display profile of gamma 1.0 with the given primaries, put together by hand (ICC.1:2022, 8.3)."""
    linear = b"curv" + bytes(8)
    white = xyz(0.9642, 1.0, 0.8249)
    texts = {
        b"desc": b"desc" + bytes(4) + struct.pack(">I", 2) + b"x\0" + bytes(78),
        b"cprt": b"text\0\0\0\0x\0\0\0",
    }
    curves = {b"rTRC": linear, b"gTRC": linear, b"bTRC": linear}
    tags = {**texts, b"wtpt": white, b"rXYZ": red, b"gXYZ": green, b"bXYZ": blue, **curves}
    table, data = b"", b""
    for name, value in tags.items():
        padded = value + bytes(-len(value) % 4)
        table += name + struct.pack(">II", 128 + 4 + 12 * len(tags) + len(data), len(value))
        data += padded
    body = struct.pack(">I", len(tags)) + table + data
    head = struct.pack(">I", 128 + len(body)) + bytes(4) + b"\x02\x40\0\0mntrRGB XYZ " + bytes(12) + b"acsp"
    head += bytes(28) + struct.pack(">iii", 63190, 65536, 54061)
    return head.ljust(128, b"\0") + body


def xyz(x: float, y: float, z: float) -> bytes:
    return b"XYZ \0\0\0\0" + struct.pack(">iii", *(round(value * 65536) for value in (x, y, z)))


def test_another_colour_space_is_converted_to_srgb(file):
    # sRGB's own primaries (IEC 61966-2-1, adapted to D50) with red and green changing places, and linear:
    # what is stored as red 128 is a green of linear 128/255, which sRGB codes as 188.
    red, green, blue = xyz(0.4360, 0.2225, 0.0139), xyz(0.3851, 0.7169, 0.0971), xyz(0.1431, 0.0606, 0.7139)
    profile = matrix_profile(green, red, blue)
    path = file(made.png_bytes(Image.new("RGB", (32, 32), (128, 0, 0)), icc_profile=profile), "a.png")

    for array in (pictures.upright_array(path), np.asarray(made.opened(pictures.upright_preview(path)))):
        assert array[16, 16] == pytest.approx([0, 188, 0], abs=4)


@pytest.mark.parametrize("profile", [b"not a profile", b"", matrix_profile(b"", b"", b"")])
def test_a_broken_colour_profile_is_left_aside(file, profile: bytes):
    path = file(made.jpeg_bytes(made.upright_scene(), icc_profile=profile))

    assert made.corners(made.opened(pictures.upright_preview(path))) == made.UPRIGHT


def test_what_is_no_picture_cannot_be_shown(file):
    with pytest.raises(PictureNotReadable, match="text file"):
        pictures.upright_preview(file(b"Jib length 18 ft 6 in, by tape\n"))
