"""How long two things take beside one another: in turns within one run, so that both see the same machine."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter
from typing import Any

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]


def work_seconds() -> float:
    """Return how long the processors have worked for this process and those that it waited for.

    For whole commands: these take too long for many turns, and waiting for others says nothing of them.
    """
    if resource is None:
        return perf_counter()
    used = (resource.getrusage(whose) for whose in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used)


def seconds_in_turns(
    first: Callable[[], Any],
    second: Callable[[], Any],
    rounds: int = 15,
    clock: Callable[[], float] = perf_counter,
) -> tuple[float, float]:
    """Return the least seconds of each over the rounds: other work on the machine only ever adds to them.

    Quick things take turns for a second at least, so that a busy spell cannot cover all of them.
    """
    times: tuple[list[float], list[float]] = ([], [])
    begun = perf_counter()
    while len(times[0]) < rounds or (len(times[0]) < 200 and perf_counter() - begun < 1):
        for run, kept in zip((first, second), times, strict=True):
            begin = clock()
            run()
            kept.append(clock() - begin)
    return min(times[0]), min(times[1])


def ratio(
    ours: Callable[[], Any],
    bare: Callable[[], Any],
    rounds: int = 15,
    clock: Callable[[], float] = perf_counter,
) -> float:
    """Return how many times as long ours takes as the bare one."""
    ours_seconds, bare_seconds = seconds_in_turns(ours, bare, rounds, clock)
    return ours_seconds / bare_seconds
