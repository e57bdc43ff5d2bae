"""How long two things take beside one another: in turns within one run, so that both see the same machine."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter
from typing import Any


def seconds_in_turns(
    first: Callable[[], Any], second: Callable[[], Any], rounds: int = 15
) -> tuple[float, float]:
    """Return the least seconds of each over the rounds: other work on the machine only ever adds to them."""
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for run, kept in zip((first, second), times, strict=True):
            begin = perf_counter()
            run()
            kept.append(perf_counter() - begin)
    return min(times[0]), min(times[1])


def ratio(ours: Callable[[], Any], bare: Callable[[], Any], rounds: int = 15) -> float:
    """Return how many times as long ours takes as the bare one."""
    ours_seconds, bare_seconds = seconds_in_turns(ours, bare, rounds)
    return ours_seconds / bare_seconds
