"""The use case: a build's reference pack in a folder of its own."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Final

from archive.errors import NotAccepted
from archive.packs.gather import content_of
from archive.packs.sheets import A4, Paper
from archive.packs.writing import PackReport, Progress, write_content
from archive.records.archive import Archive

__all__ = ["PackReport", "write_pack"]

_OWN_FOLDERS: Final = ("visits", "removed", "set-aside", "previews", "index")


def write_pack(
    archive: Archive, build: str, folder: Path, *, paper: Paper = A4, progress: Progress | None = None
) -> PackReport:
    """Write the reference pack of the build of this name or id to a new folder; whole or not at all.

    The archive is only read, so it may lie where nothing can be written. Raises as `write_content`
    does, `RecordNotFound`, and `NotAccepted` for a folder among the archive's own.
    """
    _refuse_among_ours(archive, folder)
    return write_content(
        content_of(archive, build, made_on=date.today()), folder, paper=paper, progress=progress
    )


def _refuse_among_ours(archive: Archive, folder: Path) -> None:
    """Refuse the folders whose every file the archive accounts for; elsewhere inside it a pack may lie."""
    inside = folder.absolute().resolve()
    for ours in _OWN_FOLDERS:
        if inside.is_relative_to(archive.folder.resolve() / ours):
            raise NotAccepted(
                f"'{folder}' lies in the archive's own folder '{ours}', where a pack would be in the way",
                "Choose a folder elsewhere.",
            )
