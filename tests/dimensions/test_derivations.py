"""Sizes worked out from the demo's photographs: right, correlated, following what they lean on, and taken back.

The truth of the photographs is demo_library/truth.json, whose pixels count from the outer corner of the first one.
"""

from __future__ import annotations

import json
import re
from functools import cache
from math import hypot
from pathlib import Path
from typing import Any

import pytest
from made_pictures import exif_block, jpeg_bytes, upright_scene, with_exif
from wendle_basin import new_archive

from archive.carried import carried_folder
from archive.dimensions import putting_right as right
from archive.dimensions.derivations import Entered, enter
from archive.dimensions.explaining import explain
from archive.dimensions.following import what_followed
from archive.dimensions.gaps import gaps_of
from archive.dimensions.marking import marks_of_photo, put_mark
from archive.dimensions.overview import SizeLine, sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.sheets import read_sheet
from archive.dimensions.tallying import add_tally
from archive.dimensions.undoing import undo
from archive.errors import NotAccepted, NotWorkedOut, RecordNotFound, SizesInACircle
from archive.ingest.importing import import_files
from archive.metrology.sources import covariance
from archive.packs.check_picture import write_check_picture
from archive.records import history, sizes
from archive.records.archive import Archive
from archive.records.changes import newest_change
from archive.records.entering import enter_instrument, enter_subject, enter_visit

HUT, FRONT, SIDE, CORNER = "Weighbridge hut", "P5_20230617_101431", "HC20_0412", "HC20_0413"
WALL_MM, WALL_HEIGHT_MM, DOOR_MM = (
    2733.675,
    1600.2,
    1760.3,
)  # truth.json; the height is between the quoin marks


@cache
def truth() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(
        (carried_folder("demo_library") / "truth.json").read_text(encoding="utf-8")
    )
    return found


def place(photo: str, point: str, subject: str = "weigh-hut") -> list[float]:
    """Where a named point lies on a photo of the demo, px from the centre of the first pixel."""
    ending = "JPG" if photo.startswith("HC20") else "jpg"
    x, y = truth()["images"][f"{photo}.{ending}"]["points"][subject][point]["upright"]
    return [x - 0.5, y - 0.5]


POINTS = {
    "a": "quoin front left, top of plinth",
    "b": "quoin front right, top of plinth",
    "c": "quoin front right, course 24",
    "d": "quoin front left, course 24",
    "foot": "door board 1 left edge, foot",
    "head": "door board 1 left edge, head",
    "foot right": "door board 5 right edge, foot",
    "sill left": "window sill left",
    "sill right": "window sill right",
}


def marks(*names: str, photo: str = FRONT) -> str:
    return "[marks]\n" + "".join(f"'{name}' = {place(photo, POINTS[name])}\n" for name in names or POINTS)


def wall(*asked: str, known: str = "dimension = 'wall length'") -> str:
    """A sheet on the hut's front wall, of which length and height are known; each asked is 'from, to, label, lies'."""
    sheet = f"""
        method = 'rectangle'
        photo = '{FRONT}'
        subject = '{HUT}'
        corners = ['a', 'b', 'c', 'd']
        {marks()}
        [[known]]
        from = 'a'
        to = 'b'
        {known}
        [[known]]
        from = 'b'
        to = 'c'
        size = '1600.2 mm'
        """
    for each in asked:
        start, end, label, lies = each.split("; ")
        sheet += f"[[asked]]\nfrom = '{start}'\nto = '{end}'\nlabel = '{label}'\nlies = '{lies}'\n"
    return sheet


DOOR = "foot; head; door height; set back 62 mm"
DOOR_WIDTH = "foot; foot right; door width; set back 62 mm"


def entered(archive: Archive, sheet: str, **how: bool) -> Entered:
    archive.begin_act()
    return enter(archive, read_sheet(sheet, "a sheet"), "a sheet", **how)


def size_of(archive: Archive, label: str, subject: str = HUT) -> SizeLine:
    return next(line for line in sizes_of(archive, subject).lines if line.dimension.label == label)


def figure(archive: Archive, label: str) -> float:
    line = size_of(archive, label)
    assert line.estimate is not None
    return line.estimate.value


def warned(archive: Archive, label: str) -> dict[str, str]:
    line = size_of(archive, label)
    assert line.estimate is not None
    return {w.code: w.message for w in line.estimate.warnings}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of four photographs of the hut, whose wall was measured."""
    folder = tmp_path_factory.mktemp("made") / "wharf"
    library = carried_folder("demo_library") / "photos"
    with new_archive(folder) as archive:
        enter_visit(archive, "June", place="Wendle Basin", days="2023-06-17", zone="Europe/London")
        pictures = [f"{FRONT}.jpg", f"{SIDE}.JPG", f"{CORNER}.JPG", "P5_20230617_102102.jpg"]
        import_files(archive, [library / picture for picture in pictures], visit="June")
        enter_subject(archive, HUT)
        enter_instrument(archive, "long tape", kind="tape", resolution="1mm", limit="0.3 mm + 0.2 mm/m")
        record_reading(archive, HUT, "wall length", "2734 mm", instrument="long tape")
    return folder


@pytest.fixture
def hut(made: Path, tmp_path: Path) -> Archive:
    import shutil

    from archive.records.archive import open_archive

    shutil.copytree(made, tmp_path / "wharf")
    with open_archive(tmp_path / "wharf") as archive:
        yield archive


# What a sheet comes to


def test_the_door_behind_the_wall_is_right_when_told_so_held_when_not_sure_and_wrong_when_called_in_the_plane(
    hut: Archive,
) -> None:
    told = {}
    for lies in ("set back 62 mm", "not sure", "in the plane"):
        (size,) = entered(hut, wall(f"foot; head; door height; {lies}"), dry_run=True).sizes
        low, high = size.derived.interval_95_mm
        told[lies] = size.derived.value_mm, low <= DOOR_MM <= high

    assert told["set back 62 mm"] == (pytest.approx(DOOR_MM, rel=0.002), True)
    assert told["not sure"][1]
    assert told["in the plane"] == (pytest.approx(1740, abs=3), False)  # 62 mm at the 5.5 m of this photo


def test_a_worked_out_size_says_how_it_is_known_and_from_which_photo(hut: Archive) -> None:
    came = entered(hut, wall(DOOR))
    reading, line = came.sizes[0].reading, size_of(hut, "door height")

    assert (reading.grade, reading.derived_by) == ("worked out", came.derivation.id)
    assert (reading.photo, reading.visit, reading.taken_on) == (f"{FRONT}.jpg", "June", "2023-06-17")
    assert reading.rests_on == "a known rectangle in the photo"
    assert line.estimate is not None
    assert line.estimate.grade == "worked out"
    assert line.estimate.value == reading.value == pytest.approx(DOOR_MM, rel=0.002)
    assert (line.estimate.low_95, line.estimate.high_95) == came.sizes[0].derived.interval_95_mm


def test_sizes_that_share_a_tape_and_marks_stay_correlated(hut: Archive) -> None:
    entered(hut, wall(DOOR, DOOR_WIDTH))
    door, width, measured = (
        size_of(hut, label).ledger for label in ("door height", "door width", "wall length")
    )
    assert door is not None
    assert width is not None
    assert measured is not None

    tape = {source for source in measured.sensitivities if source.kind in ("offset", "scale")}
    assert tape
    assert tape <= set(door.sensitivities)
    assert tape <= set(width.sensitivities)
    by_mark = {source.of_record for source in door.sensitivities if source.kind == "mark"}
    held = {mark.name: mark.id for mark in marks_of_photo(hut, FRONT).marks}
    assert by_mark == {held[name] for name in ("a", "b", "c", "d", "foot", "head")}
    assert covariance(door, width) != 0


def test_photos_of_one_camera_share_the_doubt_of_its_focal_length_and_of_nothing_else(hut: Archive) -> None:
    ledgers = []
    for photo, subject in ((SIDE, "one"), (CORNER, "two")):
        enter_subject(hut, subject)
        sheet = f"""
            method = 'distance'
            photo = '{photo}'
            subject = '{subject}'
            marks = {{ p = [300, 300], q = [900, 300] }}
            known = [{{ size = '4 m' }}]
            asked = [{{ from = 'p', to = 'q', label = 'length', lies = 'in the plane' }}]
            """
        ledgers.append(entered(hut, sheet).sizes[0].known)

    shared = set(ledgers[0].sensitivities) & set(ledgers[1].sensitivities)
    assert {(s.kind, s.component) for s in shared} == {
        ("focal length", "rounding"),
        ("focal length", "convention"),
    }


def test_a_photo_that_tells_no_focal_length_is_taken_for_an_ordinary_one_and_says_so(
    hut: Archive, tmp_path: Path
) -> None:
    import_files(
        hut, [carried_folder("demo_library") / "photos" / "P5_screen_20240908_150630.png"], visit="June"
    )
    sheet = f"""
        method = 'square on'
        photo = 'P5_screen_20240908_150630'
        subject = '{HUT}'
        marks = {{ p = [100, 300], q = [500, 300], r = [100, 700] }}
        known = [{{ from = 'p', to = 'q', size = '2734 mm' }}]
        asked = [{{ from = 'p', to = 'r', label = 'wall height', lies = 'in the plane' }}]
        """
    told = {w.code for w in entered(hut, sheet).sizes[0].derived.warnings}
    assert "focal-assumed" in told
    given = entered(hut, sheet + "[camera]\nfocal_35mm = 26\n", dry_run=True)
    assert "focal-assumed" not in {w.code for w in given.sizes[0].derived.warnings}


def photo_with(
    tmp_path: Path, exif: dict[int, tuple[int, object]], size: tuple[int, int] = (600, 400)
) -> Path:
    file = tmp_path / "HC20_0500.JPG"
    camera = {0x010F: (2, "Halden"), 0x0110: (2, "C20")}
    file.write_bytes(with_exif(jpeg_bytes(upright_scene(*size)), exif_block(camera, exif)))
    return file


FROM_10_M = """
    method = 'distance'
    photo = 'HC20_0500'
    subject = 'Weighbridge hut'
    marks = { p = [100, 200], q = [400, 200] }
    known = [{ size = '10 m' }]
    asked = [{ from = 'p', to = 'q', label = 'wall length', lies = 'in the plane' }]
    """
FILM_26, ZOOM_2, TAKEN_AS_600_X_400 = (3, 26), (5, (2, 1)), {0xA002: (3, 600), 0xA003: (3, 400)}


@pytest.mark.parametrize(
    ("exif", "warned"),
    [
        ({0xA405: FILM_26, 0xA404: ZOOM_2} | TAKEN_AS_600_X_400, {"digital-zoom"}),
        ({0xA405: FILM_26, 0xA404: (5, (0, 1))} | TAKEN_AS_600_X_400, set()),  # 0: none was used
        ({0xA405: FILM_26, 0xA002: (3, 800), 0xA003: (3, 400)}, {"cropped"}),
        ({0xA405: FILM_26, 0xA002: (3, 6000), 0xA003: (3, 4000)}, set()),  # made smaller as a whole
        ({0x920A: (5, (20, 1)), 0xA20E: (5, (25, 1)), 0xA210: (3, 4)} | TAKEN_AS_600_X_400, set()),
    ],
)
def test_digital_zoom_crop_and_sensor_of_a_photo_are_heeded(
    hut: Archive, tmp_path: Path, exif: dict[int, tuple[int, object]], warned: set[str]
) -> None:
    import_files(hut, [photo_with(tmp_path, exif)], visit="June")

    told = {warning.code for warning in entered(hut, FROM_10_M).sizes[0].derived.warnings}
    assert told & {"digital-zoom", "cropped", "focal-assumed"} == warned


@pytest.mark.parametrize("exif", [{0x920A: (5, (20, 1))}, {0xA405: (3, 9000)}])
def test_a_focal_length_without_a_sensor_or_of_no_lens_tells_no_distance(
    hut: Archive, tmp_path: Path, exif: dict[int, tuple[int, object]]
) -> None:
    import_files(hut, [photo_with(tmp_path, exif)], visit="June")

    # An ordinary lens is assumed with its wide doubt, which is too wide for a size by distance alone.
    with pytest.raises(NotWorkedOut, match="more than a quarter of the size"):
        entered(hut, FROM_10_M)


def test_a_lens_and_the_sensor_behind_it_give_the_focal_length(hut: Archive, tmp_path: Path) -> None:
    # By hand: 20 mm at 100 px/mm of a picture 2400 px wide are 2000 px, and 500 px in this one of a quarter the width;
    # 300 px at 10 m are then 6 m.
    sensor = {
        0x920A: (5, (20, 1)),
        0xA20E: (5, (1000, 1)),
        0xA210: (3, 3),
        0xA002: (3, 2400),
        0xA003: (3, 1600),
    }
    import_files(hut, [photo_with(tmp_path, sensor)], visit="June")

    assert entered(hut, FROM_10_M).sizes[0].known.value == pytest.approx(6000, abs=1)


# Following


def test_sizes_follow_a_mark_that_moves_and_an_undo_brings_them_back(hut: Archive) -> None:
    entered(hut, wall(DOOR))
    before = figure(hut, "door height")
    x, y = place(FRONT, POINTS["head"])

    hut.begin_act()
    put_mark(hut, FRONT, "head", x, y - 10)
    # The door is about 397 px high: 10 px more make it 2.5 % higher.
    assert figure(hut, "door height") == pytest.approx(before * 1.025, rel=0.002)
    undo(hut)
    assert figure(hut, "door height") == before


def test_sizes_follow_a_known_size_through_every_step_in_the_change_that_made_it(hut: Archive) -> None:
    entered(hut, wall("foot; foot right; door width; in the plane"))
    entered(hut, _step("door width", "lintel length"))
    before = {label: figure(hut, label) for label in ("door width", "lintel length")}

    with hut.look() as look:
        number = newest_change(look)
    right.amend_size(hut, HUT, "wall length", "2788.68 mm")  # 2 % more than 2734
    with hut.look() as look:
        assert newest_change(look) == number + 1
    after = {label: figure(hut, label) for label in before}

    # The front of the hut is as good as square-on, so that widths follow the known width alone.
    assert after["door width"] == pytest.approx(before["door width"] * 1.02, rel=0.001)
    assert after["lintel length"] / before["lintel length"] == pytest.approx(
        after["door width"] / before["door width"], rel=1e-6
    )


def _step(known: str, asked: str) -> str:
    """A sheet that works one size out from another by plain proportion."""
    return f"""
        method = 'square on'
        photo = '{FRONT}'
        subject = '{HUT}'
        known = [{{ from = 'foot', to = 'foot right', dimension = '{known}' }}]
        asked = [{{ from = 'sill left', to = 'sill right', label = '{asked}', lies = 'in the plane' }}]
        """


def test_a_size_that_would_be_worked_out_from_itself_is_refused_with_the_way_round_named(
    hut: Archive,
) -> None:
    entered(hut, wall(DOOR_WIDTH))
    entered(hut, _step("door width", "sill length"))
    with hut.look() as look:
        before = newest_change(look)
    third = f"""
        method = 'square on'
        photo = '{FRONT}'
        subject = '{HUT}'
        known = [{{ from = 'sill left', to = 'sill right', dimension = 'sill length' }}]
        asked = [{{ from = 'a', to = 'b', label = 'wall length', lies = 'in the plane' }}]
        """
    with pytest.raises(SizesInACircle) as refused:
        entered(hut, third)

    assert str(refused.value) == (
        "A size would be worked out from itself, so nothing was changed: 'wall length' of Weighbridge hut is worked out "
        "from 'sill length' of Weighbridge hut, which is worked out from 'door width' of Weighbridge hut, which is worked out from "
        "'wall length' of Weighbridge hut. Take another size as the known one, or measure one of these."
    )
    with hut.look() as look:
        assert newest_change(look) == before


def test_a_tally_may_tie_a_size_to_the_one_it_was_worked_out_from(hut: Archive) -> None:
    entered(hut, wall("foot; foot right; door width; in the plane"))
    record_reading(hut, HUT, "left pier width", "511 mm", instrument="long tape")
    record_reading(hut, HUT, "right part width", "1528 mm", instrument="long tape")
    add_tally(hut, HUT, "left pier width + door width + right part width = wall length")

    parts = sum(figure(hut, label) for label in ("left pier width", "door width", "right part width"))
    assert parts == pytest.approx(figure(hut, "wall length"), abs=1e-6)
    before = figure(hut, "door width")
    right.amend_size(hut, HUT, "wall length", "2744 mm")
    assert figure(hut, "door width") > before + 5


def test_a_size_cannot_be_its_own_known_size(hut: Archive) -> None:
    with pytest.raises(
        SizesInACircle, match="'wall length' of Weighbridge hut is worked out from 'wall length'"
    ):
        entered(hut, wall("a; b; wall length; in the plane"))


def test_a_recipe_that_no_longer_solves_keeps_the_change_and_the_figure_and_says_why(hut: Archive) -> None:
    entered(hut, wall(DOOR))
    before = figure(hut, "door height")
    (x, y), (x2, y2) = place(FRONT, POINTS["a"]), place(FRONT, POINTS["c"])

    put_mark(hut, FRONT, "b", (x + x2) / 2, (y + y2) / 2)  # three corners in line

    assert {m.name: m.x_px for m in marks_of_photo(hut, FRONT).marks}["b"] == (x + x2) / 2
    assert figure(hut, "door height") == before
    assert "lie on one line" in warned(hut, "door height")["no-longer-solves"]
    put_mark(hut, FRONT, "b", *place(FRONT, POINTS["b"]))
    assert "no-longer-solves" not in warned(hut, "door height")
    assert figure(hut, "door height") == before


def test_what_followed_from_an_act_is_told_and_what_no_longer_solves_with_the_reason(hut: Archive) -> None:
    entered(hut, wall(DOOR))
    x, y = place(FRONT, POINTS["b"])
    assert what_followed(hut) == []  # the sheet itself tells what it came to

    hut.begin_act()
    put_mark(hut, FRONT, "b", x + 5, y)
    (anew,) = what_followed(hut)
    assert re.fullmatch(r"Worked out anew: door height of Weighbridge hut: 17\d\d mm ± \d+ mm\.", anew)

    hut.begin_act()
    put_mark(hut, FRONT, "b", *place(FRONT, POINTS["a"]))
    (stale,) = what_followed(hut)
    assert stale.startswith(
        f"door height of Weighbridge hut can no longer be worked out from {FRONT}.jpg: In the rectangle, marks 'a' and 'b' "
    )
    assert stale.endswith("The figures stay as they were.")

    hut.begin_act()
    put_mark(hut, FRONT, "elsewhere", 3.0, 4.0)
    assert what_followed(hut) == []


def test_a_known_size_without_a_figure_leaves_what_was_worked_out_from_it(hut: Archive) -> None:
    entered(hut, wall(DOOR))
    before = figure(hut, "door height")
    (reading,) = size_of(hut, "wall length").readings

    right.set_reading_aside(hut, reading.id, "the tape was hooked wrong")

    assert figure(hut, "door height") == before
    assert (
        "'wall length' of Weighbridge hut, from which it starts, has no figure"
        in (warned(hut, "door height")["no-longer-solves"])
    )


def test_a_photo_that_is_taken_out_leaves_the_figures_that_came_from_it(hut: Archive, tmp_path: Path) -> None:
    entered(hut, wall(DOOR))
    before = figure(hut, "door height")

    hut.begin_act()
    right.remove_photos(hut, [FRONT])
    assert figure(hut, "door height") == before
    assert "Its photo was taken out" in warned(hut, "door height")["no-longer-solves"]
    (gap,) = gaps_of(hut, HUT).standing("no longer solves")
    assert (gap.label, gap in gaps_of(hut, HUT).open) == ("door height", True)
    assert gap.mend is not None
    assert "Its photo was taken out" in gap.mend.sentence
    with pytest.raises(NotAccepted, match="photo that this size was worked out from was taken out"):
        write_check_picture(hut, explain(hut, HUT, "door height"), tmp_path / "door.png")
    undo(hut)
    assert "no-longer-solves" not in warned(hut, "door height")
    assert len(marks_of_photo(hut, FRONT).marks) == len(POINTS)


def test_a_recipe_goes_with_the_last_of_its_sizes_and_comes_back_with_it(hut: Archive) -> None:
    enter_subject(hut, "Door")
    sheet = wall(DOOR).replace("label = 'door height'", "subject = 'Door'\nlabel = 'height'")
    entered(hut, sheet)
    hut.begin_act()
    right.remove_subject(hut, "Door")
    assert {n for mark in [marks_of_photo(hut, FRONT)] for n in mark.uses} == {0}
    undo(hut)
    assert size_of(hut, "height", "Door").estimate is not None
    assert set(marks_of_photo(hut, FRONT).uses) == {0, 1}


def test_sizes_of_merged_subjects_go_on_following(hut: Archive) -> None:
    enter_subject(hut, "Hut at the gate")
    record_reading(hut, "Hut at the gate", "wall length", "2734 mm", instrument="long tape")
    entered(hut, wall(DOOR, known="dimension = 'wall length'\nsubject = 'Hut at the gate'"))
    before = figure(hut, "door height")

    right.merge_subjects(hut, "Hut at the gate", HUT)
    kept = {r.as_written for r in size_of(hut, "wall length").readings}
    assert kept == {"2734 mm"}
    assert figure(hut, "door height") == pytest.approx(before, rel=1e-9)
    for reading in size_of(hut, "wall length").readings:
        right.set_reading_aside(hut, reading.id, "not needed")
    assert "no-longer-solves" in warned(hut, "door height")


# Entering again, and taking back


def test_the_same_sheet_twice_is_held_once(hut: Archive) -> None:
    first = entered(hut, wall(DOOR, DOOR_WIDTH))
    again = entered(hut, wall(DOOR, DOOR_WIDTH))

    assert (first.is_new, again.is_new) == (True, False)
    assert again.derivation.id == first.derivation.id
    assert len(size_of(hut, "door height").readings) == 1


def test_a_sheet_that_says_otherwise_of_the_same_ends_replaces_what_was_worked_out_before(
    hut: Archive,
) -> None:
    first = entered(hut, wall("foot; head; door height; in the plane"))
    second = entered(hut, wall(DOOR))

    assert second.sizes[0].replaces == first.sizes[0].reading.id
    assert figure(hut, "door height") == second.sizes[0].reading.value


def test_marks_that_lie_elsewhere_than_the_sheet_says_are_not_moved_unasked(hut: Archive) -> None:
    entered(hut, wall(DOOR))
    x, y = place(FRONT, POINTS["head"])
    other = wall(DOOR).replace(f"'head' = {[x, y]}", f"'head' = {[x, y - 10]}")
    with pytest.raises(
        NotAccepted, match="marks 'head' lie elsewhere than the sheet says; nothing was changed"
    ):
        entered(hut, other)

    moved = entered(hut, other, move_marks=True)
    assert [mark.name for mark in moved.moved] == ["head"]
    assert len(size_of(hut, "door height").readings) == 1
    assert figure(hut, "door height") == pytest.approx(DOOR_MM * 1.025, rel=0.003)


def test_a_dry_run_keeps_nothing(hut: Archive) -> None:
    with hut.look() as look:
        before = newest_change(look)
    came = entered(hut, wall(DOOR), dry_run=True)

    assert came.sizes[0].derived.value_mm == pytest.approx(DOOR_MM, rel=0.002)
    assert marks_of_photo(hut, FRONT).marks == ()
    with hut.look() as look:
        assert newest_change(look) == before


def test_what_a_sheet_did_is_taken_back_as_one_and_comes_back_as_one(hut: Archive) -> None:
    entered(hut, wall(DOOR))
    before = figure(hut, "door height")
    with hut.look() as look:
        assert history.all_acts(look)[0].sentence == f"Worked out 'door height' of {HUT} from {FRONT}.jpg"

    undo(hut)
    assert marks_of_photo(hut, FRONT).marks == ()
    assert [line.dimension.label for line in sizes_of(hut, HUT).lines] == ["wall length"]
    with hut.look() as look:
        number = history.all_acts(look)[0].number
    undo(hut, number)
    assert figure(hut, "door height") == before


def test_a_sheet_can_be_taken_back_although_its_figures_have_followed_since(hut: Archive) -> None:
    act = _act_of(hut, wall(DOOR))
    hut.begin_act()
    right.amend_size(hut, HUT, "wall length", "2788.7 mm")
    undo(hut, act)
    assert [line.dimension.label for line in sizes_of(hut, HUT).lines] == ["wall length"]


def test_a_known_size_that_is_taken_back_leaves_the_size_that_leans_on_it(hut: Archive) -> None:
    hut.begin_act()
    record_reading(hut, HUT, "eaves length", "2734 mm")
    with hut.look() as look:
        act = history.all_acts(look)[0].number
    entered(hut, wall(DOOR, known="dimension = 'eaves length'"))
    before = figure(hut, "door height")

    undo(hut, act)
    assert figure(hut, "door height") == before
    assert "no-longer-solves" in warned(hut, "door height")


def _act_of(archive: Archive, sheet: str) -> int:
    entered(archive, sheet)
    with archive.look() as look:
        return history.all_acts(look)[0].number


# Refusals


def test_every_asked_size_that_cannot_be_had_is_named_with_what_to_mark_instead(hut: Archive) -> None:
    sheet = wall(DOOR, "foot; foot; door width; in the plane", "a; foot; sill height; standing out 9 m")
    with pytest.raises(NotWorkedOut) as refused:
        entered(hut, sheet)

    assert (
        "'door width' of Weighbridge hut: In the asked size, marks 'foot' and 'foot' are at the same place"
        in str(refused.value)
    )
    assert "'sill height' of Weighbridge hut: The size is said to stand out as far as the camera" in str(
        refused.value
    )
    assert "door height" not in str(refused.value)
    assert marks_of_photo(hut, FRONT).marks == ()


def test_a_mark_that_is_not_there_is_named_with_the_one_that_may_be_meant(hut: Archive) -> None:
    with pytest.raises(
        NotWorkedOut, match=r"no mark 'foott' on P5_20230617_101431.jpg \(do you mean 'foot'\?\)"
    ):
        entered(hut, wall("foott; head; door height; in the plane"))


def test_a_mark_off_the_picture_is_refused_with_the_size_of_the_picture(hut: Archive) -> None:
    with pytest.raises(
        NotAccepted,
        match=r"is not on 'P5_20230617_101431.jpg'; nothing was changed. The upright picture is 1600 px wide",
    ):
        put_mark(hut, FRONT, "beyond", 1600.2, 20)


def test_a_size_that_nobody_wrote_down_cannot_be_the_known_one(hut: Archive) -> None:
    with pytest.raises(
        RecordNotFound, match=r"no size of Weighbridge hut called 'wall lenght'.*'wall length'"
    ):
        entered(hut, wall(DOOR, known="dimension = 'wall lenght'"))


def test_what_was_worked_out_is_not_corrected_by_hand(hut: Archive) -> None:
    entered(hut, wall(DOOR))
    with pytest.raises(NotAccepted, match="was worked out and not read"):
        right.amend_size(hut, HUT, "door height", "1750 mm")


# Marks


CLEAN_CORNER = "pane r1 c2 upper left"  # dark glass against a pale frame


def test_a_mark_put_beside_a_corner_moves_to_it_and_says_by_how_much(hut: Archive) -> None:
    x, y = place(FRONT, CLEAN_CORNER)
    off = put_mark(hut, FRONT, "corner", x + 2.5, y - 2)
    snapped = put_mark(hut, FRONT, "corner", x + 2.5, y - 2, snap="corner")

    assert (off.mark.snapped, off.says) == (None, None)
    assert snapped.mark.snapped == "corner"
    assert hypot(snapped.mark.x_px - x, snapped.mark.y_px - y) < 2 * snapped.u_px
    assert snapped.says is not None
    assert re.fullmatch(r"The mark was moved by \d\.\d px to the corner\.", snapped.says)
    assert len(marks_of_photo(hut, FRONT).marks) == 1


def test_a_sheet_moves_its_marks_to_corners_where_it_says_so_and_is_the_same_sheet_again(
    hut: Archive,
) -> None:
    x, y = place(FRONT, CLEAN_CORNER)
    sheet = wall(DOOR).replace(
        "[marks]", f"[marks]\nsill = [{x + 2}, {y - 2}, 'corner']\nsky = [800, 60, 'edge']"
    )
    first, again = entered(hut, sheet), entered(hut, sheet)

    assert {mark.name: mark.snapped for mark in first.snapped} == {"sill": "corner", "sky": None}
    assert "stays where it was put" in {mark.name: mark.says for mark in first.snapped}["sky"]
    held = {mark.name: mark for mark in marks_of_photo(hut, FRONT).marks}
    assert hypot(held["sill"].x_px - x, held["sill"].y_px - y) < 2
    assert (held["sky"].x_px, held["sky"].y_px) == (800.0, 60.0)
    assert (first.is_new, again.is_new, again.moved) == (True, False, ())


def test_a_mark_on_plain_sky_stays_where_it_was_put_and_says_so(hut: Archive) -> None:
    done = put_mark(hut, FRONT, "sky", 800.0, 60.0, snap="corner")

    assert (done.mark.x_px, done.mark.y_px, done.mark.snapped) == (800.0, 60.0, None)
    assert done.says is not None
    assert done.says.startswith("The mark stays where it was put")


def test_marks_are_as_sure_as_they_are_clear(hut: Archive) -> None:
    sure = [put_mark(hut, FRONT, clear, 100, 100, clear=clear).u_px for clear in ("crisp", "plain", "worn")]
    assert sure == [0.7, 1.0, 2.5]


def test_readings_of_derivations_are_found_by_them(hut: Archive) -> None:
    came = entered(hut, wall(DOOR, DOOR_WIDTH))
    with hut.look() as look:
        found = sizes.readings_worked_out_by(look, [came.derivation.id])[came.derivation.id]
    assert {r.id for r in found} == {size.reading.id for size in came.sizes}
