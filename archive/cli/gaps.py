"""What is still to be measured, and what of the measured is too rough."""

from __future__ import annotations

import click

from archive.cli import show_gaps
from archive.cli.door import json_option, pass_archive, show_json
from archive.records.archive import Archive


@click.command()
@click.argument("asked", metavar="BUILD|SUBJECT")
@click.option("--at", "scale", metavar="SCALE", help="Judge it at this scale: 1:43.5, 7mm/ft, N (GB).")
@click.option("--none", "has_none", metavar="LABEL", multiple=True, help="It has no such size.")
@click.option("--skip", "not_needed", metavar="LABEL", multiple=True, help="Nobody needs this size.")
@click.option(
    "--want",
    "wanted",
    nargs=2,
    metavar="LABEL PRECISION",
    multiple=True,
    help="Ask for this size, and how precisely will do: 'cab height' '± 4 mm'.",
)
@click.option("--ask-again", metavar="LABEL", multiple=True, help="Take back what was said of this size.")
@json_option
@pass_archive
def gaps(
    archive: Archive,
    asked: str,
    scale: str | None,
    has_none: tuple[str, ...],
    not_needed: tuple[str, ...],
    wanted: tuple[tuple[str, str], ...],
    ask_again: tuple[str, ...],
    as_json_: bool,
) -> None:
    """Show which sizes of a build or a subject are missing or too rough, and the one thing that would mend each.

    With --none, --skip, --want or --ask-again it notes that instead. Of a build of several subjects write
    the subject before the label: 'Wharf crane: jib length'.

    \b
    Examples:
        rivetbook gaps "Hut for the yard"
        rivetbook gaps "Weighbridge hut" --none "chimney height" --want "door height" "± 4 mm"
    """
    from archive.dimensions.gaps import decide, gaps_of
    from archive.scales import parse_scale

    at = parse_scale(scale) if scale else None
    if has_none or not_needed or wanted or ask_again:
        said = decide(
            archive, asked, has_none=has_none, not_needed=not_needed, wanted=wanted, ask_again=ask_again
        )
        if not as_json_:
            click.echo("\n".join(said))
            return
    found = gaps_of(archive, asked, at=at)
    if as_json_:
        show_json(show_gaps.gaps_json(found))
        return
    show_gaps.gaps(found)
