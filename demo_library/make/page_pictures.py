"""Make the pictures of the page that README shows, from the demo archive in a real browser.

Run it from the top, with the tests' requirements installed: `PYTHONPATH=.:tests python demo_library/make/page_pictures.py`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from asking_pages import Ids
from playwright.sync_api import sync_playwright
from real_browser import Visitor, chromium, running_page

from archive.demo import run_demo

PICTURES = Path(__file__).resolve().parents[1] / "pictures"
MOST_BYTES = 300_000


def found(visitor: Visitor, _ids: Ids) -> None:
    """Things found by their size."""
    visitor.go("find?size=height+0.5+to+3+m")


def linked(visitor: Visitor, ids: Ids) -> None:
    """A run of photos, chosen by its first and its last."""
    page = visitor.go(f"visit/{ids.visits['Wendle Basin, June']}")
    page.click("#photos > li:nth-child(2) .pick")
    page.click("#photos > li:nth-child(5) .pick")
    page.evaluate("document.activeElement.blur(); scrollTo(0, 215)")


def sizes(visitor: Visitor, ids: Ids) -> None:
    """The sizes of a thing at a scale, with where their doubt comes from."""
    page = visitor.go(f"subject/{ids.subjects['Weighbridge hut']}?scale=1:43.5")
    page.evaluate("document.querySelector('#sizes').scrollIntoView()")


SHOTS: dict[str, tuple[Callable[[Visitor, Ids], None], str]] = {
    "find-by-size": (found, "light"),
    "link-a-run": (linked, "light"),
    "sizes-at-scale": (sizes, "dark"),
}


def main() -> None:
    """Write the pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as given, sync_playwright() as playwright:
        made = run_demo(Path(given) / "basin", say=lambda _line: None) / "archive"
        archive = made.rename(made.with_name("wendle-basin"))  # the page shows the folder's name
        ids = Ids(archive)
        browser: Any = playwright.chromium.launch(executable_path=chromium())
        for name, (act, scheme) in SHOTS.items():
            with running_page(archive) as address, Visitor(browser, address, "desktop", scheme) as visitor:
                visitor.page.set_viewport_size({"width": 1366, "height": 860})
                act(visitor, ids)
                visitor.page.wait_for_timeout(1000)
                file = PICTURES / f"{name}.jpg"
                visitor.page.screenshot(path=file, type="jpeg", quality=86)
                print(f"{file.name}: {file.stat().st_size / 1000:.0f} kB")
                assert file.stat().st_size < MOST_BYTES
        browser.close()


if __name__ == "__main__":
    main()
