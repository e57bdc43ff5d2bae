"""What belongs together becomes one photo with several originals, and what is alone is said to be."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_pictures import exif_block, jpeg_bytes, upright_scene, with_exif
from wendle_basin import new_archive

from archive.dimensions.undoing import undo
from archive.ingest import intake
from archive.ingest.importing import import_files
from archive.records import photos, putting_right, visits
from archive.records.archive import Archive
from archive.records.fixity import verify
from archive.records.manifests import MANIFEST
from archive.records.things import Photo, Visit
from archive.records.visit_files import visit_files_of

JUNE = "Wendle Basin, June"
NOON = "2023:06:17 12:00:00"
FILM = b"\0\0\0\x14ftypqt  \0\0\0\0qt  \0\0\0\x08wide" + b"a walk round the crane"
VOICE = b"RIFF\x24\0\0\0WAVEfmt " + b"the door is three foot"
EDIT = b'<?xml version="1.0"?>\n<plist version="1.0"><dict/></plist>\n'
SIDECAR = """<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:exif="http://ns.adobe.com/exif/1.0/"
 exif:DateTimeOriginal="2020-01-01T00:00:00" exif:GPSLatitude="52,30.0N" exif:GPSLongitude="1,45.0W">
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">The crane’s jib, bent</rdf:li></rdf:Alt></dc:description>
<dc:subject><rdf:Bag><rdf:li>jib</rdf:li></rdf:Bag></dc:subject>
</rdf:Description></rdf:RDF></x:xmpmeta>""".encode()


def jpeg(number: int = 0, taken: str = NOON) -> bytes:
    block = exif_block({0x0110: (2, "Halden C20"), 0x010E: (2, "as the camera says")}, {0x9003: (2, taken)})
    return with_exif(jpeg_bytes(upright_scene(60 + number, 40)), block)


def raw(number: int = 0, taken: str = NOON) -> bytes:
    """A DNG as far as its metadata goes: it has no preview."""
    dng = {
        0xC612: (1, b"\1\4\0\0"),
        0x0110: (2, f"Halden C20 raw {number}"),
        0x0100: (4, 60),
        0x0101: (4, 40),
    }
    return exif_block(dng, {0x9003: (2, taken)})


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with new_archive(tmp_path / "archive") as opened:
        yield opened


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    return folder


def lay(folder: Path, **files: bytes) -> None:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name.replace("__", ".")).write_bytes(content)


def photos_in(archive: Archive) -> list[Photo]:
    with archive.look() as look:
        return photos.all_photos(look)


def visits_in(archive: Archive) -> list[Visit]:
    with archive.look() as look:
        return visits.all_visits(look)


def files_of(photo: Photo) -> dict[str, str]:
    return {original.stored_path.rpartition("/")[2]: original.role for original in photo.originals}


def test_a_raw_file_a_film_a_voice_note_a_sidecar_and_an_edit_are_one_photo_with_their_picture(
    archive: Archive, card: Path
) -> None:
    lay(card, HC20_0412__JPG=jpeg(), HC20_0412__DNG=raw(), HC20_0412__MOV=FILM, HC20_0412__WAV=VOICE)
    lay(card, hc20_0412__xmp=SIDECAR, HC20_0412__AAE=EDIT, HC20_0412__JPG__ini=b"exposure = +1\n")

    report = import_files(archive, [card], visit=JUNE)

    (photo,) = photos_in(archive)
    assert files_of(photo) == {
        "HC20_0412.JPG": "picture",
        "HC20_0412.DNG": "raw",
        "HC20_0412.MOV": "film",
        "HC20_0412.WAV": "sound",
        "HC20_0412.xmp": "sidecar",
        "HC20_0412.AAE": "edit",
        "HC20_0412.JPG.ini": "edit",
    }
    assert photo.picture.stored_path.endswith("HC20_0412.JPG")
    assert report.imported == ["HC20_0412.JPG"]
    assert {(kept.file, kept.photo) for kept in report.kept_beside} == {
        (file.name, "HC20_0412.JPG") for file in card.iterdir() if file.suffix != ".JPG"
    }
    assert report.left_out == report.warnings == []
    for original in photo.originals:
        kept = archive.folder / original.stored_path
        assert kept.read_bytes() == (card / original.name_as_found).read_bytes()


def test_a_sidecar_gives_words_before_the_picture_and_facts_only_where_it_has_none(
    archive: Archive, card: Path
) -> None:
    lay(card, HC20_0412__JPG=jpeg(), HC20_0412__JPG__xmp=SIDECAR)

    import_files(archive, [card], visit=JUNE)

    (photo,) = photos_in(archive)
    assert photo.caption == "The crane’s jib, bent"
    assert photo.keywords == ("jib",)
    assert photo.taken == "2023-06-17T12:00:00"
    assert (photo.latitude, photo.longitude) == (52.5, -1.75)
    said_by = {key: photo.readers[key] for key in ("caption", "latitude", "taken")}
    assert said_by == {"caption": "sidecar", "latitude": "sidecar", "taken": "exifread"}


def test_a_sidecar_of_a_name_alone_goes_to_the_photo_that_has_the_raw_file(
    archive: Archive, card: Path
) -> None:
    lay(card, a__JPG=jpeg(0), a__JPEG=jpeg(1, "2023:06:17 12:00:05"), a__DNG=raw(taken="2023:06:17 12:00:05"))
    lay(card, a__xmp=SIDECAR, a__JPG__xmp=SIDECAR.replace(b"jib", b"hut"))

    import_files(archive, [card], visit=JUNE)

    assert {photo.file: sorted(files_of(photo)) for photo in photos_in(archive)} == {
        "a.JPG": ["a.JPG", "a.JPG.xmp"],
        "a.JPEG": ["a.DNG", "a.JPEG", "a.xmp"],
    }


def test_a_raw_file_of_another_moment_is_a_photo_of_its_own(archive: Archive, card: Path) -> None:
    lay(card, a__JPG=jpeg(), a__DNG=raw(taken="2023:06:18 12:00:00"))

    import_files(archive, [card], visit=JUNE)

    assert [photo.file for photo in photos_in(archive)] == ["a.JPG", "a.DNG"]


def test_files_of_one_name_in_two_folders_are_strangers(archive: Archive, card: Path) -> None:
    lay(card / "100WHARF", a__JPG=jpeg(0))
    lay(card / "101WHARF", a__JPG=jpeg(1), a__MOV=FILM)

    import_files(archive, [card], visit=JUNE)

    assert sorted(sorted(files_of(photo)) for photo in photos_in(archive)) == [
        ["a (2).JPG", "a (2).MOV"],
        ["a.JPG"],
    ]


def test_files_that_come_later_with_their_picture_join_its_photo_in_its_folder(
    archive: Archive, card: Path
) -> None:
    lay(card, a__JPG=jpeg())
    import_files(archive, [card], visit=JUNE)
    lay(card, a__DNG=raw(), a__MOV=FILM)

    report = import_files(archive, [card], visit="another one")

    (photo,) = photos_in(archive)
    assert sorted(files_of(photo)) == ["a.DNG", "a.JPG", "a.MOV"]
    assert len({original.stored_path.rpartition("/")[0] for original in photo.originals}) == 1
    assert report.imported == []
    assert sorted(kept.file for kept in report.kept_beside) == ["a.DNG", "a.MOV"]
    listed = (archive.folder / photo.picture.stored_path).with_name(MANIFEST).read_text("utf-8")
    assert len(listed.splitlines()) == 3
    assert len(import_files(archive, [card]).already_held) == 3


def test_an_import_cut_off_between_the_files_of_a_photo_is_completed_by_the_next(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay(card, a__JPG=jpeg(), a__DNG=raw(), a__MOV=FILM)
    copy = intake.copy_to_part

    def cut_off(path: Path, *args: object, **kwargs: object) -> object:
        if path.suffix == ".MOV":
            raise KeyboardInterrupt
        return copy(path, *args, **kwargs)  # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr(intake, "copy_to_part", cut_off)
        with pytest.raises(KeyboardInterrupt):
            import_files(archive, [card], visit=JUNE)
    (photo,) = photos_in(archive)
    assert sorted(files_of(photo)) == ["a.DNG", "a.JPG"]
    import_files(archive, [card], visit=JUNE)

    (photo,) = photos_in(archive)
    assert sorted(files_of(photo)) == ["a.DNG", "a.JPG", "a.MOV"]


def test_what_is_left_out_says_why(archive: Archive, card: Path) -> None:
    lay(card, a__JPG=jpeg(), b__xmp=SIDECAR, a__notes__txt=b"bring the long tape\n")
    shutil.copytree(card, card / "again")
    (card / "again" / "a.JPG").write_bytes(b"")
    lay(card / "again", a__xmp=SIDECAR)

    report = import_files(archive, [card], visit=JUNE)

    alone = "it says things of a photo that does not lie beside it; import the two together"
    assert {left.file.removeprefix(f"{card}/"): left.reason for left in report.left_out} == {
        "b.xmp": alone,
        "again/b.xmp": alone,
        "again/a.xmp": alone,
        "a.notes.txt": "it is not a picture: it is a text file",
        "again/a.notes.txt": "it is not a picture: it is a text file",
        "again/a.JPG": "the file is empty",
    }


def test_a_sidecar_that_cannot_be_read_is_kept_and_said(archive: Archive, card: Path) -> None:
    lay(card, a__JPG=jpeg(), a__xmp=b"<x:xmpmeta")

    report = import_files(archive, [card], visit=JUNE)

    assert [warning.code for warning in report.warnings] == ["sidecar-damaged"]
    (photo,) = photos_in(archive)
    assert sorted(files_of(photo)) == ["a.JPG", "a.xmp"]
    assert photo.caption == "as the camera says"


def test_films_and_voice_notes_that_came_with_no_photo_are_kept_beside_the_visits_photos(
    archive: Archive, card: Path
) -> None:
    lay(card, a__JPG=jpeg(), MVI_0413__MOV=FILM, MVI_0413__THM=jpeg(5), note__wav=VOICE)

    report = import_files(archive, [card], visit=JUNE)

    assert report.imported == ["a.JPG"]
    assert report.left_out == []
    assert {(kept.file, kept.role, kept.photo) for kept in report.kept_beside} == {
        ("MVI_0413.MOV", "film", None),
        ("MVI_0413.THM", "sidecar", None),
        ("note.wav", "sound", None),
    }
    (visit,) = visits_in(archive)
    with archive.look() as look:
        files = visit_files_of(look, visit)
    assert [(file.file, file.role) for file in files] == [
        ("MVI_0413.MOV", "film"),
        ("MVI_0413.THM", "sidecar"),
        ("note.wav", "sound"),
    ]
    assert [(archive.folder / file.stored_path).read_bytes() for file in files] == [FILM, jpeg(5), VOICE]
    assert verify(archive).findings == []
    assert len(import_files(archive, [card]).already_held) == 4


def test_films_are_left_out_where_they_are_not_wanted(archive: Archive, card: Path) -> None:
    lay(card, a__JPG=jpeg(), a__MOV=FILM, b__MOV=FILM + b"once more")

    report = import_files(archive, [card], visit=JUNE, films=False)

    assert [kept.file for kept in report.kept_beside] == ["a.MOV"]
    assert [left.reason for left in report.left_out] == ["films and voice notes were not wanted"]


def test_an_import_taken_back_moves_every_file_to_removed_and_a_restored_one_back(
    archive: Archive, card: Path
) -> None:
    lay(card, a__JPG=jpeg(), a__DNG=raw(), b__MOV=FILM)
    given = sorted(file.read_bytes() for file in card.iterdir())
    import_files(archive, [card], visit=JUNE)

    def kept(place: str) -> list[bytes]:
        files = (archive.folder / place).rglob("*")
        return sorted(f.read_bytes() for f in files if f.is_file() and f.name != MANIFEST)

    undo(archive)
    assert (kept("visits"), kept("removed")) == ([], given)
    assert verify(archive).findings == []
    undo(archive, 2)
    assert (kept("visits"), kept("removed")) == (given, [])
    assert verify(archive).findings == []


def test_films_follow_where_visits_are_merged(archive: Archive, card: Path) -> None:
    lay(card, a__JPG=jpeg(), b__MOV=FILM)
    import_files(archive, [card], visit="June, morning")
    lay(card / "more", a__JPG=jpeg(1), b__MOV=FILM + b"once more")
    import_files(archive, [card / "more"], visit=JUNE)
    other, june = visits_in(archive)

    with archive.change("merged") as writer:
        putting_right.merge_visits(writer, june, other)

    with archive.look() as look:
        files = visit_files_of(look, june)
    assert [file.stored_path for file in files] == [
        f"visits/{june.folder}/b.MOV",
        f"visits/{june.folder}/b (2).MOV",
    ]
    assert verify(archive).findings == []
