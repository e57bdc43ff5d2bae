"""The command group `size`, with all that other modules add to it."""

from __future__ import annotations

from archive.cli import runs, size_sheets, sums
from archive.cli.sizes import size

__all__ = ["runs", "size", "size_sheets", "sums"]
