"""For everyone: no page has a serious fault in any of its states, each fits every width, and nothing is said aside."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from asking_pages import Ids
from axe_playwright_python.sync_playwright import Axe
from made_pictures import png_bytes, upright_scene
from real_browser import SIZES, Visitor, running_page

from archive.dimensions.putting_right import remove_photos
from archive.ingest.importing import import_files
from archive.records.archive import open_archive
from archive.records.entering import enter_subject, enter_visit
from archive.records.folder import make_archive
from archive.records.linking import link_photos
from archive.search.kept import keep_search

JUNE = "Wendle Basin, June"
LONG = "A thing with a name so long that nobody would say it whole, and " + "withoutanyspaces" * 6
ODD_PHOTO = png_bytes(upright_scene(81, 59))
BY_THE_STANDARD = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}  # WCAG 2.2, level AA
# What only the size of the window can spoil, and what only the colours can: the rest need be looked at once.
OF_SIZE = ["target-size", "scrollable-region-focusable"]
OF_COLOUR = ["color-contrast"]


@dataclass(frozen=True)
class State:
    """A page as somebody has it before them: its address, and what was done there. `refused` is a status that is meant."""

    path: str
    act: Callable[[Any], None] = lambda _page: None
    refused: int | None = None

    @property
    def as_opened(self) -> bool:
        """Whether nothing was done there."""
        return self.act is State.act and not self.refused


def choose_a_photo(page: Any) -> None:
    page.click("#photos > li:nth-child(2) .pick")


def link_to_nothing(page: Any) -> None:
    page.click("text=Link them")
    page.wait_for_selector("#said .wrong")


def write_a_wrong_size(page: Any) -> None:
    page.fill("[aria-label='Size, line 1']", "door height")
    page.fill("[aria-label='As written, line 1']", "a good yard")
    page.click("text=Or many lines in one go")
    page.fill("#lines", "sill height = two")
    page.click("text=Write them down")
    page.wait_for_selector("td .wrong")


def put_a_reading_right(page: Any, written: str = "1ft 1in") -> None:
    page.click("[aria-label='put right post width 1ft 0in']")
    page.fill("li:has(details[open]) [name=written]", written)
    page.click("li:has(details[open]) >> text=Correct it")


def set_a_reading_aside(page: Any) -> None:
    page.click("[aria-label='put right crank throw 1ft 3in']")
    page.fill("li:has(details[open]) form:not(.correction) [name=why]", LONG)
    page.click("[aria-label='Set aside crank throw 1ft 3in']")
    page.wait_for_selector("#said:has-text('has no figure now')")


def send_too_much(page: Any) -> None:
    page.evaluate(
        "{ const held = document.querySelector('[name=was-name]'); held.value = 'x'.repeat(3 << 20); held.form.submit(); }"
    )
    page.wait_for_selector("text=more than the page takes at once")


def show_evidence(page: Any) -> None:
    page.wait_for_selector("#evidence-picture img[alt]:not([alt=''])")


def add_a_visit_and_take_it_back(page: Any) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.fill("#name", "A visit by mistake")
    page.click("text=Add the visit")
    page.click("text=Take it back")
    page.wait_for_selector("#said:has-text('Took back')")


def put_the_clock_right_by_a_bit(page: Any) -> None:
    page.click("text=A camera's clock was wrong")
    page.fill("#clock-amount", "a bit")
    page.click("text=Put it right by so much")
    page.wait_for_selector("h1:has-text('did not work')")


def bring_in_what_was_taken_out(page: Any) -> None:
    page.set_input_files("#files", {"name": "odd.png", "mimeType": "image/png", "buffer": ODD_PHOTO})
    page.wait_for_selector("#report form button")


def say_where(page: Any) -> None:
    page.click("text=Say where on the photo it is")
    page.click("text=Go to the box")
    page.wait_for_selector(".box:focus")


def states_of(ids: Ids) -> dict[str, State]:
    crane = f"subject/{ids.subjects['Wharf crane']}"
    hut, visit = f"subject/{ids.subjects['Weighbridge hut']}", f"visit/{ids.visits[JUNE]}"
    photo = f"photo/{ids.photos['HC20_0412']}"
    return {
        "find, nothing asked yet": State("find"),
        "find": State("find?words=crane&size=height+2.5+to+3+m"),
        "find, nothing found": State("find?words=xyzzy"),
        "find, not understood": State("find?size=height+3+nonsense"),
        "find, loose photos": State("find?unlinked=1"),
        "visits": State("visits"),
        "visit": State(visit),
        "visit, a photo chosen": State(visit, choose_a_photo),
        "visit, nothing to link": State(visit, link_to_nothing),
        "visit, a clock not understood": State(visit, put_the_clock_right_by_a_bit, 400),
        "visits, too much at once": State("visits", send_too_much, 413),
        "subjects": State("subjects"),
        "subject": State(f"{hut}?scale=1:43.5"),
        "subject, no such scale": State(f"{hut}?scale=one+to+many"),
        "subject, a wrong size": State(hut, write_a_wrong_size, 422),
        "subject, a reading not understood": State(
            crane, lambda page: put_a_reading_right(page, "a yard"), 400
        ),
        "subject, a reading put right": State(crane, put_a_reading_right),
        "subject, a reading set aside": State(crane, set_a_reading_aside),
        "subject, beside a photo": State(f"{hut}?photo={ids.photos['HC20_0412']}", show_evidence),
        "photo": State(photo),
        "photo, saying where": State(photo, say_where),
        "photo, marks and regions": State(f"photo/{ids.photos['HC20_0413']}"),
        "look-alikes": State(f"{photo}/look-alikes"),
        "bring in": State("bring-in"),
        "bring in, what was taken out": State("bring-in", bring_in_what_was_taken_out),
        "instruments": State("instruments"),
        "history": State("history"),
        "after taking back": State("visits", add_a_visit_and_take_it_back),
        "no such page": State("nowhere", refused=404),
    }


def pages_of(ids: Ids) -> dict[str, State]:
    """The pages as they are opened, without anything done there."""
    return {name: state for name, state in states_of(ids).items() if state.as_opened}


@pytest.fixture(scope="module")
def awkward(demo_made_once: Path, room: Path) -> Path:
    """The demo archive with long names, a subject without photos, a visit without any, and a photo taken out."""
    demo = Path(shutil.copytree(demo_made_once, room / "awkward"))
    (room / f"{LONG[:100]}.png").write_bytes(ODD_PHOTO)
    with open_archive(demo) as archive:
        import_files(archive, [room / f"{LONG[:100]}.png"], visit=JUNE)
        archive.begin_act()
        remove_photos(archive, [LONG[:100]])
        archive.begin_act()
        enter_subject(archive, LONG, kind="hut", notes=LONG * 3, also=["B" * 150])
        link_photos(archive, ["HC20_0412"], [LONG], view=None)
        link_photos(archive, ["HC20_0413"], [LONG], view=None, region="20%,15% to 75%,85%")
        archive.begin_act()
        enter_visit(archive, LONG, place=LONG, access_notes=LONG * 2)
        keep_search(archive, LONG, {"words": "crane"})
    return demo


@pytest.fixture
def new_page(tmp_path: Path) -> Iterator[str]:
    """The page over an archive that holds nothing yet."""
    make_archive(tmp_path / "new")
    with running_page(tmp_path / "new") as address:
        yield address


# The texts of a page in which a date stands on two lines.
BROKEN_DATES = r"""() => {
    const found = [], range = new Range(), walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode())
        for (const date of walker.currentNode.data.matchAll(/\d{4}-\d\d-\d\d/g)) {
            range.setStart(walker.currentNode, date.index);
            range.setEnd(walker.currentNode, date.index + date[0].length);
            if (new Set([...range.getClientRects()].map(at => at.top)).size > 1) found.push(walker.currentNode.data.trim());
        }
    return found;
}"""
AXE = Axe().axe_script


def serious_faults(page: Any, rules: list[str] | None = None) -> list[str]:
    """What axe finds that keeps somebody out, by these rules or by the standard, with every part of the page unfolded."""
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    options = {"runOnly": {"type": "rule", "values": rules}} if rules else BY_THE_STANDARD
    violations = page.evaluate(
        "options => axe.run(document, options).then(found => found.violations)",
        {"resultTypes": ["violations"], **options},
    )
    serious = [v for v in violations if v["impact"] in ("serious", "critical")]
    return [f"{v['id']}: {v['nodes'][0]['html'][:200]}" for v in serious]


@dataclass
class Seen:
    """What was found on every page in each of its states: on a desktop, and in smaller windows, by day and by night."""

    on_a_desktop: dict[str, list[str]] = field(default_factory=dict)
    in_small_windows: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    too_wide: list[tuple[str, int]] = field(default_factory=list)
    broken_dates: list[tuple[str, int, str]] = field(default_factory=list)


@pytest.fixture(scope="module")
def seen(chrome: Any, awkward: Path) -> Seen:
    """Every page is loaded once and looked at in all ways: loading takes most of the time."""
    ids, seen = Ids(awkward), Seen()
    states = states_of(ids) | {
        "subject without photos": State(f"subject/{ids.subjects[LONG]}"),
        "visit without photos": State(f"visit/{ids.visits[LONG]}"),
    }
    with running_page(awkward) as address, Visitor(chrome, address) as visitor:
        for name, state in states.items():
            page = visitor.go(state.path)
            state.act(page)
            if state.refused:
                visitor.expect_refusal(state.refused)
            seen.on_a_desktop[name] = serious_faults(page)
            in_other_windows(page, name, seen)
    return seen


def in_other_windows(page: Any, name: str, seen: Seen) -> None:
    for size, scheme, rules in (("phone", "dark", [*OF_SIZE, *OF_COLOUR]), ("tablet", "light", OF_SIZE)):
        page.emulate_media(color_scheme=scheme)
        note_if_too_wide(page, name, *SIZES[size], seen)
        seen.in_small_windows[name, size] = serious_faults(page, rules)
    for width, height in (SIZES["wide"], (900, 700), (1070, 700), (1280, 800), SIZES["desktop"]):
        note_if_too_wide(page, name, width, height, seen)
    # WCAG 2.2: 1280 px at four times the size (1.4.10), and text set wider (1.4.12).
    page.evaluate(
        "Object.assign(document.body.style, {lineHeight: 1.5, letterSpacing: '0.12em', wordSpacing: '0.16em'})"
    )
    note_if_too_wide(page, name, 320, 640, seen)
    page.set_viewport_size(dict(zip(("width", "height"), SIZES["desktop"], strict=True)))


def note_if_too_wide(page: Any, name: str, width: int, height: int, seen: Seen) -> None:
    page.set_viewport_size({"width": width, "height": height})
    if page.evaluate("document.documentElement.scrollWidth - innerWidth") > 0:
        seen.too_wide.append((name, width))
    seen.broken_dates += [(name, width, text) for text in page.evaluate(BROKEN_DATES)]


def test_no_page_has_a_serious_fault_for_anybody_in_any_state(seen: Seen):
    assert len(seen.on_a_desktop) > 20
    assert not {name: faults for name, faults in seen.on_a_desktop.items() if faults}


def test_in_small_windows_and_by_night_the_colours_are_as_clear_and_nothing_is_too_small(seen: Seen):
    assert len(seen.in_small_windows) == 2 * len(seen.on_a_desktop)
    assert not {name: faults for name, faults in seen.in_small_windows.items() if faults}


def test_every_page_fits_every_width(seen: Seen):
    assert not seen.too_wide


def test_no_date_is_broken_at_the_end_of_a_line(seen: Seen):
    assert not seen.broken_dates


def test_a_mistake_of_our_own_is_told_on_a_page_for_everyone(
    chrome: Any, demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr("archive.records.visits.all_places", lambda _look: 1 / 0)
    found = Seen()
    with running_page(demo) as address, Visitor(chrome, address) as visitor:
        page = visitor.go("visits")
        visitor.expect_refusal(500)
        assert "a mistake of its own" in page.inner_text("main")
        assert not serious_faults(page)
        in_other_windows(page, "fault", found)
    assert not any(found.in_small_windows.values())
    assert not found.too_wide


def test_a_new_archive_has_no_serious_fault_either_and_says_what_to_do(chrome: Any, new_page: str):
    said = {
        "find": "Bring in the photos of a visit",
        "visits": "There are no visits yet",
        "subjects": "There are no subjects yet",
        "instruments": "There are no instruments yet",
        "bring-in": "Drop photos or folders here",
        "history": "Nothing yet",
    }
    with Visitor(chrome, new_page) as visitor:
        for path, words in said.items():
            page = visitor.go(path)
            assert words in page.inner_text("main")
            assert not serious_faults(page), path


def test_a_printed_page_is_ink_on_white_with_nothing_to_press(chrome: Any, demo: Path):
    ids = Ids(demo)
    with running_page(demo) as address, Visitor(chrome, address, "desktop", "dark") as visitor:
        page = visitor.go(f"subject/{ids.subjects['Weighbridge hut']}?scale=1:43.5")
        page.emulate_media(media="print")
        for control in page.query_selector_all("main :is(button, input, select, textarea), nav, footer"):
            assert not control.is_visible(), control.evaluate("e => e.outerHTML")
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert "15.977" in page.inner_text(".sizes")
        assert "No photo yet: rear, left side, top." in page.inner_text("main")
        sheets = pypdfium2.PdfDocument(page.pdf(format="A4", prefer_css_page_size=True))
        page = visitor.go(f"visit/{ids.visits[JUNE]}")
        for control in page.query_selector_all("main :is(button:not(.pick), input, select, textarea), nav"):
            assert not control.is_visible(), control.evaluate("e => e.outerHTML")
    # Eleven sizes with readings and doubts fit two sheets beside the photos, what is still open a third.
    assert len(sheets) <= 3
    sheets.close()


def test_a_tablet_is_let_in_with_the_code_and_sees_no_way_to_change(
    chrome: Any, demo: Path, monkeypatch: pytest.MonkeyPatch
):
    from archive.web import safety

    monkeypatch.setattr(safety, "on_this_machine", lambda _asked: False)  # as a tablet's address would be
    monkeypatch.setattr("archive.web.serving.own_address", lambda: "127.0.0.1")
    codes: list[str] = []
    with (
        running_page(demo, on_network=True, show_code=lambda _address, code: codes.append(code)) as address,
        Visitor(chrome, address, "tablet", "dark") as visitor,
    ):
        page = visitor.go("find")
        page.fill("#code", "00000000")
        page.click("text=Let it in")
        visitor.expect_refusal(403)
        assert not serious_faults(page)
        page.fill("#code", codes[0])
        page.click("text=Let it in")
        page.wait_for_selector("h1:has-text('Find')")
        for state in pages_of(Ids(demo)).values():
            visitor.go(state.path)
            assert page.query_selector("form[method=post]") is None, state.path
