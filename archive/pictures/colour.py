"""Bring any decoded picture to plain 8-bit sRGB."""

from __future__ import annotations

import io
from math import isfinite

from PIL import Image

_DEEP_MODES = ("I", "F", "I;16", "I;16L", "I;16B", "I;16N")
_COLOUR_SPACES = {"L": "GRAY", "RGB": "RGB ", "CMYK": "CMYK", "LAB": "Lab "}


def to_plain_8_bit(image: Image.Image) -> Image.Image:
    """The picture as L, RGB or CMYK with 8 bits: see-through parts on white, deep greys spread out.

    Greys of more than 8 bits are stretched from their own darkest to their own lightest value: scans
    and instruments use a small part of the range, and a plain shift would show them black.
    """
    if is_deep(image):
        image = _stretched(image)
    if image.mode == "1":
        return image.convert("L")
    if image.mode in ("P", "PA", "LA", "La", "RGBA", "RGBa") or "transparency" in image.info:
        return _on_white(image)
    return image if image.mode in _COLOUR_SPACES else image.convert("RGB")


def is_deep(image: Image.Image) -> bool:
    """Whether its greys have more than 8 bits, which only the whole picture tells how to spread."""
    return image.mode in _DEEP_MODES


def _stretched(image: Image.Image) -> Image.Image:
    whole = image if image.mode == "F" else image.convert("I")
    low, high = whole.getextrema()
    if not (isinstance(low, int | float) and isinstance(high, int | float)) or not isfinite(high - low):
        return whole.point(lambda value: value * 1 + 0).convert("L")
    if high <= low:
        return Image.new("L", image.size, 128 if high else 0)
    factor = 255 / (high - low)
    return whole.point(lambda value: value * factor + (0.5 - low * factor)).convert("L")


def _on_white(image: Image.Image) -> Image.Image:
    if "A" not in image.getbands() and "a" not in image.getbands() and "transparency" not in image.info:
        return image.convert("RGB")
    see_through = image.convert("RGBA")
    plain = Image.new("RGB", image.size, "white")
    plain.paste(see_through, mask=see_through.getchannel("A"))
    return plain


def to_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """An L, RGB or CMYK picture as sRGB (grey stays grey), by its colour profile where that is usable."""
    if profile and not _is_srgb(profile):
        converted = _by_profile(image, profile)
        if converted is not None:
            return converted
    return image if image.mode in ("L", "RGB") else image.convert("RGB")


def _is_srgb(profile: bytes) -> bool:
    """The common sRGB profiles by their name: converting them would only cost time."""
    return b"sRGB IEC61966" in profile or b"s\0R\0G\0B\0 \0I\0E\0C" in profile


def _by_profile(image: Image.Image, profile: bytes) -> Image.Image | None:
    from PIL import ImageCms  # loads the colour engine

    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if source.profile.xcolor_space != _COLOUR_SPACES.get(image.mode):
            return None
        return ImageCms.profileToProfile(
            image, source, ImageCms.createProfile("sRGB"), outputMode="L" if image.mode == "L" else "RGB"
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return None  # an empty or broken profile: the colours stay as stored
