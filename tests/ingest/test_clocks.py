"""Clocks that were wrong: the times follow, what a camera wrote is kept, and all of it can be taken back."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_pictures import exif_block, jpeg_bytes, upright_scene, with_exif
from wendle_basin import new_archive

from archive.dimensions import putting_right
from archive.dimensions.undoing import undo
from archive.errors import NotAccepted, RecordNotFound
from archive.ingest.importing import import_files
from archive.records import photos, visits
from archive.records.archive import Archive, open_archive
from archive.records.entering import enter_visit
from archive.records.setting_clocks import (
    PutRight,
    parse_duration,
    put_clock_right,
    put_clock_right_by,
    told,
    told_duration,
)

JUNE, MAY = "Wendle Basin, June", "Wendle Basin, May"
CAMERA, PHONE = ("Halden", "Halden C20"), ("Orrin", "P5")
_numbers = iter(range(10_000))


def photo(
    folder: Path,
    name: str,
    camera: tuple[str, str] | None,
    taken: str,
    own: dict[int, tuple[int, object]] | None = None,
    gps: dict[int, tuple[int, object]] | None = None,
) -> Path:
    make_and_model = {0x010F: (2, camera[0]), 0x0110: (2, camera[1])} if camera else {}
    picture = jpeg_bytes(upright_scene(60 + next(_numbers), 40))
    folder.mkdir(exist_ok=True)
    file = folder / name
    times = {0x9003: (2, f"2023:06:17 {taken}")} | (own or {})
    file.write_bytes(with_exif(picture, exif_block(make_and_model, times, gps)))
    return file


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of a camera 1 h 7 min ahead of the phone that was used in turns with it."""
    where = tmp_path_factory.mktemp("kept")
    card = where / "card"
    photo(card, "P5_1.jpg", PHONE, "10:00:00")
    photo(card, "HC20_1.JPG", CAMERA, "11:08:00")
    photo(card, "P5_2.jpg", PHONE, "10:02:00")
    photo(card, "HC20_2.JPG", CAMERA, "11:10:00")
    photo(card, "P5_3.jpg", PHONE, "10:04:00")
    with new_archive(where / "archive") as opened:
        import_files(opened, [card], visit=JUNE)
    return where / "archive"


@pytest.fixture
def archive(kept: Path, tmp_path: Path) -> Iterator[Archive]:
    with open_archive(Path(shutil.copytree(kept, tmp_path / "archive"))) as opened:
        yield opened


def in_order(archive: Archive, visit: str = JUNE) -> list[str]:
    with archive.look() as look:
        return [p.file for p in photos.all_photos(look, visit=visits.visit_named(look, visit))]


def times(archive: Archive) -> dict[str, str | None]:
    with archive.look() as look:
        return {p.file: p.taken and p.taken[11:] for p in photos.all_photos(look)}


def ahead(archive: Archive, written: str = "1h07m") -> PutRight:
    done = put_clock_right(archive, JUNE, camera="Halden C20", ahead_s=parse_duration(written))
    archive.begin_act()
    return done


INTERLEAVED = ["P5_1.jpg", "HC20_1.JPG", "P5_2.jpg", "HC20_2.JPG", "P5_3.jpg"]


def test_two_cameras_interleave_when_the_clock_of_one_is_put_right(archive: Archive) -> None:
    assert in_order(archive) == ["P5_1.jpg", "P5_2.jpg", "P5_3.jpg", "HC20_1.JPG", "HC20_2.JPG"]

    done = ahead(archive)

    assert in_order(archive) == INTERLEAVED
    assert (
        told(done)
        == "The clock of Halden C20 on the visit 'Wendle Basin, June': it was 1 h 7 min ahead. 2 photos follow; "
        "HC20_1.JPG was taken at 2023-06-17 10:01:00, not at 2023-06-17 11:08:00. What the camera wrote is kept. "
        "To take it back: rivetbook undo"
    )


def test_two_cameras_that_tell_their_zones_interleave_by_themselves(tmp_path: Path) -> None:
    card = tmp_path / "card"
    for number, minute in enumerate((0, 2, 4), 1):  # a phone on the place's time, which its tag tells
        photo(card, f"P5_{number}.jpg", PHONE, f"10:0{minute}:00", {0x9011: (2, "+02:00")})
    for number, minute in enumerate((1, 3), 1):  # a camera left on the time at home, as satellites tell
        utc = {0x07: (5, [(8, 1), (minute, 1), (7, 1)]), 0x1D: (2, "2023:06:17")}
        photo(card, f"HC20_{number}.JPG", CAMERA, f"09:0{minute}:00", gps=utc)
    with new_archive(tmp_path / "archive") as archive:
        import_files(archive, [card], visit=JUNE)

        assert in_order(archive) == INTERLEAVED
        with archive.look() as look:
            camera = photos.photo_named(look, "HC20_1")
        assert (camera.utc_offset, camera.utc_offset_by_gps, camera.taken) == (
            None, "+01:00", "2023-06-17T09:01:00",
        )  # fmt: skip


def test_a_camera_that_comes_later_puts_those_that_are_there_in_order_too(tmp_path: Path) -> None:
    for folder, name, taken, offset in (
        ("first", "P5_1.jpg", "10:00:00", "+02:00"),
        ("second", "HC20_1.JPG", "09:30:00", "+01:00"),  # half an hour later
    ):
        photo(tmp_path / folder, name, None, taken, {0x9011: (2, offset)})
    with new_archive(tmp_path / "archive") as archive:
        for folder in ("first", "second"):
            import_files(archive, [tmp_path / folder], visit=JUNE)
            archive.begin_act()
        assert in_order(archive) == ["P5_1.jpg", "HC20_1.JPG"]

        undo(archive)
        assert in_order(archive) == ["P5_1.jpg"]


@pytest.mark.parametrize("how", ["removed", "moved"])
def test_the_order_is_by_the_camera_s_own_times_again_when_those_of_another_zone_are_gone(
    tmp_path: Path, how: str
) -> None:
    photo(tmp_path / "card", "away.jpg", CAMERA, "09:00:00", {0x9011: (2, "+01:00")})
    photo(tmp_path / "card", "P5_1.jpg", PHONE, "10:30:00", {0x9011: (2, "+02:00")})  # 08:30 UTC
    photo(tmp_path / "card", "plain 1.jpg", None, "10:00:00")
    with new_archive(tmp_path / "archive") as archive:
        enter_visit(archive, JUNE, days="2023-06-17", zone="Europe/London")
        import_files(archive, [tmp_path / "card"], visit=JUNE)
        assert in_order(archive) == ["away.jpg", "P5_1.jpg", "plain 1.jpg"]  # 08:00, 08:30 and 09:00 UTC

        archive.begin_act()
        if how == "removed":
            putting_right.remove_photos(archive, ["away.jpg"])
        else:
            enter_visit(archive, MAY, days="2023-05-01", zone="Europe/London")
            putting_right.move_photos(archive, ["away.jpg"], MAY)
        archive.begin_act()
        photo(tmp_path / "more", "plain 2.jpg", None, "10:15:00")
        import_files(archive, [tmp_path / "more"], visit=JUNE)

        assert in_order(archive) == ["plain 1.jpg", "plain 2.jpg", "P5_1.jpg"]


def test_photos_of_one_moment_or_of_none_come_in_the_order_in_which_people_count(tmp_path: Path) -> None:
    card = tmp_path / "card"
    for number in (10, 9, 100, 2):
        photo(card, f"HC20_{number}.JPG", CAMERA, "10:00:00")
        (card / f"scan {number}.jpg").write_bytes(jpeg_bytes(upright_scene(60 + next(_numbers), 40)))
    with new_archive(tmp_path / "archive") as archive:
        import_files(archive, [card], visit=JUNE)

        assert in_order(archive) == [
            *(f"HC20_{number}.JPG" for number in (2, 9, 10, 100)),
            *(f"scan {number}.jpg" for number in (2, 9, 10, 100)),
        ]


def test_what_the_camera_wrote_is_kept(archive: Archive) -> None:
    ahead(archive)

    with archive.look() as look:
        (first,) = photos.photos_matching(look, "HC20_1")
    assert (first.taken_as_read, first.taken, first.clock_ahead_s) == (
        "2023:06:17 11:08:00", "2023-06-17T10:01:00", 67 * 60,
    )  # fmt: skip


def test_saying_it_again_counts_from_what_the_camera_wrote(archive: Archive) -> None:
    ahead(archive, "2h")
    ahead(archive)
    assert times(archive)["HC20_1.JPG"] == "10:01:00"
    ahead(archive, "0")

    assert times(archive)["HC20_1.JPG"] == "11:08:00"


@pytest.mark.parametrize(("first", "other"), [("HC20_1", "P5_2"), ("P5_2", "HC20_1")])
def test_two_photos_of_one_moment_tell_how_far_it_was_ahead(archive: Archive, first: str, other: str) -> None:
    # The camera wrote 11:08 when the phone wrote 10:02.
    done = put_clock_right_by(archive, JUNE, camera="Halden C20", photo=first, shows=other)

    assert done.ahead_s == 66 * 60
    assert times(archive)["HC20_2.JPG"] == "10:04:00"


def test_without_a_camera_named_it_is_the_first_photo_s(archive: Archive) -> None:
    done = put_clock_right_by(archive, JUNE, camera=None, photo="HC20_1", shows="P5_2")

    assert (done.camera, done.ahead_s) == ("Halden C20", 66 * 60)


@pytest.mark.parametrize(
    ("shown", "ahead_s"), [("10:01", 67 * 60), ("10:00:30", 67 * 60 + 30), ("2023-06-16 11:08", 86400)]
)
def test_a_clock_in_the_picture_tells_it_too(archive: Archive, shown: str, ahead_s: int) -> None:
    assert put_clock_right_by(archive, JUNE, camera=None, photo="HC20_1", shows=shown).ahead_s == ahead_s


def test_a_clock_past_midnight_is_of_the_nearest_day(archive: Archive, tmp_path: Path) -> None:
    import_files(archive, [photo(tmp_path / "late", "late.jpg", ("Vane", "V1"), "00:10:00")], visit=JUNE)

    assert put_clock_right_by(archive, JUNE, camera=None, photo="late", shows="23:55").ahead_s == 15 * 60


def test_photos_that_come_later_follow_too_and_undo_takes_all_of_it_back(
    archive: Archive, tmp_path: Path
) -> None:
    ahead(archive)
    import_files(archive, [photo(tmp_path / "more", "HC20_3.JPG", CAMERA, "11:20:00")], visit=JUNE)
    assert times(archive)["HC20_3.JPG"] == "10:13:00"
    archive.begin_act()

    undo(archive, 2)

    assert times(archive) == {
        "P5_1.jpg": "10:00:00", "P5_2.jpg": "10:02:00", "P5_3.jpg": "10:04:00",
        "HC20_1.JPG": "11:08:00", "HC20_2.JPG": "11:10:00", "HC20_3.JPG": "11:20:00",
    }  # fmt: skip
    undo(archive, 4)
    assert times(archive)["HC20_3.JPG"] == "10:13:00"


def test_photos_keep_their_right_time_when_they_go_to_another_visit(archive: Archive, tmp_path: Path) -> None:
    import_files(archive, [photo(tmp_path / "may", "HC20_9.JPG", CAMERA, "17:00:00")], visit=MAY)
    ahead(archive)
    putting_right.move_photos(archive, ["HC20_1"], MAY)

    assert times(archive)["HC20_1.JPG"] == "10:01:00"
    assert times(archive)["HC20_9.JPG"] == "17:00:00", "whose clock nobody called wrong"


def test_photos_keep_their_times_when_visits_are_merged_either_way(archive: Archive, tmp_path: Path) -> None:
    import_files(archive, [photo(tmp_path / "may", "HC20_9.JPG", CAMERA, "17:00:00")], visit=MAY)
    ahead(archive)
    right = times(archive)
    archive.begin_act()
    for other, into in ((MAY, JUNE), (JUNE, MAY)):
        putting_right.merge_visits(archive, other, into)
        assert times(archive) == right
        archive.begin_act()
        undo(archive)
        assert times(archive) == right


def test_the_visit_s_days_follow_where_they_were_the_photos(tmp_path: Path) -> None:
    with new_archive(tmp_path / "archive") as archive:
        import_files(archive, [photo(tmp_path / "card", "HC20_1.JPG", CAMERA, "11:08:00")], visit=JUNE)
        put_clock_right(archive, JUNE, camera=None, ahead_s=-parse_duration("365 days"))
        with archive.look() as look:
            assert visits.visit_named(look, JUNE).first_day == "2024-06-16"


def test_a_right_time_beyond_the_calendar_is_left_as_it_was_written(tmp_path: Path) -> None:
    with new_archive(tmp_path / "archive") as archive:
        file = tmp_path / "far.jpg"
        exif = exif_block({0x0110: (2, "C20")}, {0x9003: (2, "9999:12:31 23:00:00")})
        file.write_bytes(with_exif(jpeg_bytes(upright_scene()), exif))
        import_files(archive, [file], visit=JUNE)
        put_clock_right(archive, JUNE, camera=None, ahead_s=-7200)

        assert times(archive) == {"far.jpg": "23:00:00"}


def test_a_camera_that_names_itself_not_is_called_none(archive: Archive, tmp_path: Path) -> None:
    import_files(archive, [photo(tmp_path / "scan", "scan.jpg", None, "12:00:00")], visit=JUNE)

    put_clock_right(archive, JUNE, camera="none", ahead_s=-60)

    assert times(archive)["scan.jpg"] == "12:01:00"


def test_what_cannot_be_meant_is_refused_with_what_can(archive: Archive, tmp_path: Path) -> None:
    import_files(archive, [photo(tmp_path / "may", "HC20_9.JPG", CAMERA, "17:00:00")], visit=MAY)
    with pytest.raises(
        RecordNotFound, match=r"no camera of the visit .* called 'Vane'.*Halden C20.*Orrin P5"
    ):
        put_clock_right(archive, JUNE, camera="Vane", ahead_s=60)
    with pytest.raises(NotAccepted, match=r"More than one camera was used.*Halden C20, Orrin P5"):
        put_clock_right(archive, JUNE, camera=None, ahead_s=60)
    with pytest.raises(NotAccepted, match="with the same camera"):
        put_clock_right_by(archive, JUNE, camera=None, photo="HC20_1", shows="HC20_2")
    with pytest.raises(NotAccepted, match=r"'HC20_9.JPG' is not of the visit 'Wendle Basin, June'"):
        put_clock_right_by(archive, JUNE, camera=None, photo="HC20_9", shows="P5_1")
    with pytest.raises(NotAccepted, match="was not taken with Orrin P5"):
        put_clock_right_by(archive, JUNE, camera="P5", photo="HC20_1", shows="10:00")


@pytest.mark.parametrize(
    ("written", "seconds"),
    [("1h07m", 4020), ("1 h 7 min", 4020), ("40s", 40), ("2 days", 172_800), ("1 day and 3 hours", 97_200),
     ("1:07:30", 4050), ("0:05", 300), ("0", 0), ("26h", 93_600)],
)  # fmt: skip
def test_lengths_of_time_are_read_as_people_write_them(written: str, seconds: int) -> None:
    assert parse_duration(written) == seconds


@pytest.mark.parametrize(
    "written", ["", "1h -5m", "7", "1:75", "1h 2h", "an hour", "5 months", "9" * 50 + "d"]
)
def test_what_is_no_length_of_time_is_refused(written: str) -> None:
    with pytest.raises(NotAccepted, match="is not a length of time"):
        parse_duration(written)


@given(st.integers(min_value=0, max_value=100 * 366 * 86400))
def test_a_length_of_time_is_told_so_that_it_can_be_read(seconds: int) -> None:
    assert parse_duration(told_duration(seconds)) == seconds
