"""Sizes in a range, judged with their doubt: how probable it is that the real size lies between two ends."""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import erf, inf, prod, sqrt
from typing import NamedTuple

from archive import wording
from archive.errors import RecordNotFound
from archive.lengths import SizeRange
from archive.records.changes import Look
from archive.records.finding.sizes import LengthRow, SizeRow, labels_in_use, lengths_by_label, size_rows
from archive.records.names import name_key, near_names
from archive.search.unchanged import WhileUnchanged
from archive.search.words import common_words, plain_words, root

_Z95 = 1.959963984540054  # the normal distribution's 97.5 % point
_BEYOND_DOUBT = 5.0  # half-widths from the value on, the probability is 0 or 1 to the last figure kept
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


class Likely(NamedTuple):
    """Of one subject, the size that is likeliest to lie in a range: how likely, and which it is."""

    probability: float
    dimension_key: int


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
    half_width = high_95 - value if end > value else value - low_95
    if abs(end - value) > _BEYOND_DOUBT * half_width:
        return 1.0 if end > value else 0.0
    if half_width <= 0:
        return 1.0
    return 0.5 * (1.0 + erf((end - value) * _Z95 / (half_width * sqrt(2.0))))


def sizes_asked_for(
    look: Look,
    asked: Sequence[tuple[SizeRange, Collection[str] | None]],
    among: Collection[int] | None,
    stamp: object,
) -> dict[int, tuple[Likely, ...]]:
    """Return the subjects that may have every size asked for, by key, with the likeliest size for each.

    Each size comes with the keys of the labels that it means (None: any). `stamp` is that of the newest change.
    """
    found: dict[int, tuple[Likely, ...]] | None = None
    for condition, labels in asked:
        best = _likeliest(condition, _meeting(look, condition, labels, among, stamp))
        if found is None:
            found = {key: (one,) for key, one in best.items()}
        else:
            found = {key: (*found[key], best[key]) for key in found if key in best}
        among = found.keys()
    return found or {}


def together(probabilities: Iterable[float]) -> float:
    """Return the probability that several sizes are all in range, each judged by itself."""
    return prod(probabilities)


def sizes_found(
    look: Look, asked: Sequence[SizeRange], likely: Mapping[int, Sequence[Likely]]
) -> dict[int, tuple[SizeFound, ...]]:
    """Return the sizes themselves, by the subjects' keys."""
    rows = size_rows(look, {one.dimension_key for sizes in likely.values() for one in sizes})
    return {
        key: tuple(
            SizeFound(condition, rows[one.dimension_key], one.probability)
            for condition, one in zip(asked, sizes, strict=True)
        )
        for key, sizes in likely.items()
    }


class _Lengths(NamedTuple):
    """The lengths of one label by the low ends of their intervals, and both ends apart, where they are gone through fast."""

    rows: Sequence[LengthRow]
    low_ends: array[float]
    high_ends: array[float]


_lengths: WhileUnchanged[str, _Lengths] = WhileUnchanged(10_000)
_labels: WhileUnchanged[None, dict[str, str]] = WhileUnchanged(1)


def _meeting(
    look: Look,
    asked: SizeRange,
    labels: Collection[str] | None,
    among: Collection[int] | None,
    stamp: object,
) -> Iterator[LengthRow]:
    """Yield the lengths whose 95 % interval meets the range; those of a label are read from the records but once."""

    def read(labels: Collection[str]) -> dict[str, _Lengths]:
        found = lengths_by_label(look, labels)
        return {
            label: _Lengths(rows, array("d", [r.low_95 for r in rows]), array("d", [r.high_95 for r in rows]))
            for label, rows in found.items()
        }

    labels = labels_known(look, stamp) if labels is None else labels
    low = -inf if asked.low_mm is None else asked.low_mm
    high = inf if asked.high_mm is None else asked.high_mm
    for rows, low_ends, high_ends in _lengths.of(stamp, labels, read).values():
        below = bisect_right(low_ends, high)
        meeting = [rows[n] for n, end in enumerate(high_ends[:below]) if end >= low]
        yield from meeting if among is None else (row for row in meeting if row.subject_key in among)


def _likeliest(asked: SizeRange, rows: Iterable[LengthRow]) -> dict[int, Likely]:
    best: dict[int, Likely] = {}
    for subject, dimension, value, low_95, high_95 in rows:
        probability = in_range_probability(value, low_95, high_95, asked.low_mm, asked.high_mm)
        held = best.get(subject)
        if probability >= POSSIBLE and (held is None or held.probability < probability):
            best[subject] = Likely(probability, dimension)
    return best


def labels_known(look: Look, stamp: object) -> dict[str, str]:
    """Return the labels in use, by their keys; `stamp` is that of the newest change."""
    return _labels.of(stamp, [None], lambda _: {None: labels_in_use(look)})[None]


def labels_meant(asked: str, in_use: Mapping[str, str]) -> list[str] | None:
    """Return the keys of the labels that `asked` means; None for any.

    'head diameter' is that label where it is in use, else every label with these words; 'diameter' is
    every label that ends so; 'something' is any. Raises `RecordNotFound` with the nearest labels.
    """
    words = [root(word) for word in plain_words(asked) if word not in common_words()]
    telling = [word for word in words if word not in _ANY_SIZE]
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
