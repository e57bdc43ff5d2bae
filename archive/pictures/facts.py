"""What is known of a picture without decoding it."""

from __future__ import annotations

from dataclasses import dataclass, field

from archive.pictures.views import View

RAW_FORMATS = frozenset(
    ["DNG", "CR2", "CR3", "NEF", "RAF", "ARW", "ORF", "RW2", "PEF", "SRW", "CRW", "X3F", "MRW", "RAW"]
)


@dataclass(frozen=True, slots=True)
class PictureWarning:
    """Something about a picture that its owner should know; the code is stable."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class PictureFacts:
    """What a picture file is.

    `format` ('JPEG', 'PNG', 'HEIC', 'CR2'...) and `media` (its media type) come from the content, never
    from the name. `stored_width` and `stored_height` are pixels as coded, `width` and `height` after the
    picture has been turned upright once; None where the file does not say. `orientation` is the EXIF
    value, 1 to 8, or None; `turn` is what is really applied, by the same numbers, whether EXIF, XMP or
    the container asked for it. `frames` counts pages or pictures of equal rank, of which this is one;
    `paper_mm` is the size on paper of a PDF page.
    `viewable` is False when no preview can be made; the warnings then say why.
    """

    format: str
    media: str
    stored_width: int | None
    stored_height: int | None
    width: int | None
    height: int | None
    orientation: int | None
    turn: int
    frames: int
    viewable: bool
    warnings: tuple[PictureWarning, ...]
    paper_mm: tuple[float, float] | None = None

    @property
    def is_raw(self) -> bool:
        """Whether it is what a sensor saw, which a picture beside it may show better."""
        return self.format in RAW_FORMATS


@dataclass(frozen=True, slots=True)
class MetadataBlocks:
    """The metadata of a file as blocks of bytes, each None when the file has none.

    `exif` begins with its TIFF header; `xmp` is the XML packet and `more_xmp` one that it goes on in; `iptc` is the IIM record data; `stored_width`
    and `stored_height` are the container's own word on the size, px.
    """

    exif: bytes | None = None
    xmp: bytes | None = None
    iptc: bytes | None = None
    stored_width: int | None = None
    stored_height: int | None = None
    damage: tuple[str, ...] = ()
    more_xmp: bytes | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """Some whole rows of a picture as a file of their own; `pieces` are those of `Stitched`."""

    rows: int
    pieces: tuple[tuple[int, int] | bytes, ...]


@dataclass(frozen=True, slots=True)
class Pixels:
    """Where a decoder finds the coded picture, and what decoding takes.

    `decoder` names the codec; `pieces` and `padding` are those of `Stitched`. Decoding to one
    `1/scale` of the size takes `fixed_bytes + bytes_per_pixel * pixels / scale**2`.
    """

    decoder: str
    view: View
    pieces: list[tuple[int, int] | bytes]
    width: int
    height: int
    bytes_per_pixel: int = 4
    fixed_bytes: int = 0
    scales: bool = False  # the codec can decode to 1/2, 1/4 and 1/8
    padding: bytes = b""
    any_size: bool = False  # it is drawn, at whatever size is asked
    upright: bool = False  # the codec itself turns the picture, as its container asks
    page: int = 0  # as the codec counts
    bands: tuple[Band, ...] = ()  # the picture in parts that can be decoded one by one


@dataclass(slots=True)
class Looked:
    """Everything that one walk through a file's container found."""

    format: str
    media: str
    width: int | None = None
    height: int | None = None
    container_turn: int | None = None  # HEIC and AVIF: the container's word, 1 when it asks for nothing
    paper_mm: tuple[float, float] | None = None
    clean_width: int | None = None  # after a crop that the container asks for
    clean_height: int | None = None
    frames: int = 1
    exif: bytes | None = None
    xmp: bytes | None = None
    more_xmp: bytes | None = None
    iptc: bytes | None = None
    colour_profile: bytes | None = None
    pixels: Pixels | None = None
    thumbnail: Pixels | None = (
        None  # the small picture that it carries, for where it cannot be decoded itself
    )
    damage: tuple[str, ...] = ()
    warnings: list[PictureWarning] = field(default_factory=list)

    def warn(self, code: str, message: str) -> None:
        """Note something for the owner."""
        self.warnings.append(PictureWarning(code, message))
