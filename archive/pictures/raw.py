"""TIFF pictures, and raw files of cameras: most are TIFF-structured too (TIFF 6.0, DNG 1.7)."""

from __future__ import annotations

from dataclasses import replace

from archive.pictures import jpeg, raw_preview, tiff
from archive.pictures.blocks import iptc_of_resources
from archive.pictures.decode import PREVIEW_PX, too_large
from archive.pictures.facts import Looked, Pixels
from archive.pictures.tiff_bands import bands_of
from archive.pictures.views import View

_WIDTH, _HEIGHT, _BITS, _COMPRESSION, _PHOTOMETRIC = 0x0100, 0x0101, 0x0102, 0x0103, 0x0106
_MAKE, _STRIPS, _STRIP_BYTES, _SAMPLES = 0x010F, 0x0111, 0x0117, 0x0115
_SUBFILE, _TILES, _TILE_BYTES = 0x00FE, 0x0144, 0x0145
_JPEG_AT, _JPEG_BYTES, _PANASONIC_JPEG, _DNG_VERSION = 0x0201, 0x0202, 0x002E, 0xC612
_XMP, _IPTC, _RESOURCES, _PROFILE = 0x02BC, 0x83BB, 0x8649, 0x8773
_CFA, _LINEAR_RAW = 32803, 34892
_RAW_COMPRESSIONS = frozenset({32767, 32769, 32770, 34713, 34892, 65000, 65535})
_BAND_BYTES_PER_PIXEL = 24  # as stored, decoded, in its mode for all, joined to what was left and cut
_MADE_SMALL_BYTES = 24  # of a pixel asked for: up to 2 x 2 of them are made first
_FUJI = b"FUJIFILMCCD-RAW "
# Raw forms that are told by the camera's maker: the start of its name, ours, the media type.
_MAKERS = (
    ("NIKON", "NEF", "image/x-nikon-nef"),
    ("SONY", "ARW", "image/x-sony-arw"),
    ("PENTAX", "PEF", "image/x-pentax-pef"),
    ("RICOH", "PEF", "image/x-pentax-pef"),
    ("SAMSUNG", "SRW", "image/x-samsung-srw"),
)


def look_at_tiff(view: View, page: int) -> Looked | None:
    """A page of a TIFF picture, or a TIFF-structured raw file, told apart by what their directories hold."""
    tree = tiff.read_tree(view)
    if tree is None:
        return None
    looked = _raw_kind(tree)
    if looked is None:
        looked = Looked("TIFF", "image/tiff")
        _show_tiff(looked, tree, page)
    else:
        whole = all(_reach(tree, directory) <= view.size for directory in tree.all("main", "sub"))
        raw_preview.show(looked, view, _previews(tree) or _jpegs_anywhere(view), whole=whole)
    main = tree.first("main")
    looked.exif = tiff.compact_block(tree) if main else None
    looked.damage = tuple(tree.damage)
    looked.xmp = _block(tree, main, _XMP)
    looked.iptc = _block(tree, main, _IPTC) or iptc_of_resources(_block(tree, main, _RESOURCES) or b"")
    return looked


def look_at_fuji(view: View) -> Looked | None:
    """A RAF file: a JPEG with all metadata, then the raw data."""
    if view.at(0, len(_FUJI)) != _FUJI:
        return None
    place = view.at(84, 8)
    inside = view.part(int.from_bytes(place[:4], "big"), int.from_bytes(place[4:], "big"))
    looked = Looked("RAF", "image/x-fuji-raf")
    layout = jpeg.read_layout(inside)
    if layout is not None:
        jpeg.read_metadata(looked, inside, layout)
    raw_preview.show(looked, view, [inside])
    return looked


# Raw forms of their own, by how they begin; each carries a JPEG, whose metadata are the photo's.
_OWN_FORMS = (
    (b"II\x1a\0\0\0HEAPCCDR", "CRW", "image/x-canon-crw"),
    (b"FOVb", "X3F", "image/x-sigma-x3f"),
    (b"\0MRM", "MRW", "image/x-minolta-mrw"),
)


def look_at_own_forms(view: View) -> Looked | None:
    """A raw file of a maker's own form, shown and described by the largest JPEG in it."""
    head = view.at(0, 16)
    for mark, kind, media in _OWN_FORMS:
        if head.startswith(mark):
            looked = Looked(kind, media)
            inside = _jpegs_anywhere(view)
            for each in inside:
                layout = jpeg.read_layout(each)
                if layout is not None and looked.exif is None:
                    jpeg.read_metadata(looked, each, layout)
            raw_preview.show(looked, view, inside)
            return looked
    return None


def _raw_kind(tree: tiff.Tree) -> Looked | None:
    head, main = tree.view.at(0, 12), tree.first("main")
    magic = int.from_bytes(head[2:4], tree.order)
    if magic in (0x4F52, 0x5352):
        return Looked("ORF", "image/x-olympus-orf")
    if magic == 0x55:
        return Looked("RW2", "image/x-panasonic-rw2")
    if head[8:10] == b"CR":
        return Looked("CR2", "image/x-canon-cr2")
    if main is not None and _DNG_VERSION in main.entries:
        return Looked("DNG", "image/x-adobe-dng")
    holds_raw = any(
        tree.integer(directory, _PHOTOMETRIC) in (_CFA, _LINEAR_RAW)
        or tree.integer(directory, _COMPRESSION) in _RAW_COMPRESSIONS
        for directory in tree.all("main", "sub")
    )
    if not holds_raw:
        return None
    make = tree.text(main, _MAKE).upper()
    for start, kind, media in _MAKERS:
        if make.startswith(start):
            return Looked(kind, media)
    return Looked("RAW", "image/x-raw")


def _block(tree: tiff.Tree, directory: tiff.Directory | None, tag: int) -> bytes | None:
    """A block's bytes; writers give IPTC the type of 4-byte numbers, whose bytes it is all the same."""
    entry = directory.entries.get(tag) if directory else None
    if entry is None or entry.length > 4 << 20:
        return None
    return tree.view.at(entry.value_at, entry.length) or None


def _previews(tree: tiff.Tree) -> list[View]:
    """The JPEG pictures that the directories point at."""
    found = []
    for directory in tree.all("main", "sub"):
        places = [(tree.integer(directory, _JPEG_AT), tree.integer(directory, _JPEG_BYTES))]
        strips, lengths = tree.integers(directory, _STRIPS), tree.integers(directory, _STRIP_BYTES)
        if len(strips) == len(lengths) == 1:
            places.append((strips[0], lengths[0]))
        panasonic = directory.entries.get(_PANASONIC_JPEG)
        if panasonic is not None:
            places.append((panasonic.value_at, panasonic.length))
        found += [tree.view.part(at, length) for at, length in places if at and length]
    return [view for view in found if view.at(0, 3) == b"\xff\xd8\xff"]


_MOST_FOUND = 64


def _jpegs_anywhere(view: View) -> list[View]:
    """Every place where a JPEG seems to begin: some makers point at their previews in private ways only."""
    found: list[View] = []
    at = view.find(b"\xff\xd8\xff", 0)
    while at >= 0 and len(found) < _MOST_FOUND:
        found.append(view.part(at))
        at = view.find(b"\xff\xd8\xff", at + 3)
    return found


def _show_tiff(looked: Looked, tree: tiff.Tree, page: int) -> None:
    pages = [d for d in tree.all("main") if _WIDTH in d.entries and not (tree.integer(d, _SUBFILE) or 0) & 1]
    if not pages:
        looked.warn("cut-off", "The file is damaged: no picture can be found in it. It is kept as it is.")
        return
    looked.frames = len(pages)
    shown = pages[page] if 0 <= page < len(pages) else pages[0]
    width, height = tree.integer(shown, _WIDTH), tree.integer(shown, _HEIGHT)
    looked.width, looked.height = width or None, height or None
    looked.colour_profile = _block(tree, shown, _PROFILE)
    if _reach(tree, shown) > tree.view.size:
        looked.warn(
            "cut-off",
            "The file is damaged: it is cut off. It is kept as it is, and what can be decoded is shown.",
        )
    if width and height:
        looked.pixels = _tiff_pixels(tree, shown, width, height)


def _tiff_pixels(tree: tiff.Tree, shown: tiff.Directory, width: int, height: int) -> Pixels:
    samples = max(tree.integer(shown, _SAMPLES) or 1, 1)
    deep = max(tree.integers(shown, _BITS) or (1,)) > 8
    whole = Pixels(
        decoder="TIFF",
        view=tree.view,
        pieces=_turned_off(tree, shown),
        width=width,
        height=height,
        bytes_per_pixel=11 if deep and samples == 1 else 1 if samples == 1 else 8,
        fixed_bytes=2 * tree.view.size,
        page=list(tree.all("main")).index(shown),
    )
    bands = bands_of(tree, shown) if too_large(whole, PREVIEW_PX) else ()
    if not bands:
        return whole
    largest = max(
        _BAND_BYTES_PER_PIXEL * width * band.rows
        + 2 * sum(len(p) if isinstance(p, bytes) else p[1] for p in band.pieces)
        for band in bands
    )
    return replace(
        whole,
        decoder="TIFF bands",
        bytes_per_pixel=_MADE_SMALL_BYTES,
        fixed_bytes=largest,
        any_size=True,
        bands=bands,
    )


def _reach(tree: tiff.Tree, directory: tiff.Directory | None) -> int:
    """The offset behind the last coded byte of a page."""
    ends = [0]
    for at_tag, bytes_tag in ((_STRIPS, _STRIP_BYTES), (_TILES, _TILE_BYTES)):
        ends += [
            at + length
            for at, length in zip(
                tree.integers(directory, at_tag), tree.integers(directory, bytes_tag), strict=False
            )
        ]
    return max(ends)


def _turned_off(tree: tiff.Tree, directory: tiff.Directory | None) -> list[tuple[int, int] | bytes]:
    """The file with the orientation of its first page set to 1: Pillow would turn it, and so would we."""
    entry = directory.entries.get(tiff.ORIENTATION) if directory else None
    if entry is None or entry.type != 3:
        return [(0, tree.view.size)]
    after = entry.value_at + 2
    return [(0, entry.value_at), (1).to_bytes(2, tree.order), (after, tree.view.size - after)]
