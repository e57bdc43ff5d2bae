"""Typing commands into a sample folder: an archive of two visits, a card with a new photo."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import ExitStack, closing
from itertools import count
from pathlib import Path
from unittest.mock import patch

from click.testing import CliRunner, Result
from made_pictures import exif_block, jpeg_bytes, upright_scene, with_exif

from archive.cli import main
from archive.records.names import LETTERS

READING_ID = "r0000000002"  # of the one reading, for what is entered here has its ids by count
CHECK_ID = "k0000000001"  # of the one check

POST_SHEET = b"""
method = "square on"
photo = "HC20_0415"
subject = "Wharf crane"
marks = { a = [5, 40], b = [115, 40], c = [20, 5], d = [20, 75] }
known = [{ from = "a", to = "b", dimension = "jib length" }]
asked = [{ from = "c", to = "d", label = "hook drop", lies = "in the plane" }]
"""


def photo_bytes(number: int, taken: str = "2023:06:17 10:14:31") -> bytes:
    """A small photo like no other."""
    return with_exif(
        jpeg_bytes(upright_scene(120 + number, 80)),
        exif_block({0x010F: (2, "Halden"), 0x0110: (2, "Halden C20")}, {0x9003: (2, taken)}),
    )


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words), prog_name="rivetbook")


def _put(file: Path, content: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(content)


def make_sample(here: Path) -> None:
    """Fill the folder through the command line, as a person would."""
    _put(here / "june" / "HC20_0412.JPG", photo_bytes(0))
    _put(here / "june" / "HC20_0415.JPG", photo_bytes(1))
    _put(here / "september" / "HC20_0412.JPG", photo_bytes(2, "2024:09:08 15:02:16"))
    _put(here / "card" / "HC20_0500.JPG", photo_bytes(3))
    _put(here / "a file.txt", b"kept")
    _put(here / "crane.txt", "with: long tape\npost height = 9ft 0in\nroof angle = 42°  # by eye\n".encode())
    _put(here / "old notes.txt", b"post height = 9ft 0in\nroof angle = 42\xb0\n")  # in Latin-1
    _put(here / "post.toml", POST_SHEET)
    ids = count(1)
    counted = {
        "archive.records.sizes.new_public_id": lambda sort: f"{LETTERS[sort]}{next(ids):010}",
        "archive.records.checks.new_public_id": lambda sort: CHECK_ID,
    }
    with ExitStack() as patches:
        for name, new in counted.items():
            patches.enter_context(patch(name, new))
        _type_sample(here)
    shutil.rmtree(here / "june")
    shutil.rmtree(here / "september")


def _type_sample(here: Path) -> None:
    archive = str(here / "archive")
    for words in (
        ("new", archive),
        ("--archive", archive, "import", str(here / "june"), "--visit", "Wendle Basin, June"),
        ("--archive", archive, "import", str(here / "september"), "--visit", "Wendle Basin, September"),
        ("--archive", archive, "subject", "add", "Wharf crane", "--kind", "crane", "--place", "Wendle Basin",
         "--also", "big crane"),
        ("--archive", archive, "kind", "add", "wharf derrick", "--under", "crane"),
        ("--archive", archive, "link", "HC20_0415", "--to", "Wharf crane", "--view", "right side"),
        ("--archive", archive, "instrument", "add", "long tape", "--kind", "tape", "--resolution", "1mm"),
        ("--archive", archive, "size", "add", "Wharf crane", "jib length", "18ft 6in", "--with", "long tape"),
        ("--archive", archive, "size", "add", "Wharf crane", "base width", "2ft 6in"),
        ("--archive", archive, "size", "add", "Wharf crane", "base half", "1ft 3in"),
        ("--archive", archive, "tally", "add", "Wharf crane", "2 x base half = base width"),
        ("--archive", archive, "derive", str(here / "post.toml")),
        ("--archive", archive, "build", "add", "Crane in 7 mm", "--scale", "1:43.5", "--subject", "Wharf crane"),
        ("--archive", archive, "instrument", "add", "folding rod", "--kind", "rod"),
        ("--archive", archive, "instrument", "check", "folding rod", "--reference", "2743mm ± 1mm", "--reading", "2745mm"),
        ("--archive", archive, "instrument", "usual", "phone", "--limit", "± 20 mm", "--why", "tried at home"),
        ("--archive", archive, "subject", "add", "Lock gate"),
        ("--archive", archive, "find", "crane", "--keep-as", "Cranes"),  # so that the search index is there
    ):  # fmt: skip
        result = run(*words)
        assert result.exit_code == 0, (words, result.output)


def everything_in(folder: Path) -> dict[str, object]:
    """Every file's bytes, and what the database says; its own files may differ in how they say it."""
    found: dict[str, object] = {}
    for path in sorted(folder.rglob("*")):
        if path.name.startswith("archive.db"):
            continue
        found[str(path.relative_to(folder))] = path.read_bytes() if path.is_file() else None
    for database in folder.rglob("archive.db"):
        found[str(database.relative_to(folder))] = _dumped(database)
    return found


def _dumped(database: Path) -> object:
    try:
        with closing(sqlite3.connect(f"{database.as_uri()}?mode=ro", uri=True)) as opened:
            return [*opened.iterdump(), opened.execute("PRAGMA user_version").fetchone()]
    except sqlite3.Error:
        return database.read_bytes()  # no database (any more): then its very bytes
