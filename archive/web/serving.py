"""Starting the page: the addresses, the code for a tablet, the server."""

from __future__ import annotations

import ipaddress
import logging
import os
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from archive.errors import NotAccepted
from archive.web.settings import THIS_MACHINE, PageSettings

if TYPE_CHECKING:
    from flask import Flask
    from waitress.server import MultiSocketServer, TcpWSGIServer

USUAL_PORT = 8743
_THREADS = 6  # pictures are decoded in them; more would only wait for one another


@dataclass(frozen=True, slots=True)
class Opened:
    """A page that is being served: `address` for a browser here, `network_address` for a tablet."""

    address: str
    network_address: str | None
    server: MultiSocketServer | TcpWSGIServer

    def run(self) -> None:
        """Serve until it is stopped."""
        self.server.run()


@contextmanager
def opened(
    folder: Path,
    *,
    port: int | None = None,
    on_network: bool = False,
    may_change: bool = False,
    show_code: Callable[[str, str], None] = lambda _address, _code: None,
) -> Iterator[Opened]:
    """Make the page of an archive ready to be served, and close everything after.

    Parameters
    ----------
    port : int, optional
        Else the usual one, or a free one where that is taken.
    on_network : bool
        Let other devices ask too; each must give the code that `show_code` is told, with the address
        at which it is typed already.
    may_change : bool
        Whether a device let in so may change anything.

    Raises
    ------
    NotAccepted
        When the port that was asked for is taken, or there is no network.
    """
    from archive.web import close_app, create_app
    from archive.web.admission import Admission

    names = (*THIS_MACHINE, _address_for_tablets()) if on_network else THIS_MACHINE
    with _listening("" if on_network else THIS_MACHINE[0], port) as heard:
        bound = int(heard.getsockname()[1])
        network = f"http://{names[-1]}:{bound}/" if on_network else None
        app = create_app(PageSettings(folder, bound, names, on_network, may_change))
        if network is not None:
            told = Admission(lambda code: show_code(f"{network}let-in?code={code}", code))
            app.extensions["admission"] = told
        server = _server_of(app, heard)
        try:
            yield Opened(f"http://{THIS_MACHINE[0]}:{bound}/", network, server)
        finally:
            server.close()
            close_app(app)


def _address_for_tablets() -> str:
    ours = own_address()
    if ours is None:
        raise NotAccepted("This machine is on no network", "Join one, or open the page without --on-network.")
    return ours


def _server_of(app: Flask, heard: socket.socket) -> MultiSocketServer | TcpWSGIServer:
    from waitress import create_server

    from archive.web.batches import MOST_FILE_BYTES

    # A page asks for many pictures at once: that they wait their turn is nothing to warn of.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    return create_server(
        app,
        sockets=[heard],
        threads=_THREADS,
        max_request_body_size=MOST_FILE_BYTES,
        ident=None,
        clear_untrusted_proxy_headers=True,
    )


@contextmanager
def _listening(where: str, port: int | None) -> Iterator[socket.socket]:
    heard = _listen(where, port)
    try:
        yield heard
    finally:
        with suppress(OSError):  # the server has closed it already
            heard.close()


def _listen(where: str, port: int | None) -> socket.socket:
    for wanted in (USUAL_PORT, 0) if port is None else (port,):
        heard = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name != "nt":  # there it would let two programs have the port
            heard.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            heard.bind((where, wanted))
        except OSError as error:
            heard.close()
            if wanted != USUAL_PORT or port is not None:
                raise NotAccepted(
                    f"Nothing can be served at port {wanted} ({error.strerror})", "Name another with --port."
                ) from error
            continue
        return heard
    raise AssertionError("a free port was asked for last")


def own_address() -> str | None:
    """Return this machine's address on its network, None where it has none.

    A UDP socket that is told a far address sends nothing; it only chooses the way there.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):
        probe.connect(("192.0.2.1", 9))  # an address for documentation, RFC 5737: nobody is there
        found = str(probe.getsockname()[0])
        if not ipaddress.ip_address(found).is_loopback:
            return found
    return None
