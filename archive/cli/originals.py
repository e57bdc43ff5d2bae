"""Originals: are they what they were, and taking back from a copy what is not."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli import show, show_originals
from archive.cli.door import DONE_WITH_DOUBTS, json_option, pass_archive, pass_archive_to_look, show_json
from archive.records.archive import Archive


@click.command()
@json_option
@pass_archive_to_look
@click.pass_context
def verify(ctx: click.Context, archive: Archive, as_json_: bool) -> None:
    """Check every original against its size and checksum. Looks only, and changes nothing.

    \b
    Example:
        rivetbook verify
    """
    from archive.records import fixity

    with show.progress() as progress:
        found = fixity.verify(archive, progress=progress)
    if as_json_:
        document: dict[str, object] = {"files": found.files, "bytes": found.bytes}
        for fault in show_originals.FAULTS:
            document[fault] = [show_originals.finding_json(f) for f in found.findings if f.fault == fault]
        show_json(document)
    else:
        show_originals.verified(found)
    if found.findings:
        ctx.exit(DONE_WITH_DOUBTS)


@click.command()
@click.option(
    "--from",
    "copies",
    metavar="FOLDER",
    help="A copy of the archive, or any folder with copies of its files.",
)
@json_option
@pass_archive
@click.pass_context
def repair(ctx: click.Context, archive: Archive, copies: str | None, as_json_: bool) -> None:
    """Put back originals that are missing or altered. Only the very bytes that were imported are taken.

    Without --from, files that were renamed or swapped within the archive go back to their places. An altered
    file is kept in 'set-aside'.

    \b
    Example:
        rivetbook repair --from /media/backup/Rivetbook
    """
    from archive.records import repairing

    with show.progress() as progress:
        done = repairing.repair(archive, Path(copies).expanduser() if copies else None, progress=progress)
    if as_json_:
        show_json(
            {
                "put_back": [
                    {"path": p.path, "from": p.taken_from, "altered_kept_as": p.kept_as}
                    for p in done.put_back
                ],
                "lists_written": done.lists_written,
                "still_wrong": [
                    {"fault": f.fault, **show_originals.finding_json(f)} for f in done.still_wrong
                ],
            }
        )
    else:
        show_originals.repaired(done)
    if done.still_wrong:
        ctx.exit(DONE_WITH_DOUBTS)
