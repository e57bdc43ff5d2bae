"""CR3 files, as their users have described them: metadata in parts, and the JPEG pictures that they are shown by."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from archive.pictures import raw_preview, tiff
from archive.pictures.boxes import boxes, brands, child
from archive.pictures.facts import Looked
from archive.pictures.views import View

_CANON = UUID("85c0b687-820f-11e0-8111-f4ce462b6a48").bytes
_PREVIEW = UUID("eaf42b5e-1c98-4b88-b9fb-b7dc406e4d16").bytes
_XMP = UUID("be7acfcb-97a9-42e8-9c71-999491e3afac").bytes
_MOST_XMP_BYTES = 4 << 20
_MAIN, _EXIF, _GPS = "CMT1", "CMT2", "CMT4"


def look_at_canon(view: View) -> Looked | None:
    """A CR3 raw file, shown by the largest JPEG that it carries."""
    if "crx " not in brands(view):
        return None
    parts = _read(view)
    looked = Looked("CR3", "image/x-canon-cr3")
    trees = [
        tiff.read_tree(parts.directories[name]) if name in parts.directories else None
        for name in (_MAIN, _EXIF, _GPS)
    ]
    known = next((tree for tree in trees if tree is not None), None)
    if known is not None:
        fields = [tiff.fields(tree, tree.first("main")) if tree else [] for tree in trees]
        looked.exif = tiff.block_of(known.order, *fields)
    looked.xmp = parts.xmp
    raw_preview.show(looked, view, parts.jpegs)
    return looked


@dataclass(frozen=True, slots=True)
class _Parts:
    """What a CR3 file keeps apart: EXIF directories as blocks of their own, XMP, and JPEG pictures."""

    directories: dict[str, View]  # 'CMT1' main, 'CMT2' EXIF, 'CMT4' GPS
    xmp: bytes | None
    jpegs: list[View]


def _read(view: View) -> _Parts:
    """The parts of a CR3 file; the pictures are the full-size one, the preview and the thumbnail."""
    directories: dict[str, View] = {}
    jpegs: list[View] = []
    xmp = None
    for box in boxes(view):
        if box.uuid == _XMP:
            xmp = box.content.at(0, _MOST_XMP_BYTES)
        elif box.uuid == _PREVIEW:
            jpegs += _jpegs_within(box.content)
        elif box.type == "moov":
            for inner in boxes(box.content):
                if inner.uuid == _CANON:
                    directories |= {
                        b.type: b.content for b in boxes(inner.content) if b.type.startswith("CMT")
                    }
                    jpegs += _jpegs_within(inner.content)
                elif inner.type == "trak":
                    jpegs += _first_sample(view, inner.content)
    return _Parts(directories, xmp, jpegs)


def _jpegs_within(view: View) -> list[View]:
    at = view.find(b"\xff\xd8\xff", 0)
    return [view.part(at)] if at >= 0 else []


def _first_sample(view: View, track: View) -> list[View]:
    """The first picture of a track, where that is a JPEG."""
    table = child(track, "mdia", "minf", "stbl")
    if table is None:
        return []
    sizes, long_offsets, offsets = child(table, "stsz"), child(table, "co64"), child(table, "stco")
    if sizes is None or (long_offsets or offsets) is None:
        return []
    at = long_offsets.integer(8, 8) if long_offsets else offsets.integer(8, 4) if offsets else 0
    size = sizes.integer(4, 4) or sizes.integer(12, 4)
    return [view.part(at, size)] if view.at(at, 3) == b"\xff\xd8\xff" else []
