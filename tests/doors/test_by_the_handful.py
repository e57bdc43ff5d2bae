"""Linking by the handful and putting right, as typed: what was meant is told back, and what is left to do."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from wharf_of_files import VISITS, add_files, wharf_of_files

from archive.cli import main
from archive.records.archive import open_archive

JUNE = VISITS[0]
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


@pytest.mark.parametrize(
    "words",
    [
        (
            "subject",
            "amend",
            "Wharf crane",
            "--kind",
            "crane",
            "--also",
            "hand crane",
            "--also",
            "Wharf crane",
        ),
        ("visit", "amend", JUNE, "--on", "2023-06-17"),
        ("photo", "amend", "HC20_0400", "HC20_0401", "--caption", ""),
        ("photo", "move", "HC20_0400", "--to", JUNE),
    ],
)
def test_what_is_so_already_is_said_to_be_for_undo_would_take_back_the_act_before(
    typed: Type, words: tuple[str, ...]
) -> None:
    before = typed("history").stdout

    done = typed(*words)

    assert done.exit_code == 1
    assert re.search(r"^That is what is said of .+ already; nothing was changed\.", done.stderr)
    assert typed("history").stdout == before


def test_a_photo_whose_name_is_taken_where_it_goes_is_told_to_be_called_otherwise(
    typed: Type, tmp_path: Path
) -> None:
    with open_archive(tmp_path / "wharf") as archive:
        add_files(archive, VISITS[1], ["HC20_0400.JPG"])
    told = "HC20_0400.JPG is called 'HC20_0400 (2).JPG' there: the name was taken."

    assert told in typed("photo", "move", f"{JUNE}/HC20_0400", "--to", VISITS[1]).stdout
    typed("undo")
    assert told in typed("visit", "merge", JUNE, "--into", VISITS[1]).stdout


def test_a_merge_tells_which_of_two_views_of_a_photo_stays(typed: Type) -> None:
    typed("link", "HC20_0401", "HC20_0402", "--to", "Wharf crane")

    done = typed("subject", "merge", "Weighbridge hut", "--into", "Wharf crane")

    assert "HC20_0401.JPG stays 'front'; of the other it was 'detail'." in done.stdout
    assert done.stdout.count("stays") == 1


def test_the_history_counts_the_photos_that_a_link_changed_and_says_how(typed: Type) -> None:
    typed("link", "HC20_0400", "to", "HC20_0402", "--to", "Wharf crane", "--view", "front")
    again = typed("link", "HC20_0400", "to", "HC20_0402", "--to", "Wharf crane", "--view", "front")
    typed("link", "HC20_0400", "--to", "Wharf crane", "--mirrored")
    turned = typed("link", "HC20_0400", "--to", "Wharf crane", "--not-mirrored", "--view", "rear")

    assert again.stdout == "3 photos showed Wharf crane (front) already.\n"
    assert turned.stdout == "1 photo now shows Wharf crane (rear, not mirrored).\n"
    history = typed("history", "--most", "3").stdout
    assert "Linked 1 photo to Wharf crane (front)" in history  # the other two were linked so before
    assert "Linked 1 photo to Wharf crane (rear, not mirrored)" in history


def test_a_photo_that_does_not_show_a_thing_is_told_with_what_it_shows(typed: Type) -> None:
    for words in (
        ("unlink", "HC20_0400", "--from", "Bollard"),
        ("subject", "split", "Bollard", "--into", "Cap", "--photo", "HC20_0400"),
    ):
        told = "Nobody said that HC20_0400.JPG shows Bollard; nothing was changed. It shows: Wharf crane."
        assert told in typed(*words).stderr


def test_a_size_is_named_as_it_is_shown_with_its_span_and_state(typed: Type) -> None:
    for way in (("--span", "over"), ("--span", "between"), ("--span", "over", "--state", "as built")):
        typed("size", "add", "Bollard", "cap width", "1ft 3in", *way)

    done = typed("size", "amend", "Bollard", "cap width (over, as built)", "1ft 4in")

    assert "Wrote down cap width (over, as built) of Bollard: '1ft 4in'." in done.stdout
    assert done.stdout.endswith("The old reading is kept as it was written, and counts no longer.\n")
    moved = typed("size", "move", "Bollard", "cap width (between)", "--to-label", "gap").stdout
    assert moved == "'cap width (between)' of Bollard is now 'gap (between)' of Bollard.\n"
    history = typed("history", "Bollard", "--most", "3").stdout
    assert "Corrected 'cap width (over, as built)' of Bollard to 1ft 4in" in history
    assert "Wrote down 'cap width (over, as built)' of Bollard: 1ft 3in" in history
    kept = typed("size", "move", "Bollard", "gap", "--to-label", "gap /over")
    assert "How a size is taken stays as it is when it moves; nothing was changed." in kept.stderr


def test_a_photo_whose_name_has_spaces_is_quoted_where_it_is_to_be_typed(typed: Type, tmp_path: Path) -> None:
    with open_archive(tmp_path / "wharf") as archive:
        add_files(archive, VISITS[1], ["crane (2).JPG"])

    assert 'rivetbook link "crane (2).JPG" --to SUBJECT' in typed("photo", "show", "crane (2)").stdout
    assert 'rivetbook mark "crane (2).JPG" NAME X Y' in typed("marks", "crane (2)").stdout


def test_a_guess_beside_a_reading_is_said_not_to_count(typed: Type) -> None:
    typed("size", "add", "Bollard", "height", "2ft 4in", "--guess", "the man beside it")
    assert "counts only" not in typed("size", "show", "Bollard", "height").stdout

    typed("size", "add", "Bollard", "height", "2ft 3in")

    guess, read = re.findall(r"^r\w{10} .*$", typed("size", "show", "Bollard", "height").stdout, re.MULTILINE)
    assert guess.endswith("counts only where nothing firmer is known")
    assert read.endswith("measured")
