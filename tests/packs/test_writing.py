from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pypdfium2
import pytest

from archive.errors import FolderInTheWay
from archive.packs.content import PackPhoto, PackSighting
from archive.packs.writing import copy_names, write_content


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_pack_holds_the_pdf_the_tables_and_the_photos(content, tmp_path):
    report = write_content(content, tmp_path / "pack")

    pack = tmp_path / "pack"
    assert sorted(path.name for path in pack.iterdir()) == [
        "README.txt",
        "dimensions.csv",
        "pack.json",
        "photos",
        "reference-pack.pdf",
    ]
    with pypdfium2.PdfDocument(pack / "reference-pack.pdf") as document:
        assert len(document) == report.pages
    with (pack / "dimensions.csv").open(encoding="utf-8", newline="") as stream:
        assert len(list(csv.DictReader(stream))) == report.sizes == len(content.sizes)
    listed = json.loads((pack / "pack.json").read_text(encoding="utf-8"))["photos"]
    assert {photo["copy"] for photo in listed} == {f"photos/{name}" for name in names_in(pack / "photos")}
    assert report.photos == len(listed) == len(content.photos)
    assert report.left_out == ()
    assert "front 1 P5_20230617_101431.jpg" in names_in(pack / "photos")
    assert names_in(tmp_path) == ["pack"]


def test_photos_are_upright_and_say_nothing_but_harmless_facts(content, tmp_path):
    from PIL import Image

    write_content(content, tmp_path / "pack")

    for photo in content.photos:
        with Image.open(tmp_path / "pack" / "photos" / copy_names(content.photos)[photo.id]) as copy:
            assert copy.format == "JPEG"
            assert copy.size == (photo.width, photo.height)
            assert not copy.getexif()
    originals = [photo.original.read_bytes() for photo in content.photos]
    copies = [path.read_bytes() for path in (tmp_path / "pack" / "photos").iterdir()]
    camera = b"Halden"  # the maker's name that the demo cameras write
    assert any(camera in data for data in originals)
    assert not any(camera in data for data in copies)
    assert all(b"A. Penrose" in data for data in copies)


def test_a_photo_that_cannot_be_read_is_left_out_by_name_and_the_pack_is_whole(content, tmp_path):
    broken, gone, *rest = content.photos
    (tmp_path / "broken.jpg").write_bytes(b"no picture at all")
    broken = replace(broken, original=tmp_path / "broken.jpg")
    gone = replace(gone, original=tmp_path / "gone.jpg")

    report = write_content(replace(content, photos=(broken, gone, *rest)), tmp_path / "pack")

    assert [left.file for left in report.left_out] == [broken.name, gone.name]
    assert all(left.reason for left in report.left_out)
    assert report.photos == len(rest) == len(names_in(tmp_path / "pack" / "photos"))


def test_an_existing_folder_is_refused_before_any_photo_is_read(content, tmp_path):
    (tmp_path / "pack").mkdir()

    with pytest.raises(FolderInTheWay):
        write_content(content, tmp_path / "pack", progress=lambda *told: pytest.fail("read a photo"))

    assert names_in(tmp_path / "pack") == []


def test_the_pack_says_how_far_it_is(content, tmp_path):
    told: list[tuple[str, int, int]] = []

    write_content(content, tmp_path / "pack", progress=lambda *now: told.append(now))

    assert told == [("photos", n, len(content.photos)) for n in range(1, len(content.photos) + 1)]


@pytest.mark.parametrize(
    ("name", "view", "expected"),
    [
        ("HC20_0412.JPG", "front", "front 1 HC20_0412.jpg"),
        ("HC20_0412.JPG", None, "photo 1 HC20_0412.jpg"),
        ("a/b\\c:d?.jpg", "left side", "left side 1 b_c_d_.jpg"),
        ("Café ½.heic", "top", "top 1 Café ½.jpg"),
    ],
)
def test_copies_have_names_that_people_can_read_and_every_disk_takes(content, name, view, expected):
    photo = replace(content.photos[0], name=name, sightings=(PackSighting("hut", view),))

    assert list(copy_names([photo]).values()) == [expected]


def test_copies_of_photos_with_one_name_do_not_overwrite_one_another(content):
    photos = [
        PackPhoto(f"p{n}", "DSC_1.jpg", content.photos[0].original, 10, 10, (PackSighting("hut", "front"),))
        for n in range(3)
    ]
    photos.append(replace(photos[0], id="p3", name="dsc_1.JPG", taken=datetime(2024, 1, 1)))

    names = copy_names(photos)

    assert len({name.casefold() for name in names.values()}) == 4
