"""ZIP files as sources: photos come out of them whole, and nothing that a hostile one asks for is done."""

from __future__ import annotations

import io
import stat
import struct
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_pictures import exif_block, jpeg_bytes, png_bytes, upright_scene, with_exif
from wendle_basin import new_archive

from archive.ingest.importing import import_files
from archive.ingest.report import ImportReport
from archive.records import originals, photos
from archive.records.archive import Archive
from archive.records.manifests import MANIFEST

JUNE = "Wendle Basin, June"


def picture(number: int = 0) -> bytes:
    return png_bytes(upright_scene(40 + number, 30))


@pytest.fixture
def archive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Archive]:
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    with new_archive(tmp_path / "archive") as opened:
        yield opened
    assert list((tmp_path / "temporary").iterdir()) == [], "something unpacked was left behind"


@pytest.fixture
def trip(tmp_path: Path) -> Path:
    return tmp_path / "trip.zip"


def packed(file: Path, members: dict[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(file, "w", how) as made:
        for name, content in members.items():
            made.writestr(zipfile.ZipInfo(name, (2023, 6, 17, 10, 14, 32)), content, how)
    return file


def kept_in(archive: Archive) -> dict[str, bytes]:
    files = (archive.folder / "visits").rglob("*")
    return {f.name: f.read_bytes() for f in files if f.is_file() and f.name != MANIFEST}


def reasons(report: ImportReport, trip: Path) -> dict[str, str]:
    return {left.file.removeprefix(f"{trip}/"): left.reason for left in report.left_out}


def test_photos_come_out_of_a_zip_file_as_they_went_in(archive: Archive, trip: Path) -> None:
    taken = exif_block({}, {0x9003: (2, "2023:06:17 10:14:31")})
    shot = with_exif(jpeg_bytes(upright_scene()), taken)
    film = b"\0\0\0\x14ftypqt  " + b"round the crane"
    packed(
        trip,
        {"100WHARF/a.JPG": shot, "100WHARF/a.MOV": film, "101WHARF/b.png": picture(), "notes.txt": b"ask"},
    )

    report = import_files(archive, [trip], visit=JUNE)

    assert kept_in(archive) == {"a.JPG": shot, "a.MOV": film, "b.png": picture()}
    assert reasons(report, trip) == {"notes.txt": "it is not a picture: it is a text file"}
    with archive.look() as look:
        first, second = photos.all_photos(look)
    assert [o.role for o in first.originals] == ["picture", "film"]
    assert first.taken == "2023-06-17T10:14:31"
    # The time that the ZIP file gives, local to this machine.
    assert originals.picture_path(archive, second).stat().st_mtime == pytest.approx(
        1_686_996_872, abs=15 * 3600
    )
    again = import_files(archive, [trip], visit=JUNE)
    assert len(again.already_held) == 3
    assert again.imported == []


def test_a_zip_file_in_a_folder_is_looked_into_too_and_one_within_another_is_not(
    archive: Archive, tmp_path: Path
) -> None:
    (tmp_path / "card").mkdir()
    inner = packed(tmp_path / "inner.zip", {"deep.png": picture(1)}).read_bytes()
    trip = packed(tmp_path / "card" / "trip.zip", {"a.png": picture(0), "inner.zip": inner})

    report = import_files(archive, [tmp_path / "card"], visit=JUNE)

    assert report.imported == ["a.png"]
    assert reasons(report, trip) == {
        "inner.zip": "it is a ZIP file within a ZIP file; unpack it and import the folder"
    }


@pytest.mark.parametrize(
    "path",
    [
        "../evil.png",
        "a/../../evil.png",
        "/evil.png",
        "C:evil.png",
        "C:\\evil.png",
        "..\\evil.png",
        "a\\..\\..\\evil.png",
    ],
)
def test_paths_that_lead_out_are_refused_and_nothing_is_written_there(
    archive: Archive, trip: Path, path: str
) -> None:
    before = set(trip.parent.parent.iterdir())
    packed(trip, {path: picture(1), "good.png": picture(0)})

    report = import_files(archive, [trip], visit=JUNE)

    assert report.imported == ["good.png"]
    assert list(reasons(report, trip).values()) == [
        "its path leads out of the ZIP file, as only a trap's does"
    ]
    assert kept_in(archive) == {"good.png": picture(0)}
    assert set(trip.parent.parent.iterdir()) == before
    assert not list(trip.parent.glob("evil*"))


def test_a_link_in_it_is_not_followed(archive: Archive, trip: Path) -> None:
    link = zipfile.ZipInfo("link.png")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(trip, "w") as made:
        made.writestr(link, "/etc/hostname")

    assert reasons(import_files(archive, [trip], visit=JUNE), trip) == {"link.png": "it is a link"}


def test_what_would_grow_a_thousandfold_is_not_unpacked(archive: Archive, trip: Path) -> None:
    packed(trip, {"bomb.png": bytes(40 << 20), "good.png": picture()})

    report = import_files(archive, [trip], visit=JUNE)

    assert report.imported == ["good.png"]
    (why,) = reasons(report, trip).values()
    assert why == "it would grow to many times its size by unpacking, as only a trap does"


def test_files_that_lie_over_one_another_are_a_trap(archive: Archive, trip: Path) -> None:
    # Many entries of the directory point at one piece of packed data: together more than the file has.
    packed(trip, {f"{n:03}.png": picture() if n == 0 else b"" for n in range(200)}, zipfile.ZIP_STORED)
    data = bytearray(trip.read_bytes())
    first = data.index(b"PK\x01\x02")
    sizes = data[first + 16 : first + 28]  # checksum and both sizes
    at = first
    while (at := data.find(b"PK\x01\x02", at + 4)) > 0:
        data[at + 16 : at + 28] = sizes
        data[at + 42 : at + 46] = struct.pack("<I", 0)
    trip.write_bytes(data)

    report = import_files(archive, [trip], visit=JUNE)

    assert report.imported == []
    assert [left.reason for left in report.left_out] == [
        "its files lie over one another, as only a trap's do"
    ]


def test_a_locked_file_is_left_out_with_what_to_do(archive: Archive, trip: Path) -> None:
    packed(trip, {"locked.png": picture(1), "good.png": picture(0)})
    data = bytearray(trip.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(mark) + offset] |= 1
    trip.write_bytes(data)

    report = import_files(archive, [trip], visit=JUNE)

    assert report.imported == ["good.png"]
    assert "locked with a password; unpack" in reasons(report, trip)["locked.png"]


def test_a_damaged_file_in_it_is_left_out_and_the_rest_comes_in(archive: Archive, trip: Path) -> None:
    packed(trip, {"bad.png": picture(1), "good.png": picture(0)}, zipfile.ZIP_STORED)
    data = bytearray(trip.read_bytes())
    data[data.index(b"IDAT") + 10] ^= 1
    trip.write_bytes(data)

    report = import_files(archive, [trip], visit=JUNE)

    assert report.imported == ["good.png"]
    assert reasons(report, trip) == {"bad.png": "it is damaged within the ZIP file"}


@pytest.mark.parametrize("part", [0.5, 0.9, 0.99])
def test_a_half_copied_zip_file_is_left_out(archive: Archive, trip: Path, part: float) -> None:
    whole = packed(trip, {f"{n}.png": picture(n) for n in range(9)}).read_bytes()
    trip.write_bytes(whole[: int(len(whole) * part)])

    report = import_files(archive, [trip], visit=JUNE)

    assert [left.reason for left in report.left_out] == ["the ZIP file is damaged or only half copied"]


def test_names_in_any_encoding_are_read_as_what_they_are(archive: Archive, trip: Path) -> None:
    # Four bytes that stand for themselves in the file are put in place of 'XXXX'; no flag says that they are UTF-8.
    packed(trip, {"cafXXXX.png": picture(0), "YYYY at the gate.png": picture(1), "Möwe.png": picture(2)})
    data = trip.read_bytes().replace(b"XXXX", "éß".encode()).replace(b"YYYY", b"gr\x81n")
    trip.write_bytes(data)

    report = import_files(archive, [trip], visit=JUNE)

    # 0x81 is ü in code page 437, which ZIP files use where they say nothing (APPNOTE, appendix D).
    assert sorted(report.imported) == ["Möwe.png", "caféß.png", "grün at the gate.png"]


def test_a_document_that_is_a_zip_file_inside_is_said_to_be_one(archive: Archive, trip: Path) -> None:
    packed(trip, {"[Content_Types].xml": b"<Types/>", "word/media/a.png": picture()})

    report = import_files(archive, [trip], visit=JUNE)

    assert [left.reason for left in report.left_out] == ["it is not a picture: it is a document"]


def test_what_computers_add_to_zip_files_is_passed_over(archive: Archive, trip: Path) -> None:
    packed(
        trip, {"a.png": picture(), "__MACOSX/._a.png": b"\0\5\x16\7", ".DS_Store": b"\0", "100WHARF/": b""}
    )

    report = import_files(archive, [trip], visit=JUNE)

    assert (report.imported, report.left_out) == (["a.png"], [])


def test_any_bytes_after_the_marks_of_a_zip_file_are_refused_in_plain_words(
    archive: Archive, trip: Path
) -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as empty:
        empty.writestr("a.png", picture())
    whole = made.getvalue()
    directory = whole.index(b"PK\x01\x02")
    for at in range(directory, len(whole)):
        trip.write_bytes(whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :])
        report = import_files(archive, [trip], visit=f"try {at}")
        for left in report.left_out:
            assert left.reason
