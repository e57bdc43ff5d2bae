"""One photo in a real browser: looked at down to its pixels, its marks and regions over it, and where a subject is said by hand or by keys."""

from __future__ import annotations

import io
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

import made_pictures as made
import numpy as np
import pytest
from asking_pages import Ids
from PIL import Image
from real_browser import Typist, Visitor, running_page

from archive.dimensions.marking import put_mark
from archive.ingest.importing import import_files
from archive.pictures import raw_preview
from archive.records import photos
from archive.records.archive import Archive, open_archive
from archive.records.entering import enter_subject
from archive.records.linking import link_photos
from archive.records.things import Photo, Region

HUT = "Weighbridge hut"
PHOTO = "HC20_0412"  # of 1500 x 1000 px; it shows the hut


@pytest.fixture
def address(demo: Path) -> Iterator[str]:
    with running_page(demo) as where:
        yield where


def photo_named(archive: Archive, name: str) -> Photo:
    with archive.look() as look:
        return photos.photo_named(look, name)


def region_of(folder: Path, photo: str = PHOTO, subject: str = HUT) -> Region | None:
    with open_archive(folder) as archive:
        shown = photo_named(archive, photo).sightings
    return next(s.region for s in shown if s.subject_name == subject)


def opened(visitor: Visitor, ids: Ids, photo: str = PHOTO) -> Any:
    page = visitor.go(f"photo/{ids.photos[photo]}")
    page.wait_for_selector("#glass[data-ready]")
    return page


# Where a place of the picture, px from its corner, is on the screen: worked out from the picture itself.
ON_SCREEN = """place => { const picture = document.querySelector('#glass > img').getBoundingClientRect();
    const scale = Number(document.querySelector('#glass').dataset.scale);
    return [picture.left + place[0] * scale, picture.top + place[1] * scale]; }"""


def on_screen(page: Any, x_px: float, y_px: float) -> tuple[float, float]:
    return tuple(page.evaluate(ON_SCREEN, [x_px, y_px]))


def begin_to_say_where(page: Any) -> None:
    page.click("text=Say where on the photo it is")
    page.wait_for_selector(".glass.drawing, .box:visible")
    page.evaluate("document.querySelector('#glass').scrollIntoView()")


def drag(page: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*end, steps=4)
    page.mouse.up()


def swipe(page: Any, way: list[tuple[float, float]]) -> None:
    """Move one finger over the screen."""
    finger = page.context.new_cdp_session(page)
    for number, (x, y) in enumerate(way):
        kind = "touchMove" if number else "touchStart"
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def nearly(region: Region, tolerance_px: float) -> Any:
    sides = (region.left_px, region.top_px, region.width_px, region.height_px)
    return pytest.approx(sides, abs=tolerance_px)


def sides(region: Region | None) -> tuple[int, int, int, int]:
    assert region is not None
    return (region.left_px, region.top_px, region.width_px, region.height_px)


def keep(page: Any) -> None:
    with page.expect_navigation():
        page.click("text=Keep this region")
    page.wait_for_selector("#glass[data-ready]")


def test_a_region_is_drawn_changed_taken_away_and_brought_back_with_the_mouse(
    chrome: Any, address: str, ids: Ids, demo: Path
):
    with Visitor(chrome, address) as visitor:
        page = opened(visitor, ids)
        a_pixel = 1 / float(page.get_attribute("#glass", "data-scale"))  # of the screen, in the picture's
        begin_to_say_where(page)
        drag(page, on_screen(page, 700, 600), on_screen(page, 300, 200))  # from any corner to the other
        keep(page)
        assert sides(region_of(demo)) == nearly(Region(300, 200, 400, 400), a_pixel + 1)

        assert "at 3" in page.inner_text("#shown")
        begin_to_say_where(page)
        drag(page, on_screen(page, 700, 600), on_screen(page, 900, 800))  # a corner
        drag(page, on_screen(page, 500, 400), on_screen(page, 600, 350))  # all of it
        keep(page)
        assert sides(region_of(demo)) == nearly(Region(400, 150, 600, 600), 3 * a_pixel + 1)

        begin_to_say_where(page)
        page.click("text=Take the region away")
        page.wait_for_selector("#said:has-text('without a region')")
        assert region_of(demo) is None
        page.click("text=Take it back")
        page.wait_for_selector("#said:has-text('Took back')")
        assert sides(region_of(demo)) == nearly(Region(400, 150, 600, 600), 3 * a_pixel + 1)


def test_a_region_is_drawn_with_a_finger_on_a_phone(chrome: Any, address: str, ids: Ids, demo: Path):
    with Visitor(chrome, address, "phone", has_touch=True) as visitor:
        page = opened(visitor, ids)
        a_pixel = 1 / float(page.get_attribute("#glass", "data-scale"))
        begin_to_say_where(page)
        swipe(page, [on_screen(page, 300 + 100 * step, 200 + 100 * step) for step in range(5)])
        with page.expect_navigation():
            page.click("text=Keep this region")
    assert sides(region_of(demo)) == nearly(Region(300, 200, 400, 400), a_pixel + 1)


def test_a_finger_scrolls_the_page_past_a_photo_that_is_seen_whole_and_moves_one_that_is_not(
    chrome: Any, address: str, ids: Ids
):
    with Visitor(chrome, address, "phone", has_touch=True) as visitor:
        page = opened(visitor, ids)
        up = [(180.0, 400.0 - 40 * step) for step in range(6)]
        swipe(page, up)
        visitor.wait_until("scrollY > 50")
        page.evaluate("scrollTo(0, 0)")
        for _ in range(4):
            page.click("[data-do=closer]")
        page.wait_for_selector("#glass:not(.whole)")
        page.evaluate("scrollTo(0, 0)")
        before = on_screen(page, 0, 0)
        swipe(page, up)
        page.wait_for_timeout(200)
        assert on_screen(page, 0, 0)[1] < before[1] - 50
        assert page.evaluate("scrollY") == 0


def test_a_region_is_said_by_keys_alone(chrome: Any, address: str, ids: Ids, demo: Path):
    with Typist(chrome, address) as typist:
        page = opened(typist, ids)
        typist.tab_to("Say where on the photo it is")
        typist.press("Enter")
        for name, pixels in (("From left", 300), ("From top", 200), ("Wide", 400), ("High", 350)):
            typist.tab_to(name, role="INPUT")
            typist.type(str(pixels))
        typist.tab_to("Go to the box")
        typist.press("Enter")
        name = page.evaluate("document.activeElement.getAttribute('aria-label')")
        assert name.startswith(f"Where {HUT} is: arrows move it")
        typist.press("ArrowRight", "ArrowRight", "ArrowUp", "Shift+ArrowDown")
        said = page.inner_text("output")
        with page.expect_navigation():
            typist.press("Enter")

    region = region_of(demo)
    step = region.top_px - 200
    assert step < 0
    assert sides(region) == (300 - 2 * step, 200 + step, 400, 350 - step)
    assert said == str(region)


def test_a_box_that_was_begun_by_keys_lies_in_what_is_seen_and_is_left_without_a_change(
    chrome: Any, address: str, ids: Ids, demo: Path
):
    with Typist(chrome, address) as typist:
        page = opened(typist, ids)
        typist.tab_to("photo to look at closely", what="aria-roledescription")
        typist.press("+", "+", "+")
        typist.tab_to("Say where on the photo it is")
        typist.press("Enter")
        typist.tab_to("Go to the box")
        typist.press("Enter")
        box, glass = (page.locator(each).bounding_box() for each in (".box", "#glass"))
        assert box["x"] > glass["x"]
        assert box["x"] + box["width"] < glass["x"] + glass["width"]
        typist.press("n")  # a slip, that leads to no other photo
        typist.press("ArrowLeft", "Escape")
        page.wait_for_selector(".box", state="hidden")
        assert PHOTO in page.inner_text("h1")
    assert region_of(demo) is None


def test_marks_and_regions_stay_on_their_place_while_the_photo_is_brought_closer_and_moved(
    chrome: Any, address: str, ids: Ids, demo: Path
):
    with open_archive(demo) as archive:
        put_mark(archive, PHOTO, "chimney foot", 100.0, 50.0, clear="crisp")
        link_photos(archive, [PHOTO], [HUT], view=None, region="300,200 to 700,600")
    with Visitor(chrome, address) as visitor:
        page = opened(visitor, ids)
        for key in ("0", "+", "+", "ArrowLeft", "ArrowUp"):
            page.focus("#glass")
            visitor.press(key)
            page.wait_for_timeout(100)
            mark, region = (page.locator(each).bounding_box() for each in ("#glass .mark", "#glass .region"))
            # By hand: the middle of the pixel (100, 50) lies 100.5 and 50.5 px from the picture's corner.
            assert (mark["x"], mark["y"]) == pytest.approx(on_screen(page, 100.5, 50.5), abs=0.2)
            assert (region["x"], region["y"]) == pytest.approx(on_screen(page, 300, 200), abs=0.2)
            corner = (region["x"] + region["width"], region["y"] + region["height"])
            assert corner == pytest.approx(on_screen(page, 700, 600), abs=0.2)
        page.uncheck("#show-marks")
        assert not page.is_visible("#glass .mark span")
        assert not page.is_visible("#glass .region")
        page.reload()
        page.wait_for_selector("#glass[data-ready]")
        assert not page.is_visible("#glass .region"), "what was switched off stays off"


BOXES = """() => [...document.querySelectorAll('.over span')].filter(e => getComputedStyle(e).visibility === 'visible')
    .map(e => e.getBoundingClientRect()).map(r => [r.left, r.top, r.right, r.bottom])"""
MIDDLES = "() => [...document.querySelectorAll('.over .mark')].map(e => e.getBoundingClientRect()).map(r => [r.left, r.top])"


def meet(one: list[float], two: list[float]) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


@pytest.mark.parametrize(("size", "fewest"), [("phone", 5), ("desktop", 14)])
def test_no_name_on_a_photo_covers_another_or_a_mark(
    chrome: Any, address: str, ids: Ids, demo: Path, size: str, fewest: int
):
    with open_archive(demo) as archive:
        for number in range(6):  # beside the six that the demo's sheet has put on it
            put_mark(archive, "HC20_0413", f"window bar {number}", 700 + 22 * number, 500, clear="plain")
        enter_subject(archive, "The wall behind it, which is longer than anybody would write on a photo")
        link_photos(archive, ["HC20_0413"], [HUT], view=None, region="20%,15% to 75%,85%")
        link_photos(archive, ["HC20_0413"], ["The wall behind it, which is longer than anybody would write on a photo"],
                    view=None, region="55%,50% to 95%,90%")  # fmt: skip
    with Visitor(chrome, address, size) as visitor:
        page = opened(visitor, ids, "HC20_0413")
        for key in ("0", "+", "+"):
            page.focus("#glass")
            visitor.press(key)
            page.wait_for_timeout(100)
            names, marks = page.evaluate(BOXES), page.evaluate(MIDDLES)
            assert len(names) >= fewest
            assert len(marks) == 12
            for one, two in combinations(names, 2):
                assert not meet(one, two)
            for x, y in marks:
                assert not any(meet(name, [x - 7, y - 7, x + 7, y + 7]) for name in names)


def test_a_photo_is_looked_at_down_to_its_pixels(chrome: Any, address: str, ids: Ids):
    with Visitor(chrome, address) as visitor:
        page = visitor.go(f"photo/{ids.photos['HC20_0412']}")
        page.wait_for_selector("#glass[data-ready]")
        page.focus("#glass")
        for _ in range(4):
            visitor.press("+")
        page.wait_for_selector(".tiles img:not([hidden])", state="attached")

        visitor.press("1")
        visitor.wait_until("document.querySelector('#glass').dataset.scale == '1.0000'")
        visitor.press("0")
        visitor.wait_until("document.querySelector('#glass').dataset.scale < 1")
        box = page.locator("#glass").bounding_box()
        page.mouse.move(box["x"] + 300, box["y"] + 200)
        page.mouse.wheel(0, -300)
        visitor.wait_until("document.querySelector('#glass').dataset.scale > 0.7")


def test_the_pixels_of_a_turned_original_come_sharp_and_upright(chrome: Any, demo: Path, tmp_path: Path):
    # Blocks of chance colours, 40 px each, so that a tile from elsewhere or turned otherwise is another picture.
    blocks = np.random.default_rng(7).integers(0, 256, (40, 60, 3), np.uint8)
    stored = Image.fromarray(blocks).resize((2400, 1600), Image.Resampling.NEAREST)
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF: upright once it is turned by a quarter clockwise
    stored.save(tmp_path / "turned.jpg", quality=95, exif=exif)
    upright = stored.transpose(Image.Transpose.ROTATE_270)
    with open_archive(demo) as archive:
        import_files(archive, [tmp_path / "turned.jpg"], visit="Turned")
    with running_page(demo) as address, Visitor(chrome, address) as visitor:
        page = opened(visitor, Ids(demo), "turned")
        page.click("[data-do=pixels]")
        visitor.wait_until(
            "(() => { const all = [...document.querySelectorAll('.tiles img')];"
            " return all.length > 2 && all.every(i => !i.hidden && i.dataset.key.startsWith('0/')); })()"
        )
        left, top = (round(-at) for at in page.evaluate(ON_SCREEN, [0, 0]))
        seen = Image.open(io.BytesIO(page.screenshot())).convert("RGB").crop((200, 300, 1200, 700))
        wanted = upright.crop((200 + left, 300 + top, 1200 + left, 700 + top))
    difference = np.abs(np.asarray(seen, float) - np.asarray(wanted, float))
    assert np.mean(difference) < 12  # two of such pictures with nothing in common differ by 85


def test_where_no_picture_can_be_shown_the_page_says_why_and_what_to_do(
    chrome: Any, demo: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(raw_preview, "find_spec", lambda _name: None)  # as where nothing renders raw files
    file = demo.parent / "HC20_0500.dng"
    file.write_bytes(made.dng(made.upright_scene(480, 320)))
    with open_archive(demo) as archive:
        import_files(archive, [file], visit="Raw ones")
        link_photos(archive, ["HC20_0500"], [HUT], view=None)
        lost = photo_named(archive, PHOTO)
    for kept in (demo / "previews").rglob(f"{lost.id}*"):
        kept.unlink()
    demo.joinpath(*lost.picture.stored_path.split("/")).unlink()
    ids = Ids(demo)
    with running_page(demo) as address, Visitor(chrome, address) as visitor:
        for photo, why in (("HC20_0500", "carries no preview"), (PHOTO, "'rivetbook verify' tells")):
            page = visitor.go(f"photo/{ids.photos[photo]}")
            page.wait_for_selector(f"p.blank:has-text('No picture can be shown'):has-text(\"{why}\")")
            assert not page.is_visible("[data-do]")
            assert not page.is_visible("#where")
        visitor.press("n")  # the way to the next photo is not lost with it
        page.wait_for_selector("h1:has-text('HC20_0413')")
        visitor.expect_refusal(404)
