"""What the finder's tests share: an account of their own for the key that signs indexes, and the demonstration."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from archive.demo import run_demo
from archive.search import index


@pytest.fixture(scope="session", autouse=True)
def own_account(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    home = tmp_path_factory.mktemp("account")
    with pytest.MonkeyPatch.context() as patch:
        for variable in ("HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME", "LOCALAPPDATA"):
            patch.setenv(variable, str(home))
        patch.setattr(index, "_known_key", None)
        yield home
        index.let_go()


@pytest.fixture(scope="session")
def basin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run_demo(tmp_path_factory.mktemp("demo") / "basin", say=lambda _line: None) / "archive"
