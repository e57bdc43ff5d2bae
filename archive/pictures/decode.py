"""Decode a picture within a stated amount of memory: the only calls of image decoders."""

from __future__ import annotations

import ctypes
import logging
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext, suppress
from functools import lru_cache
from typing import IO, cast

from PIL import Image, ImageFile, JpegImagePlugin, PngImagePlugin, _imaging

from archive.errors import PictureNotReadable, PictureTooLarge
from archive.pictures.facts import Looked, Pixels
from archive.pictures.pdf import drawn_page
from archive.pictures.raw_preview import rendered
from archive.pictures.tiff_bands import made_small
from archive.pictures.views import Stitched

MOST_WORKING_BYTES = 1280 << 20
"""No picture is decoded that would need more than this, bytes."""
PREVIEW_PX = 512
"""What a picture must allow to be made small to, so that it is called viewable."""
_LARGE_BYTES = 256 << 20
_one_large_at_a_time = threading.Lock()  # several workers share the machine's memory

_one_tiff_at_a_time = threading.Lock()

MOST_SIDE_PX = 100_000


def scale_for(pixels: Pixels, longest_px: int | None) -> int:
    """By how much the codec itself can reduce and still give `longest_px`: 1, 2, 4 or 8."""
    if longest_px is None or not pixels.scales:
        return 1
    return next((s for s in (8, 4, 2) if max(pixels.width, pixels.height) >= s * longest_px), 1)


def working_bytes(pixels: Pixels, longest_px: int | None, copies: int = 1) -> int:
    """Memory that decoding takes, bytes; `copies` further pictures of 3 bytes a pixel at the size asked for follow it."""
    reduced = pixels.width * pixels.height // scale_for(pixels, longest_px) ** 2
    if pixels.any_size and longest_px is not None:
        reduced = min(reduced, longest_px**2)
    asked_for = reduced if longest_px is None else min(reduced, longest_px**2)
    return pixels.fixed_bytes + reduced * pixels.bytes_per_pixel + 3 * copies * asked_for


def too_large(pixels: Pixels, longest_px: int | None, copies: int = 0) -> bool:
    """Whether decoding would take more memory than is ever used."""
    if max(pixels.width, pixels.height) > MOST_SIDE_PX * scale_for(pixels, longest_px):
        return True
    return working_bytes(pixels, longest_px, copies) > MOST_WORKING_BYTES


@contextmanager
def decoded(looked: Looked, name: str, longest_px: int | None, copies: int = 0) -> Iterator[Image.Image]:
    """The stored picture, not yet turned or in sRGB, perhaps already reduced towards `longest_px`.

    Raises PictureNotReadable when there is nothing to decode, or not within the stated memory. A
    picture that is cut off comes with what could be decoded.
    """
    pixels = looked.pixels
    if pixels is None:
        raise PictureNotReadable(name, "there is no picture in the file that can be shown")
    if too_large(pixels, longest_px, copies):
        raise PictureTooLarge(name, pixels.width * pixels.height / 1e6)
    large = working_bytes(pixels, longest_px, copies) > _LARGE_BYTES
    with _one_large_at_a_time if large else nullcontext():
        yield _decode(pixels, name, longest_px)


def _decode(pixels: Pixels, name: str, longest_px: int | None) -> Image.Image:
    _silence_decoders()
    stream = cast("IO[bytes]", Stitched(pixels.view, pixels.pieces, pixels.padding))
    with _quiet_tiff() if pixels.decoder.startswith("TIFF") else nullcontext():
        try:
            image = _OPENERS[pixels.decoder](stream, pixels, longest_px)
        except Exception as problem:  # a decoder may fail in any way on hostile bytes
            raise PictureNotReadable(
                name, "its picture is damaged or of a form that cannot be shown"
            ) from problem
        if image.width * image.height > pixels.width * pixels.height:
            raise PictureNotReadable(name, "its picture is damaged: it gives two different sizes")
        try:
            image.load()
        except Exception as problem:
            if isinstance(image, ImageFile.ImageFile):
                image.tile = []  # keep the rows that were decoded
            if not _shows_something(image):
                raise PictureNotReadable(name, "nothing of its damaged picture can be decoded") from problem
    return image


@contextmanager
def _quiet_tiff() -> Iterator[None]:
    """Pillow's TIFF reader warns of odd tags and has a size limit of its own: ours was applied already.

    Both are settings of the whole process, so one picture at a time.
    """
    with _one_tiff_at_a_time, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = limit


@lru_cache(maxsize=1)
def _silence_decoders() -> None:
    """Let decoders write nothing to the terminal: what is damaged is said by our warnings, to who can use it."""
    logging.getLogger("PIL").setLevel(logging.CRITICAL + 1)
    with suppress(OSError, AttributeError):  # where it is built in, it cannot be reached, and goes on writing
        say_nothing = ctypes.CDLL(_imaging.__file__).TIFFSetErrorHandler
        say_nothing.argtypes, say_nothing.restype = [ctypes.c_void_p], ctypes.c_void_p
        say_nothing(None)


def _shows_something(image: Image.Image) -> bool:
    try:
        return image.getbbox(alpha_only=False) is not None
    except Exception:  # not even memory for its rows was set aside
        return False


def _open_jpeg(stream: IO[bytes], pixels: Pixels, longest_px: int | None) -> Image.Image:
    image = JpegImagePlugin.JpegImageFile(stream)
    scale = scale_for(pixels, longest_px)
    if scale > 1:
        image.draft(None, (pixels.width // scale, pixels.height // scale))
    return image


def _open_png(stream: IO[bytes], *_: object) -> Image.Image:
    return PngImagePlugin.PngImageFile(stream)


def _open_webp(stream: IO[bytes], *_: object) -> Image.Image:
    from PIL import WebPImagePlugin

    return WebPImagePlugin.WebPImageFile(stream)


def _open_avif(stream: IO[bytes], *_: object) -> Image.Image:
    from PIL import AvifImagePlugin

    return AvifImagePlugin.AvifImageFile(stream)


def _open_heif(stream: IO[bytes], *_: object) -> Image.Image:
    import pillow_heif

    picture: Image.Image = pillow_heif.open_heif(stream, convert_hdr_to_8bit=True).to_pillow()
    return picture


def _open_tiff(stream: IO[bytes], pixels: Pixels, _: int | None) -> Image.Image:
    from PIL import TiffImagePlugin

    image = TiffImagePlugin.TiffImageFile(stream)
    if pixels.page:
        image.seek(pixels.page)
    return image


# The codec is chosen by our own look at the content; Pillow is never left to guess.
_OPENERS: dict[str, Callable[[IO[bytes], Pixels, int | None], Image.Image]] = {
    "JPEG": _open_jpeg,
    "PNG": _open_png,
    "WEBP": _open_webp,
    "AVIF": _open_avif,
    "HEIF": _open_heif,
    "TIFF": _open_tiff,
    "TIFF bands": made_small,
    "PDF": drawn_page,
    "RAW": rendered,
}
