"""What a picture file is and says about itself, without decoding it."""

from __future__ import annotations

from pathlib import PurePath

from archive.pictures.decode import MOST_WORKING_BYTES, PREVIEW_PX, too_large
from archive.pictures.facts import Looked, MetadataBlocks, PictureFacts
from archive.pictures.look import look, orientation_of, turn_of
from archive.pictures.views import PathOrName, open_view


def inspect(path: PathOrName, page: int = 0) -> PictureFacts:
    """What the file is: format, size, how to turn it, and what is wrong with it; `page` counts from 0.

    Reads headers only, and for a JPEG whose end is not in its last bytes the rest of the file once, in
    pieces of 1 MiB. Raises PictureNotReadable for an empty file or one that is no picture, with a plain
    reason; a damaged or far too large picture has facts, `viewable` False and a warning instead, because
    its file is worth keeping. An `OSError` of the file system passes through.
    """
    with open_view(path) as view:
        return _facts(look(view, PurePath(path).name, page))


def metadata_blocks(path: PathOrName) -> MetadataBlocks:
    """The EXIF, XMP and IPTC blocks, as bytes that nobody has trusted yet; raises as `inspect` does."""
    with open_view(path) as view:
        looked = look(view, PurePath(path).name)
        return MetadataBlocks(
            looked.exif,
            looked.xmp,
            looked.iptc,
            looked.width,
            looked.height,
            looked.damage,
            looked.more_xmp,
        )


def _facts(looked: Looked) -> PictureFacts:
    viewable = looked.pixels is not None
    if looked.pixels and too_large(looked.pixels, PREVIEW_PX):
        viewable = looked.thumbnail is not None
        preview = "its preview is the small picture that it carries" if viewable else "without a preview"
        megapixels = looked.pixels.width * looked.pixels.height / 1e6
        looked.warn(
            "too-large-to-decode",
            f"The picture is far too large to decode safely ({megapixels:.0f} megapixels; decoding may take "
            f"{MOST_WORKING_BYTES >> 20} MiB at most). It is kept as it is, {preview}.",
        )
    turn = turn_of(looked)
    shown = (looked.clean_width or looked.width, looked.clean_height or looked.height)
    upright = shown if turn < 5 else shown[::-1]
    return PictureFacts(
        format=looked.format,
        media=looked.media,
        stored_width=looked.width,
        stored_height=looked.height,
        width=upright[0],
        height=upright[1],
        orientation=orientation_of(looked),
        turn=turn,
        frames=looked.frames,
        viewable=viewable,
        warnings=tuple(looked.warnings),
        paper_mm=looked.paper_mm,
    )
