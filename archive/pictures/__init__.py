"""Pictures: opens images, bounded and upright; the only place that does.

A picture is recognised by its content, its container is walked once by readers that trust nothing, and
the decoder is handed the coded pixels alone. `inspect` says what a file is, `metadata_blocks` hands out its
EXIF, XMP and IPTC blocks for others to read, `upright_preview`, `upright_copy_without_metadata` and
`upright_array` give the picture itself; `fingerprint` tells one that looks the same. What cannot be had raises `archive.errors.PictureNotReadable`.
"""

from __future__ import annotations

from archive.pictures.decode import MOST_WORKING_BYTES
from archive.pictures.facts import MetadataBlocks, PictureFacts, PictureWarning
from archive.pictures.films import film_sound_or_text
from archive.pictures.inspection import inspect, metadata_blocks
from archive.pictures.likeness import fingerprint
from archive.pictures.raw_preview import TINY_PX
from archive.pictures.render import upright_array, upright_copy_without_metadata, upright_preview

__all__ = [
    "MOST_WORKING_BYTES",
    "TINY_PX",
    "MetadataBlocks",
    "PictureFacts",
    "PictureWarning",
    "film_sound_or_text",
    "fingerprint",
    "inspect",
    "metadata_blocks",
    "upright_array",
    "upright_copy_without_metadata",
    "upright_preview",
]
