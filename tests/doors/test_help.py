"""Every command says what it does with an example that works, and stands in README."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
from doors.basin import run
from doors.every_command import commands, options_of

from archive.cli import main

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
COMMANDS = dict(commands())


def spans_of_readme() -> list[str]:
    """The commands in README's table, as they are written there."""
    table = README.partition("## Every command")[2].partition("\n## ")[0]
    rows = [line.split("|")[1] for line in table.replace("\\|", "/").splitlines() if line.startswith("|")]
    return re.findall(r"`rivetbook ([^`]+)`", "\n".join(rows))


def span_of(name: str) -> str | None:
    """All that README says of how to call a command; some have several lines."""
    found = [span for span in spans_of_readme() if f"{span} ".startswith(f"{name} ")]
    return " ".join(found) or None


@pytest.mark.parametrize("name", COMMANDS)
def test_help_ends_with_an_example_that_the_command_takes(name: str) -> None:
    result = run(*name.split(), "--help")

    assert result.exit_code == 0
    assert result.output.startswith(f"Usage: rivetbook {name} ")
    examples = re.findall(r"^ +rivetbook (.+)$", result.output, re.MULTILINE)
    assert examples, f"'{name}' has no example on a line of its own"
    for example in examples:
        words = shlex.split(example.partition(" > ")[0])  # what comes after is the shell's
        assert words[: len(name.split())] == name.split()
        COMMANDS[name].make_context(name, words[len(name.split()) :])  # refuses what it does not know


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_is_for(name: str) -> None:
    for parameter in COMMANDS[name].params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{parameter.opts[0]} of '{name}' has no help"
            assert parameter.help.endswith((".", "?", ")")), parameter.help


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_readme_with_its_options(name: str) -> None:
    span = span_of(name)

    assert span is not None, f"'rivetbook {name}' is missing in README's table of commands"
    for option in options_of(COMMANDS[name]):
        assert re.search(rf"{option}(?![\w-])", span), f"README's line on 'rivetbook {name}' lacks {option}"


def test_readme_tells_of_no_command_that_there_is_not() -> None:
    for span in spans_of_readme():
        assert any(f"{span} ".startswith(f"{name} ") for name in COMMANDS), span


def test_the_program_itself_says_how_to_begin() -> None:
    result = run("--help")

    assert result.exit_code == 0
    for name in COMMANDS:
        assert re.search(rf"^  {name.split()[0]} ", result.output, re.MULTILINE), name
    for example in re.findall(r"^ +rivetbook (\S+)", result.output, re.MULTILINE):
        assert main.get_command(click.Context(main), example) is not None


def test_a_command_that_there_is_not_is_wrong_usage() -> None:
    result = run("measure-everything")

    assert result.exit_code == 2
    assert "No such command 'measure-everything'" in result.stderr
