"""The searches that are kept by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import click

from archive.cli import show
from archive.cli.door import json_option, pass_archive, show_json
from archive.records.archive import Archive


@click.command()
@click.option("--forget", metavar="NAME", help="Forget this search.")
@json_option
@pass_archive
def searches(archive: Archive, forget: str | None, as_json_: bool) -> None:
    """List the searches that are kept by name.

    \b
    Example:
        rivetbook searches
        rivetbook searches --forget "Posts to model"
    """
    from archive.search.kept import forget_search, kept_searches

    if forget:
        gone = forget_search(archive, forget)
        if not as_json_:
            click.echo(f"The search '{gone.name}' is forgotten; 'rivetbook undo' brings it back.")
            return
    found = kept_searches(archive)
    if as_json_:
        show_json({"searches": [{"name": each.name, "asked": dict(each.asked)} for each in found]})
        return
    rows = [(each.name, _asked_text(each.asked)) for each in found]
    show.table(
        ("Name", "What it finds"),
        rows,
        nothing="No search is kept yet. Keep one with 'rivetbook find WORDS --keep-as NAME'.",
    )


_TOLD_AS = {"sizes": "size", "model_sizes": "model size", "ratios": "ratio"}


def _asked_text(asked: Mapping[str, Any]) -> str:
    """Return a kept search in the words of the options that it was asked with."""
    told = [str(asked["words"])] if asked.get("words") else []
    for name, value in asked.items():
        if name == "words":
            continue
        called = _TOLD_AS.get(name, name.replace("_", " "))
        if value is True:
            told.append(called)
        elif name == "near":
            told.append(f"near {value[0]}, {value[1]}")
        else:
            each = value if isinstance(value, (list, tuple)) else [value]
            told += [f"{called} {one}" for one in each]
    return "; ".join(told)
