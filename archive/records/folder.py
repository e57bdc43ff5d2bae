"""The archive folder: what lies in it, how it is made and how it is found."""

from __future__ import annotations

import os
import re
import secrets
import tomllib
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from archive.errors import (
    ArchiveTooNew,
    CannotMakeArchive,
    CouldNotWrite,
    FileNotThere,
    NoArchive,
    NotAnArchive,
)
from archive.records import durable, migrate, sqlite

LAYOUT = 1
SETTINGS_FILE = "rivetbook.toml"
VARIABLE = "RIVETBOOK_ARCHIVE"
_FOLDERS = ("visits", "removed", "set-aside", "previews", "index")


@dataclass(frozen=True, slots=True)
class Settings:
    """What `rivetbook.toml` says."""

    layout: int
    archive_id: str


def usual_folder() -> Path:
    """Return where an archive lies when nothing else is said."""
    return Path.home() / "Rivetbook"


def make_archive(folder: Path) -> None:
    """Make a new, empty archive; completes one whose making was cut off.

    The settings file is written last: a folder without it is no archive yet.
    """
    if folder.exists() and not folder.is_dir():
        raise CannotMakeArchive(str(folder), "a file of that name is there")
    if (folder / SETTINGS_FILE).exists():
        raise CannotMakeArchive(str(folder), "it already holds an archive, which was left as it is")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        strange = sorted(p.name for p in folder.iterdir() if not _left_by_a_cut_off_making(p))
        if strange:
            raise CannotMakeArchive(str(folder), f"it is not empty ('{strange[0]}' is there)")
        _fill(folder)
    except OSError as error:
        raise CouldNotWrite(str(folder), error.strerror or str(error)) from error


def _left_by_a_cut_off_making(path: Path) -> bool:
    """Tell whether making may go on over this: our empty folders, our database while nothing is in it."""
    if path.name in _FOLDERS:
        return path.is_dir() and not any(path.iterdir())
    if path.name == "archive.db":
        return path.is_file() and sqlite.holds_nothing(path)
    return path.name in ("archive.db-wal", "archive.db-shm") or path.name.startswith(durable.PART)


def _fill(folder: Path) -> None:
    for name in _FOLDERS:
        (folder / name).mkdir(exist_ok=True)
    database = folder / "archive.db"
    sqlite.create_database(database)
    migrate.run_migrations(database, wait_seconds=30)
    durable.sweep_parts(folder)
    settings = (
        "# This folder is a Rivetbook archive. Keep this file, archive.db, visits and removed together.\n"
        f'layout = {LAYOUT}\narchive_id = "{secrets.token_hex(16)}"\n'
    )
    durable.write_whole(folder / SETTINGS_FILE, settings.encode())


def locate(named: Path | None, *, start: Path | None = None) -> Path:
    """Return the archive's folder: the one named, else the environment's, else a parent of `start`, else the usual."""
    if named is not None:
        return check_is_archive(named)
    if os.environ.get(VARIABLE):
        return check_is_archive(Path(os.environ[VARIABLE]).expanduser())
    here = (start or Path.cwd()).resolve()
    for folder in (here, *here.parents, usual_folder()):
        if (folder / SETTINGS_FILE).is_file():
            return check_is_archive(folder)
    raise NoArchive(str(usual_folder()))


def check_is_archive(folder: Path) -> Path:
    """Return the folder if it is an archive; raises `FileNotThere` or `NotAnArchive` with the reason."""
    try:
        there, has_settings = folder.exists(), (folder / SETTINGS_FILE).is_file()
    except OSError as error:
        raise NotAnArchive(str(folder), f"it cannot be looked into ({error.strerror})") from error
    if not there:
        raise FileNotThere(str(folder), "archive folder")
    if not folder.is_dir():
        raise NotAnArchive(str(folder), "it is a file, not a folder")
    if not has_settings:
        raise NotAnArchive(str(folder), f"it has no file '{SETTINGS_FILE}'")
    if not (folder / "archive.db").is_file():
        raise NotAnArchive(
            str(folder), "its database 'archive.db' is missing; put it back from a copy of the archive"
        )
    return folder


def read_settings(folder: Path) -> Settings:
    """Read `rivetbook.toml`; raises `NotAnArchive` when it is not what this program writes."""
    try:
        found = tomllib.loads((folder / SETTINGS_FILE).read_text(encoding="utf-8"))
        settings = Settings(int(found["layout"]), str(found["archive_id"]))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as error:
        raise NotAnArchive(str(folder), f"its file '{SETTINGS_FILE}' cannot be read") from error
    if settings.layout > LAYOUT:
        raise ArchiveTooNew(str(folder), settings.layout, LAYOUT, "folder layout")
    return settings


def can_be_written(folder: Path) -> bool:
    """Tell whether new records can be written there."""
    return os.access(folder, os.W_OK) and os.access(folder / "archive.db", os.W_OK)


# What Windows forbids; and % which BagIt escapes in lists of checksums and `sha256sum -c` reads as it stands.
_FORBIDDEN = re.compile(r'[%<>:"/\\|?*\x00-\x1f\x7f-\x9f]')
_RESERVED = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])", re.IGNORECASE)
_LONGEST_BYTES = 120


def safe_file_name(name: str) -> str:
    """Return a file name that every disk takes: NFC, nothing that Windows forbids or reserves, not too long."""
    name = name.encode("utf-8", "replace").decode("utf-8")
    name = "".join(c for c in name if unicodedata.category(c) not in ("Cf", "Cs", "Cn"))
    name = _FORBIDDEN.sub("_", unicodedata.normalize("NFC", name))
    while (tidied := _tidied_ends(name)) != name:  # cutting one end can lay open another dot or space
        name = tidied
    return name


def _tidied_ends(name: str) -> str:
    stem, dot, ending = name.strip(" ").rstrip(". ").rpartition(".")
    if not stem or len(ending) > 10:
        stem, dot, ending = stem + dot + ending, "", ""
    room = _LONGEST_BYTES - len((dot + ending).encode())
    stem = _cut(stem, room) or "unnamed"
    if stem.startswith(".") or _RESERVED.fullmatch(stem.partition(".")[0].strip()):
        stem = _cut(f"_{stem}", room)
    return stem + dot + ending


def _cut(stem: str, room_bytes: int) -> str:
    return stem.encode()[:room_bytes].decode("utf-8", "ignore").rstrip(" .")


def free_name(name: str, taken: Collection[str]) -> str:
    """Return `name`, or 'name (2)' and so on, so that its case-folded form is not among `taken`."""
    stem, dot, ending = name.rpartition(".")
    if not stem:
        stem, dot, ending = name, "", ""
    candidate, number = name, 1
    while path_key(candidate) in taken:
        number += 1
        candidate = f"{stem} ({number}){dot}{ending}"
    return candidate


def path_key(path: str) -> str:
    """Return the form in which paths are compared, so that no two differ by case or Unicode form alone."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFKC", path).casefold())


def visit_folder_name(name: str, first_day: str | None) -> str:
    """Return a readable folder name for a visit: '2023-06-17 wendle-basin'."""
    words = re.sub(r"[\W_]+", "-", unicodedata.normalize("NFKC", name).casefold()).strip("-")[:60].strip("-")
    return safe_file_name(f"{first_day or 'undated'} {words or 'visit'}")
