"""A real browser on a running page: it notes every complaint, and every request that leaves this machine."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any
from urllib.parse import urlsplit

import pytest

from archive.web import serving

SIZES = {"phone": (360, 740), "tablet": (820, 1180), "desktop": (1440, 900), "wide": (2560, 1400)}


def chromium() -> str:
    """Where Chromium is; the test that asks is skipped where there is none."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    pytest.skip("must skip: no Chromium")


@contextmanager
def running_page(folder: Path, **more: Any) -> Iterator[str]:
    """Serve an archive's page in a thread; yields its address."""
    with serving.opened(folder, port=0, **more) as page:
        stopping = threading.Event()

        def serve() -> None:
            try:
                page.run()
            except OSError:  # its socket was closed under it, at the end of a test
                if not stopping.is_set():
                    raise

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield page.address
        stopping.set()


class Visitor:
    """Somebody with a browser window of a certain size, in the light or in the dark."""

    def __init__(
        self, browser: Any, address: str, size: str = "desktop", scheme: str = "light", **more: Any
    ) -> None:
        width, height = SIZES[size]
        self.address = address
        self._touching = bool(more.get("has_touch"))
        self._context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, reduced_motion="reduce", **more
        )
        self.page = self._context.new_page()
        self.page.set_default_timeout(10_000)
        self.complaints: list[str] = []
        self.requests: list[str] = []
        self.page.on(
            "console", lambda m: self.complaints.append(m.text) if m.type in ("error", "warning") else None
        )
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))

    def go(self, path: str) -> Any:
        """Open a page; its scripts have run when it is loaded."""
        self.page.goto(self.address + path.lstrip("/"))
        return self.page

    def expect_refusal(self, status: int) -> None:
        """A refusal that a test means is no complaint, though the browser notes it."""
        self.page.wait_for_load_state()
        self.complaints = [said for said in self.complaints if f"a status of {status}" not in said]

    def wait_until(self, holds: str, seconds: float = 10) -> None:
        """Wait until an expression holds: asked from outside, for the page itself may evaluate nothing."""
        end = time.monotonic() + seconds
        while not self.page.evaluate(holds):
            assert time.monotonic() < end, f"never: {holds}"
            self.page.wait_for_timeout(20)

    def poke(self, what: str) -> None:
        """Click on something, or tap it where the window is one that is touched."""
        at = self.page.locator(what).first
        at.tap() if self._touching else at.click()

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def __enter__(self) -> Visitor:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._context.close()
        if kind is None:
            assert not self.complaints, self.complaints
            elsewhere = [
                url for url in self.requests if urlsplit(url).netloc != urlsplit(self.address).netloc
            ]
            assert not elsewhere, elsewhere


class Typist(Visitor):
    """Somebody who has a keyboard alone: any event of a pointer is a complaint, and so is a focus that is not seen."""

    def __init__(self, browser: Any, address: str, size: str = "desktop", scheme: str = "light") -> None:
        super().__init__(browser, address, size, scheme)
        self._context.add_init_script(
            "for (const kind of ['pointerdown', 'mousedown', 'touchstart'])"
            "addEventListener(kind, () => console.error('not by keyboard: ' + kind), true)"
        )

    def tab_to(self, text: str, *, backwards: bool = False, role: str | None = None, what: str = "") -> None:
        """Press Tab until what has the focus says so, by its text, its label, or its attribute `what`."""
        for _ in range(120):
            self.press("Shift+Tab" if backwards else "Tab")
            said, tag, outline = self.page.evaluate(
                """what => { const e = document.activeElement;
                const label = e.labels?.length ? e.labels[0].textContent : (e.getAttribute('aria-label') ?? '');
                if (e === document.body) return ["", "BODY", ""];  // the page has only just come
                const said = what ? e.getAttribute(what)
                    : (e.textContent.trim() || e.querySelector('img')?.alt || label);
                return [e.matches('select, textarea') ? label : said, e.tagName, getComputedStyle(e).outlineStyle]; }""",
                what,
            )
            if said and text in said and role in (None, tag):
                assert outline != "none", f"nobody sees that '{text}' has the focus"
                return
        raise AssertionError(f"Tab never comes to '{text}'")

    def type(self, text: str) -> None:
        """Type what stands in a field now."""
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)
