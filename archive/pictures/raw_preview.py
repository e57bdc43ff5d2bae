"""What a raw file is shown by: the largest JPEG that it carries, else a rendering, where the part for that is installed."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from typing import IO, BinaryIO, cast

from PIL import Image

from archive.pictures import jpeg
from archive.pictures.facts import Looked, Pixels
from archive.pictures.views import Stitched, View

_ENOUGH_PX = 1000  # a preview with such a side is as good as a rendering to look at
TINY_PX = 320
"""A picture with no longer side shows hardly more than that there is one."""
_BYTES_PER_PIXEL = 16  # the sensor's values, four colours of 16 bits, and the picture
_TO_RENDER = "install the part that renders raw files (pip install 'rivetbook[raw]') and import it again"


def show(looked: Looked, file: View, candidates: Sequence[View], *, whole: bool = True) -> None:
    """Show a raw file by the largest whole JPEG among the candidates.

    Where that is small or missing, a `whole` file is rendered, or it is told how that could be.
    """
    best = _largest(candidates)
    if best is not None:
        view, layout = best
        looked.width, looked.height = layout.width, layout.height
        looked.colour_profile = jpeg.colour_profile(view, layout)
        looked.pixels = jpeg.pixels(view, layout)
        if max(layout.width, layout.height) >= _ENOUGH_PX:
            return
    rendering = _rendering(file) if whole else None
    if rendering is not None:
        looked.width, looked.height = rendering.width, rendering.height
        looked.colour_profile = None
        looked.pixels = rendering
        return
    see = "" if find_spec("rawpy") or not whole else f" To see it in full, {_TO_RENDER}."
    if best is None:
        looked.warn(
            "no-preview",
            f"This raw file carries no preview that can be used. It is kept as it is, and what it says was read.{see}",
        )
    elif max(best[1].width, best[1].height) < TINY_PX:
        looked.warn(
            "small-preview",
            f"This raw file carries only a small preview ({looked.width} × {looked.height} px). It is kept as it is.{see}",
        )


def _largest(candidates: Sequence[View]) -> tuple[View, jpeg.JpegLayout] | None:
    best: tuple[View, jpeg.JpegLayout] | None = None
    for view in candidates:
        layout = jpeg.read_layout(view)
        if layout is None or not layout.decodable or not jpeg.is_complete(view, layout):
            continue
        if layout.area > (best[1].area if best else 0):
            best = view, layout
    return best


def _rendering(file: View) -> Pixels | None:
    """How to render a raw file; None where nothing can, or it is damaged or of an unknown make."""
    if find_spec("rawpy") is None:
        return None
    import rawpy

    pieces: list[tuple[int, int] | bytes] = [(0, file.size)]
    try:
        with rawpy.imread(cast("BinaryIO", Stitched(file, pieces))) as raw:
            width, height = raw.sizes.width, raw.sizes.height
    except Exception:  # its reader may fail in any way on hostile bytes
        return None
    if not width or not height:
        return None
    return Pixels("RAW", file, pieces, width, height, _BYTES_PER_PIXEL, fixed_bytes=2 * file.size)


def rendered(stream: IO[bytes], pixels: Pixels, longest_px: int | None) -> Image.Image:
    """The picture of a raw file in sRGB, as stored, at half its size where that is enough; a decoder as the others are."""
    import rawpy

    half = longest_px is not None and 2 * longest_px <= max(pixels.width, pixels.height)
    with rawpy.imread(cast("BinaryIO", stream)) as raw:
        return Image.fromarray(raw.postprocess(half_size=half, user_flip=0, use_camera_wb=True, output_bps=8))
