"""Linking by the handful and putting right, as typed: what was meant is told back, and what is left to do."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from wharf_of_files import wharf_of_files

from archive.cli import main

Type = Callable[..., Result]


@pytest.fixture
def typed(tmp_path: Path) -> Type:
    """Types a command in an archive of two visits with three photos each."""
    wharf_of_files(tmp_path / "wharf").close()

    def run(*words: str) -> Result:
        return CliRunner().invoke(main, ["--archive", str(tmp_path / "wharf"), *words])

    return run


def test_a_run_of_photos_is_linked_to_several_subjects_from_a_view_the_wrong_way_round(typed: Type) -> None:
    done = typed(
        "link", "HC20_0400", "to", "HC20_0402", "--to", "Bollard", "--to", "Weighbridge hut",
        "--view", "rear", "--mirrored",
    )  # fmt: skip

    assert done.stdout.startswith("3 photos now show Bollard and Weighbridge hut (rear, mirrored).")
    assert "Bollard (rear, mirrored); " in typed("photos").stdout


def test_photos_that_show_nothing_are_listed_until_none_is_left(typed: Type) -> None:
    assert "HC20_0412.JPG" in typed("photos", "--unlinked").stdout
    typed("link", "HC20_0402", "HC20_0412", "--to", "Bollard")

    assert typed("photos", "--unlinked").stdout == "Every photo shows something: none is left to be linked.\n"


def test_of_two_readings_that_read_alike_neither_is_taken_for_the_one_meant(typed: Type) -> None:
    typed("size", "add", "Bollard", "height", "2ft 4in")
    typed("size", "add", "Bollard", "height", "2ft 4in")

    done = typed("size", "amend", "Bollard", "height", "2ft 5in", "--reading", "2ft 4in")

    assert done.exit_code == 1
    assert (
        "'2ft 4in' is more than one of them; nothing was changed. Name one with --reading: r" in done.stderr
    )


def test_a_size_or_reading_that_is_not_there_tells_where_to_look(typed: Type) -> None:
    assert (
        "'rivetbook sizes \"Bollard\"' shows those"
        in typed("size", "move", "Bollard", "x", "--to-label", "y").stderr
    )
    assert "'rivetbook size show SUBJECT LABEL'" in typed("size", "set-aside", "2ft", "--why", "x").stderr


def test_a_figure_that_a_works_may_have_drawn_is_a_hint_beside_the_size(typed: Type) -> None:
    typed("size", "add", "Bollard", "base width", "140 mm ± 2 mm")

    shown = typed("size", "show", "Bollard", "base width").stdout

    # By hand: 140 mm counts 10; 5 1/2 in = 139.7 mm counts 12.7 x exp(-0.03) = 12.3.
    assert re.search(r"^Drawn as +perhaps 5½ in, else 140 mm \(a hint only\)$", shown, re.MULTILINE)


def test_nothing_is_merged_with_itself(typed: Type) -> None:
    for sort, name in (("subject", "bollard"), ("visit", "Wendle Basin, June")):
        done = typed(sort, "merge", name, "--into", name)
        assert done.exit_code == 1
        assert "cannot be merged with itself; nothing was changed. Name two different" in done.stderr
