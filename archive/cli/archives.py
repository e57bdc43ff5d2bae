"""Making an archive, and the demonstration."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from pathlib import Path

import click

from archive.records.folder import make_archive, usual_folder


@click.command()
@click.argument("folder", required=False)
def new(folder: str | None) -> None:
    """Make a new, empty archive in FOLDER (or in ~/Rivetbook).

    \b
    Example:
        rivetbook new ~/Models/wharf
    """
    where = Path(folder).expanduser() if folder else usual_folder()
    make_archive(where)
    click.echo(f"Made a new archive in '{where}'.")
    click.echo("Next: rivetbook import FOLDER-OF-PHOTOS --visit NAME" + _how_to_reach(where))


def _how_to_reach(where: Path) -> str:
    if where.resolve() == usual_folder().resolve():
        return ""
    return f"\n(Run it inside '{where}', or add --archive '{where}'.)"


@click.command()
@click.argument("folder", required=False)
def demo(folder: str | None) -> None:
    """Watch the whole job on the invented Wendle Basin: photos in, sizes found, a reference pack out.

    Makes a fresh archive in FOLDER, or in a new folder here.

    \b
    Example:
        rivetbook demo
    """
    from archive.demo import run_demo

    run_demo(Path(folder).expanduser() if folder else None, say=click.echo)
    if shutil.which("rivetbook") is None:
        click.echo(f"First, so that this window knows the word rivetbook: {_how_to_activate()}")


def _how_to_activate() -> str:
    """What makes the commands of the environment that this runs in known to a shell."""
    if os.name == "nt":
        return f'"{Path(sys.prefix) / "Scripts" / "activate"}"'
    return f". {shlex.quote(str(Path(sys.prefix) / 'bin' / 'activate'))}"
