"""What was done, and taking it back."""

from __future__ import annotations

from datetime import datetime

import click

from archive.cli import show
from archive.cli.door import WholeNumber, json_option, pass_archive, pass_archive_to_look, show_json
from archive.records.archive import Archive
from archive.records.history import Act, acts_concerning, all_acts


@click.command()
@click.argument("thing", required=False, metavar="[SUBJECT|PHOTO|VISIT]")
@click.option(
    "--most", type=WholeNumber(min=1), default=40, metavar="NUMBER", help="How many acts at most (40)."
)
@json_option
@pass_archive_to_look
def history(archive: Archive, thing: str | None, most: int, as_json_: bool) -> None:
    """Tell what was done and when, the newest first: all of it, or what was done to one thing.

    \b
    Example:
        rivetbook history "Wharf crane"
    """
    with archive.look() as look:
        acts = acts_concerning(look, thing) if thing else all_acts(look)
    if as_json_:
        show_json({"acts": [_act_json(act) for act in acts[:most]], "more": max(0, len(acts) - most)})
        return
    show.table(
        ("Act", "When", "What", "Through"),
        [(str(act.number), _local(act.at_utc), _told(act), act.door) for act in acts[:most]],
        nothing="Nothing was done yet.",
    )
    if len(acts) > most:
        left = len(acts) - most
        click.echo(f"{left} earlier {'is' if left == 1 else 'are'} not shown; --most {len(acts)} shows all.")


@click.command()
@click.argument("number", required=False, type=WholeNumber(min=1), metavar="[ACT]")
@json_option
@pass_archive
def undo(archive: Archive, number: int | None, as_json_: bool) -> None:
    """Take back the newest act that is not taken back yet, or the ACT of this number in the history.

    Later acts keep what they did; where one leans on it, it is named and nothing is changed. Files that
    were moved come back too. Taking an undo back restores.

    \b
    Example:
        rivetbook undo 12
    """
    from archive.dimensions.undoing import undo as take_back

    done = take_back(archive, number)
    if as_json_:
        show_json({"act": _act_json(done)})
        return
    click.echo(f"Took back act {done.number}: {done.sentence}.")
    click.echo(f"If that was not meant: rivetbook undo {done.taken_back_by}")


def _act_json(act: Act) -> dict[str, object]:
    return {
        "number": act.number,
        "at_utc": act.at_utc,
        "door": act.door,
        "sentences": list(act.sentences),
        "undoes": act.undoes,
        "taken_back_by": act.taken_back_by,
    }


def _local(at_utc: str) -> str:
    return datetime.fromisoformat(at_utc).astimezone().strftime("%Y-%m-%d %H:%M")


def _told(act: Act) -> str:
    return act.sentence + (f" (taken back by {act.taken_back_by})" if act.taken_back_by else "")
