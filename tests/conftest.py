"""What the whole test run shares: the counts of cases at its end, and no silent skips where CI counts on it."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import case_files
import pytest
from demonstration import Demonstration

# How the reason of a skip begins that CI accepts: what is tested cannot be had on this sort of machine.
MUST_SKIP = "must skip: "
Report = TypeVar("Report", pytest.TestReport, pytest.CollectReport)


MEMORY = Path("/dev/shm")  # where Linux keeps a disk in memory
ROOM_BYTES = 1 << 30


def memory_has_room() -> bool:
    return MEMORY.is_dir() and shutil.disk_usage(MEMORY).free >= ROOM_BYTES


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """Let the tests' folders lie in memory: an archive flushes every change to its disk, which would take most of the time."""
    if config.option.basetemp is None and memory_has_room():
        made = tempfile.mkdtemp(prefix="rivetbook-tests-", dir=MEMORY)
        config.option.basetemp = made
        config.add_cleanup(lambda: shutil.rmtree(made, ignore_errors=True))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for line in case_files.counted():
        terminalreporter.write_line(line)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    # On a machine without any files of right answers, tests that only read these have nothing to try.
    nothing_to_try = item.get_closest_marker("cases") is not None and not case_files.BESIDE.is_dir()
    return report if nothing_to_try else no_silent_skip(report)


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    return no_silent_skip((yield))


def no_silent_skip(report: Report) -> Report:
    """Where CI is set, make a skip a failure unless it must be: nobody would notice it there."""
    if not os.environ.get("CI") or not isinstance(report.longrepr, tuple):  # a tuple: where and why skipped
        return report
    reason = report.longrepr[2].removeprefix("Skipped: ")
    if not reason.startswith(MUST_SKIP):
        report.outcome = "failed"
        report.longrepr = f"Skipped in CI, where a reason has to begin with '{MUST_SKIP}': {reason}"
    return report


@contextmanager
def account(home: Path) -> Iterator[None]:
    """An account of the tests' own, for the key that signs search indexes."""
    from archive.search import index
    from archive.search.index import signing

    with pytest.MonkeyPatch.context() as patch:
        for variable in ("HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME", "LOCALAPPDATA"):
            patch.setenv(variable, str(home))
        patch.setattr(signing, "_known_key", None)
        yield
        index.let_go()


@pytest.fixture(scope="session")
def own_account(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """An account for the tests of a whole folder, for whoever asks first and all after."""
    with account(tmp_path_factory.mktemp("account")):
        yield


@pytest.fixture(scope="session")
def demonstration(room: Path, tmp_path_factory: pytest.TempPathFactory) -> Demonstration:
    """The demonstration, which takes a while and is made once: tests read it, or change a copy."""
    from archive.demo import run_demo

    lines: list[str] = []
    with account(tmp_path_factory.mktemp("account")):
        folder = run_demo(room / "basin", say=lines.append)
    return Demonstration(folder, "\n".join(lines).splitlines())


@pytest.fixture(scope="session")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for what several test files share."""
    return tmp_path_factory.mktemp("room")


@pytest.fixture(scope="session")
def chrome() -> Iterator[Any]:
    """One Chromium for all tests; each opens a window of its own, which shares nothing with another's."""
    from real_browser import chromium

    program = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=program)
        yield started
        started.close()
