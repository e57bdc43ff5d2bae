"""Say in plain words what a file is that is not a picture."""

from __future__ import annotations

from archive.pictures.views import View

_KNOWN = (
    (b"PK\x03\x04", "it is a ZIP file"),
    (b"%PDF-", "it is a PDF file that cannot be read"),
    (b"GIF8", "it is a GIF, which is not read here; save it as PNG"),
    (b"BM", "it is a BMP picture, which is not read here; save it as PNG"),
    (b"\xff\x0a", "it is a JPEG XL picture, which is not read here; save it as JPEG or PNG"),
    (b"\0\0\0\x0cJXL ", "it is a JPEG XL picture, which is not read here; save it as JPEG or PNG"),
    (b"\0\0\0\x0cjP  ", "it is a JPEG 2000 picture, which is not read here; save it as JPEG or PNG"),
    (b"\xff\x4f\xff\x51", "it is a JPEG 2000 picture, which is not read here; save it as JPEG or PNG"),
    (b"8BPS", "it is a layered working file, which is not read here; save it as TIFF, PNG or JPEG"),
    (b"\x7fELF", "it is a program"),
    (b"MZ", "it is a program"),
    (b"\x1f\x8b", "it is a compressed file"),
    (b"7z\xbc\xaf", "it is a compressed file"),
    (b"Rar!", "it is a compressed file"),
    (b"OggS", "it is a sound or film file"),
    (b"ID3", "it is a sound file"),
    (b"fLaC", "it is a sound file"),
    (b"\x1aE\xdf\xa3", "it is a film"),
    (b"SQLite format 3\0", "it is a database"),
    (b"\xd0\xcf\x11\xe0", "it is an office document"),
)


def reason(view: View) -> str:
    """Why a file that no reader recognised is left out."""
    head = view.at(0, 4096)
    if head[:2] != b"BM" or view.size >= 54:
        for mark, what in _KNOWN:
            if head.startswith(mark) and not (len(mark) == 2 and is_text(head)):
                return f"it is not a picture: {what}" if "not read here" not in what else what
    if head[:4] == b"RIFF":
        return "it is not a picture: it is a sound or film file"
    if head[4:8] == b"ftyp" or head[4:8] in (b"moov", b"mdat"):
        return "it is not a picture: it is a film or sound file"
    if not head.strip(b"\0") or not head.strip(b"\xff"):
        return "it is not a picture: it holds nothing, as after a failed copy"
    if is_text(head):
        return "it is not a picture: it is a text file"
    return "it is not a picture of a kind that is known here"


def is_text(head: bytes) -> bool:
    """Tell whether a file that begins so is a text."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return True
    if b"\0" in head:
        return False
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as problem:
        if problem.start < len(head) - 4:  # a character cut by the end of the look is no fault
            text = head.decode("cp1252", "replace")
        else:
            text = head[: problem.start].decode("utf-8")
    strange = sum(
        1
        for character in text
        if (ord(character) < 32 and character not in "\t\r\n\f") or character == "\ufffd"
    )
    return bool(text) and strange <= len(text) / 100
