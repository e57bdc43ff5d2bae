"""HEIC and AVIF: what their boxes say, and where the picture is."""

from __future__ import annotations

from archive.pictures import items
from archive.pictures.blocks import first_exif
from archive.pictures.boxes import boxes, brands
from archive.pictures.facts import Looked, Pixels
from archive.pictures.views import View

_STILL_BRANDS = frozenset(
    {"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "mif2", "msf1", "miaf", "avif", "avis"}
)
_HEVC_BRANDS = frozenset({"heic", "heix", "heim", "heis", "hevc", "hevx"})
_BYTES_PER_PIXEL = 14  # planes of up to 16 bits, the same as 8-bit colour, and a copy of it for Pillow


def look_at_items(view: View) -> Looked | None:
    """A HEIC, HIF or AVIF file. The container alone says how to turn it; EXIF's word is not heard."""
    found = brands(view)
    if not _STILL_BRANDS & set(found):
        return None
    file = items.read_items(view)
    primary = file.items.get(file.primary) if file else None
    if file is None or primary is None:
        return _without_picture("HEIC" if _HEVC_BRANDS & set(found) else "AVIF")
    coded = [file.items[n] for n in file.tiles(primary.number) if n in file.items] or [primary]
    avif = coded[0].type == "av01" or (coded[0].type != "hvc1" and found[0] in ("avif", "avis"))
    looked = Looked("AVIF", "image/avif") if avif else Looked("HEIC", "image/heic")
    size = items.size_of_item(primary)
    looked.width, looked.height = size or (None, None)
    looked.container_turn = items.turn_of_item(primary)
    looked.frames = file.pictures()
    looked.colour_profile = items.colour_profile_of_item(primary)
    exif = file.described_by(primary.number, "Exif")
    looked.exif = _exif_of_item(file.data(exif)) if exif else None
    xmp = file.described_by(primary.number, "mime", "application/rdf+xml")
    looked.xmp = file.data(xmp) if xmp else None
    if any(not item.in_data_box and item.reaches() > view.size for item in coded):
        _cut_off(looked)
        return looked
    if not all(box.whole for box in boxes(view)):
        looked.warn("cut-off", "The file is damaged: it is cut off behind its first picture, which is whole.")
    looked.pixels = _item_pixels(looked, file, primary)
    return looked


def _item_pixels(looked: Looked, file: items.ItemFile, primary: items.Item) -> Pixels | None:
    if not looked.width or not looked.height:
        return None
    heic = looked.format == "HEIC"
    if heic:  # libheif crops and turns as the container asks; Pillow's AVIF reader leaves both to its caller
        looked.clean_width, looked.clean_height = items.clean_size_of_item(primary) or (None, None)
        looked.thumbnail = _thumbnail_pixels(file, primary)
    return Pixels(
        decoder="HEIF" if heic else "AVIF",
        view=file.view,
        pieces=_patched(file.view, _no_metadata_items(file)),
        width=looked.width,
        height=looked.height,
        bytes_per_pixel=_BYTES_PER_PIXEL,
        fixed_bytes=2 * file.view.size,
        upright=heic,
    )


def _thumbnail_pixels(file: items.ItemFile, primary: items.Item) -> Pixels | None:
    """The picture's own small one: the same file, which then says that this is the picture."""
    found = file.thumbnail(primary.number)
    size = items.size_of_item(found[0]) if found else None
    if found is None or size is None:
        return None
    (item, reference_at), (at, wide) = found, file.primary_at
    says_so = {at: item.number.to_bytes(wide, "big"), reference_at: b"skip"}
    return Pixels(
        decoder="HEIF",
        view=file.view,
        pieces=_patched(file.view, _no_metadata_items(file) | says_so),
        width=size[0],
        height=size[1],
        bytes_per_pixel=_BYTES_PER_PIXEL,
        fixed_bytes=2 * file.view.size,
        upright=True,
    )


def _no_metadata_items(file: items.ItemFile) -> dict[int, bytes]:
    """The EXIF and XMP items renamed to a type that no decoder looks at, by where their types stand."""
    return {item.type_at: b"skip" for item in file.items.values() if item.type in ("Exif", "mime")}


def _patched(view: View, patches: dict[int, bytes]) -> list[tuple[int, int] | bytes]:
    """The file with other bytes in some places."""
    pieces: list[tuple[int, int] | bytes] = []
    at = 0
    for start, patch in sorted(patches.items()):
        pieces += [(at, start - at), patch]
        at = start + len(patch)
    return [*pieces, (at, view.size - at)]


def _exif_of_item(data: bytes) -> bytes | None:
    """An Exif item begins with the offset of its TIFF header (ISO/IEC 23008-12, A.2.1)."""
    start = 4 + int.from_bytes(data[:4], "big")
    return first_exif([data[start:], data[4:], data])


def _without_picture(kind: str) -> Looked:
    looked = Looked(kind, f"image/{kind.lower()}")
    _cut_off(looked)
    return looked


def _cut_off(looked: Looked) -> None:
    looked.warn(
        "cut-off", "The file is damaged: it is cut off, and no preview can be made. It is kept as it is."
    )
