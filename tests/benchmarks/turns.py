"""How long two things take beside one another: in turns within one run, so that both see the same machine."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter
from typing import Any


def seconds_in_turns(
    first: Callable[[], Any], second: Callable[[], Any], rounds: int = 15
) -> tuple[float, float]:
    """Return the least seconds of each over the rounds: other work on the machine only ever adds to them.

    Quick things take turns for a second at least, so that a busy spell cannot cover all of them.
    """
    times: tuple[list[float], list[float]] = ([], [])
    begun = perf_counter()
    while len(times[0]) < rounds or (len(times[0]) < 200 and perf_counter() - begun < 1):
        for run, kept in zip((first, second), times, strict=True):
            begin = perf_counter()
            run()
            kept.append(perf_counter() - begin)
    return min(times[0]), min(times[1])


def ratio(ours: Callable[[], Any], bare: Callable[[], Any], rounds: int = 15) -> float:
    """Return how many times as long ours takes as the bare one."""
    ours_seconds, bare_seconds = seconds_in_turns(ours, bare, rounds)
    return ours_seconds / bare_seconds
