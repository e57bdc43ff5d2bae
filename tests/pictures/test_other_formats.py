"""HEIC, AVIF, WebP, TIFF, raw files and PDF drawings, made here, come out upright like any photo."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from uuid import UUID

import made_pictures as made
import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageChops, ImageStat

from archive import pictures
from archive.errors import PictureNotReadable
from archive.ingest.metadata import read_metadata
from archive.pictures import decode

ORIENTATION, MAKE, DNG_VERSION, PHOTOMETRIC = 0x0112, 0x010F, 0xC612, 0x0106
TAKEN = 0x9003


@pytest.fixture
def file(tmp_path: Path):
    def write(data: bytes, name: str) -> Path:
        path = tmp_path / name
        path.write_bytes(data)
        return path

    return write


def saved(image: Image.Image, form: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def heic(image: Image.Image, orientation: int) -> bytes:
    """As a phone writes it: the turn stands in the container and in EXIF too."""
    out = io.BytesIO()
    written = pillow_heif.HeifFile()
    written.add_from_pillow(image)
    written.save(out, quality=90, exif=made.exif_block({ORIENTATION: (3, orientation)}))
    return out.getvalue()


def codes(path: Path) -> set[str]:
    return {warning.code for warning in pictures.inspect(path).warnings}


def shown(path: Path, **options: int) -> list[str]:
    return made.corners(made.opened(pictures.upright_preview(path, **options)))


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_heic_is_turned_once_though_container_and_exif_both_ask(file, orientation: int):
    path = file(heic(made.stored_for(orientation), orientation), "photo.heic")

    facts = pictures.inspect(path)

    assert (facts.format, facts.media, facts.viewable, facts.warnings) == ("HEIC", "image/heic", True, ())
    assert (facts.stored_width, facts.stored_height) == made.stored_for(orientation).size
    assert (facts.width, facts.height, facts.orientation) == (120, 80, orientation)
    assert shown(path) == made.UPRIGHT
    assert pictures.upright_array(path).shape == (80, 120, 3)


def test_a_heic_whose_container_asks_for_no_turn_is_not_turned_by_exif(file):
    data = heic(made.upright_scene(), 3)
    assert data.count(b"irot") == 1

    path = file(data.replace(b"irot", b"free"), "photo.heic")

    assert shown(path) == made.UPRIGHT


@pytest.mark.parametrize("orientation", range(1, 9))
def test_an_avif_is_turned_once(file, orientation: int):
    exif = made.exif_block({ORIENTATION: (3, orientation)})
    path = file(saved(made.stored_for(orientation), "AVIF", exif=b"Exif\0\0" + exif), "photo.avif")

    facts = pictures.inspect(path)

    assert (facts.format, facts.width, facts.height, facts.warnings) == ("AVIF", 120, 80, ())
    assert shown(path) == made.UPRIGHT


@pytest.mark.parametrize("orientation", [1, 3, 6])
@pytest.mark.parametrize("lossless", [True, False])
def test_a_webp_is_turned_by_its_exif(file, orientation: int, lossless: bool):
    exif = made.exif_block({ORIENTATION: (3, orientation)})
    path = file(saved(made.stored_for(orientation), "WEBP", lossless=lossless, exif=exif), "photo.webp")

    facts = pictures.inspect(path)

    assert (facts.format, facts.media) == ("WEBP", "image/webp")
    assert (facts.width, facts.height, facts.orientation) == (120, 80, orientation)
    assert shown(path) == made.UPRIGHT


@pytest.mark.parametrize("lossless", [True, False])
def test_a_plain_webp_without_any_metadata_is_read(file, lossless: bool):
    path = file(saved(made.upright_scene(), "WEBP", lossless=lossless), "photo.webp")

    assert pictures.inspect(path).width == 120
    assert shown(path) == made.UPRIGHT


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("compression", [None, "tiff_lzw"])
def test_a_tiff_is_turned_once_though_its_own_reader_would_turn_it_too(file, orientation: int, compression):
    data = saved(made.stored_for(orientation), "TIFF", compression=compression, tiffinfo={274: orientation})
    path = file(data, "scan.tif")

    facts = pictures.inspect(path)

    assert (facts.format, facts.orientation, facts.width, facts.height) == ("TIFF", orientation, 120, 80)
    assert shown(path) == made.UPRIGHT


@pytest.mark.parametrize("name", ["scan.tif", "scan.png"])
def test_a_deep_grey_scan_is_spread_over_its_own_range(file, name: str):
    ramp = Image.fromarray(np.linspace(291, 694, 64 * 64).reshape(64, 64).round().astype(np.uint16))

    array = pictures.upright_array(file(saved(ramp, "TIFF"), name))

    assert array[0, 0].tolist() == [0, 0, 0]
    assert array[63, 63].tolist() == [255, 255, 255]


def test_a_float_tiff_with_holes_in_it_is_no_reason_to_fail(file):
    holes = np.full((32, 32), 0.5, np.float32)
    holes[0, 0], holes[1, 1] = np.nan, np.inf

    assert pictures.upright_array(file(saved(Image.fromarray(holes), "TIFF"), "a.tif")).shape == (32, 32, 3)


def test_each_page_of_a_tiff_can_be_shown_and_the_first_is(file):
    pages = [made.upright_scene(), made.upright_scene(60, 40).transpose(Image.Transpose.ROTATE_180)]
    path = file(saved(pages[0], "TIFF", save_all=True, append_images=pages[1:]), "plans.tiff")

    assert pictures.inspect(path).frames == 2
    assert shown(path) == made.UPRIGHT
    assert pictures.inspect(path, page=1).width == 60
    assert shown(path, page=1) == made.UPRIGHT[::-1]
    with pytest.raises(PictureNotReadable, match="no page 3"):
        pictures.upright_preview(path, page=2)


def test_a_very_large_two_tone_scan_is_shown(file):
    # 225 megapixels: a drawing of 1 m x 0.65 m at 450 dots an inch; more than Pillow opens by default.
    path = file(saved(Image.new("1", (18_000, 12_500), 1), "TIFF", compression="group4"), "plan.tif")

    assert pictures.inspect(path).viewable
    assert made.opened(pictures.upright_preview(path)).size == (512, 356)
    assert Image.MAX_IMAGE_PIXELS == 89_478_485  # Pillow's own limit is as it was


def test_two_jpegs_of_one_scene_are_one_picture_the_first(file):
    second = made.upright_scene().transpose(Image.Transpose.ROTATE_180)
    data = saved(made.upright_scene(), "MPO", save_all=True, append_images=[second])

    path = file(data.replace(struct.pack("<I", 0x030000), struct.pack("<I", 0x020002)), "photo.mpo")

    assert shown(path) == made.UPRIGHT
    assert codes(path) == set()


def raw_file(main: dict[int, tuple[int, object]], preview: bytes) -> bytes:
    """A TIFF-structured raw file whose first directory points at a JPEG behind everything."""

    def block(at: int) -> bytes:
        return made.exif_block(
            {**main, 0x0201: (4, at), 0x0202: (4, len(preview))}, {TAKEN: (2, "2023:06:17 10:20:30")}
        )

    return block(len(block(0))) + preview


CFA = {PHOTOMETRIC: (3, 32803)}
RAWS = [
    ("DNG", {DNG_VERSION: (1, b"\1\4\0\0")}, ".dng"),
    ("NEF", {**CFA, MAKE: (2, "NIKON CORPORATION")}, ".nef"),
    ("ARW", {**CFA, MAKE: (2, "SONY")}, ".arw"),
    ("PEF", {**CFA, MAKE: (2, "PENTAX")}, ".pef"),
    ("RAW", {**CFA, MAKE: (2, "Halden Optics")}, ".xyz"),
]


@pytest.mark.parametrize(("kind", "tags", "ending"), RAWS, ids=[kind for kind, _, _ in RAWS])
def test_a_raw_file_is_shown_by_its_preview_turned_as_the_raw_file_says(file, kind, tags, ending):
    preview = made.jpeg_bytes(made.stored_for(6, made.upright_scene(480, 320)))
    path = file(raw_file({**tags, ORIENTATION: (3, 6)}, preview), f"photo{ending}")

    facts = pictures.inspect(path)

    assert (facts.format, facts.viewable, facts.warnings) == (kind, True, ())
    assert (facts.width, facts.height, facts.orientation) == (480, 320, 6)
    assert shown(path) == made.UPRIGHT
    assert read_metadata(path).taken == "2023-06-17T10:20:30"


def test_a_raw_file_whose_preview_is_gone_is_kept_with_a_warning(file):
    whole = raw_file({DNG_VERSION: (1, b"\1\4\0\0")}, made.jpeg_bytes(made.upright_scene()))
    path = file(whole[: whole.index(b"\xff\xd8")], "photo.dng")

    assert codes(path) == {"no-preview"}
    assert read_metadata(path).taken == "2023-06-17T10:20:30"
    with pytest.raises(PictureNotReadable, match="no picture"):
        pictures.upright_preview(path)


def test_a_preview_that_only_the_maker_knows_of_is_found(file):
    tags = {DNG_VERSION: (1, b"\1\4\0\0"), ORIENTATION: (3, 1)}
    path = file(made.exif_block(tags) + b"private" * 9 + made.jpeg_bytes(made.upright_scene()), "photo.dng")

    assert shown(path) == made.UPRIGHT


@pytest.mark.parametrize(
    ("mark", "kind", "ending"),
    [(b"FOVb", "X3F", ".x3f"), (b"II\x1a\0\0\0HEAPCCDR", "CRW", ".crw"), (b"\0MRM", "MRW", ".mrw")],
)
def test_a_raw_file_of_a_maker_s_own_form_is_shown_and_read_by_the_jpeg_in_it(file, mark, kind, ending):
    small = made.jpeg_bytes(made.upright_scene(60, 40))
    whole = made.with_exif(
        made.jpeg_bytes(made.stored_for(6, made.upright_scene(480, 320))),
        made.exif_block({ORIENTATION: (3, 6)}, {TAKEN: (2, "2023:06:17 10:20:30")}),
    )
    path = file(mark + bytes(99) + small + bytes(99) + whole, f"photo{ending}")

    assert (pictures.inspect(path).format, pictures.inspect(path).is_raw, codes(path)) == (kind, True, set())
    assert shown(path) == made.UPRIGHT
    assert read_metadata(path).taken == "2023-06-17T10:20:30"


def as_hexadecimal_text(kind: str, data: bytes) -> bytes:
    """How common tools keep a block of metadata in a text of a PNG."""
    digits = data.hex().encode()
    lines = b"\n".join(digits[at : at + 72] for at in range(0, len(digits), 72))
    return f"Raw profile type {kind}".encode() + f"\0\n{kind}\n{len(data):8}\n".encode() + lines + b"\n"


EXIF_OF_6 = made.exif_block({ORIENTATION: (3, 6), MAKE: (2, "Halden")})
XMP_OF_6 = made.xmp_packet('tiff:Orientation="6" tiff:Make="Halden"')


@pytest.mark.parametrize(
    ("chunk", "text"),
    [
        (b"eXIf", EXIF_OF_6),
        (b"eXIf", b"Exif\0\0" + EXIF_OF_6),
        (b"tEXt", as_hexadecimal_text("exif", EXIF_OF_6)),
        (b"tEXt", as_hexadecimal_text("exif", b"Exif\0\0" + EXIF_OF_6)),
        (b"tEXt", as_hexadecimal_text("APP1", b"Exif\0\0" + EXIF_OF_6)),
        (b"tEXt", as_hexadecimal_text("APP1", b"http://ns.adobe.com/xap/1.0/\0" + XMP_OF_6)),
        (b"tEXt", as_hexadecimal_text("xmp", XMP_OF_6)),
        (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + XMP_OF_6),
        (b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + zlib.compress(XMP_OF_6)),
    ],
)
def test_a_png_is_read_and_turned_wherever_its_writer_put_that(file, chunk: bytes, text: bytes):
    plain = made.png_bytes(made.stored_for(6))
    path = file(made.with_chunk_before_pixels(plain, made.png_chunk(chunk, text)), "wharf.png")

    assert (shown(path), read_metadata(path).make, codes(path)) == (made.UPRIGHT, "Halden", set())


def test_iptc_in_a_png_is_read_bare_or_wrapped(file):
    caption = "Kran am Häuschen".encode()
    bare = b"\x1c\x02\x78" + struct.pack(">H", len(caption)) + caption
    resource = b"8BIM\x04\x04\0\0" + struct.pack(">I", len(bare)) + bare
    for kind, block in (("iptc", bare), ("iptc", resource), ("8bim", b"Photoshop 3.0\0" + resource)):
        chunk = made.png_chunk(b"tEXt", as_hexadecimal_text(kind, block))
        path = file(made.with_chunk_before_pixels(made.png_bytes(made.upright_scene()), chunk), "wharf.png")
        assert read_metadata(path).caption == "Kran am Häuschen"


def box(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", 8 + len(content)) + name + content


def test_a_cr3_file_is_shown_and_its_scattered_metadata_joined(file):
    canon = UUID("85c0b687-820f-11e0-8111-f4ce462b6a48").bytes
    main = made.exif_block({ORIENTATION: (3, 8), 0x010F: (2, "Halden"), 0x0110: (2, "C20")})
    taken = made.exif_block({TAKEN: (2, "2023:06:17 10:20:30"), 0x920A: (5, (35, 1))})
    north = {1: (2, "N"), 2: (5, [(52, 1), (30, 1), (0, 1)]), 3: (2, "W"), 4: (5, [(1, 1), (15, 1), (0, 1)])}
    thumb = box(b"THMB", bytes(12) + made.jpeg_bytes(made.upright_scene(30, 20)))
    parts = box(b"CMT1", main) + box(b"CMT2", taken) + box(b"CMT4", made.exif_block(north)) + thumb
    moov = box(b"moov", box(b"uuid", canon + parts))
    preview = UUID("eaf42b5e-1c98-4b88-b9fb-b7dc406e4d16").bytes
    shown_as = box(
        b"uuid", preview + bytes(8) + box(b"PRVW", bytes(16) + made.jpeg_bytes(made.stored_for(8)))
    )
    path = file(box(b"ftyp", b"crx \0\0\0\1crx isom") + moov + shown_as, "photo.cr3")

    facts, metadata = pictures.inspect(path), read_metadata(path)

    assert (facts.format, facts.width, facts.height, facts.orientation) == ("CR3", 120, 80, 8)
    assert shown(path) == made.UPRIGHT
    assert (metadata.make, metadata.model, metadata.taken) == ("Halden", "C20", "2023-06-17T10:20:30")
    assert (metadata.focal_mm, metadata.latitude, metadata.longitude) == (35, 52.5, -1.25)


def test_a_raf_file_is_shown_and_read_by_the_jpeg_within(file):
    exif = made.exif_block({ORIENTATION: (3, 3)}, {TAKEN: (2, "2023:06:17 10:20:30")})
    inside = made.with_exif(made.jpeg_bytes(made.stored_for(3)), exif)
    head = b"FUJIFILMCCD-RAW 0201".ljust(84, b"\0") + struct.pack(">II", 160, len(inside))
    path = file(head.ljust(160, b"\0") + inside + bytes(500), "photo.raf")

    assert pictures.inspect(path).format == "RAF"
    assert shown(path) == made.UPRIGHT
    assert read_metadata(path).taken == "2023-06-17T10:20:30"


def drawing(pages: int = 2, encrypt: str | None = None) -> bytes:
    """A PDF whose pages are 200 mm x 100 mm, a black square of 50 mm at 100 mm from the left on page 2."""
    from reportlab.lib.units import mm
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(200 * mm, 100 * mm), encrypt=encrypt)
    for page in range(pages):
        if page == 1:
            canvas.rect(100 * mm, 0, 50 * mm, 50 * mm, stroke=0, fill=1)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def test_a_page_of_a_drawing_is_a_picture_whose_size_on_paper_is_known(file):
    path = file(drawing(), "crane.pdf")

    facts = pictures.inspect(path, page=1)
    array = pictures.upright_array(path, page=1)

    assert (facts.format, facts.media, facts.frames) == ("PDF", "application/pdf", 2)
    assert facts.paper_mm == pytest.approx((200, 100), abs=0.01)
    # 300 dots an inch: 200 mm are 2362 px, 100 mm 1181 px.
    assert (facts.width, facts.height) == (2362, 1181)
    assert array.shape == (1181, 2362, 3)
    black = np.argwhere(array[:, :, 0] < 128)
    left_mm, right_mm = black[:, 1].min() * 25.4 / 300, (black[:, 1].max() + 1) * 25.4 / 300
    assert (left_mm, right_mm) == (pytest.approx(100, abs=0.1), pytest.approx(150, abs=0.1))


def test_pages_of_a_drawing_are_shown_one_by_one(file):
    path = file(drawing(), "crane.pdf")

    first, second = (made.opened(pictures.upright_preview(path, page=page)) for page in (0, 1))

    assert first.size == second.size == (512, 256)
    assert first.convert("L").getextrema() == (255, 255)
    assert second.convert("L").getextrema()[0] < 30
    with pytest.raises(PictureNotReadable, match="no page 3"):
        pictures.inspect(path, page=2)


def test_a_locked_drawing_is_kept_and_says_so(file):
    path = file(drawing(encrypt="secret"), "crane.pdf")

    assert codes(path) == {"cannot-show"}
    assert "locked with a password" in pictures.inspect(path).warnings[0].message


def test_a_broken_drawing_is_kept_and_says_so(file):
    assert codes(file(b"%PDF-1.4\nnothing more", "crane.pdf")) == {"cannot-show"}


@pytest.mark.parametrize("form", ["HEIC", "AVIF", "WEBP"])
def test_a_cut_off_file_that_cannot_be_decoded_is_kept_with_a_warning(file, form: str):
    scene = made.upright_scene(640, 480).effect_spread(9)
    data = heic(scene, 1) if form == "HEIC" else saved(scene, form)
    path = file(data[: len(data) * 2 // 3], f"photo.{form.lower()}")

    assert codes(path) == {"cut-off"}
    assert not pictures.inspect(path).viewable
    with pytest.raises(PictureNotReadable):
        pictures.upright_preview(path)


def test_a_cut_off_tiff_shows_what_is_left(file):
    data = saved(made.upright_scene(640, 480), "TIFF")
    path = file(data[: len(data) * 2 // 3], "scan.tif")

    assert "cut-off" in codes(path)


def test_a_heic_named_as_a_jpeg_is_said_to_be_one(file):
    assert codes(file(heic(made.upright_scene(), 1), "photo.jpg")) == {"name-differs-from-content"}


def test_a_heic_too_large_to_decode_is_shown_by_the_small_picture_that_it_carries(file, monkeypatch):
    view = made.made_view(5, (800, 600))
    out = io.BytesIO()
    view.info["thumbnails"] = [200]
    pillow_heif.from_pillow(view).save(out)
    path = file(out.getvalue(), "P5_0001.heic")
    monkeypatch.setattr(decode, "MOST_WORKING_BYTES", 3 << 20)  # 800 x 600 take 6 MiB and more

    facts = pictures.inspect(path)
    preview = made.opened(pictures.upright_preview(path))

    assert (facts.width, facts.height, facts.viewable) == (800, 600, True)
    assert [warning.code for warning in facts.warnings] == ["too-large-to-decode"]
    assert "its preview is the small picture that it carries" in facts.warnings[0].message
    assert preview.size == (200, 150)
    difference = ImageChops.difference(preview.convert("L"), view.convert("L").resize((200, 150)))
    assert ImageStat.Stat(difference).mean[0] < 6
    with pytest.raises(PictureNotReadable, match="far too large"):
        pictures.upright_array(path)  # marks are counted in pixels of the whole picture
