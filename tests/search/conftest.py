"""What the finder's tests share: an account of their own for the key that signs indexes, and the demonstration."""

from __future__ import annotations

from pathlib import Path

import pytest
from demonstration import Demonstration


@pytest.fixture(scope="session", autouse=True)
def _an_account(own_account: None) -> None:
    """No test of the finder leaves a key in the account of whoever runs it."""


@pytest.fixture(scope="session")
def basin(room: Path, demonstration: Demonstration) -> Path:
    return demonstration.copied_to(room / "demo of the finder")
