"""How things look on the terminal: tables, facts, how far long work is. What is shown is in the modules `show_...`.

Sizes are rounded and phrased by `wording`; these modules lay them out.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import zip_longest
from shutil import get_terminal_size
from textwrap import wrap
from typing import Any

import click

_WIDE = 160  # where nobody watches, no line is broken for a screen's sake
_BETWEEN = (3, 2)  # spaces between columns, and where cells have to be folded
# A number stays with its unit and its ±, and a fraction with its inches: where a cell is folded, this space holds.
_HOLDS = re.compile(r"(?<=±) (?=[\d.]+)|(?<=[\d⅛¼⅜½⅝¾⅞]) (?=(?:mm|cm|m|ft|in|px|kB|MB|%|\d+/\d+)(?![\w/]))")
_NO_BREAK = "\N{NO-BREAK SPACE}"
# Signs that are common here; for others rich is asked, which takes time to load.
_ONE_COLUMN_EACH = re.compile("[ -\u02ff⅛⅜⅝⅞]*")

Rows = Sequence[Sequence[str]]


def table(headings: Sequence[str], rows: Rows, *, nothing: str) -> None:
    """Print rows under headings, or the sentence `nothing`.

    Where the screen is too narrow, cells are folded between words; where it is narrower than that allows,
    each row becomes a few lines of its own.
    """
    if not rows:
        click.echo(nothing)
        return
    # A column that is empty in every row says nothing.
    used = [n for n in range(len(headings)) if any(row[n] for row in rows)]
    cells = [[_printable(row[n]) for n in used] for row in (headings, *rows)]
    room = get_terminal_size().columns if sys.stdout.isatty() else _WIDE
    for gap in _BETWEEN:
        widths = _widths(cells, room - gap * (len(used) - 1), fold=gap == _BETWEEN[-1])
        if widths is not None:
            lines = _side_by_side(cells, widths, gap)
            break
    else:
        lines = _one_by_one(cells, room)
    click.echo("\n".join(lines))


def _printable(cell: str) -> str:
    return cell if cell.isprintable() else "".join(c if c.isprintable() else " " for c in cell)


def _widths(cells: Rows, room: int, *, fold: bool) -> list[int] | None:
    """How wide each column becomes so that all fit into the room, cells folded or not; None where they cannot."""
    columns = list(zip(*cells, strict=True))
    widths = [max(map(_columns, column)) for column in columns]
    least = (
        [max(_columns(w) for cell in column for w in _words(cell)) for column in columns] if fold else widths
    )
    if sum(least) > room:
        return None
    widths = list(widths)
    while sum(widths) > room:  # the widest that can still be folded gives way
        widest = max((n for n in range(len(widths)) if widths[n] > least[n]), key=widths.__getitem__)
        widths[widest] -= 1
    return widths


def _columns(cell: str) -> int:
    if cell.isascii() or _ONE_COLUMN_EACH.fullmatch(cell):
        return len(cell)
    from rich.cells import cell_len

    return cell_len(cell)


def _words(cell: str) -> list[str]:
    return _HOLDS.sub(_NO_BREAK, cell).split(" ")


def _folded(cell: str, width: int) -> list[str]:
    if _columns(cell) <= width:
        return [cell]
    lines = [""]
    for word in _words(cell):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        lines = [*lines[:-1], longer] if _columns(longer) <= width else [*lines, word]
    return [line.replace(_NO_BREAK, " ") for line in lines]


def _side_by_side(cells: Rows, widths: Sequence[int], gap: int) -> Iterator[str]:
    for number, row in enumerate(cells):
        folded = map(_folded, row, widths)
        for parts in zip_longest(*folded, fillvalue=""):
            padded = (
                part + " " * (width - _columns(part)) for part, width in zip(parts, widths, strict=True)
            )
            line = (" " * gap).join(padded).rstrip()
            yield click.style(line, bold=True) if number == 0 else line
        if number == 0:
            yield "─" * (sum(widths) + gap * (len(widths) - 1))


def _one_by_one(cells: Rows, room: int) -> Iterator[str]:
    """Each row as its first cell, and under it the others with their headings."""
    headings, *rows = cells
    indent = 2 + max(map(len, headings[1:]), default=0) + 2
    for row in rows:
        yield click.style(row[0], bold=True)
        for heading, cell in zip(headings[1:], row[1:], strict=True):
            if cell:
                text = _HOLDS.sub(_NO_BREAK, cell)
                lines = wrap(text, max(room - indent, 20), break_long_words=False, break_on_hyphens=False)
                said = f"\n{' ' * indent}".join(lines).replace(_NO_BREAK, " ")
                yield f"  {heading:<{indent - 2}}{said}"


def facts(named: Sequence[tuple[str, str | None]]) -> None:
    """Print what is known of one thing, a line each; what is not known is left out."""
    indent = max(len(name) for name, _ in named) + 2
    for name, value in named:
        if value:
            click.echo(f"{name:<{indent}}" + "\n".join(map(_printable, value.splitlines())))


@contextmanager
def progress() -> Iterator[Callable[[str, int, int], None]]:
    """Show how far long work is, on a terminal; nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda _stage, _done, _total: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        tasks: dict[str, Any] = {}

        def tell(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bar.add_task(stage, total=total)
            bar.update(tasks[stage], completed=done, total=total)

        yield tell


def moment(taken: str | None) -> str:
    """When a photo was taken, for people."""
    return taken[:16].replace("T", " ") if taken else "unknown"
