"""How fast the page is: finding among 200 and among 20 000 photos, a long visit scrolled, a large photo opened.

Run it from the top: `PYTHONPATH=.:tests python tests/benchmarks/page_speed.py`. What is measured is what a person sees in the browser.
"""

from __future__ import annotations

import io
import os
import statistics
import tempfile
import threading
import time
from collections.abc import Callable
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from PIL import Image
from real_browser import Visitor, chromium, running_page
from wendle_basin import new_archive, photo_facts

from archive.carried import carried_folder
from archive.ingest.importing import import_files
from archive.records import photos, subjects, visits
from archive.records.archive import open_archive
from archive.records.folder import make_archive
from archive.records.kept_previews import preview_path
from archive.records.things import Original
from archive.search import find

WORDS = ("crane", "hut", "bollard", "lamp", "wagon", "signal", "bridge", "gate", "winch", "tank")
PICTURE = next((carried_folder("demo_library") / "photos").glob("*.JPG"))


def archive_of(folder: Path, count: int, a_visit: int) -> None:
    """An archive of so many photos, `a_visit` to a visit, ten to a subject; their previews are one real picture."""
    from archive import pictures

    preview = folder.parent / "preview.jpg"
    preview.write_bytes(pictures.upright_preview(PICTURE, 512))
    with new_archive(folder) as archive:
        with archive.change("Put together to be measured") as writer:
            shown: list[int] = []
            for first in range(0, count, a_visit):
                visit = visits.add_visit(
                    writer, f"Trip {first // a_visit}", zone="Europe/London", first_day="2021-05-02"
                )
                rows = []
                for n in range(first, min(first + a_visit, count)):
                    file = f"P_{n:05}.jpg"
                    facts = photo_facts(
                        file,
                        width=4000,
                        height=3000,
                        taken=f"2021-05-02T{n // 3600 % 24:02}:{n // 60 % 60:02}:{n % 60:02}",
                    )
                    rows.append(
                        (facts, [Original("picture", f"visits/{visit.folder}/{file}", file, f"{n:064x}", 1)])
                    )
                shown += photos.add_photos(writer, visit, rows)
            for n in range(0, count, 10):
                subject = subjects.add_subject(
                    writer, f"{WORDS[n // 10 % 10].title()} {n // 10}", kind=None, place=f"Place {n % 70}"
                )
                for photo in photos.photos_by_key(writer, shown[n : n + 10]):
                    photos.link(writer, photo, subject, view="front")
        with archive.look() as look:
            for photo in photos.all_photos(look):
                path = preview_path(archive, photo)
                path.parent.mkdir(parents=True, exist_ok=True)
                os.link(preview, path)
        find(archive, "crane")  # the index is made once, not while somebody waits


def seconds_to(visitor: Visitor, act: Callable[[], Any], holds: str) -> float:
    """How long after an act something holds in the page, asked every frame."""
    began = time.perf_counter()
    act()
    while not visitor.page.evaluate(holds):
        time.sleep(0.002)
    return time.perf_counter() - began


SEEN = "document.querySelector('#answer').dataset.for?.includes(WORD) && [...document.querySelectorAll('#answer img')].slice(0, 6).every(i => i.naturalWidth > 0) && document.querySelectorAll('#answer img').length > 0"


def finding(browser: Any, folder: Path) -> float:
    """Median seconds from the last key to six pictures that are found."""
    took = []
    with running_page(folder) as address, Visitor(browser, address) as visitor:
        page = visitor.go("find")
        for word in (*WORDS, *WORDS):
            page.fill("#words", word[:-1])
            page.wait_for_timeout(600)
            took.append(
                seconds_to(
                    visitor, partial(page.type, "#words", word[-1]), SEEN.replace("WORD", f"'words={word}&'")
                )
            )
    return statistics.median(took[3:])


def scrolling(browser: Any, folder: Path) -> tuple[int, int, float]:
    """Pictures asked for at the start of a long visit, and what the window shows; seconds until it can be used."""
    with open_archive(folder) as archive, archive.look() as look:
        visit = visits.all_visits(look)[0]
    with running_page(folder) as address, Visitor(browser, address) as visitor:
        began = time.perf_counter()
        page = visitor.go(f"visit/{visit.id}")
        took = time.perf_counter() - began
        page.wait_for_timeout(1500)
        asked = sum("small.jpg" in url for url in visitor.requests)
        in_three_screens = page.evaluate(
            "[...document.querySelectorAll('.sheet img')].filter(i => i.getBoundingClientRect().top < 2 * innerHeight).length"
        )
        before = len(visitor.requests)
        page.evaluate("scrollTo(0, document.body.scrollHeight / 2)")
        page.wait_for_timeout(1500)
        after = sum("small.jpg" in url for url in visitor.requests[before:])
        near = page.evaluate(
            "[...document.querySelectorAll('.sheet img')].filter(i => { const r = i.getBoundingClientRect();"
            " return r.bottom > -innerHeight && r.top < 2 * innerHeight; }).length"
        )
        print(
            f"  at the top {asked} asked for, {in_three_screens} visible or within a screen; at the middle {after} asked for, {near} near"
        )
        return asked, in_three_screens, took


def first_picture(browser: Any, folder: Path, file: Path) -> tuple[float, float, float]:
    """Least seconds to: the bare preview from a static server, the preview in our page, the screen-sized picture."""
    make_archive(folder)
    with open_archive(folder) as archive:
        import_files(archive, [file], visit="One")
        with archive.look() as look:
            photo = photos.all_photos(look)[0]
        path = preview_path(archive, photo)
    handler = partial(_Quiet, directory=str(path.parent))
    static = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=static.serve_forever, daemon=True).start()
    bare, ours, sharp = [], [], []
    with running_page(folder) as address:
        for _ in range(15):
            context = browser.new_context()
            page = context.new_page()
            page.goto(f"http://127.0.0.1:{static.server_address[1]}/")
            bare.append(page.evaluate(_LOAD, f"http://127.0.0.1:{static.server_address[1]}/{path.name}"))
            context.close()
            with Visitor(browser, address) as visitor:
                visitor.go("find")
                ours.append(visitor.page.evaluate(_LOAD, f"{address}photo/{photo.id}/small.jpg"))
                sharp.append(visitor.page.evaluate(_LOAD, f"{address}photo/{photo.id}/screen.jpg"))
    static.shutdown()
    static.server_close()
    return min(bare), min(ours), min(sharp)  # taken in turns; other work only ever adds


_LOAD = "async address => { const began = performance.now(); const i = new Image(); i.src = address; await i.decode(); return (performance.now() - began) / 1000; }"


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: Any) -> None:
        pass


def large(folder: Path, megapixels: float) -> Path:
    """A picture of so many megapixels, as a camera would write it."""
    source = Image.open(PICTURE).convert("RGB")
    scale = (megapixels * 1e6 / (source.width * source.height)) ** 0.5
    out = io.BytesIO()
    source.resize((round(source.width * scale), round(source.height * scale))).save(out, "JPEG", quality=92)
    file = folder / f"large_{megapixels:g}.jpg"
    file.write_bytes(out.getvalue())
    return file


def closeup(browser: Any, folder: Path, file: Path) -> tuple[float, float, float]:
    """Seconds to the screen-sized picture of a photo never opened before, to its pixels, and to the next ones after a pan."""
    make_archive(folder)
    with open_archive(folder) as archive:
        import_files(archive, [file], visit="One")
        with archive.look() as look:
            photo = photos.all_photos(look)[0]
    with running_page(folder) as address, Visitor(browser, address) as visitor:
        page = visitor.page
        there = seconds_to(
            visitor,
            lambda: visitor.go(f"photo/{photo.id}"),
            "document.querySelector('#glass')?.dataset.ready === 'yes'",
        )
        page.focus("#glass")
        shown = "(() => { const all = [...document.querySelectorAll('.tiles img')]; return all.length > 2 && all.every(i => !i.hidden); })()"
        pixels = seconds_to(visitor, lambda: page.keyboard.press("1"), shown)
        for _ in range(8):
            page.keyboard.press("ArrowLeft")
        panned = seconds_to(visitor, lambda: page.keyboard.press("ArrowLeft"), shown)
    return there, pixels, panned


def main() -> None:
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as given, sync_playwright() as playwright:
        here = Path(given)
        browser = playwright.chromium.launch(executable_path=chromium())
        for count in (200, 20_000):
            archive_of(here / str(count), count, 200)
        archive_of(here / "long", 5000, 5000)
        small, big = finding(browser, here / "200"), finding(browser, here / "20000")
        print(
            f"found, from the last key to six pictures: {small * 1000:.0f} ms of 200, {big * 1000:.0f} ms of 20 000: x {big / small:.2f}"
        )
        *_, took = scrolling(browser, here / "long")
        print(f"a visit of 5 000 photos opens in {took * 1000:.0f} ms")
        bare, ours, sharp = first_picture(browser, here / "twelve", large(here, 12))
        print(
            f"12 MP: the bare preview {bare * 1000:.1f} ms, ours {ours * 1000:.1f} ms: x {ours / bare:.2f}; screen-sized {sharp * 1000:.0f} ms"
        )
        there, pixels, panned = closeup(browser, here / "fifty", large(here, 50))
        print(
            f"50 MP never opened: screen-sized in {there:.2f} s, its pixels in {pixels:.2f} s, after a pan {panned:.2f} s"
        )
        browser.close()


if __name__ == "__main__":
    main()
