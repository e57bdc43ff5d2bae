"""README's tour: what is typed there, and what it says that is printed."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from archive.cli import main

README = Path(__file__).parents[1] / "README.md"


@dataclass(frozen=True)
class Typed:
    """One line of the tour, and what stands under it."""

    line: str
    printed: str

    @property
    def words(self) -> list[str]:
        return shlex.split(self.line)


def tour() -> Iterator[Typed]:
    """All that the tour types, in order."""
    text = README.read_text(encoding="utf-8").partition("## A tour of three minutes\n")[2]
    for block in re.findall(r"^```\n(.*?)^```$", text.partition("\n## ")[0], re.MULTILINE | re.DOTALL):
        for step in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, _, printed = step.partition("\n")
            yield Typed(line, printed)


def without_times(printed: str) -> str:
    """What is printed without the moment at which it was."""
    return re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d", "(then)", printed)


def taken(demo: Path) -> Iterator[tuple[Typed, str]]:
    """The tour taken beside a finished demo: each step with what was really printed."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("RIVETBOOK_ARCHIVE", raising=False)
        patch.chdir(demo.parent)
        for step in tour():
            match step.words:
                case [".", _]:
                    yield step, ""
                case ["cd", folder]:
                    patch.chdir(folder)
                    yield step, ""
                case ["cat", file]:
                    yield step, Path(file).read_text(encoding="utf-8")
                case ["rivetbook", *words]:
                    result = CliRunner().invoke(main, words, prog_name="rivetbook")
                    assert result.exit_code == 0, (step.line, result.output)
                    yield step, result.stdout
