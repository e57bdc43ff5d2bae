"""The folder that the tests of the doors type their commands in."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from doors.basin import make_sample

from archive.web import serving


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that each test gets a copy of."""
    here = tmp_path_factory.mktemp("sample")
    make_sample(here)
    return here


@pytest.fixture
def here(sample: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The current folder: a copy of the sample, where RIVETBOOK_ARCHIVE names its archive."""
    folder, home = tmp_path / "here", tmp_path / "home"
    shutil.copytree(sample, folder)
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.setenv("USERPROFILE", str(home))
    monkeypatch.setenv("RIVETBOOK_ARCHIVE", str(folder / "archive"))
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture(autouse=True)
def a_page_that_is_closed_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """`open` would serve until somebody stops it, and only where there is a network."""
    monkeypatch.setattr(serving.Opened, "run", lambda _page: None)
    monkeypatch.setattr(serving, "own_address", lambda: "192.0.2.10")
