"""Tell films, sounds and texts by their content, for what lies beside pictures; they are never opened further."""

from __future__ import annotations

from typing import Literal

from archive.pictures.not_pictures import is_text
from archive.pictures.views import PathOrName, View, open_view

_SOUND_BRANDS = {b"M4A ", b"M4B ", b"M4P ", b"F4A "}  # of files of the ISO base media form (ISO 14496-12)
_SOUND_MARKS = (
    b"ID3",
    b"fLaC",
    b"OggS",
    b"#!AMR",
    b"caff",
    b"\xff\xfb",
    b"\xff\xf3",
    b"\xff\xf1",
    b"\xff\xf9",
)
_FILM_MARKS = (b"\x1aE\xdf\xa3", b"\x00\x00\x01\xba", b"\x00\x00\x01\xb3", b"FLV\x01")
_WINDOWS_MEDIA = b"\x30\x26\xb2\x75\x8e\x66\xcf\x11"

Sort = Literal["film", "sound", "text"]


def film_sound_or_text(path: PathOrName) -> Sort | None:
    """Say whether a file that is no picture is a film, a sound or a text, or none of them."""
    with open_view(path) as view:
        return _sort_of(view)


def _sort_of(view: View) -> Sort | None:
    head = view.at(0, 1024)
    if head[:4] == b"RIFF":
        return {b"WAVE": "sound", b"AVI ": "film"}.get(head[8:12])  # type: ignore[return-value]
    if head[:4] == b"FORM":
        return "sound" if head[8:12] in (b"AIFF", b"AIFC") else None
    if head[4:8] == b"ftyp":
        return "sound" if head[8:12] in _SOUND_BRANDS else "film"
    if head[4:8] in (b"moov", b"mdat", b"wide"):
        return "film"
    if head.startswith(_SOUND_MARKS):
        return "sound"
    if head.startswith((*_FILM_MARKS, _WINDOWS_MEDIA)) or _is_transport_stream(head):
        return "film"
    return "text" if is_text(head) else None


def _is_transport_stream(head: bytes) -> bool:
    """Packets of 188 bytes, or of 192 with a time before each, all begin with one mark (ISO 13818-1)."""
    return any(
        len(head) > at + 3 * step and all(head[at + n * step] == 0x47 for n in range(4))
        for at, step in ((0, 188), (4, 192))
    )
