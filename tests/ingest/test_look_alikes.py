"""The same picture again, however it was saved: held twice where its bytes differ, and suggested as a look-alike."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_pictures import jpeg_bytes, png_bytes, upright_scene
from PIL import Image
from wendle_basin import new_archive

from archive.dimensions.putting_right import remove_photos
from archive.dimensions.undoing import undo
from archive.ingest.importing import import_files
from archive.records import look_alikes, photos
from archive.records.archive import Archive, open_archive
from archive.records.history import all_acts


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of two pictures of the demo, and copies of one of them that a person makes without thinking."""
    from archive.carried import carried_folder

    where = tmp_path_factory.mktemp("kept")
    card = where / "card"
    card.mkdir()
    crane, hut = (carried_folder("demo_library") / "photos" / name for name in (_CRANE, _HUT))
    (card / "crane.jpg").write_bytes(crane.read_bytes())
    (card / "hut.jpg").write_bytes(hut.read_bytes())
    with Image.open(crane) as picture:
        shown = picture.convert("RGB")
    (card / "sent.jpg").write_bytes(
        jpeg_bytes(shown.resize((shown.width // 4, shown.height // 4)), quality=40)
    )
    (card / "turned.png").write_bytes(
        png_bytes(shown.resize((400, 300)).transpose(Image.Transpose.ROTATE_90))
    )
    (card / "wall.png").write_bytes(png_bytes(Image.new("RGB", (200, 100), (99, 99, 99))))
    with new_archive(where / "archive") as opened:
        import_files(opened, [card], visit="Wendle Basin, June")
    return where / "archive"


@pytest.fixture
def archive(kept: Path, tmp_path: Path) -> Iterator[Archive]:
    with open_archive(Path(shutil.copytree(kept, tmp_path / "archive"))) as opened:
        yield opened


_CRANE, _HUT = "HC20_0415.JPG", "P5_20230617_101431.jpg"


def alike_to(archive: Archive, name: str) -> list[str]:
    with archive.look() as look:
        photo = photos.photo_named(look, name)
    return [each.photo.file for each in look_alikes.look_alikes(archive, photo)]


def test_a_smaller_and_a_turned_copy_are_suggested_and_nothing_else(archive: Archive) -> None:
    assert sorted(alike_to(archive, "crane.jpg")) == ["sent.jpg", "turned.png"]
    assert sorted(alike_to(archive, "turned.png")) == ["crane.jpg", "sent.jpg"]
    assert alike_to(archive, "hut.jpg") == []


def test_an_even_wall_looks_like_nothing(archive: Archive) -> None:
    assert alike_to(archive, "wall.png") == []


def test_they_are_suggested_and_never_made_one(archive: Archive) -> None:
    alike_to(archive, "crane.jpg")

    with archive.look() as look:
        assert len(photos.all_photos(look)) == 5


def _forget_fingerprints(archive: Archive) -> None:
    """As an archive is that was made before there were any."""
    with archive.change("forget") as writer:
        writer._connection.exec_driver_sql("DELETE FROM fingerprint")


def test_an_older_archive_gets_its_fingerprints_when_they_are_first_asked_for(archive: Archive) -> None:
    _forget_fingerprints(archive)
    acts = len(_history(archive))

    assert sorted(alike_to(archive, "crane.jpg")) == ["sent.jpg", "turned.png"]
    with archive.look() as look:
        assert len(look.all(look_alikes._HAVING)) == 5
    assert len(_history(archive)) == acts, "looking is nothing that could be taken back"


def test_without_previews_they_are_taken_from_the_originals(archive: Archive) -> None:
    _forget_fingerprints(archive)
    for preview in (archive.folder / "previews").rglob("*.jpg"):
        preview.unlink()

    assert sorted(alike_to(archive, "crane.jpg")) == ["sent.jpg", "turned.png"]


def test_where_the_archive_cannot_be_written_they_are_found_all_the_same(archive: Archive) -> None:
    _forget_fingerprints(archive)
    archive.close()
    with open_archive(archive.folder) as opened:
        opened.read_only = True

        assert sorted(alike_to(opened, "crane.jpg")) == ["sent.jpg", "turned.png"]


def test_a_photo_taken_out_and_brought_back_is_a_look_alike_again(archive: Archive) -> None:
    archive.begin_act()
    remove_photos(archive, ["sent"])
    assert alike_to(archive, "crane.jpg") == ["turned.png"]
    archive.begin_act()
    undo(archive)

    assert sorted(alike_to(archive, "crane.jpg")) == ["sent.jpg", "turned.png"]


def test_an_import_can_be_taken_back_with_its_fingerprints(archive: Archive, tmp_path: Path) -> None:
    more = tmp_path / "more.png"
    more.write_bytes(png_bytes(upright_scene(90, 70)))
    archive.begin_act()
    import_files(archive, [more], visit="Wendle Basin, June")
    archive.begin_act()
    undo(archive)

    with archive.look() as look:
        assert len(look.all(look_alikes._HAVING)) == 5


def _history(archive: Archive) -> list[object]:
    with archive.look() as look:
        return list(all_acts(look))


def test_a_damaged_picture_has_none_and_stops_nothing(archive: Archive, tmp_path: Path) -> None:
    buffer = io.BytesIO()
    upright_scene(300, 200).save(buffer, "PNG")
    (tmp_path / "cut.png").write_bytes(buffer.getvalue()[:90])
    archive.begin_act()
    import_files(archive, [tmp_path / "cut.png"], visit="Wendle Basin, June")
    _forget_fingerprints(archive)

    assert sorted(alike_to(archive, "crane.jpg")) == ["sent.jpg", "turned.png"]
