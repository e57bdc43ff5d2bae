"""The list of checksums beside the originals, one a folder; derived from the records, so it may be written anew."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from sqlalchemy import select

from archive.records import durable
from archive.records import tables as t
from archive.records.changes import Look

MANIFEST = "manifest-sha256.txt"


def write_manifest(look: Look, folder: Path, place: str, *, part_begins: str = durable.PART) -> None:
    """Write the list of `place`, such as 'visits/2023-06-17 wendle-basin', if it says anything else than the records.

    A place that holds no originals has no list, and an empty folder goes with it.
    """
    manifest = folder.joinpath(*place.split("/"), MANIFEST)
    lines = files_in(look, place)
    content = "".join(f"{sha256}  {_escaped(name)}\n" for name, sha256 in sorted(lines)).encode()
    if not lines:
        manifest.unlink(missing_ok=True)
        with suppress(OSError):
            manifest.parent.rmdir()
    elif not manifest.exists() or manifest.read_bytes() != content:
        manifest.parent.mkdir(parents=True, exist_ok=True)
        durable.write_whole(manifest, content, part_begins)


def read_manifest(folder: Path, place: str) -> dict[str, str]:
    """Return what the list of `place` says: checksums by name; empty where there is none or it is no text."""
    try:
        lines = folder.joinpath(*place.split("/"), MANIFEST).read_bytes().decode("utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    pairs = (line.split("  ", 1) for line in lines)
    return {_unescaped(pair[1]): pair[0] for pair in pairs if len(pair) == 2}


def files_in(look: Look, place: str) -> list[tuple[str, str]]:
    """Return name and checksum of every file that the records know in `place`."""
    found = []
    for table in t.ON_DISK:
        inside = table.c.stored_path.startswith(f"{place}/", autoescape=True)
        for row in look.all(select(table.c.stored_path, table.c.sha256).where(inside)):
            parent, _, name = row.stored_path.rpartition("/")
            if parent == place:
                found.append((name, row.sha256))
    return found


def _escaped(path: str) -> str:
    """Line ends and % as RFC 8493 (BagIt) writes them in a manifest."""
    return path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _unescaped(path: str) -> str:
    return path.replace("%0A", "\n").replace("%0D", "\r").replace("%25", "%")
