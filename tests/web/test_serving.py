"""The page as a process of its own: opened, asked, stopped."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from archive.errors import NotAccepted
from archive.web import serving

TOP = Path(__file__).parents[2]


@pytest.fixture
def page(demo: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The running program and its address."""
    command = [sys.executable, "-m", "archive", "open", "--no-browser", "--port", "0", "--archive", str(demo)]
    environment = {**os.environ, "PYTHONPATH": str(TOP), "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        command,
        env=environment,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        # A shell that runs the tests in the background has its programs ignore Ctrl-C, and theirs inherit it.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert process.stdout is not None
    address = re.search(r"http://127\.0\.0\.1:\d+/", process.stdout.readline())
    assert address is not None
    yield process, address[0]
    process.kill()
    process.communicate()


@pytest.mark.skipif(os.name != "posix", reason="must skip: signals work otherwise here")
def test_the_page_is_opened_asked_and_stopped_with_ctrl_c(
    page: tuple[subprocess.Popen[str], str], demo: Path
):
    process, address = page

    with urllib.request.urlopen(f"{address}find?words=crane") as answer:
        assert "Wharf crane" in answer.read().decode()
        assert answer.headers["Server"] is None
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=20)

    assert process.returncode == 0
    assert err == ""
    assert not (demo / "archive.db-wal").exists(), "the log was folded, so that the folder can be copied"


def test_it_listens_on_this_machine_only(page: tuple[subprocess.Popen[str], str]):
    port = int(page[1].rstrip("/").rpartition(":")[2])
    elsewhere = serving.own_address()
    if elsewhere is None:
        pytest.skip("must skip: this machine is on no network")

    with socket.socket() as probe:
        probe.settimeout(2)
        assert probe.connect_ex((elsewhere, port)) != 0


def test_a_forged_host_is_refused_by_the_running_server_too(page: tuple[subprocess.Popen[str], str]):
    asking = urllib.request.Request(page[1], headers={"Host": "evil.example"})

    with pytest.raises(urllib.error.HTTPError) as refused, urllib.request.urlopen(asking):
        pass
    assert refused.value.code == 421
    refused.value.close()


def test_two_gigabytes_are_refused_by_the_running_server_before_they_are_read(
    page: tuple[subprocess.Popen[str], str],
):
    port = int(page[1].rstrip("/").rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port), timeout=10) as sending:
        sending.sendall(
            f"POST /bring-in/{'0' * 32}/file?name=x HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
            f"Content-Length: {2 << 30}\r\n\r\n".encode()
        )
        assert sending.recv(200).startswith(b"HTTP/1.1 413")


def test_a_port_that_is_taken_is_told(demo: Path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]

        with pytest.raises(NotAccepted, match=f"port {port}"), serving.opened(demo, port=port):
            pass


def test_where_the_usual_port_is_taken_a_free_one_is_found(demo: Path, monkeypatch: pytest.MonkeyPatch):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        monkeypatch.setattr(serving, "USUAL_PORT", other.getsockname()[1])

        with serving.opened(demo) as opened:
            assert str(other.getsockname()[1]) not in opened.address


def test_without_a_network_no_tablet_can_be_let_in(demo: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(serving, "own_address", lambda: None)

    with pytest.raises(NotAccepted, match="on no network"), serving.opened(demo, on_network=True):
        pass


def test_the_code_is_shown_with_an_address_that_has_it_and_as_a_picture(capsys: pytest.CaptureFixture[str]):
    from archive.cli.page import _show_code

    _show_code("http://192.0.2.10:8743/let-in?code=12345678", "12345678")

    shown = capsys.readouterr().out
    assert "http://192.0.2.10:8743/let-in there and type 1234 5678" in shown
    # Version 3 of ISO/IEC 18004 is 29 modules a side and takes 53 bytes at level L; two rows of them make a line.
    assert sum(any(block in line for block in "█▀▄") for line in shown.splitlines()) >= 14
