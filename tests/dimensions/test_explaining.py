"""Explanations: every step of how a size came about in words, and a picture that shows it to the eye."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from demonstration import Demonstration
from PIL import Image

from archive.carried import carried_folder
from archive.dimensions import putting_right as right
from archive.dimensions.derivations import enter_sheet
from archive.dimensions.explaining import explain
from archive.dimensions.marking import marks_of_photo
from archive.dimensions.overview import sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.sums import work_out_size
from archive.errors import NotAccepted, RecordNotFound
from archive.packs.check_picture import write_check_picture
from archive.records.archive import Archive, open_archive
from archive.scales import parse_scale

HUT, CRANE = "Weighbridge hut", "Wharf crane"


@pytest.fixture(scope="module")
def basin(tmp_path_factory: pytest.TempPathFactory, demonstration: Demonstration) -> Archive:
    """The archive of the demonstration, whose sheets are in the demo library."""
    folder = demonstration.copied_to(tmp_path_factory.mktemp("demo") / "archive")
    with open_archive(folder) as archive:
        for sheet in sorted((carried_folder("demo_library") / "sheets").glob("*.toml")):
            enter_sheet(archive, sheet)
        yield archive


def test_a_worked_out_size_tells_photo_known_sizes_lies_and_the_marks_that_matter(basin: Archive) -> None:
    told = explain(basin, HUT, "window height", scale=parse_scale("1:43.5"))
    words = " ".join(told.sentences)

    assert told.sentences[0].startswith("window height of Weighbridge hut: 1025 mm ± 13 mm")
    assert "From P5_20230617_101431.jpg, by a known rectangle in the photo." in words
    assert "Known: length over walls of Weighbridge hut, 2734.0 mm ± 0.9 mm, from 'wall foot left'" in words
    assert "Known: '5ft 3in', as the sheet says, from 'wall foot right' to 'wall head right'." in words
    assert "Asked: the length from 'window foot' to 'window head', set back 63 mm." in words
    assert "The focal length is the photo's own, 26 mm as on 35 mm film." in words
    assert "The marks that matter most: 'window head'" in words
    assert told.model_text == "23.6 mm ± 0.3 mm"  # 1025 / 43.5 and 13 / 43.5, by hand
    assert "placing of the marks" in told.doubt
    assert {mark.name for mark in told.marks} == {
        "wall foot left", "wall foot right", "wall head left", "wall head right", "window foot", "window head",
    }  # fmt: skip


def test_the_lens_that_was_taken_out_and_how_the_doubt_was_found_are_told(basin: Archive) -> None:
    words = " ".join(explain(basin, CRANE, "jib radius").sentences)
    assert "The lens's distortion was taken out, as it was found from HC20_1188.JPG." in words
    assert "Its doubt was found by 20 000 random draws" in words


@pytest.mark.parametrize("subject", [HUT, CRANE, "Quay bollard", "Quay lamp", "Sack truck"])
def test_every_reading_of_the_demo_has_an_explanation(basin: Archive, subject: str) -> None:
    for line in sizes_of(basin, subject).lines:
        for reading in line.readings:
            told = explain(basin, reading.id)
            assert told.sentences[0].startswith(f"{line.dimension.label} of {subject}: ")
            assert told.doubt
            assert "None" not in " ".join(told.sentences)


def test_what_was_read_tells_instrument_day_and_its_own_doubt(basin: Archive) -> None:
    told = explain(basin, HUT, "door height")

    assert (
        told.sentences[0] == "door height of Weighbridge hut: '1.76 m', measured, with phone, on 2024-09-08."
    )
    assert "the phone's scale error" in told.doubt
    assert told.derivation is None


def test_a_reading_that_only_its_rounding_makes_doubtful_lies_within_95_parts_in_100_of_its_step(
    basin: Archive,
) -> None:
    record_reading(basin, "Quay lamp", "lantern door width", "210 mm")
    told = explain(basin, "Quay lamp", "lantern door width")

    assert told.interval_95 == pytest.approx((209.525, 210.475), abs=1e-4)  # 0.95 x half a step
    assert "210.0 mm ± 0.5 mm" in told.sentences[1]


def test_a_sum_tells_what_it_is_and_what_its_sizes_come_to(basin: Archive) -> None:
    work_out_size(basin, HUT, "door length over planks", "5 x plank width")
    told = explain(basin, HUT, "door length over planks")

    assert told.sentences == (
        "door length over planks of Weighbridge hut: 698 mm ± 3 mm (2 ft 3½ in), worked out.",  # 5 x 139.7 mm
        "It is 5 x plank width.",
        "Known: plank width of Weighbridge hut, 139.7 mm ± 0.6 mm.",
    )
    assert told.photo is None


def test_of_several_readings_that_may_be_meant_none_is_guessed(basin: Archive) -> None:
    first = record_reading(basin, "Quay lamp", "lamp glass height", "400 mm").reading
    second = record_reading(basin, "Quay lamp", "lamp glass height", "402 mm").reading
    with pytest.raises(
        NotAccepted, match=f"2 readings that may be meant.*{first.id} .'400 mm'.; {second.id}"
    ):
        explain(basin, "Quay lamp", "lamp glass height")
    right.set_reading_aside(basin, first.id, "misread")
    assert explain(basin, "Quay lamp", "lamp glass height").reading.id == second.id
    right.set_reading_aside(basin, second.id, "misread")
    with pytest.raises(RecordNotFound, match="no reading that counts"):
        explain(basin, "Quay lamp", "lamp glass height")


def test_the_picture_shows_the_marks_where_they_are_and_the_plane_beside(
    basin: Archive, tmp_path: Path
) -> None:
    told = explain(basin, HUT, "window height", scale=parse_scale("1:43.5"))
    write_check_picture(basin, told, tmp_path / "window.png")

    drawn = np.asarray(Image.open(tmp_path / "window.png").convert("RGB")).astype(int)
    photo = carried_folder("demo_library") / "photos" / "P5_20230617_101431.jpg"
    plain = np.asarray(Image.open(photo).convert("RGB").resize((1400, 1050))).astype(int)
    # The photo, 1600 px wide, is shown 1400 px wide below the heading: find where it begins by its lower right corner.
    top = next(y for y in range(60, 200) if np.abs(drawn[y + 1000 : y + 1040, 24 + 1360 : 24 + 1390] - plain[1000:1040, 1360:1390]).mean() < 6)  # fmt: skip
    for mark in marks_of_photo(basin, "P5_20230617_101431").marks:
        if mark.name in {m.name for m in told.marks}:
            x, y = (round((v + 0.5) * 1400 / 1600 - 0.5) for v in (mark.x_px, mark.y_px))
            assert drawn[top + y, 24 + x].sum() > 600, mark.name  # the white of the cross
    assert drawn.shape[1] > 1400 + 3 * 24 + 500  # the wall from straight before it, on the right


def test_a_picture_that_is_there_is_never_overwritten(basin: Archive, tmp_path: Path) -> None:
    (tmp_path / "mine.png").write_bytes(b"mine")
    with pytest.raises(NotAccepted, match="is there already and was left as it is"):
        write_check_picture(basin, explain(basin, HUT, "window height"), tmp_path / "mine.png")
    assert (tmp_path / "mine.png").read_bytes() == b"mine"


def test_a_reading_without_marks_has_no_picture(basin: Archive, tmp_path: Path) -> None:
    with pytest.raises(NotAccepted, match="no marks on a photo to draw"):
        write_check_picture(basin, explain(basin, HUT, "plank width"), tmp_path / "plank.png")
    assert not (tmp_path / "plank.png").exists()
