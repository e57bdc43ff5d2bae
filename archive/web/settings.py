"""How the page is opened: which archive, at which addresses, for whom."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

THIS_MACHINE = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True, slots=True)
class PageSettings:
    """What the page is told when it starts.

    `names` are the host names and addresses under which a browser may ask for it; `may_change` says
    whether a device let in over the network may change anything.
    """

    folder: Path
    port: int
    names: tuple[str, ...] = THIS_MACHINE
    on_network: bool = False
    may_change: bool = False

    @property
    def hosts(self) -> frozenset[str]:
        """The values of the Host header that are ours."""
        plain = {name.lower() for name in self.names} if self.port == 80 else set()
        return frozenset(plain | {f"{name.lower()}:{self.port}" for name in self.names})
