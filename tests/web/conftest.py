"""The page over the demo archive."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from asking_pages import PORT, Ids, browser, token_of
from flask import Flask
from flask.testing import FlaskClient
from real_browser import chromium
from werkzeug.test import TestResponse

from archive.demo import run_demo
from archive.search import index
from archive.web import close_app, create_app
from archive.web.settings import PageSettings

Send = Callable[..., TestResponse]


@pytest.fixture(scope="session", autouse=True)
def own_account(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """An account of the tests' own, for the key that signs search indexes."""
    home = tmp_path_factory.mktemp("account")
    with pytest.MonkeyPatch.context() as patch:
        for variable in ("HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME", "LOCALAPPDATA"):
            patch.setenv(variable, str(home))
        patch.setattr(index, "_known_key", None)
        yield


MEMORY = Path("/dev/shm")  # where Linux keeps a disk in memory
ROOM_BYTES = 1 << 30


@pytest.fixture(scope="session")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder in memory where there is one: an archive flushes every change to its disk, which takes most of the time."""
    if not MEMORY.is_dir() or shutil.disk_usage(MEMORY).free < ROOM_BYTES:
        yield tmp_path_factory.mktemp("room")
        return
    with tempfile.TemporaryDirectory(prefix="rivetbook-tests-", dir=MEMORY) as made:
        yield Path(made)


@pytest.fixture
def tmp_path(room: Path) -> Iterator[Path]:
    """A folder of this test alone, gone after it."""
    with tempfile.TemporaryDirectory(dir=room, ignore_cleanup_errors=True) as made:
        yield Path(made)


@pytest.fixture(scope="session")
def demo_made_once(room: Path, own_account: None) -> Path:
    return run_demo(room / "basin", say=lambda _line: None) / "archive"


@pytest.fixture
def demo(demo_made_once: Path, tmp_path: Path) -> Path:
    """The demo archive, a copy to change as one likes."""
    return Path(shutil.copytree(demo_made_once, tmp_path / "wendle-basin"))


@pytest.fixture(scope="session")
def chrome() -> Iterator[Any]:
    """One Chromium for all tests; each opens a window of its own, which shares nothing with another's."""
    program = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program)
        yield started
        started.close()


@pytest.fixture
def ids(demo: Path) -> Ids:
    return Ids(demo)


@pytest.fixture
def app(demo: Path) -> Iterator[Flask]:
    made = create_app(PageSettings(demo, PORT))
    made.testing = True
    yield made
    close_app(made)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return browser(app)


@pytest.fixture
def send(client: FlaskClient) -> Send:
    """Send a form as our own page does, and follow where it leads."""
    token = token_of(client)

    def sent(address: str, **fields: object) -> TestResponse:
        return client.post(address, data={"token": token, **fields}, follow_redirects=True)

    return sent
