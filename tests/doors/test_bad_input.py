"""Bad input at every command: one plain sentence, exit status 1, nothing changed, no traceback."""

from __future__ import annotations

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from doors.basin import READING_ID, everything_in, run
from doors.every_command import USAGES, commands, options_of, refusals, said

from archive.cli import main
from archive.records import folder as folders

WITH_ARCHIVE = [name for name, usage in USAGES.items() if usage.needs_archive]


def refused(result: Result) -> str:
    """Check that a refusal is what a person can read, and return it."""
    assert result.exit_code == 1, (result.exit_code, result.output, result.exception)
    assert result.stdout == ""
    sentence = result.stderr.strip()
    said_first, _, pointing = sentence.partition("\n    ")  # a sum is pointed at below its sentence
    assert re.match(r"[A-Z0-9'‘\"].*[.!?]$", said_first, re.DOTALL), sentence
    assert not pointing or pointing.rstrip().endswith("^"), sentence
    assert "\n" not in sentence or sentence.startswith("The "), (
        sentence
    )  # a sum is pointed at below its sentence
    assert not re.search(
        r"Traceback|Error\b|Exception|<class|sqlalchemy|sqlite3|None|mistake of its own", sentence
    ), sentence
    assert len(sentence) < 700, sentence
    return sentence


def test_every_command_and_option_is_tried() -> None:
    assert sorted(name for name, _ in commands()) == sorted(USAGES), "add new commands to every_command.py"
    for name, command in commands():
        used = {word for words in USAGES[name].all_words for word in said(words)}
        for option in options_of(command):
            pair = option if option != "--changing" else "--steady"
            assert pair in used, f"add {option} of '{name}' to every_command.py"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        (name, said(words))
        for name, usage in USAGES.items()
        if name != "demo"  # which has tests of its own
        for words in usage.all_words
    ],
)
def test_the_usages_themselves_succeed(here: Path, name: str, words: list[str]) -> None:
    result = run(*name.split(), *words)

    assert result.exit_code == 0, result.output
    # What a change did to sizes that are worked out is told beside the answer.
    follows = ("Worked out anew: ", "hook drop of Wharf crane can no longer be worked out")
    assert [line for line in result.stderr.splitlines() if not line.startswith(follows)] == []


@pytest.mark.parametrize(("name", "words", "sentence"), list(refusals()))
def test_a_bad_word_is_refused_in_one_sentence_and_changes_nothing(
    here: Path, name: str, words: list[str], sentence: str
) -> None:
    before = everything_in(here)

    result = run(*name.split(), *words)

    assert sentence in refused(result)
    assert everything_in(here) == before


def test_an_option_that_is_left_empty_is_refused_and_not_taken_for_one_that_was_left_off(here: Path) -> None:
    before = everything_in(here)
    tried = []
    for name in WITH_ARCHIVE:
        command, words = dict(commands())[name], said(USAGES[name].words)
        for option in command.params:
            if type(option) is click.Option and not option.is_flag and option.type is click.STRING:
                result = run(*name.split(), *words, option.opts[0], *[" "] * option.nargs)
                assert f"'{option.opts[0]}' was left empty" in refused(result)
                tried.append(option.opts[0])
    assert {"--guess", "--why", "--published", "--with", "--archive"} <= set(tried)
    assert everything_in(here) == before


# Archives that are none, or cannot be used


def is_missing(archive: Path) -> str:
    shutil.rmtree(archive)
    return "There is no archive folder at"


def is_any_folder(archive: Path) -> str:
    shutil.rmtree(archive)
    archive.mkdir()
    (archive / "holiday.txt").write_text("ours")
    return "is not a Rivetbook archive: it has no file 'rivetbook.toml'"


def is_a_file(archive: Path) -> str:
    shutil.rmtree(archive)
    archive.write_text("not a folder")
    return "is not a Rivetbook archive: it is a file"


def is_of_a_newer_program(archive: Path) -> str:
    with closing(sqlite3.connect(archive / "archive.db")) as database:
        database.execute("PRAGMA user_version = 9999")
    return "was made by a newer Rivetbook"


def has_a_newer_layout(archive: Path) -> str:
    settings = archive / "rivetbook.toml"
    settings.write_text(settings.read_text().replace("layout = 1", "layout = 99"))
    return "was made by a newer Rivetbook"


def has_unreadable_settings(archive: Path) -> str:
    (archive / "rivetbook.toml").write_bytes(b"\xff\xfe layout = = 1")
    return "is not a Rivetbook archive: its file 'rivetbook.toml' cannot be read"


def has_lost_its_database(archive: Path) -> str:
    (archive / "archive.db").unlink()
    return "its database 'archive.db' is missing"


def has_an_empty_database(archive: Path) -> str:
    (archive / "archive.db").write_bytes(b"")
    return "The database of the archive"


def has_a_scribbled_database(archive: Path) -> str:
    (archive / "archive.db").write_bytes(b"not a database at all, " * 999)
    return "The database of the archive"


def has_half_a_database(archive: Path) -> str:
    database = archive / "archive.db"
    database.write_bytes(database.read_bytes()[: database.stat().st_size // 2])
    return "The database of the archive"


SPOILT = [
    is_missing, is_any_folder, is_a_file, is_of_a_newer_program, has_a_newer_layout, has_unreadable_settings,
    has_lost_its_database, has_an_empty_database, has_a_scribbled_database, has_half_a_database,
]  # fmt: skip


@pytest.mark.parametrize("name", WITH_ARCHIVE)
@pytest.mark.parametrize("spoil", SPOILT, ids=lambda spoil: spoil.__name__)
def test_an_archive_that_cannot_be_used_is_refused_and_left_alone(here: Path, name: str, spoil) -> None:  # type: ignore[no-untyped-def]
    words = [*name.split(), *said(USAGES[name].words)]
    expected = spoil(here / "archive")
    before = everything_in(here)

    result = run(*words)

    assert expected in refused(result)
    assert everything_in(here) == before


@pytest.mark.parametrize("name", WITH_ARCHIVE)
def test_where_somebody_took_the_originals_away_it_does_what_it_can_or_says_so(here: Path, name: str) -> None:
    shutil.rmtree(here / "archive" / "visits")
    shutil.rmtree(here / "archive" / "previews", ignore_errors=True)

    for words in USAGES[name].all_words:
        result = run(*name.split(), *said(words))

        assert result.exit_code in (0, 1, 3), (words, result.output)
        assert "mistake of its own" not in result.stderr, (
            words,
            Path(result.stderr.split("'")[1]).read_text(),
        )


@pytest.mark.parametrize("name", WITH_ARCHIVE)
def test_without_any_archive_it_says_how_to_make_one(
    here: Path, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("RIVETBOOK_ARCHIVE")

    result = run(*name.split(), *said(USAGES[name].words))

    assert "Make one with 'rivetbook new'" in refused(result)


@pytest.mark.parametrize("name", WITH_ARCHIVE)
def test_where_nothing_can_be_written_looking_works_and_writing_is_refused(
    here: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = precious_in(here / "archive")
    # Told, not made so: permission bits are no bar to the tests where they run as root.
    monkeypatch.setattr(folders, "can_be_written", lambda _folder: False)

    result = run(*name.split(), *said(USAGES[name].words))

    if USAGES[name].writes:
        assert "is in a place that cannot be written, so nothing was changed" in refused(result)
    else:
        assert result.exit_code == 0, result.output
    assert precious_in(here / "archive") == before


def precious_in(archive: Path) -> dict[str, object]:
    """Everything but what is made again by itself."""
    return {
        name: content
        for name, content in everything_in(archive).items()
        if not name.startswith(("index", "previews"))
    }


# Wrong usage


@pytest.mark.parametrize("name", list(USAGES))
def test_an_option_that_there_is_not_is_wrong_usage(here: Path, name: str) -> None:
    before = everything_in(here)

    result = run(*name.split(), "--no-such-option")

    assert result.exit_code == 2
    assert "No such option" in result.stderr
    assert everything_in(here) == before


@pytest.mark.parametrize(
    "name", [name for name, command in commands() if any(p.required for p in command.params)]
)
def test_a_word_that_is_missing_is_wrong_usage(here: Path, name: str) -> None:
    result = run(*name.split())

    assert result.exit_code == 2
    assert "Missing" in result.stderr
    assert "Traceback" not in result.stderr


def test_an_import_that_leaves_something_out_is_done_with_doubts(here: Path) -> None:
    (here / "card" / "notes.txt").write_text("jib 18ft 6in")

    result = run("import", "card", "--visit", "Wendle Basin, June")

    assert result.exit_code == 3
    assert "1 file was left out:" in result.stdout
    assert "notes.txt" in result.stdout
    assert result.stderr == ""


def test_what_somebody_wrote_gives_the_terminal_no_orders(here: Path) -> None:
    orders = "red \033[31mhot\033[0m \a and\rgone"
    for words in (
        ("photo", "amend", "HC20_0415", "--caption", orders, "--creator", orders, "--rights", orders),
        ("subject", "amend", "Wharf crane", "--notes", orders, "--maker", orders),
        ("visit", "amend", "Wendle Basin, June", "--people", orders, "--access", orders),
        ("size", "set-aside", READING_ID, "--why", orders),
    ):
        assert run(*words).exit_code == 0

    for words in (
        ("photo", "show", "HC20_0415"),
        ("subject", "show", "Wharf crane"),
        ("visit", "show", "Wendle Basin, June"),
        ("size", "show", "Wharf crane", "jib length"),
        ("photos",),
        ("find", "hot"),
        ("history",),
    ):
        shown = CliRunner().invoke(main, list(words), prog_name="rivetbook", color=True)
        plain = re.sub(r"\x1b\[[01]m", "", shown.stdout)  # our own headings are bold
        assert shown.exit_code == 0, shown.output
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f]", plain), (words, plain)
