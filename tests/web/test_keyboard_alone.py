"""The whole job with the keyboard alone: no event of a pointer is sent, and it is always seen what has the focus."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asking_pages import Ids
from real_browser import Typist, running_page

from archive.carried import carried_folder
from archive.dimensions.overview import sizes_of
from archive.records import photos
from archive.records.archive import open_archive
from archive.records.folder import make_archive

PHOTOS = carried_folder("demo_library") / "photos"
JUNE = "Wendle Basin, June"


@pytest.fixture(params=["phone", "tablet", "desktop"])
def size(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def typist(chrome: Any, demo: Path, size: str) -> Iterator[Typist]:
    with running_page(demo) as address, Typist(chrome, address, size) as somebody:
        yield somebody


def open_page(typist: Typist, page: str, name: str) -> None:
    """From any page to another by the links at the top, and from there to one thing."""
    typist.press("Control+Home")
    typist.tab_to(page, role="A", backwards=True)
    typist.press("Enter")
    typist.page.wait_for_selector(f"h1:has-text('{page}')")
    typist.tab_to(name)
    typist.press("Enter")
    typist.page.wait_for_selector(f"h1:has-text('{name}')")


def test_photos_are_brought_in(chrome: Any, tmp_path: Path, size: str):
    make_archive(tmp_path / "new")
    with running_page(tmp_path / "new") as address, Typist(chrome, address, size) as typist:
        page = typist.go("bring-in")
        page.on(
            "filechooser", lambda _chooser: None
        )  # from now on no dialog opens, however busy the machine is
        typist.tab_to("Visit", role="INPUT")
        typist.type(JUNE)
        typist.tab_to("choose photos", role="INPUT")
        with page.expect_file_chooser() as chooser:
            typist.press("Enter")
        chooser.value.set_files([PHOTOS / "HC20_0412.JPG", PHOTOS / "HC20_0413.JPG"])
        page.wait_for_selector("#report section")

        assert f"Imported 2 photos into the visit {JUNE}" in page.inner_text("#report")
        typist.tab_to(JUNE, role="A")
        typist.press("Enter")
        page.wait_for_selector("h2:has-text('2 photos')")


def test_a_thing_is_found_by_word_and_by_size(typist: Typist):
    page = typist.go("find")
    typist.type("crane")  # the field for words has the focus from the start
    page.wait_for_selector("#answer .name:has-text('Wharf crane')")
    typist.type("")
    typist.press("Backspace")
    typist.tab_to("Size", role="INPUT")
    typist.type("post height 2.5 to 3 m")
    page.wait_for_selector("#answer:has-text('2743')")
    typist.tab_to("Wharf crane", role="A")
    typist.press("Enter")
    page.wait_for_selector("h1:has-text('Wharf crane')")


def test_a_run_is_linked_with_its_views_looked_at_and_taken_back(typist: Typist, demo: Path):
    page = typist.go("find")
    open_page(typist, "Visits", JUNE)
    typist.tab_to("HC20_0412.JPG")  # then by arrows, from photo to photo
    typist.press("Space", "ArrowRight", "ArrowRight", "Space", "w")
    typist.type("Quay lamp")
    typist.press("Enter")
    page.wait_for_selector("#photos > li:nth-child(3) .shows:has-text('Quay lamp')")
    typist.press("f", "r", "d")
    page.wait_for_selector("#photos > li:nth-child(3) .shows:has-text('Quay lamp, detail')")
    with open_archive(demo) as archive, archive.look() as look:
        shown = [(s.subject_name, s.view) for s in photos.photo_named(look, "HC20_0412").sightings]
    assert ("Quay lamp", "front") in shown

    page.reload()
    typist.tab_to("HC20_0412.JPG", role="A")
    typist.press("Enter")
    page.wait_for_selector("#glass[data-ready]")
    typist.press("n")
    page.wait_for_selector("h1:has-text('HC20_0413.JPG')")
    page.wait_for_selector("#glass[data-ready]")
    typist.press("p")
    page.wait_for_selector("h1:has-text('HC20_0412.JPG')")
    page.wait_for_selector("#glass[data-ready]")
    typist.tab_to("photo to look at closely", what="aria-roledescription")
    before = float(page.get_attribute("#glass", "data-scale"))
    typist.press("+", "+", "ArrowLeft")
    typist.wait_until(f"document.querySelector('#glass').dataset.scale > {before}")

    typist.tab_to("Take it back")
    typist.press("Enter")
    page.wait_for_selector("#said:has-text('Took back: Linked 1 photo to Quay lamp')")


def test_sizes_are_written_down_and_read_at_a_scale_and_taken_back(typist: Typist, demo: Path):
    page = typist.go("find")
    open_page(typist, "Subjects", "Quay lamp")
    typist.tab_to("With", role="SELECT")
    page.keyboard.type("long")  # chooses the long tape
    typist.tab_to("Size, line 1", what="aria-label")
    for label, written in (
        ("column height", "11ft 2in"),
        ("lantern width", "1ft 3½in"),
        ("ladder width", "0.61 m"),
    ):
        typist.type(label)
        typist.press("Enter")
        typist.type(written)
        typist.press("Enter")
    typist.tab_to("Write them down")
    typist.press("Enter")
    page.wait_for_selector("#said:has-text('column height 11ft 2in')")
    typist.tab_to("At scale", role="INPUT", backwards=True)
    typist.type("1:87")
    typist.press("Enter")
    page.wait_for_selector("th:has-text('At 1:87')")

    with open_archive(demo) as archive:
        known = {line.dimension.label: line for line in sizes_of(archive, "Quay lamp").lines}
    # By definition of the foot: 11 x 304.8 + 2 x 25.4 mm; by hand: 3403.6 mm / 87 = 39.12 mm.
    assert known["column height"].estimate.value == pytest.approx(3403.6)
    assert known["ladder width"].readings[0].instrument == "long tape"
    assert "39.12" in page.inner_text(".sizes")

    typist.tab_to("Take it back")
    typist.press("Enter")
    page.wait_for_selector("#said:has-text('Took back')")
    assert "column height" not in page.inner_text(".sizes")


def test_a_reading_is_corrected_another_set_aside_and_that_taken_back(typist: Typist, demo: Path):
    page = typist.go("find")
    open_page(typist, "Subjects", "Wharf crane")
    typist.tab_to("put right post width 1ft 0in", what="aria-label")
    typist.press("Enter", "Tab")
    typist.type("1ft 1in")
    page.wait_for_selector(".understood:has-text('330.2 mm')")
    typist.press("Tab")
    typist.type("a 0 for a 1")
    typist.press("Enter")
    page.wait_for_selector("#said:has-text('Corrected post width to 1ft 1in')")
    typist.tab_to("put right crank throw 1ft 3in", what="aria-label")
    typist.press("Enter", "Tab", "Tab", "Tab", "Tab")
    typist.type("the tape was hooked on the weld")
    typist.press("Tab", "Enter")
    page.wait_for_selector("#said:has-text('counts no longer')")

    with open_archive(demo) as archive:
        known = {line.dimension.label: line for line in sizes_of(archive, "Wharf crane").lines}
    # By definition of the foot: 304.8 + 25.4 mm.
    assert known["post width"].estimate.value == pytest.approx(330.2)
    assert [(r.as_written, r.replaced, r.note) for r in known["post width"].readings] == [
        ("1ft 0in", True, None),
        ("1ft 1in", False, "a 0 for a 1"),
    ]
    assert known["crank throw"].readings[0].set_aside == "the tape was hooked on the weld"
    assert known["crank throw"].estimate is None

    typist.tab_to("Take it back")
    typist.press("Enter")
    page.wait_for_selector("#said:has-text('Took back')")
    assert "the tape was hooked" not in page.inner_text(".sizes")


def test_a_clock_is_put_right_and_a_run_described(typist: Typist, demo: Path):
    page = typist.go("find")
    open_page(typist, "Visits", JUNE)
    typist.tab_to("HC20_0412.JPG")
    typist.press("Space", "ArrowRight", "Space")
    typist.tab_to("Caption, creator and rights", backwards=True)
    typist.press("Enter")
    typist.tab_to("Creator", role="INPUT")
    typist.type("A. Moss")
    typist.press("Enter")
    page.wait_for_selector("#said:has-text('Amended')")
    typist.tab_to("clock was wrong")
    typist.press("Enter")
    typist.tab_to("Its clock was wrong by", role="INPUT")
    typist.type("1h")
    typist.press("Tab")
    page.keyboard.type("behind")
    typist.press("Tab", "Enter")
    page.wait_for_selector("#clocks:has-text('1 h behind')")

    with open_archive(demo) as archive, archive.look() as look:
        known = [photos.photo_named(look, name) for name in ("HC20_0412", "HC20_0413")]
    assert {photo.creator for photo in known} == {"A. Moss"}
    # The camera wrote 09:09 of the zone that it left at home.
    assert [known[0].taken_as_read[11:16], known[0].taken[11:16]] == ["09:09", "10:09"]


@pytest.mark.parametrize("size", ["desktop"])
def test_single_keys_can_be_switched_off_and_stay_off(typist: Typist, demo: Path):
    with open_archive(demo) as archive, archive.look() as look:
        before = photos.photo_named(look, "HC20_0412").sightings
    page = typist.go(f"visit/{Ids(demo).visits[JUNE]}")
    typist.tab_to("single keys", role="INPUT")
    typist.press("Space")
    typist.tab_to("HC20_0412.JPG")
    typist.press("Space", "Space", "1", "f")
    typist.press("w")

    assert page.evaluate("document.activeElement.className") == "pick", "w did not lead to the field"
    typist.go(f"photo/{Ids(demo).photos['HC20_0412']}")
    typist.press("n")
    page.wait_for_timeout(200)
    assert "HC20_0412" in page.inner_text("h1")
    with open_archive(demo) as archive, archive.look() as look:
        assert photos.photo_named(look, "HC20_0412").sightings == before
