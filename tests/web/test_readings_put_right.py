"""A reading on the page of its subject: corrected, set aside, and what is done about one that was worked out."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from asking_pages import Ids, changes_in
from flask.testing import FlaskClient
from real_browser import Visitor, running_page

from archive.dimensions.overview import SizeLine, size_labelled
from archive.dimensions.putting_right import amend_size, set_reading_aside
from archive.dimensions.undoing import undo
from archive.records.archive import open_archive

CRANE, HUT = "Wharf crane", "Weighbridge hut"


def line_of(folder: Path, subject: str, label: str) -> SizeLine:
    with open_archive(folder) as archive:
        return size_labelled(archive, subject, label).lines[0]


@pytest.fixture
def width(demo: Path) -> SizeLine:
    """The width of the crane's post: one reading, 1ft 0in."""
    return line_of(demo, CRANE, "post width")


def act_on(ids: Ids, line: SizeLine, act: str) -> str:
    return f"/subject/{ids.subjects[line.dimension.subject]}/readings/{line.readings[0].id}/{act}"


def test_a_new_reading_takes_the_place_of_a_wrong_one_which_is_kept(
    send, ids: Ids, demo: Path, width: SizeLine
):
    shown = send(
        act_on(ids, width, "correct"), label="post width", written="1ft 1in", why="a <0> for a 1"
    ).text

    assert "Corrected post width to 1ft 1in." in shown
    assert re.search(r"<s [^>]*>1ft 0in</s>.*\(corrected\)", shown)
    assert "1ft 1in<span" in shown
    assert "a &lt;0&gt; for a 1" in shown
    now = line_of(demo, CRANE, "post width")
    # By definition of the foot: 304.8 + 25.4 mm. It was read with the same tape, of the same day.
    assert now.estimate.value == pytest.approx(330.2)
    assert now.readings[1].instrument == width.readings[0].instrument == "long tape"
    assert now.readings[1].taken_on == width.readings[0].taken_on

    with open_archive(demo) as archive:
        undo(archive)
    assert line_of(demo, CRANE, "post width").estimate.value == pytest.approx(304.8)


def test_a_reading_that_should_not_count_is_kept_with_the_reason(send, ids: Ids, demo: Path, width: SizeLine):
    shown = send(act_on(ids, width, "set-aside"), why="hooked on the <weld>").text

    assert "&#39;post width&#39; of Wharf crane has no figure now" in shown
    assert "(set aside: hooked on the &lt;weld&gt;)" in shown
    assert line_of(demo, CRANE, "post width").estimate is None


@pytest.mark.parametrize(
    ("act", "fields", "said"),
    [
        ("correct", {"label": "post width", "written": "a yard or so"}, "was not understood as a length"),
        ("correct", {"label": "post width", "written": " 1ft 0in "}, "is what the reading says already"),
        ("correct", {"label": "post height", "written": "1ft 1in"}, "is none of them"),
        ("correct", {}, "size of Wharf crane"),
        ("set-aside", {"why": "  "}, "Say why"),
    ],
)
def test_what_puts_nothing_right_is_told_and_nothing_is_changed(
    send, ids: Ids, demo: Path, width: SizeLine, act: str, fields: dict[str, str], said: str
):
    before = changes_in(demo)

    answer = send(act_on(ids, width, act), **fields)

    assert 400 <= answer.status_code < 500
    assert said in answer.text
    assert changes_in(demo) == before


@pytest.mark.parametrize("meanwhile", ["corrected", "set aside"])
@pytest.mark.parametrize("act", ["correct", "set-aside"])
def test_a_reading_that_was_put_right_elsewhere_meanwhile_is_not_put_right_again(
    send, ids: Ids, demo: Path, width: SizeLine, act: str, meanwhile: str
):
    with open_archive(demo) as archive:
        if meanwhile == "corrected":
            amend_size(archive, CRANE, "post width", "1ft 2in")
        else:
            set_reading_aside(archive, width.readings[0].id, "read from the wrong end")
    before = changes_in(demo)

    answer = send(act_on(ids, width, act), label="post width", written="1ft 1in", why="misread")

    assert answer.status_code == 400
    assert f"The reading &#39;1ft 0in&#39; was {meanwhile}" in answer.text
    assert changes_in(demo) == before


def test_a_reading_that_was_worked_out_says_what_to_put_right_instead(
    client: FlaskClient, send, ids: Ids, demo: Path
):
    worked_out = line_of(demo, HUT, "lintel length")
    shown = client.get(f"/subject/{ids.subjects[HUT]}").text

    assert act_on(ids, worked_out, "correct") not in shown
    assert "worked out from marks on the photo. Put right a size that it rests on" in shown
    answer = send(act_on(ids, worked_out, "correct"), label="lintel length", written="1 m")
    assert answer.status_code == 400
    assert "was worked out and not read" in answer.text
    assert "counts no longer" in send(act_on(ids, worked_out, "set-aside"), why="seen at a slant").text


@pytest.mark.parametrize("size", ["phone", "desktop"])
def test_a_reading_is_put_right_by_touch_and_by_mouse(chrome: Any, demo: Path, ids: Ids, size: str):
    with (
        running_page(demo) as address,
        Visitor(chrome, address, size, has_touch=size == "phone") as visitor,
    ):
        page = visitor.go(f"subject/{ids.subjects[CRANE]}")
        visitor.poke("[aria-label='put right post width 1ft 0in']")
        page.fill("li:has(details[open]) [name=written]", "1ft 1in")
        page.wait_for_selector(".understood:has-text('330.2 mm')")
        visitor.poke("li:has(details[open]) >> text=Correct it")
        for what in (".figure:has-text('330.2 mm')", "#said p:has-text('Corrected post width to 1ft 1in')"):
            page.wait_for_selector(what)
            assert page.locator(what).evaluate(
                "e => { const at = e.getBoundingClientRect(); return at.top >= 0 && at.bottom <= innerHeight; }"
            ), f"{what} is before one's eyes"
        visitor.poke("text=Take it back")
        page.wait_for_selector("#said:has-text('Took back')")
    assert line_of(demo, CRANE, "post width").estimate.value == pytest.approx(304.8)
