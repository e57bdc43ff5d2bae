"""By place, time and what there is: distances against known ones, times by the calendar."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, pi, radians, sin
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from made_archives import add_photo, add_size
from wendle_basin import new_archive

from archive.errors import LengthNotUnderstood, NotAccepted, RecordNotFound
from archive.records import photos, subjects, tables, visits
from archive.records.archive import Archive
from archive.search import find, index
from archive.search.nearness import (
    EARTH_RADIUS_M,
    Position,
    box_around,
    great_circle_m,
    parse_position,
)

degrees_north = st.floats(-90, 90)
degrees_east = st.floats(-180, 180)


@pytest.fixture(scope="module")
def basin(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """Two visits: one to a place whose position is written down, one to a place that only its photos know."""
    with new_archive(tmp_path_factory.mktemp("near") / "archive") as archive:
        with archive.change("Put together for a test") as writer:
            june = visits.add_visit(
                writer, "June", zone="Europe/London", place="Wendle Basin", first_day="2023-06-17"
            )
            late = visits.add_visit(
                writer, "Late", zone="Europe/London", place="Hollin Cross", first_day="2021-10-02"
            )
            visits.add_visit(writer, "Unmapped", zone="Europe/London", place="Nowhere yet")
            place = visits.place_key(writer, "Wendle Basin")
            writer.update(tables.place, place, latitude=52.0, longitude=-1.0)
            crane = subjects.add_subject(writer, "Wharf crane", kind="crane", place="Wendle Basin")
            post = subjects.add_subject(writer, "Ring post", kind="bollard")
            subjects.add_subject(writer, "Unseen hut", kind="hut", place="Nowhere yet")
            for visit, subject, view, taken, where in (
                (june, crane, "front", "2023-06-17T11:00:00", None),
                (june, crane, "rear", "2024-02-01T11:00:00", None),
                (late, post, "front", None, (52.1, -1.0)),
            ):
                at = dict(zip(("latitude", "longitude"), where or (None, None), strict=True))
                photo = add_photo(writer, visit, f"{subject.name} {view}.jpg", taken=taken, **at)
                photos.link(writer, photo, subject, view=view)
            add_photo(writer, june, "loose.jpg", taken="2023-06-18T09:00:00", latitude=52.005, longitude=-1.0)
            add_size(writer, crane, "jib length", "5.6 m")
            add_size(writer, post, "head diameter", "356 mm")
        yield archive
        index.let_go()


def found(archive: Archive, words: str = "", **conditions: object) -> tuple[list[str], list[str]]:
    result = find(archive, words, **conditions)  # type: ignore[arg-type]
    return sorted(hit.subject for hit in result.hits), [photo.file for photo in result.photos]


@pytest.mark.parametrize(
    ("taken", "names", "loose"),
    [
        ("2023", ["Wharf crane"], ["loose.jpg"]),
        ("17 June 2023", ["Wharf crane"], []),
        ("2024", ["Wharf crane"], []),
        ("some autumn", ["Ring post"], []),  # its photo knows no time: the day of the visit says when
        ("2021 to 2023", ["Ring post", "Wharf crane"], ["loose.jpg"]),
        ("before 2020", [], []),
        ("winter", ["Wharf crane"], []),
    ],
)
def test_what_was_photographed_then(basin: Archive, taken: str, names: list[str], loose: list[str]) -> None:
    assert found(basin, taken=taken) == (names, loose)


def test_the_view_must_have_been_taken_then(basin: Archive) -> None:
    assert found(basin, view="rear", taken="2023") == ([], [])
    (hit,) = find(basin, "crane", taken="2024").hits
    assert [photo.file for photo in hit.photos] == ["Wharf crane rear.jpg"]


@pytest.mark.parametrize(
    ("near", "names", "loose"),
    [
        (("Wendle Basin", "300 m"), ["Wharf crane"], []),
        (("wendle  BASIN", "1 km"), ["Wharf crane"], ["loose.jpg"]),  # 0.005 degrees are 556 m
        (("52.0, -1.0", "1 km"), ["Wharf crane"], ["loose.jpg"]),
        (("Wendle Basin", "12 km"), ["Ring post", "Wharf crane"], ["loose.jpg"]),  # 0.1 degrees are 11.1 km
        (("Wendle Basin", "11 km"), ["Wharf crane"], ["loose.jpg"]),
        (("Hollin Cross", "1 mile"), ["Ring post"], []),  # where its photos were taken
        (("52.1 N, 1.0 W", "100 yards"), ["Ring post"], []),
    ],
)
def test_what_is_so_near(basin: Archive, near: tuple[str, str], names: list[str], loose: list[str]) -> None:
    assert found(basin, near=near) == (names, loose)


def test_a_place_that_nobody_put_on_the_map_still_has_its_things(basin: Archive) -> None:
    result = find(basin, near=("Nowhere yet", "5 km"))
    assert [hit.subject for hit in result.hits] == ["Unseen hut"]
    assert result.messages[0].startswith("Where Nowhere yet is on the map is not written down")


def test_what_has_a_size_and_what_shows_nothing(basin: Archive) -> None:
    assert found(basin, has=["head diameter"]) == (["Ring post"], [])
    assert found(basin, has=["diameter"]) == (["Ring post"], [])
    assert found(basin, has=["head diameter", "jib length"]) == ([], [])
    assert found(basin, unlinked=True) == ([], ["loose.jpg"])
    assert found(basin, unlinked=True, taken="2021") == ([], [])
    assert found(basin, unlinked=True, view="front") == ([], [])


def test_conditions_hold_beside_words(basin: Archive) -> None:
    assert found(basin, "crane", near=("Hollin Cross", "1 km")) == ([], [])
    assert found(basin, "crane", near=("Wendle Basin", "1 km"), taken="2023") == (["Wharf crane"], [])
    assert found(basin, "loose", unlinked=True) == ([], ["loose.jpg"])


def test_all_that_is_found_is_counted_by_kind_place_and_year_whatever_is_shown(basin: Archive) -> None:
    counts = find(basin, taken="2021 to 2024", limit=1, counting=True).counts
    assert counts is not None
    assert (counts.subjects, counts.photos) == (2, 1)
    assert counts.kinds == {"bollard or mooring post": 1, "crane": 1}
    assert counts.places == {"Wendle Basin": 1}
    assert counts.years == {"2021": 1, "2023": 2, "2024": 1}  # the crane in two years, the loose photo in one

    by_words = find(basin, "crane", limit=1, counting=True).counts
    assert by_words is not None
    assert (by_words.subjects, by_words.kinds) == (1, {"crane": 1})
    assert find(basin, "crane").counts is None


def test_a_place_a_distance_or_a_time_that_is_none_is_refused(basin: Archive) -> None:
    with pytest.raises(RecordNotFound, match="Wendle Basin"):
        find(basin, near=("Wendle Basim", "2 km"))
    with pytest.raises(LengthNotUnderstood):
        find(basin, near=("Wendle Basin", "far"))
    with pytest.raises(NotAccepted, match="lies nowhere on earth"):
        find(basin, near=("95, 10", "2 km"))
    with pytest.raises(NotAccepted, match="was not understood as a time"):
        find(basin, taken="the other day")


@pytest.mark.parametrize(
    ("written", "latitude", "longitude"),
    [
        ("52.1, -1.3", 52.1, -1.3),
        ("52.1 -1.3", 52.1, -1.3),
        ("52.1N 1.3W", 52.1, -1.3),
        ("52°06'N 1°18'W", 52.1, -1.3),
        ("52° 06′ 36″ N, 1° 18′ 36″ E", 52.11, 1.31),
        ("33.5 S, 151.2 E", -33.5, 151.2),
        ("−33.5; 151.2", -33.5, 151.2),
    ],
)
def test_positions_are_read_as_people_write_them(written: str, latitude: float, longitude: float) -> None:
    position = parse_position(written)
    assert position is not None
    assert (position.latitude, position.longitude) == pytest.approx((latitude, longitude))


def test_a_name_is_no_position() -> None:
    assert parse_position("Wendle Basin") is None
    assert parse_position("Basin 52") is None


def test_distances_are_those_of_the_sphere() -> None:
    # A quarter of a great circle, from the pole to the equator, and one degree along a meridian.
    assert great_circle_m(Position(90, 0), Position(0, 77)) == pytest.approx(EARTH_RADIUS_M * pi / 2)
    assert great_circle_m(Position(10, 5), Position(11, 5)) == pytest.approx(EARTH_RADIUS_M * pi / 180)
    assert great_circle_m(Position(0, 179.5), Position(0, -179.5)) == pytest.approx(EARTH_RADIUS_M * pi / 180)


@given(degrees_north, degrees_east, degrees_north, degrees_east, st.floats(1, 2e7))
def test_all_that_is_so_near_lies_in_the_box(
    north: float, east: float, other_north: float, other_east: float, distance_m: float
) -> None:
    middle, other = Position(north, east), Position(other_north, other_east)
    assume(great_circle_m(middle, other) <= distance_m)
    south, top, west, right = box_around(middle, distance_m)
    assert south - 1e-9 <= other_north <= top + 1e-9
    assert west - 1e-9 <= other_east <= right + 1e-9 or abs(other_north) == 90


@given(degrees_north, degrees_east, degrees_north, degrees_east)
def test_distances_agree_with_the_chord(
    north: float, east: float, other_north: float, other_east: float
) -> None:
    # By another way: the straight chord through the earth between the points as vectors.
    def vector(latitude: float, longitude: float) -> tuple[float, float, float]:
        a, b = radians(latitude), radians(longitude)
        return cos(a) * cos(b), cos(a) * sin(b), sin(a)

    one, other = vector(north, east), vector(other_north, other_east)
    chord = sum((p - q) ** 2 for p, q in zip(one, other, strict=True)) ** 0.5
    arc = great_circle_m(Position(north, east), Position(other_north, other_east)) / EARTH_RADIUS_M
    assert 2 * sin(arc / 2) == pytest.approx(chord, abs=1e-9)


@pytest.mark.parametrize(
    ("taken", "found"),
    [
        ("summer", {"Northern post in June", "Southern post in January"}),
        ("winter", {"Southern post in June", "Northern post in January"}),
        # In the south the summer, in the north the winter begins in the December of its year.
        ("summer 2022", {"Northern post in June", "Southern post in January"}),
        ("winter 2022", {"Southern post in June", "Northern post in January"}),
        ("June 2022", {"Northern post in June", "Southern post in June"}),
    ],
)
def test_a_season_is_that_of_the_half_of_the_world_where_the_photo_was_taken(
    tmp_path: Path, taken: str, found: set[str]
) -> None:
    with new_archive(tmp_path / "halves") as archive:
        with archive.change("Put together for a test") as writer:
            for half, latitude in (("Northern", 52.0), ("Southern", -37.0)):
                for month, day in (("June", "2022-06-20"), ("January", "2023-01-20")):
                    visit = visits.add_visit(writer, f"{half} {month}", zone="UTC", place=half)
                    place = visits.place_key(writer, half)
                    writer.update(tables.place, place, latitude=latitude, longitude=0.0)
                    subject = subjects.add_subject(writer, f"{half} post in {month}")
                    photo = add_photo(writer, visit, f"{half}-{month}.jpg", taken=f"{day}T11:00:00")
                    photos.link(writer, photo, subject, view="front")

        assert {hit.subject for hit in find(archive, taken=taken).hits} == found
        index.let_go()
