"""The whole job in a real browser: with mouse and touch, with the keyboard alone, at every size, by day and by night."""

from __future__ import annotations

import base64
import io
import re
import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from asking_pages import Ids
from made_pictures import exif_block
from PIL import Image
from real_browser import Visitor, running_page

from archive.carried import carried_folder
from archive.dimensions.undoing import undo
from archive.ingest.importing import import_files
from archive.records import photos
from archive.records.archive import open_archive
from archive.records.entering import enter_subject, enter_visit
from archive.records.folder import make_archive
from archive.web.visits import VIEW_KEYS

PHOTOS = carried_folder("demo_library") / "photos"


@pytest.fixture
def address(demo: Path) -> Iterator[str]:
    with running_page(demo) as where:
        yield where


@pytest.fixture(params=["phone", "tablet", "desktop"])
def window(request: pytest.FixtureRequest) -> dict[str, Any]:
    """A window on the page, of each size: phones and tablets are touched, a desktop has a mouse."""
    return {"size": request.param, "has_touch": request.param != "desktop"}


def shown_by(folder: Path, file: str) -> list[tuple[str, str | None]]:
    with open_archive(folder) as archive, archive.look() as look:
        return [(s.subject_name, s.view) for s in photos.photo_named(look, file).sightings]


def test_files_dropped_on_the_page_are_brought_in_with_a_report(
    chrome: Any, tmp_path: Path, window: dict[str, Any]
):
    make_archive(tmp_path / "new")
    files = [
        (name, base64.b64encode((PHOTOS / name).read_bytes()).decode())
        for name in ("HC20_0412.JPG", "HC20_0413.JPG")
    ]
    files.append(("notes.txt", base64.b64encode(b"post height 9ft").decode()))
    with running_page(tmp_path / "new") as address, Visitor(chrome, address, **window) as visitor:
        page = visitor.go("bring-in")
        page.fill("#visit", "Wendle Basin, June")
        transfer = page.evaluate_handle(
            """files => { const all = new DataTransfer();
            for (const [name, text] of files)
                all.items.add(new File([Uint8Array.from(atob(text), c => c.charCodeAt(0))], name));
            return all; }""",
            files,
        )
        page.dispatch_event("#drop", "drop", {"dataTransfer": transfer})
        page.wait_for_selector("#report section")

        assert "Imported 2 photos into the visit Wendle Basin, June" in page.inner_text("#report")
        assert "notes.txt" in page.inner_text("#report")
        page.wait_for_selector("#newest:has-text('Imported 2 photos')")
        visitor.poke("#report a")
        page.wait_for_selector("h2:has-text('2 photos')")
        visitor.wait_until("[...document.querySelectorAll('.sheet img')].every(i => i.naturalWidth > 0)")


def test_words_and_sizes_are_found_while_they_are_typed(chrome: Any, address: str, window: dict[str, Any]):
    with Visitor(chrome, address, **window) as visitor:
        page = visitor.go("find")
        page.type("#words", "mooring po")
        page.wait_for_selector("#answer .name:has-text('Quay bollard')")
        page.fill("#words", "")
        page.type("#size", "post height 2.5 to 3 m")
        page.wait_for_selector("#answer:has-text('2743')")

        assert page.inner_text("#answer .count").startswith("1 subject")
        assert "Wharf crane" in page.inner_text("#answer")
        visitor.poke("#answer .sheet a")
        page.wait_for_selector("h1:has-text('Wharf crane')")
        page.go_back()
        page.wait_for_selector("#answer:has-text('2743')")


@pytest.mark.parametrize(
    ("path", "fold", "typed", "button"),
    [
        ("visits", "Add a visit", {"#name": "Tarn halt", "#zone": "Mars/Base"}, "Add the visit"),
        ("subjects", "Add a subject", {"#name": "Gate", "#kind": "no such kind"}, "Add the subject"),
        ("instruments", "Add an instrument", {"#name": "rule", "#limit": "a bit"}, "Add the instrument"),
        ("visit/JUNE", "clock was wrong", {"#clock-amount": "a bit"}, "by so much"),
    ],
)
def test_what_could_not_be_kept_is_still_there_to_be_mended(
    chrome: Any, demo: Path, address: str, path: str, fold: str, typed: dict[str, str], button: str
):
    with Visitor(chrome, address) as visitor:
        page = visitor.go(path.replace("JUNE", Ids(demo).visits["Wendle Basin, June"]))
        page.click(f"summary:has-text('{fold}')")
        for field, text in typed.items():
            page.fill(field, text)
        page.click(f"button:has-text('{button}')")
        page.wait_for_selector("text=what you typed is still there")
        visitor.expect_refusal(400)
        visitor.expect_refusal(404)
        page.go_back()
        for field, text in typed.items():
            page.wait_for_selector(f"{field}:visible")
            assert page.input_value(field) == text


@pytest.fixture(scope="module")
def thirty_two(room: Path) -> tuple[Path, dict[str, tuple[str, str]]]:
    """An archive of 32 photos, no two alike, and what each is to show: five subjects, a run of each."""
    folder = room / "run"
    folder.mkdir()
    make_archive(folder / "archive")
    (folder / "card").mkdir()
    start = datetime(2023, 6, 17, 10, 0, 0)
    views, runs = list(VIEW_KEYS), (8, 7, 6, 6, 5)
    wanted: dict[str, tuple[str, str]] = {}
    with open_archive(folder / "archive") as archive:
        enter_visit(archive, "The run", days="2023-06-17", zone="Europe/London")
        for subject in range(5):
            enter_subject(archive, f"Thing {subject + 1}")
        for number in range(32):
            taken = (start + timedelta(seconds=7 * number)).strftime("%Y:%m:%d %H:%M:%S")
            picture = io.BytesIO()
            exif = b"Exif\0\0" + exif_block({}, {0x9003: (2, taken)})
            Image.new("RGB", (90, 60), (8 * number, 120, 90)).save(picture, "JPEG", exif=exif)
            (folder / "card" / f"R_{number:02}.JPG").write_bytes(picture.getvalue())
            subject = next(n for n in range(5) if number < sum(runs[: n + 1]))
            wanted[f"R_{number:02}.JPG"] = (f"Thing {subject + 1}", views[(number * 3) % len(views)])
        import_files(archive, [folder / "card"], visit="The run")
    return folder / "archive", wanted


@pytest.mark.parametrize(
    ("by", "size"),
    [("mouse", "desktop"), ("touch", "tablet"), ("touch", "phone"), ("keyboard", "desktop")],
)  # fmt: skip
def test_32_photos_of_five_subjects_are_linked_with_their_views_in_at_most_50_actions(
    chrome: Any, thirty_two: tuple[Path, dict[str, tuple[str, str]]], tmp_path: Path, by: str, size: str
):
    folder, wanted = Path(shutil.copytree(thirty_two[0], tmp_path / "archive")), thirty_two[1]
    files = list(wanted)
    actions = 0
    more = {"has_touch": True} if by == "touch" else {}
    with running_page(folder) as address, Visitor(chrome, address, size, **more) as visitor:
        page = visitor.go(f"visit/{Ids(folder).visits['The run']}")
        keys = {
            b.get_attribute("data-subject"): b.get_attribute("aria-keyshortcuts")
            for b in page.query_selector_all("[data-subject]")
        }
        for subject in dict.fromkeys(name for name, _ in wanted.values()):
            run = [file for file in files if wanted[file][0] == subject]
            for end in (run[0], run[-1]):
                tile = page.locator(f"#photos > li:has-text('{end}') .pick")
                # With the keyboard the way there is walked by arrows, which choose nothing: counted are choices.
                if by == "mouse":
                    tile.click()
                elif by == "touch":
                    tile.tap()
                else:
                    tile.focus()
                    visitor.press("Space")
                actions += 1
            if by == "touch":
                page.locator(f"[data-subject='{subject}']").tap()
            else:
                visitor.press(keys[subject])
            actions += 1
            for file in run:
                view = wanted[file][1]
                if by == "touch":
                    page.locator(f"[data-view='{view}']").tap()
                else:
                    visitor.press(VIEW_KEYS[view])
                actions += 1
        last, view = files[-1], wanted[files[-1]][1]
        page.wait_for_selector(f"#photos > li:has-text('{last}') .shows:has-text('{view}')")
    assert actions <= 50
    assert {file: shown_by(folder, file) for file in files} == {file: [what] for file, what in wanted.items()}


@pytest.mark.parametrize("size", ["phone", "tablet", "desktop"])
def test_the_bench_stays_in_reach_and_never_hides_what_has_the_focus(
    chrome: Any, address: str, ids: Ids, size: str
):
    with Visitor(chrome, address, size) as visitor:
        page = visitor.go(f"visit/{ids.visits['Wendle Basin, June']}")
        page.evaluate("scrollTo(0, document.body.scrollHeight)")
        bench = page.locator("#linking").bounding_box()
        # It stays at the top of the window, and leaves the photos the larger part of it.
        assert bench["y"] == pytest.approx(0, abs=1)
        assert bench["height"] < 0.45 * page.viewport_size["height"]
        page.focus("#photos > li:last-child a")
        for _ in range(2 * 17):
            visitor.press("Shift+Tab")
            at = page.evaluate("document.activeElement.getBoundingClientRect().bottom")
            assert at > bench["height"], page.evaluate("document.activeElement.outerHTML")


def test_three_sizes_are_written_down_read_at_another_scale_and_taken_back(
    chrome: Any, address: str, ids: Ids, window: dict[str, Any]
):
    with Visitor(chrome, address, **window) as visitor:
        page = visitor.go(f"subject/{ids.subjects['Quay lamp']}")
        page.select_option("#instrument", label="long tape")
        for number, (label, written) in enumerate(
            [("column height", "11ft 2in"), ("lantern width", "1ft 3½in"), ("ladder bar length", "0.61 m")]
        ):
            page.fill(f"#rows tr:nth-child({number + 1}) [name=label]", label)
            page.fill(f"#rows tr:nth-child({number + 1}) [name=written]", written)
        for row, understood in enumerate(("3403.6 mm", "393.7 mm", "610 mm"), start=1):
            said = page.wait_for_selector(
                f"#rows tr:nth-child({row}) .understood span:has-text('{understood}')"
            )
            seen = said.bounding_box()
            assert seen["x"] + seen["width"] <= page.viewport_size["width"], "it stands beside what was typed"
        visitor.poke("text=Write them down")
        page.wait_for_selector("#said:has-text('Wrote down column height 11ft 2in')")
        page.fill("#scale", "1:87")
        visitor.poke("text=Show")
        page.wait_for_selector("th:has-text('At 1:87')")

        # By hand: 3403.6 mm / 87 = 39.12 mm; 393.7 mm / 87 = 4.525 mm.
        table = page.inner_text(".sizes")
        assert re.search(r"39\.12\d? mm", table)
        assert re.search(r"4\.52\d? mm", table)
        visitor.poke("text=Take it back")
        page.wait_for_selector("#said:has-text('Took back')")
        assert "column height" not in page.inner_text(".sizes")


def test_a_clock_is_put_right_from_the_two_photos_that_are_chosen_and_a_run_is_described(
    chrome: Any, address: str, ids: Ids, window: dict[str, Any], demo: Path
):
    with Visitor(chrome, address, **window) as visitor:
        page = visitor.go(f"visit/{ids.visits['Wendle Basin, June']}")
        visitor.poke("#one-by-one")
        for file in ("HC20_0412.JPG", "P5_20230617_101431.jpg"):
            visitor.poke(f"#photos > li:has-text('{file}') .pick")
        visitor.poke("text=Caption, creator and rights")
        assert page.get_attribute("#caption", "placeholder") == ""
        page.fill("#rights", "mine")
        visitor.poke("text=Keep for all chosen")
        page.wait_for_selector("#said:has-text('Amended')")
        visitor.poke("text=A camera's clock was wrong")
        assert page.input_value("#clock-photo") == "HC20_0412.JPG"
        visitor.poke("text=Put it right from these")
        page.wait_for_selector("#clocks:has-text('Halden C20: it was 1 h 4 min')")

    with open_archive(demo) as archive, archive.look() as look:
        known = [photos.photo_named(look, name) for name in ("HC20_0412", "P5_20230617_101431")]
    assert known[0].taken == known[1].taken
    assert {photo.rights for photo in known} == {"mine"}


def test_a_run_is_linked_to_a_thing_that_is_new_and_what_is_said_is_seen_where_one_is(
    chrome: Any, address: str, ids: Ids, demo: Path
):
    with Visitor(chrome, address, "phone") as visitor:
        page = visitor.go(f"visit/{ids.visits['Wendle Basin, June']}")
        page.click("#photos > li:nth-child(2) .pick")
        page.click("#photos > li:nth-child(3) .pick")
        page.fill("#subject", "Toll house")
        page.click("text=Link them")
        page.wait_for_selector("#said .wrong:has-text('Toll house')")
        said, window = page.locator("#said").bounding_box(), page.viewport_size
        assert said["y"] + said["height"] <= window["height"] + 1
        page.wait_for_selector("#add-new:not([hidden])")
        visitor.expect_refusal(404)
        page.click("#add-new")
        page.wait_for_selector("#photos > li:nth-child(3) .shows:has-text('Toll house')")
        assert not page.is_visible("#add-new")
        key = page.locator("#subject-keys [data-subject='Toll house']").get_attribute("aria-keyshortcuts")
        page.locator("#photos > li:nth-child(4) .pick").focus()
        visitor.press("Space", key)
        page.wait_for_selector("#photos > li:nth-child(4) .shows:has-text('Toll house')")
        page.click("#said >> text=Hide")
        assert page.inner_text("#said") == ""
    assert ("Toll house", None) in shown_by(demo, "HC20_0413")
    with open_archive(demo) as archive:
        undo(archive)
        undo(archive)
    assert "Toll house" not in {name for name, _ in shown_by(demo, "HC20_0413")}, "both are one act"


def test_what_a_page_did_without_being_loaded_anew_is_what_its_foot_takes_back(
    chrome: Any, address: str, ids: Ids, demo: Path
):
    with Visitor(chrome, address) as visitor:
        page = visitor.go(f"visit/{ids.visits['Wendle Basin, June']}")
        page.click("#photos > li:nth-child(2) .pick")
        page.fill("#subject", "Quay lamp")
        page.click("text=Link them")
        page.wait_for_selector("#newest:has-text('Linked 1 photo to Quay lamp')")
        page.click("text=Caption, creator and rights")
        page.fill("#caption", "By the gate")
        page.click("text=Keep for all chosen")
        page.wait_for_selector("#newest:has-text('Amended')")
        page.click("text=Take it back")
        page.wait_for_selector("h1:has-text('Wendle Basin, June')")
        assert "Took back: Amended" in page.inner_text("#said")
    assert ("Quay lamp", None) in shown_by(demo, "HC20_0413") + shown_by(demo, "HC20_0412")


def test_photos_that_do_not_say_when_they_were_taken_are_described_and_have_no_clock(
    chrome: Any, tmp_path: Path
):
    make_archive(tmp_path / "new")
    Image.new("RGB", (90, 60), "peru").save(tmp_path / "scan.png")
    with open_archive(tmp_path / "new") as archive:
        import_files(archive, [tmp_path / "scan.png"], visit="Scans")
    with running_page(tmp_path / "new") as address, Visitor(chrome, address) as visitor:
        page = visitor.go(f"visit/{Ids(tmp_path / 'new').visits['Scans']}")
        page.click(".pick")
        assert page.query_selector("#clocks") is None
        page.click("text=Caption, creator and rights")
        page.fill("#caption", "The <b>works</b> drawing")
        page.click("text=Keep for all chosen")
        page.wait_for_selector(".caption:has-text('The <b>works</b> drawing')")
