"""What a message tells people to type must be there to be typed."""

import re

import click
import pytest

from archive.cli import main
from archive.errors import RecordNotFound, UnknownKind

MESSAGES = [str(UnknownKind("zzz"))] + [
    str(RecordNotFound(sort, "zzz"))
    for sort in ("subject", "visit", "instrument", "build", "build or subject", "photo", "tally", "search")
]


@pytest.mark.parametrize("message", MESSAGES)
def test_a_name_that_is_like_no_other_is_answered_with_a_command_that_exists(message: str) -> None:
    commands = re.findall(r"'rivetbook ([a-z ]+)'", message)
    assert commands, message
    for command in commands:
        found: click.Command | None = main
        for word in command.split():
            assert isinstance(found, click.Group)
            found = found.get_command(click.Context(found), word)
        assert found is not None, command
