"""Slight slips at the command line: each message says what happened, and what to do next."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from doors.basin import run
from doors.every_command import commands


def typed(*words: str) -> str:
    """All that the command says, on either stream."""
    return " ".join(run(*words).output.split())


@pytest.mark.usefixtures("here")
def test_a_way_to_take_a_size_may_stand_behind_its_label_everywhere() -> None:
    assert "Wrote down plate width (over) of Wharf crane" in typed(
        "size", "add", "Wharf crane", "plate width /over", "1ft 3in"
    )
    assert "381 mm" in typed("size", "show", "Wharf crane", "plate width /over")  # 15 x 25.4
    assert "There is no size" in typed("size", "show", "Wharf crane", "plate width /between")
    assert "'/ovr' is not a way to take a size" in typed(
        "size", "add", "Wharf crane", "plate width /ovr", "1ft"
    )
    both = typed("size", "add", "Wharf crane", "plate width /over", "1ft", "--span", "between")
    assert "taken both 'over' and 'between'" in both


@pytest.mark.usefixtures("here")
def test_a_size_taken_in_several_ways_is_asked_for_by_one_that_there_is() -> None:
    for span in ("between", "centres"):
        run("size", "add", "Wharf crane", "band", "10 mm", "--span", span)

    assert "Write which: band /between." in typed("size", "work-out", "Wharf crane", "two bands", "2 x band")


@pytest.mark.usefixtures("here")
def test_an_instrument_of_which_nothing_is_known_is_told_at_once() -> None:
    said = typed("instrument", "add", "Ede's", "--kind", "telefone")

    assert "'telefone' is no kind of instrument that Rivetbook knows. Perhaps you mean 'telephone'." in said
    assert "Nobody said how far off it may be" in said
    assert 'rivetbook instrument amend "Ede\'s" --limit' in said
    assert "Nobody said" not in typed("instrument", "amend", "Ede's", "--kind", "phone")
    assert "Nobody said" not in typed("instrument", "add", "pacing", "--limit", "5 %")


@pytest.mark.usefixtures("here")
def test_only_kinds_of_instrument_that_are_near_are_offered() -> None:
    said = typed("instrument", "usual", "lazer", "--limit", "1 mm", "--why", "its sheet")

    assert "Perhaps you mean 'laser'" in said
    assert "book" not in said


@pytest.mark.usefixtures("here")
def test_a_size_that_joins_another_tells_what_they_say_together() -> None:
    run("size", "add", "Lock gate", "rod length", "1000 mm ± 2 mm")
    run("size", "add", "Wharf crane", "tie length", "1300 mm ± 2 mm")

    said = typed(
        "size", "move", "Lock gate", "rod length", "--to-subject", "Wharf crane", "--to-label", "tie length"
    )

    assert (
        "It had readings there already; best figure from all 2: 1150 mm" in said
    )  # half way, as both are as sure
    assert "do not agree" in said
    assert said.endswith("If that was not meant: rivetbook undo")


@pytest.mark.usefixtures("here")
def test_a_few_millimetres_without_a_unit_are_told_as_such() -> None:
    assert "'1.2' has no unit and was read as 1.2 mm" in typed(
        "size", "add", "Lock gate", "beam length", "1.2"
    )
    for known in ("1.2 m", "381", "1200.5", "12"):
        assert "has no unit" not in typed("size", "add", "Lock gate", "beam length", known)


@pytest.mark.usefixtures("here")
def test_a_subject_without_a_label_is_asked_which_size() -> None:
    assert "it was not said which of its sizes is meant" in typed("explain", "Wharf crane")


@pytest.mark.usefixtures("here")
def test_a_mark_is_not_crisp_and_worn_at_once() -> None:
    result = run("mark", "HC20_0415", "hook", "10", "10", "--crisp", "--worn")

    assert result.exit_code == 2
    assert "either --crisp or --worn" in result.stderr


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("words", [("derive",), ("size", "add", "Wharf crane", "--lines")])
def test_a_folder_is_not_taken_for_a_file_that_is_missing(words: tuple[str, ...], here: Path) -> None:
    assert "'archive' is a folder" in typed(*words, "archive")
    assert (here / "archive").is_dir()


@pytest.mark.usefixtures("here")
def test_a_tolerance_without_a_unit_is_shown_in_mm() -> None:
    added = typed("build", "add", "Gate", "--scale", "1:87", "--subject", "Lock gate", "--tolerance", "0.2")

    assert added.endswith("to 0.2 mm.")
    assert "0.2 mm" in typed("build", "show", "Gate")


@pytest.mark.usefixtures("here")
def test_gaps_tell_the_doubt_that_would_do_on_the_real_thing_and_that_of_a_slope_in_percent() -> None:
    run("size", "add", "Lock gate", "sill slope", "1 in 8")

    said = typed("gaps", "Lock gate", "--at", "1:43.5")

    assert "± 0.2 mm on the model, ± 8.7 mm of the real thing" in said  # 0.2 x 43.5
    assert "± 1 in" not in said


@pytest.mark.usefixtures("here")
def test_of_many_later_acts_only_the_next_to_take_back_are_named() -> None:
    for n in range(8):
        run("size", "add", "Lock gate", f"board {n} width", "200 mm")
    first = next(n for n in range(1, 40) if "Added the subject Lock gate" in typed("undo", str(n)))

    said = typed("undo", str(first))

    assert said.count("Wrote down") == 4
    assert "and 4 earlier" in said


@pytest.mark.usefixtures("here")
def test_what_is_no_number_is_refused_in_plain_words() -> None:
    for words in (("undo", "x"), ("history", "--most", "x"), ("mark", "HC20_0415", "hook", "left", "10")):
        said = typed(*words)
        assert "is not a valid whole number" in said or "is not a valid number" in said, said


def test_no_help_breaks_off_in_the_middle_of_a_sentence() -> None:
    groups = {" ".join(name.split()[:-1]) for name, _ in commands()}
    for group in groups:
        assert "..." not in run(*group.split(), "--help").output.partition("\nCommands:")[2], group


@pytest.mark.usefixtures("here")
def test_a_photo_that_is_held_by_another_name_is_told_by_it(here: Path) -> None:
    (here / "again").mkdir()
    for name, again in (("HC20_0415.JPG", "crane.jpg"), ("HC20_0412.JPG", "HC20_0412.JPG")):
        original = next((here / "archive" / "visits").glob(f"*/{name}"))
        shutil.copy(original, here / "again" / again)

    said = typed("import", "again")

    assert "2 files were in the archive already" in said
    assert "crane.jpg is held as 'visits/" in said
    assert "/HC20_0415.JPG'." in said
    assert "HC20_0412.JPG is held" not in said  # which has the same name there


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("size", ["-1in", "-3.5mm", "-1"])
def test_a_size_below_zero_is_told_to_be_none_and_not_to_be_an_unknown_option(size: str) -> None:
    result = run("size", "add", "Wharf crane", "post height", size)

    assert result.exit_code == 2
    assert "none here is below zero, leave the minus sign off" in result.stderr
    assert (
        "No such option" in run("size", "add", "Wharf crane", "post height", "1ft", "--wiht", "tape").stderr
    )


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize(
    "look",
    [
        ("subject", "show"),
        ("visit", "show"),
        ("photo", "show"),
        ("history",),
        ("sizes",),
        ("size", "template"),
    ],
)
def test_who_only_looks_is_not_told_that_nothing_was_changed(look: tuple[str, ...]) -> None:
    said = typed(*look, "Nobody")

    assert said.startswith("There is no ")
    assert "nothing was changed" not in said
    assert "nothing was changed" in typed("subject", "remove", "Nobody")


def test_what_was_left_out_of_a_file_is_to_be_entered_alone(here: Path) -> None:
    (here / "crane.txt").write_text("tie height = 9ft\ntie width = 9im\n", encoding="utf-8")

    said = typed("size", "add", "Wharf crane", "--lines", "crane.txt", "--keep-good")

    assert said.endswith("Put those right and enter them alone: the others are kept.")


@pytest.mark.usefixtures("here")
def test_a_guess_is_not_said_to_hold_an_about_that_nobody_wrote() -> None:
    run("size", "add", "Wharf crane", "tie length", "2ft", "--guess", "the man beside it")

    said = typed("size", "show", "Wharf crane", "tie length")

    assert "100 % a figure that is only about right" in said
    assert "'about'" not in said


@pytest.mark.usefixtures("here")
def test_a_template_of_a_kind_without_usual_sizes_says_so() -> None:
    run("subject", "add", "Yard track", "--kind", "permanent-way")

    assert "# None is usual for this kind: write a line for each" in typed("size", "template", "Yard track")


@pytest.mark.usefixtures("here")
def test_a_size_is_not_a_count_and_an_angle_at_once() -> None:
    result = run("size", "add", "Wharf crane", "bolts", "12", "--count", "--angle")

    assert result.exit_code == 2
    assert "Only one of --count, --angle and --slope can be." in result.stderr
