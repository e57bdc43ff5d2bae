"""What the whole test run shares: the counts of cases at its end."""

from __future__ import annotations

import case_files
import pytest


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for line in case_files.counted():
        terminalreporter.write_line(line)
