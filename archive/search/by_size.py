"""Sizes in a range, judged with their doubt: how probable it is that the real size lies between two ends."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import erf, inf, prod, sqrt

from archive import wording
from archive.errors import RecordNotFound
from archive.lengths import SizeRange
from archive.records.changes import Look
from archive.records.finding import SizeRow, labels_in_use, sizes_overlapping
from archive.records.names import name_key, near_names
from archive.search.words import common_words, plain_words, root

_Z95 = 1.959963984540054  # the normal distribution's 97.5 % point
POSSIBLE = 0.05  # what is less probable than this is not shown
_ANY_SIZE = frozenset(root(word) for word in ("size", "dimension", "measure", "measurement"))


@dataclass(frozen=True, slots=True)
class SizeFound:
    """A size that may lie in a range asked for."""

    asked: SizeRange
    size: SizeRow
    in_range_probability: float

    @property
    def likelihood(self) -> str:
        """The probability in words: very likely, likely, possible."""
        return wording.likelihood(self.in_range_probability)


def in_range_probability(
    value: float, low_95: float, high_95: float, low: float | None, high: float | None
) -> float:
    """Return the probability that a size lies between two ends.

    Parameters
    ----------
    value, low_95, high_95 : float
        The best figure and the ends of its 95 % interval, in one unit.
    low, high : float or None
        The ends of the range, in the same unit; None for an open end.

    Returns
    -------
    float
        Between 0 and 1. The doubt is taken as normal on either side of the value, each side with the
        spread that puts its end of the interval at the 2.5 % and 97.5 % points.
    """
    below_high = 1.0 if high is None else _below(high, value, low_95, high_95)
    below_low = 0.0 if low is None else _below(low, value, low_95, high_95)
    if low is not None and value == low and low_95 == high_95:
        below_low = 0.0  # a size without doubt that stands on the lower end is in the range
    return max(below_high - below_low, 0.0)


def _below(end: float, value: float, low_95: float, high_95: float) -> float:
    spread = (high_95 - value if end > value else value - low_95) / _Z95
    if spread <= 0:
        return 1.0 if end >= value else 0.0
    return 0.5 * (1.0 + erf((end - value) / (spread * sqrt(2.0))))


def sizes_asked_for(
    look: Look, asked: Sequence[SizeRange], among: Collection[int] | None = None
) -> dict[int, tuple[SizeFound, ...]]:
    """Return the subjects that may have every size asked for, by key, with the likeliest size for each.

    Raises `RecordNotFound` when no size of the archive is called so.
    """
    found: dict[int, tuple[SizeFound, ...]] | None = None
    for condition in asked:
        best = _likeliest(look, condition, among)
        found = best if found is None else {k: (*found[k], *best[k]) for k in found if k in best}
        among = found.keys()
    return found or {}


def together(sizes: Sequence[SizeFound]) -> float:
    """Return the probability that all these sizes are in range, each judged by itself."""
    return prod(size.in_range_probability for size in sizes)


def _likeliest(
    look: Look, asked: SizeRange, among: Collection[int] | None
) -> dict[int, tuple[SizeFound, ...]]:
    labels = labels_meant(asked.label, labels_in_use(look))
    low = -inf if asked.low_mm is None else asked.low_mm
    high = inf if asked.high_mm is None else asked.high_mm
    best: dict[int, tuple[SizeFound, ...]] = {}
    for size in sizes_overlapping(look, labels, low, high):
        if among is not None and size.subject_key not in among:
            continue
        probability = in_range_probability(size.value, size.low_95, size.high_95, asked.low_mm, asked.high_mm)
        held = best.get(size.subject_key)
        if probability >= POSSIBLE and (held is None or held[0].in_range_probability < probability):
            best[size.subject_key] = (SizeFound(asked, size, probability),)
    return best


def labels_meant(asked: str, in_use: Mapping[str, str]) -> list[str] | None:
    """Return the keys of the labels that `asked` means; None for any.

    'head diameter' is that label where it is in use, else every label with these words; 'diameter' is
    every label that ends so; 'something' is any. Raises `RecordNotFound` with the nearest labels.
    """
    words = [root(word) for word in plain_words(asked)]
    telling = [word for word in words if word not in common_words() and word not in _ANY_SIZE]
    if not telling:
        return None
    if len(telling) > 1 and name_key(asked) in in_use:
        return [name_key(asked)]
    found = [key for key in in_use if set(telling) <= {root(word) for word in plain_words(key)}]
    if len(telling) == 1:
        ending = [key for key in found if root(plain_words(key)[-1]) == telling[0]]
        found = ending or found
    if not found:
        raise RecordNotFound("size", asked, near_names(asked, in_use.values()))
    return found
