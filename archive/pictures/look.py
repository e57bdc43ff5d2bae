"""Recognise a picture by its content and walk its container once."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import PurePath

from archive.errors import PictureNotReadable
from archive.pictures import jpeg, not_pictures, png, tiff
from archive.pictures.blocks import first_exif, unwrapped_iptc
from archive.pictures.canon import look_at_canon
from archive.pictures.facts import Looked, Pixels
from archive.pictures.heif import look_at_items
from archive.pictures.pdf import look_at_pdf
from archive.pictures.raw import look_at_fuji, look_at_own_forms, look_at_tiff
from archive.pictures.views import View
from archive.pictures.webp import look_at_webp

_CUT_OFF = "The file is damaged: it is cut off. It is kept as it is, and what can be decoded is shown."
_XMP_ORIENTATION = re.compile(rb"tiff:Orientation\s*(?:=\s*[\"']|>)\s*([1-8])\s*[\"'<]")
# Endings that belong to each kind of content; an ending that stands nowhere says nothing.
_ENDINGS = {
    "JPEG": "jpg jpeg jpe jfif mpo thm",
    "PNG": "png apng",
    "WEBP": "webp",
    "TIFF": "tif tiff",
    "HEIC": "heic heif hif heics heifs",
    "AVIF": "avif avifs",
    "PDF": "pdf",
    "DNG": "dng",
    "CR2": "cr2",
    "CR3": "cr3",
    "NEF": "nef nrw",
    "RAF": "raf",
    "ARW": "arw sr2 srf",
    "ORF": "orf",
    "RW2": "rw2",
    "PEF": "pef",
    "SRW": "srw",
    "CRW": "crw",
    "X3F": "x3f",
    "MRW": "mrw",
}


def look(view: View, name: str, page: int = 0) -> Looked:
    """What the file is and holds, of which `page` (from 0) is meant.

    Raises PictureNotReadable with a plain reason when it is no picture, or has no such page.
    """
    if view.size == 0:
        raise PictureNotReadable(name, "the file is empty")
    looked = _recognised(view, page)
    if looked is None:
        raise PictureNotReadable(name, not_pictures.reason(view))
    pages = looked.frames if looked.format in ("PDF", "TIFF") else 1
    if not 0 <= page < max(pages, 1):
        raise PictureNotReadable(name, f"it has no page {page + 1}; its pages are 1 to {pages}")
    _compare_with_name(looked, name)
    return looked


def _recognised(view: View, page: int) -> Looked | None:
    for reader in _SINGLE:
        looked = reader(view)
        if looked is not None:
            return looked
    return look_at_pdf(view, page) or look_at_tiff(view, page)


def orientation_of(looked: Looked) -> int | None:
    """The EXIF orientation of the first directory, 1 to 8, else None."""
    tree = tiff.read_tree(looked.exif) if looked.exif else None
    value = tree.integer(tree.first("main"), tiff.ORIENTATION) if tree else None
    return value if value is not None and 1 <= value <= 8 else None


def turn_of(looked: Looked) -> int:
    """How to turn the stored picture upright, as an EXIF orientation number.

    One voice is heard: the container's where it has one (HEIC, AVIF), else EXIF, else XMP.
    """
    if looked.container_turn is not None:
        return looked.container_turn
    plain = (looked.xmp or b"").replace(b"\0", b"")  # also of a packet in UTF-16
    asked = re.search(_XMP_ORIENTATION, plain)
    return orientation_of(looked) or (int(asked[1]) if asked else 1)


def _compare_with_name(looked: Looked, name: str) -> None:
    ending = PurePath(name).suffix[1:].lower()
    belongs = next((kind for kind, endings in _ENDINGS.items() if ending in endings.split()), None)
    if (
        belongs is not None
        and ending not in _ENDINGS.get(_ALIKE.get(looked.format, looked.format), "").split()
    ):
        looked.warn(
            "name-differs-from-content",
            f"The content is {looked.format} although the name says .{ending}; it was read as that.",
        )


_ALIKE = {"MPO": "JPEG"}


def look_at_jpeg(view: View) -> Looked | None:
    """A JPEG or multi-picture file; a file that ends before its picture begins has no pixels."""
    if view.at(0, 3) != b"\xff\xd8\xff":
        return None
    layout = jpeg.read_layout(view)
    looked = Looked("JPEG", "image/jpeg")
    if layout is None:
        looked.warn("cut-off", "The file is damaged: it ends before its picture begins. It is kept as it is.")
        return looked
    looked.width, looked.height = layout.width or None, layout.height or None
    jpeg.read_metadata(looked, view, layout)
    looked.colour_profile = jpeg.colour_profile(view, layout)
    looked.frames = jpeg.pictures_of_one_scene(view, layout)
    if looked.frames > 1:
        looked.format, looked.media = "MPO", "image/mpo"
    if layout.scan_at is None:
        looked.warn("cut-off", "The file is damaged: it ends before its picture begins. It is kept as it is.")
    elif not jpeg.is_complete(view, layout):
        looked.warn("cut-off", _CUT_OFF)
    if layout.scan_at is not None and layout.decodable and layout.width and layout.height:
        looked.pixels = jpeg.pixels(view, layout)
    elif layout.scan_at is not None:
        looked.warn("cannot-show", "This kind of JPEG cannot be shown here; the file is kept as it is.")
    return looked


def look_at_png(view: View) -> Looked | None:
    """A PNG; metadata after the pixels counts as well."""
    layout = png.read_layout(view)
    if layout is None:
        return None
    texts = png.texts(view, layout)
    looked = Looked("PNG", "image/png", layout.width or None, layout.height or None)
    profiles = {
        kind: png.raw_profile(texts.by_keyword.get(f"Raw profile type {kind}", b""))
        for kind in ("exif", "APP1", "xmp", "iptc", "8bim")
    }
    chunk = png.chunk_data(view, layout, b"eXIf")
    looked.exif = first_exif([chunk, profiles["exif"], profiles["APP1"]]) or chunk
    segment = profiles["APP1"] or b""
    looked.xmp = (
        texts.by_keyword.get("XML:com.adobe.xmp")
        or profiles["xmp"]
        or (segment.removeprefix(jpeg.XMP_MARK) if segment.startswith(jpeg.XMP_MARK) else None)
    )
    looked.iptc = unwrapped_iptc(profiles["iptc"] or profiles["8bim"] or b"")
    looked.colour_profile = png.colour_profile(view, layout)
    if texts.left_out:
        looked.warn("text-left-out", "A text in the file is far too large or damaged, and was left unread.")
    if not layout.complete:
        looked.warn("cut-off", _CUT_OFF)
    if layout.width and layout.height and any(chunk.name == b"IDAT" for chunk in layout.chunks):
        looked.pixels = Pixels(
            "PNG", view, png.pixel_pieces(layout), layout.width, layout.height, layout.bytes_per_pixel()
        )
    return looked


_SINGLE: tuple[Callable[[View], Looked | None], ...] = (
    look_at_jpeg,
    look_at_png,
    look_at_webp,
    look_at_items,
    look_at_canon,
    look_at_fuji,
    look_at_own_forms,
)
