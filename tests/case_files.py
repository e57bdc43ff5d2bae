"""Where the files of right answers lie: where a variable says, else beside the checkout."""

from __future__ import annotations

import os
from pathlib import Path

BESIDE = Path(__file__).resolve().parents[2] / "shared"


def case_file(env_name: str, relative_name: str) -> Path | None:
    """The file that the variable names (it must be there), else the one beside the checkout, else None."""
    named = os.environ.get(env_name)
    if named:
        path = Path(named)
        if not path.is_file():
            raise FileNotFoundError(f"{env_name} names {named}, and there is no such file.")
        return path
    path = BESIDE / relative_name
    return path if path.is_file() else None


_SUMMARY: list[str] = []


def count(what: str, answers: int, refusals: int, file: Path) -> None:
    """Have the end of the test run say how many cases of which file were tried."""
    _SUMMARY.append(f"{what} cases: {answers} answers, {refusals} refusals from {file}")


def counted() -> list[str]:
    """The lines for the end of the test run, each once."""
    return sorted(set(_SUMMARY))


def say(line: str) -> None:
    """Have the end of the test run print this line."""
    _SUMMARY.append(line)
