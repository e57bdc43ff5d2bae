"""A sheet of pictures: every picture in its place, nothing overwritten, and what cannot be read keeps its name."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from archive.errors import CouldNotWrite, NotAccepted
from archive.packs.contact_sheet import MOST_PICTURES, Tile, write_contact_sheet

RED, BLUE = (200, 30, 30), (30, 30, 200)


@pytest.fixture
def red(tmp_path: Path) -> Path:
    return picture(tmp_path / "red.jpg", RED)


def picture(file: Path, colour: tuple[int, int, int], orientation: int = 1) -> Path:
    exif = Image.Exif()
    exif[0x0112] = orientation
    Image.new("RGB", (800, 600), colour).save(file, "JPEG", exif=exif)
    return file


def places_of(sheet: Image.Image, colour: tuple[int, int, int]) -> tuple[int, int, int, int] | None:
    """The box that holds every pixel near the colour."""
    near = (np.abs(np.asarray(sheet).astype(int) - colour).max(axis=2) < 25).astype(np.uint8)
    return Image.fromarray(near).getbbox()


def test_each_picture_stands_in_its_place_whole_and_unstretched(tmp_path: Path, red: Path) -> None:
    blue = picture(tmp_path / "blue.jpg", BLUE)
    file = tmp_path / "sheet.jpg"

    assert write_contact_sheet(file, "posts", [Tile("One", "a", red), Tile("Two", "b", blue)]) == 2

    with Image.open(file) as sheet:
        left, top, right, bottom = places_of(sheet, RED) or (0, 0, 0, 0)
        beside = places_of(sheet, BLUE)
    assert (right - left) / (bottom - top) == pytest.approx(4 / 3, abs=0.02)  # 800 to 600
    assert beside is not None
    assert beside[0] > right  # to the right of the first


def test_a_picture_is_upright(tmp_path: Path) -> None:
    file = tmp_path / "sheet.jpg"
    write_contact_sheet(file, "", [Tile("Turned", "", picture(tmp_path / "turned.jpg", RED, orientation=6))])

    with Image.open(file) as sheet:
        left, top, right, bottom = places_of(sheet, RED) or (0, 0, 0, 0)
    assert (right - left) / (bottom - top) == pytest.approx(3 / 4, abs=0.02)


def test_what_cannot_be_read_leaves_its_place_empty(tmp_path: Path, red: Path) -> None:
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"no picture at all")
    tiles = [
        Tile("Broken", "", broken),
        Tile("Gone", "", tmp_path / "gone.jpg"),
        Tile("None", "", None),
        Tile("Red", "", red),
    ]

    assert write_contact_sheet(tmp_path / "sheet.jpg", "", tiles) == 4
    with Image.open(tmp_path / "sheet.jpg") as sheet:
        assert places_of(sheet, RED) is not None


def test_long_names_and_any_script_do_not_burst_their_place(tmp_path: Path, red: Path) -> None:
    tiles = [Tile("Wharf crane " * 20, "κρένα кран 起重機 " * 30, red), Tile("x" * 500, "\x00\u202e", None)]

    assert write_contact_sheet(tmp_path / "sheet.jpg", "y" * 1000, tiles) == 2


def test_a_file_that_is_there_is_left_as_it_is(tmp_path: Path, red: Path) -> None:
    file = tmp_path / "sheet.jpg"
    file.write_bytes(b"kept")

    with pytest.raises(NotAccepted, match="left as it is"):
        write_contact_sheet(file, "", [Tile("Red", "", red)])
    assert file.read_bytes() == b"kept"


def test_a_sheet_without_pictures_another_ending_and_no_folder_are_refused(tmp_path: Path, red: Path) -> None:
    with pytest.raises(NotAccepted, match="nothing to put on a sheet"):
        write_contact_sheet(tmp_path / "sheet.jpg", "", [])
    with pytest.raises(NotAccepted, match=r"ends in \.jpg"):
        write_contact_sheet(tmp_path / "sheet.gif", "", [Tile("Red", "", red)])
    with pytest.raises(CouldNotWrite):
        write_contact_sheet(tmp_path / "no folder" / "sheet.jpg", "", [Tile("Red", "", red)])


def test_a_sheet_has_an_end(tmp_path: Path) -> None:
    tiles = [Tile(str(n), "", None) for n in range(MOST_PICTURES + 50)]

    assert write_contact_sheet(tmp_path / "sheet.jpg", "", tiles) == MOST_PICTURES
    assert Image.open(BytesIO((tmp_path / "sheet.jpg").read_bytes())).size[1] < 65_500  # what a JPEG can hold
