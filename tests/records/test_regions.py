"""Where on a photo a subject is: read as written, refused outside the picture, kept, and taken back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wendle_basin import fill, new_archive

from archive.dimensions.undoing import undo
from archive.errors import NotAccepted
from archive.records import photos, subjects
from archive.records.archive import Archive
from archive.records.changes import newest_change
from archive.records.linking import link_photos
from archive.records.putting_right import merge_subjects
from archive.records.regions import LEAST_PX, check_region, parse_region, set_region
from archive.records.things import Photo, Region, Sighting

PHOTO, CRANE = "HC20_0412", "Wharf crane"  # of 4000 x 3000 px


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    with new_archive(tmp_path_factory.mktemp("regions") / "archive") as archive:
        fill(archive)
        yield archive


@pytest.fixture(scope="module")
def photo(kept: Archive) -> Photo:
    return photo_of(kept)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with new_archive(tmp_path / "archive") as made:
        fill(made)
        made.begin_act()
        yield made


def photo_of(archive: Archive, name: str = PHOTO) -> Photo:
    with archive.look() as look:
        return photos.photo_named(look, name)


def seen(archive: Archive) -> Sighting:
    (sighting,) = photo_of(archive).sightings
    return sighting


def test_two_corners_are_read_in_pixels_or_in_parts_of_a_hundred_whichever_comes_first(photo: Photo):
    # By hand: 10 % of 4000 px is 400, 20 % of 3000 px is 600; 50 % and 80 % are 2000 and 2400.
    assert parse_region("400,600 to 2000,2400", photo) == Region(400, 600, 1600, 1800)
    assert parse_region("10%,20% to 50%,80%", photo) == Region(400, 600, 1600, 1800)
    assert parse_region(" 2000, 2400 TO 10 % , 600 px", photo) == Region(400, 600, 1600, 1800)
    assert parse_region("0,0 to 100%,100%", photo) == Region(0, 0, 4000, 3000)
    assert parse_region("Whole", photo) is None


@given(data=st.data())
def test_every_region_is_read_back_as_it_is_told(photo: Photo, data: st.DataObject):
    left, top = (data.draw(st.integers(0, most - LEAST_PX)) for most in (4000, 3000))
    wide = data.draw(st.integers(LEAST_PX, 4000 - left))
    tall = data.draw(st.integers(LEAST_PX, 3000 - top))
    region = Region(left, top, wide, tall)

    assert parse_region(str(region), photo) == region


@pytest.mark.parametrize(
    "written",
    [
        "",
        "here",
        "1,2",
        "1,2 to 3",
        "nan,0 to 9,9",
        "inf,0 to 9,9",
        "1e3,0 to 9,9",
        "1,2,3,4",
        "1;2 to 300;400",
    ],
)
def test_what_is_no_region_is_refused_with_how_to_write_one(photo: Photo, written: str):
    with pytest.raises(NotAccepted, match=r"not a region of a photo.*'1200,300 to 1600,800' in pixels"):
        parse_region(written, photo)


@pytest.mark.parametrize(
    "written",
    ["-1,0 to 50,50", "0,0 to 4001,3000", "0,0 to 100.1%,50%", "90%,0 to 1%,3001", f"0,0 to {'9' * 400},9"],
)
def test_a_region_outside_the_picture_is_refused_with_how_far_the_picture_reaches(photo: Photo, written: str):
    with pytest.raises(NotAccepted, match=r"outside HC20_0412.JPG.*from 0,0 to 4000,3000 px"):
        parse_region(written, photo)


@given(st.text() | st.from_regex(r"-?\d*[%.,]?\d+,-?\d+%? to \d+,\d+", fullmatch=True))
def test_whatever_is_typed_is_a_region_within_the_picture_or_refused(photo: Photo, written: str):
    try:
        region = parse_region(written, photo)
    except NotAccepted:
        return
    assert region is None or check_region(region, photo) == region


def test_a_region_is_refused_where_it_is_not_known_how_large_the_picture_is(photo: Photo):
    with pytest.raises(NotAccepted, match=r"How many pixels HC20_0412.JPG has is not known"):
        parse_region("0,0 to 50%,50%", replace(photo, width=None))


def test_a_link_with_a_region_says_where_and_taking_it_back_leaves_the_link(archive: Archive):
    done = link_photos(archive, [PHOTO], [CRANE], view=None, region="400,600 to 2000,2400")

    assert (done.region, len(done.photos)) == (Region(400, 600, 1600, 1800), 1)
    assert seen(archive).region == Region(400, 600, 1600, 1800)
    undo(archive)
    assert seen(archive).region is None


def test_linking_again_leaves_the_region_and_the_way_round_as_they_were_said(archive: Archive):
    link_photos(archive, [PHOTO], [CRANE], view="front", mirrored=True, region="10%,20% to 50%,80%")
    before = seen(archive)

    again = link_photos(archive, [PHOTO], [CRANE], view="front", region="400,600 to 2000,2400")
    link_photos(archive, [PHOTO], [CRANE], view="rear")

    assert again.photos == ()
    assert seen(archive) == replace(before, view="rear")


def test_a_region_is_changed_and_taken_away_by_itself_and_each_can_be_taken_back(archive: Archive):
    first, second = Region(0, 0, 4000, 3000), Region(10, 20, 30, 40)
    for region in (first, second, None):
        archive.begin_act()
        set_region(archive, PHOTO, CRANE, region)

    assert seen(archive).region is None
    for before in (second, first, None):
        archive.begin_act()
        undo(archive)
        assert seen(archive).region == before


def test_a_region_goes_with_its_link_to_the_subject_that_another_is_merged_into(archive: Archive):
    link_photos(archive, [PHOTO], ["Wendle Basin wharf"], view=None, region="400,600 to 2000,2400")

    with archive.change("Merged") as writer:
        wharf, crane = (subjects.subject_named(writer, name) for name in ("Wendle Basin wharf", CRANE))
        merge_subjects(writer, crane, wharf)

    assert seen(archive).region == Region(400, 600, 1600, 1800)


@pytest.mark.parametrize(
    ("named", "to"), [([PHOTO, "HC20_0413"], [CRANE]), ([PHOTO], [CRANE, "Wendle Basin wharf"])]
)
def test_a_region_of_several_photos_or_subjects_is_refused_and_nothing_is_linked(
    archive: Archive, named: list[str], to: list[str]
):
    with archive.look() as look:
        before = newest_change(look)
    with pytest.raises(NotAccepted, match="where one photo shows one subject"):
        link_photos(archive, named, to, view="rear", region="0,0 to 50,50")
    with archive.look() as look:
        assert newest_change(look) == before


def test_a_region_of_what_the_photo_does_not_show_is_refused(archive: Archive):
    with pytest.raises(NotAccepted, match="Wendle Basin wharf"):
        set_region(archive, PHOTO, "Wendle Basin wharf", Region(0, 0, 50, 50))
