"""The demonstration as the tests have it: made once, read by many, changed only as a copy."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import NamedTuple


class Demonstration(NamedTuple):
    """The folder of a finished demonstration, and every line that it told."""

    folder: Path
    lines: list[str]

    def copied_to(self, folder: Path) -> Path:
        """Return a copy of its archive to change as one likes, without the index, which another account has signed."""
        return Path(shutil.copytree(self.folder / "archive", folder, ignore=shutil.ignore_patterns("index")))
