"""Tables on screens of any width: nothing is lost, and no number parts from its unit or its doubt's sign."""

from __future__ import annotations

import os
import re
from collections.abc import Callable

import click
import pytest

from archive.cli import show

HEADINGS = ("Size", "As written", "Best figure", "In feet", "On the model (1:43.5)", "Known how", "With")
ROWS = [
    ("length over walls", "2.734 m", "2734.0 mm ± 0.9 mm", "8 ft 11⅝ in", "62.851 mm ± 0.020 mm", "measured", "long tape"),
    ("8 of chimney height", "602 mm", "602.0 mm ± 0.6 mm", "1 ft 11 11/16 in", "13.839 mm ± 0.015 mm", "measured", "long tape"),
    ("roof slope", "1 in 8", "1 in 7.6 to 1 in 8.5", "", "", "measured", ""),
]  # fmt: skip


@pytest.fixture
def printed(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[[int], str]:
    """The table as it is printed on a terminal so many columns wide."""

    def on(columns: int) -> str:
        monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
        monkeypatch.setattr(show, "get_terminal_size", lambda: os.terminal_size((columns, 24)))
        show.table(HEADINGS, ROWS, nothing="")
        return click.unstyle(capsys.readouterr().out)

    return on


@pytest.mark.parametrize("columns", [45, 60, 70, 80, 90, 100, 120, 160])
def test_no_line_is_wider_than_the_screen_and_every_word_is_there(
    printed: Callable[[int], str], columns: int
) -> None:
    text = printed(columns)

    assert all(len(line) <= columns for line in text.splitlines())
    for cell in (cell for row in ROWS for cell in row):
        assert all(word in text.split() for word in cell.split()), cell


@pytest.mark.parametrize("columns", [45, 60, 70, 80, 90, 100, 120])
def test_a_number_keeps_its_unit_and_a_doubt_its_sign(printed: Callable[[int], str], columns: int) -> None:
    lines = [line.strip() for line in printed(columns).splitlines()]

    for number in ("62.851 mm", "± 0.020 mm", "11 11/16 in", "2734.0 mm", "± 0.9 mm"):
        assert any(number in line for line in lines), number
    assert not any(re.search(r"±$", line) for line in lines)


def test_where_it_fits_a_row_is_one_line(printed: Callable[[int], str]) -> None:
    assert len(printed(160).splitlines()) == 2 + len(ROWS)


def test_on_a_very_narrow_screen_each_row_stands_by_itself(printed: Callable[[int], str]) -> None:
    lines = printed(45).splitlines()

    assert lines[0] == "length over walls"
    assert lines[4].split("  ")[1] == "On the model (1:43.5)"
    assert "roof slope" in lines
