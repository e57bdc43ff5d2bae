"""The command line, one of the two doors: parse, call one use case, show. No sums, no SQL.

Commands live in the modules named in `_WHERE` and are loaded when they are called, so that
`rivetbook find` does not wait for what only other commands need.
"""

from __future__ import annotations

import sys
from importlib import import_module

import click

from archive.cli.door import BookGroup

# Where each command is defined: module and name in it, in the order in which help lists them.
_WHERE = {
    "new": "archives:new",
    "demo": "archives:demo",
    "import": "photos:import_photos",
    "photos": "photos:photos",
    "visit": "visits:visit",
    "subject": "subjects:subject",
    "link": "photos:link",
    "unlink": "photos:unlink",
    "photo": "photos:photo",
    "instrument": "instruments:instrument",
    "size": "size_group:size",
    "sizes": "sizes:sizes",
    "tally": "tallies:tally",
    "gaps": "gaps:gaps",
    "mark": "marks:mark",
    "marks": "marks:marks",
    "derive": "deriving:derive",
    "explain": "deriving:explain",
    "find": "find:find",
    "searches": "searches:searches",
    "kinds": "kinds:kinds",
    "kind": "kinds:kind",
    "open": "page:open_page",
    "build": "packs:build",
    "pack": "packs:pack",
    "verify": "originals:verify",
    "repair": "originals:repair",
    "history": "history:history",
    "undo": "history:undo",
}


class _LazyCommands(BookGroup):
    """Loads a command's module when the command is asked for."""

    def list_commands(self, _ctx: click.Context) -> list[str]:
        return list(_WHERE)

    def get_command(self, _ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _WHERE:
            return None
        module, name = _WHERE[cmd_name].split(":")
        command: click.Command = getattr(import_module(f"archive.cli.{module}"), name)
        return command


@click.command(cls=_LazyCommands, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--archive",
    "archive_folder",
    metavar="FOLDER",
    help="The archive to work in (else RIVETBOOK_ARCHIVE, else the archive around this folder, else ~/Rivetbook).",
)
@click.version_option(package_name="rivetbook", prog_name="Rivetbook")
@click.pass_context
def main(ctx: click.Context, archive_folder: str | None) -> None:
    """Keep photos and sizes of real things together, and take them to the bench at your scale.

    \b
    Begin with:
        rivetbook demo                       watch the whole job on an invented wharf
        rivetbook new                        make your own archive
        rivetbook import ~/Pictures/trip --visit "Wendle Basin, June"
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a console that lacks '½' must not stop the work
    ctx.obj = archive_folder
