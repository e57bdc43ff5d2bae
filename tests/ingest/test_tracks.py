"""GPS tracks: kept beside the photos, and giving places to those that have none; hostile ones are refused."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import cos, radians
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from made_pictures import exif_block, jpeg_bytes, upright_scene, with_exif
from wendle_basin import new_archive

from archive.dimensions import putting_right
from archive.dimensions.undoing import undo
from archive.errors import TrackNotReadable
from archive.ingest.gpx import read_track
from archive.ingest.importing import import_files
from archive.records import photos
from archive.records.archive import Archive
from archive.records.entering import enter_visit
from archive.records.fixity import verify
from archive.records.setting_clocks import put_clock_right
from archive.records.things import Photo
from archive.records.tracks import distance_m, place_at

JUNE = "Wendle Basin, June"
NORTH, EAST = 52.5, -1.5  # somewhere in the middle of England
M_PER_DEGREE = 111_195.0  # of latitude on a round earth of 6,371 km


def gpx(points: Sequence[tuple[str, float, float]], name: str = "1.1") -> str:
    """A track of points: time of the 17th, metres north, metres east."""
    east_scale = M_PER_DEGREE * cos(radians(NORTH))
    body = "".join(
        f'<trkpt lat="{NORTH + north / M_PER_DEGREE:.8f}" lon="{EAST + east / east_scale:.8f}">'
        f"<ele>101</ele><time>2023-06-17T{time}Z</time></trkpt>"
        for time, north, east in points
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><gpx version="{name}" creator="made here" '
        f'xmlns="http://www.topografix.com/GPX/1/{name[-1]}"><trk><name>round the basin</name><trkseg>{body}</trkseg>'
        "</trk></gpx>"
    )


def photo(file: Path, taken: str, offset: str | None = None, number: int = 0) -> Path:
    own = {0x9003: (2, f"2023:06:17 {taken}")} | ({0x9011: (2, offset)} if offset else {})
    picture = jpeg_bytes(upright_scene(50 + number, 40))
    file.write_bytes(with_exif(picture, exif_block({0x0110: (2, "Halden C20")}, own)))
    return file


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    return folder


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """With a visit in a zone that is one hour before UTC in June."""
    with new_archive(tmp_path / "archive") as opened:
        enter_visit(opened, JUNE, days="2023-06-17", zone="Europe/London")
        opened.begin_act()
        yield opened


def named(archive: Archive, file: str) -> Photo:
    with archive.look() as look:
        return photos.photo_named(look, file)


def metres_from_start(photo: Photo) -> tuple[float, float]:
    assert photo.latitude is not None
    assert photo.longitude is not None
    north = (photo.latitude - NORTH) * M_PER_DEGREE
    return north, (photo.longitude - EAST) * M_PER_DEGREE * cos(radians(NORTH))


def test_a_photo_between_two_points_is_placed_between_them_with_its_doubt(
    archive: Archive, card: Path
) -> None:
    # Taken at 11:01 British summer time, 10:01 UTC: a third of the way in time from one point to the next.
    photo(card / "wharf.jpg", "11:01:00")
    (card / "walk.gpx").write_text(gpx([("10:00:00", 0, 0), ("10:03:00", 90, 60)]))

    report = import_files(archive, [card], visit=JUNE)

    wharf = named(archive, "wharf.jpg")
    assert metres_from_start(wharf) == (pytest.approx(30, abs=0.1), pytest.approx(20, abs=0.1))
    assert wharf.position_from == "track, between two points"
    # By hand: the receiver's 10 m, and at a walk of 1.4 m/s 84 m in the minute from the nearer point.
    assert wharf.position_radius_m == pytest.approx(94, abs=0.1)
    assert (report.placed_by_track, report.left_out) == (1, [])
    assert [(kept.file, kept.role, kept.photo) for kept in report.kept_beside] == [
        ("walk.gpx", "track", None)
    ]


@pytest.mark.parametrize(
    ("points", "how"),
    [
        ([("10:00:30", 0, 0)], "track, nearest point"),
        ([("10:00:30", 0, 0), ("10:02:00", 500, 0)], "track, nearest point"),  # 500 m: no straight walk
        ([("09:58:00", 0, 0), ("10:03:30", 90, 0)], None),  # 5 min 30 s apart, the nearer one 2 min off
        ([("09:59:59", 0, 0)], None),  # 61 s off
        ([("09:00:00", 0, 0), ("12:00:00", 0, 0)], None),
    ],
)
def test_gaps_in_the_track_are_not_guessed_across(
    archive: Archive, card: Path, points: list[tuple[str, float, float]], how: str | None
) -> None:
    photo(card / "wharf.jpg", "11:01:00")
    (card / "walk.gpx").write_text(gpx(points))
    import_files(archive, [card], visit=JUNE)

    assert named(archive, "wharf.jpg").position_from == how


def test_a_photo_that_tells_its_own_place_keeps_it(archive: Archive, card: Path) -> None:
    gps = {
        1: (2, "N"),
        2: (5, [(53, 1), (0, 1), (0, 1)]),
        3: (2, "W"),
        4: (5, [(2, 1), (0, 1), (0, 1)]),
        0x1F: (5, (12, 1)),
    }
    own = {0x9003: (2, "2023:06:17 11:01:00")}
    (card / "own.jpg").write_bytes(with_exif(jpeg_bytes(upright_scene()), exif_block({}, own, gps)))
    (card / "walk.gpx").write_text(gpx([("10:00:00", 0, 0), ("10:02:00", 10, 0)]))
    report = import_files(archive, [card], visit=JUNE)

    own_place = named(archive, "own.jpg")
    assert (own_place.latitude, own_place.longitude) == (53, -2)
    assert (own_place.position_from, own_place.position_radius_m) == ("file", 12)
    assert report.placed_by_track == 0


def test_the_offset_that_the_file_tells_goes_before_the_visit_s_zone(archive: Archive, card: Path) -> None:
    photo(card / "abroad.jpg", "12:01:00", offset="+02:00")  # 10:01 UTC
    (card / "walk.gpx").write_text(gpx([("10:01:00", 5, 0)]))
    import_files(archive, [card], visit=JUNE)

    assert named(archive, "abroad.jpg").position_from == "track, nearest point"


def test_the_offset_that_satellite_time_implies_goes_before_the_visit_s_zone_too(
    archive: Archive, card: Path
) -> None:
    # A receiver that had the time and no fix: 12:01 by the camera, 10:00:58 UTC, so its clock was two hours before it.
    satellite = {0x07: (5, [(10, 1), (0, 1), (58, 1)]), 0x1D: (2, "2023:06:17")}
    block = exif_block({}, {0x9003: (2, "2023:06:17 12:01:00")}, satellite)
    (card / "abroad.jpg").write_bytes(with_exif(jpeg_bytes(upright_scene()), block))
    (card / "walk.gpx").write_text(gpx([("10:01:00", 5, 0)]))
    import_files(archive, [card], visit=JUNE)

    abroad = named(archive, "abroad.jpg")
    assert (abroad.utc_offset, abroad.utc_offset_by_gps) == (None, "+02:00")
    assert abroad.readers["utc_offset_by_gps"] == "exifread"
    assert (abroad.position_from, metres_from_start(abroad)[0]) == (
        "track, nearest point", pytest.approx(5, abs=0.1),
    )  # fmt: skip


def test_places_follow_when_a_clock_or_the_zone_is_put_right(archive: Archive, card: Path) -> None:
    photo(card / "wharf.jpg", "12:08:00")  # whose clock was 1 h 7 min ahead: 11:01, 10:01 UTC
    (card / "walk.gpx").write_text(gpx([("10:00:00", 0, 0), ("10:02:00", 40, 0)]))
    import_files(archive, [card], visit=JUNE)
    assert named(archive, "wharf.jpg").latitude is None

    archive.begin_act()
    put_clock_right(archive, JUNE, camera=None, ahead_s=67 * 60)
    assert metres_from_start(named(archive, "wharf.jpg"))[0] == pytest.approx(20, abs=0.1)
    archive.begin_act()
    putting_right.amend_visit(archive, JUNE, zone="Europe/Paris")
    assert named(archive, "wharf.jpg").latitude is None
    archive.begin_act()
    undo(archive)
    assert named(archive, "wharf.jpg").position_from == "track, between two points"
    undo(archive)
    assert named(archive, "wharf.jpg").latitude is None


def test_a_track_that_comes_later_gives_its_places_and_takes_them_along_when_taken_back(
    archive: Archive, card: Path
) -> None:
    import_files(archive, [photo(card / "wharf.jpg", "11:01:00")], visit=JUNE)
    (card / "walk.gpx").write_text(gpx([("10:01:00", 0, 0)]))
    archive.begin_act()
    report = import_files(archive, [card], visit=JUNE)
    assert report.placed_by_track == 1
    assert verify(archive).findings == []

    archive.begin_act()
    undo(archive)
    assert named(archive, "wharf.jpg").latitude is None
    undo(archive, 4)
    assert named(archive, "wharf.jpg").position_from == "track, nearest point"


def test_gpx_of_either_version_and_any_encoding_is_read(card: Path) -> None:
    points = [("10:00:00", 0.0, 0.0), ("10:00:30.5", 12.0, 3.0)]
    (card / "old.gpx").write_text(gpx(points, "1.0"))
    (card / "wide.gpx").write_bytes(gpx(points).replace("UTF-8", "UTF-16").encode("utf-16"))
    (card / "bare.gpx").write_text(gpx(points).replace(' xmlns="http://www.topografix.com/GPX/1/1"', ""))

    first, *others = [read_track(file) for file in sorted(card.glob("*.gpx"))]
    assert all(other == first for other in others)
    assert [round(utc_s % 60, 1) for utc_s, _, _ in first] == [0.0, 30.5]


BOMB = '<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]><gpx><trk><name>&b;</name></trk></gpx>'
LOOK_ELSEWHERE = (
    '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx><trk><name>&x;</name></trk></gpx>'
)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (BOMB, "declares what no track needs"),
        (LOOK_ELSEWHERE, "declares what no track needs"),
        ("<gpx><trk><trkseg><trkpt lat='52' lon='-1'>", "its XML is damaged"),
        ("<gpx>" + "<x>" * 5000 + "</x>" * 5000 + "</gpx>", "nested deeper than any track's"),
        ("<gpx></gpx>", "no point with a time"),
        ("<gpx><trkpt lat='52' lon='-1'/></gpx>", "no point with a time"),
        ("<gpx><trkpt lat='95' lon='0'><time>2023-06-17T10:00:00Z</time></trkpt></gpx>", "no point with a time"),
        ("<gpx><trkpt lat='nan' lon='0'><time>2023-06-17T10:00:00Z</time></trkpt></gpx>", "no point with a time"),
        ("<gpx><trkpt lat='1' lon='1'><time>yesterday</time></trkpt></gpx>", "no point with a time"),
    ],
)  # fmt: skip
def test_a_hostile_or_damaged_track_is_left_out_with_the_reason(
    archive: Archive, card: Path, content: str, why: str
) -> None:
    (card / "bad.gpx").write_text(content)
    with pytest.raises(TrackNotReadable, match=why):
        read_track(card / "bad.gpx")

    report = import_files(archive, [photo(card / "wharf.jpg", "11:01:00"), card / "bad.gpx"], visit=JUNE)

    assert report.imported == ["wharf.jpg"]
    (left,) = report.left_out
    assert left.reason.startswith("it is a GPS track that cannot be read: ")


def test_a_track_longer_than_any_walk_is_refused_before_it_fills_memory(card: Path) -> None:
    point = "<trkpt lat='52' lon='-1'><time>2023-06-17T10:00:00Z</time></trkpt>"
    (card / "long.gpx").write_text(f"<gpx><trk>{point * 200_001}</trk></gpx>")

    with pytest.raises(TrackNotReadable, match="more than 200,000 points"):
        read_track(card / "long.gpx")


def test_across_the_date_line_the_short_way_is_taken() -> None:
    placed = place_at([(0.0, 0.0, 179.9995), (60.0, 0.0, -179.9995)], 30.0)

    assert placed is not None
    assert abs(placed.longitude) == pytest.approx(180)


moments = st.floats(min_value=0, max_value=1000)
metres = st.floats(min_value=-500, max_value=500)


@given(st.lists(st.tuples(moments, metres, metres), max_size=6), moments)
@example([(0.0, 0.0, 0.0), (5e-324, 100.0, 0.0)], 5e-324)  # a pace too great for a number
def test_a_place_lies_within_its_radius_of_the_nearest_point_in_time(
    walk: list[tuple[float, float, float]], at: float
) -> None:
    points = sorted((utc_s, NORTH + n / M_PER_DEGREE, EAST + e / M_PER_DEGREE) for utc_s, n, e in walk)
    placed = place_at(points, at)

    if placed is not None:
        least = min(abs(point[0] - at) for point in points)
        near = [point for point in points if abs(point[0] - at) == least]
        here = (at, placed.latitude, placed.longitude)
        assert min(distance_m(here, point) for point in near) <= placed.radius_m
        assert placed.radius_m >= 10
