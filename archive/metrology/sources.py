"""A number with a ledger of the independent error sources that it leans on (JCGM 100:2008, 5.2).

Two numbers that lean on the same `Source` are correlated through it and through nothing else, so the
covariance of two sizes is the sum over shared sources of the products of their sensitivities.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Literal, NamedTuple

_CANCELS = 1e-12  # of the largest summand: less is left only by rounding in the computer

Distribution = Literal["normal", "rectangular", "triangular", "t"]


class Source(NamedTuple):
    """One independent cause of doubt, of unit variance; sensitivities carry its size.

    `kind` says what it is ('rounding', 'offset', 'scale', 'repeats', 'mark', 'lens', 'focal length',
    'tilt', 'depth', ...), `of_record` whose it is (a public id, or any name that is unique where it is
    used), `component` tells several of one record apart.
    """

    kind: str
    of_record: str
    component: str = ""
    degrees_of_freedom: float = inf
    distribution: Distribution = "normal"


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A value and what it leans on: `sensitivities[source]` is d(value)/d(source), in the value's unit."""

    value: float
    sensitivities: Mapping[Source, float]

    @property
    def standard_uncertainty(self) -> float:
        """One standard uncertainty, in the value's unit (JCGM 100:2008, 5.1.2)."""
        return sqrt(sum([s * s for s in self.sensitivities.values()]))

    def shares(self) -> tuple[tuple[Source, float], ...]:
        """The sources with their share of the variance, largest first; the shares sum to 1."""
        variance = sum(s * s for s in self.sensitivities.values())
        if variance == 0:
            return ()
        parts = ((source, s * s / variance) for source, s in self.sensitivities.items())
        return tuple(sorted(parts, key=lambda part: (-part[1], part[0].kind, part[0].of_record)))


def covariance(first: Doubtful, second: Doubtful) -> float:
    """Covariance of two numbers through the sources that they share (JCGM 100:2008, 5.2.2)."""
    return sum(s * second.sensitivities.get(source, 0.0) for source, s in first.sensitivities.items())


def linear(terms: Iterable[tuple[float, Doubtful]], constant: float = 0.0) -> Doubtful:
    """A weighted sum of numbers, correlation kept: sum of coefficient * number, plus a constant."""
    values = [constant]
    parts: dict[Source, list[float]] = {}
    for coefficient, term in terms:
        values.append(coefficient * term.value)
        for source, s in term.sensitivities.items():
            parts.setdefault(source, []).append(coefficient * s)
    summed = {source: _summed(each) for source, each in parts.items()}
    return Doubtful(_summed(values), {source: s for source, s in summed.items() if s})


def _summed(parts: Sequence[float]) -> float:
    """The sum; 0 where the parts cancel to all the digits that they have: overall - overall is exactly nothing."""
    total = sum(parts)
    return 0.0 if abs(total) < _CANCELS * max(map(abs, parts)) else total
