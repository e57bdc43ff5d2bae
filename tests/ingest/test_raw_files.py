"""Raw files that carry no preview: kept and read by everyone, rendered where the part for that is installed."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import made_pictures as made
import pytest
from wendle_basin import new_archive

from archive import pictures
from archive.ingest import previews
from archive.ingest.importing import import_files
from archive.ingest.metadata import read_metadata
from archive.pictures import raw_preview
from archive.records import photos
from archive.records.archive import Archive
from archive.records.entering import enter_subject
from archive.records.linking import link_photos
from archive.records.things import Photo

RENDERS = pytest.mark.skipif(find_spec("rawpy") is None, reason="must skip: rawpy is not installed")


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with new_archive(tmp_path / "archive") as opened:
        yield opened


@pytest.fixture
def raw(tmp_path: Path) -> Path:
    """Held upright, so stored on its side; the first 480 x 320 sensor that ever was."""
    file = tmp_path / "HC20_0412.dng"
    file.write_bytes(made.dng(made.stored_for(6, made.upright_scene(480, 320)), orientation=6))
    return file


@pytest.fixture
def not_installed(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    monkeypatch.setattr(raw_preview, "find_spec", lambda _name: None)
    return monkeypatch


def in_it(archive: Archive) -> Photo:
    with archive.look() as look:
        (photo,) = photos.all_photos(look)
    return photo


def test_without_the_part_it_is_kept_and_read_and_says_what_to_install(
    archive: Archive, raw: Path, not_installed: pytest.MonkeyPatch
) -> None:
    report = import_files(archive, [raw], visit="June")

    photo = in_it(archive)
    assert (photo.width, photo.model, photo.taken) == (None, "C20", "2023-06-17T10:20:30")
    assert archive.path_of(photo.picture.stored_path).read_bytes() == raw.read_bytes()
    (warning,) = report.warnings
    assert warning.code == "no-preview"
    assert "It is kept as it is" in warning.message
    assert "pip install 'rivetbook[raw]'" in warning.message


@RENDERS
def test_with_the_part_it_is_rendered_upright_in_its_colours(raw: Path) -> None:
    facts = pictures.inspect(raw)

    assert (facts.width, facts.height, facts.turn, facts.viewable, facts.warnings) == (480, 320, 6, True, ())
    for longest in (512, 64):
        preview = made.opened(pictures.upright_preview(raw, longest))
        assert made.corners(preview) == made.UPRIGHT
        assert max(preview.size) == min(longest, 480)
    assert pictures.upright_array(raw).shape == (320, 480, 3)
    assert read_metadata(raw).model == "C20"


@RENDERS
def test_one_that_came_in_before_the_part_was_installed_is_shown_when_it_is_given_again(
    archive: Archive, raw: Path, not_installed: pytest.MonkeyPatch
) -> None:
    import_files(archive, [raw], visit="June")
    archive.begin_act()
    not_installed.undo()
    again = import_files(archive, [raw], visit="June")

    photo = in_it(archive)
    assert (photo.width, photo.height, photo.warnings) == (480, 320, ())
    assert [hint.code for hint in again.hints] == ["shown-better"]
    assert made.corners(made.opened(previews.preview_of(archive, photo))) == made.UPRIGHT
    assert import_files(archive, [raw], visit="June").hints == []


@RENDERS
@pytest.mark.parametrize("kept", [0.9, 0.3, 0.01])
def test_one_that_is_cut_off_is_kept_and_not_rendered(archive: Archive, raw: Path, kept: float) -> None:
    whole = raw.read_bytes()
    raw.write_bytes(whole[: max(int(len(whole) * kept), 600)])

    report = import_files(archive, [raw], visit="June")

    assert [warning.code for warning in report.warnings] == ["no-preview"]
    assert "install" not in report.warnings[0].message  # which would not help


def test_a_tiny_preview_is_shown_and_said_to_be_one(
    tmp_path: Path, not_installed: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "HC20_0413.dng"
    file.write_bytes(made.dng(made.upright_scene(480, 320)) + made.jpeg_bytes(made.upright_scene(160, 106)))

    facts = pictures.inspect(file)

    assert (facts.width, facts.height, facts.viewable) == (160, 106, True)
    assert [warning.code for warning in facts.warnings] == ["small-preview"]
    assert "160 × 106 px" in facts.warnings[0].message


@RENDERS
def test_one_with_a_region_is_shown_as_it_was_so_that_the_region_stays_where_it_is(
    archive: Archive, tmp_path: Path, not_installed: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "HC20_0413.dng"
    file.write_bytes(made.dng(made.upright_scene(480, 320)) + made.jpeg_bytes(made.upright_scene(160, 106)))
    import_files(archive, [file], visit="June")
    enter_subject(archive, "Wharf crane")
    link_photos(archive, ["HC20_0413"], ["Wharf crane"], view=None, region="10,10 to 150,90")
    not_installed.undo()
    again = import_files(archive, [file], visit="June")

    assert again.hints == []
    assert in_it(archive).width == 160
