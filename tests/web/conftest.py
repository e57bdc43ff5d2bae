"""The page over the demo archive."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from asking_pages import PORT, Ids, browser, token_of
from demonstration import Demonstration
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from archive.records.archive import open_archive
from archive.search import find
from archive.web import close_app, create_app
from archive.web.settings import PageSettings

Send = Callable[..., TestResponse]


@pytest.fixture(scope="session", autouse=True)
def _an_account(own_account: None) -> None:
    """No test of the page leaves a key in the account of whoever runs it."""


@pytest.fixture
def tmp_path(room: Path) -> Iterator[Path]:
    """A folder of this test alone, gone after it."""
    with tempfile.TemporaryDirectory(dir=room, ignore_cleanup_errors=True) as made:
        yield Path(made)


@pytest.fixture(scope="session")
def demo_made_once(room: Path, own_account: None, demonstration: Demonstration) -> Path:
    folder = demonstration.copied_to(room / "demo of the page")
    with open_archive(folder) as archive:
        find(archive, "crane")  # its index goes with every copy
    return folder


@pytest.fixture
def demo(demo_made_once: Path, tmp_path: Path) -> Path:
    """The demo archive, a copy to change as one likes."""
    return Path(shutil.copytree(demo_made_once, tmp_path / "wendle-basin"))


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
