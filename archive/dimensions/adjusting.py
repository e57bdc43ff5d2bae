"""Sizes that tallies tie together, adjusted so that the sums come out; what does not is told, and by which size."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from archive import wording
from archive.errors import CannotEstimate
from archive.metrology.adjustment import AdjustedSizes, adjust
from archive.metrology.coverage import NORMAL_95
from archive.metrology.notation import SizeName, parse_tally
from archive.metrology.notation import Tally as Written
from archive.metrology.sources import Doubtful, linear
from archive.metrology.tallies import conditions
from archive.records import tallies
from archive.records.changes import Writer
from archive.records.things import Dimension, Tally, Warned

_parse = lru_cache(256)(parse_tally)


@dataclass(frozen=True, slots=True)
class Tied:
    """A size after the adjustment, and what must be said of it."""

    known: Doubtful
    warnings: tuple[Warned, ...]


@dataclass(frozen=True, slots=True)
class _Sum:
    """A tally whose sizes all have a figure: its writing, with each size named by its key."""

    tally: Tally
    written: Written
    keys: tuple[int, ...]
    left_over: Doubtful

    @property
    def comes_out(self) -> bool:
        return abs(self.left_over.value) <= NORMAL_95 * self.left_over.standard_uncertainty + 1e-9


def adjust_tied(
    writer: Writer, found: Sequence[Tally], known: Mapping[int, tuple[Dimension, Doubtful]]
) -> dict[int, Tied]:
    """Adjust sizes to the tallies among them, and store how each tally came out.

    Parameters
    ----------
    known : mapping of size's key to (size, figure from its readings)
        All sizes that the tallies tie together, as far as they have a figure.

    Returns
    -------
    dict of size's key to Tied
        Of the sizes that a usable tally holds. A tally that cannot be used (a size without a figure, sums that
        contradict one another) says so in its outcome, and its sizes keep the figures of their readings.
    """
    usable = []
    for tally in found:
        missing = [key for key in tally.dimension_keys if key not in known]
        if missing:
            tallies.keep_outcome(writer, tally, {"why": "one of its sizes has no figure"})
        else:
            usable.append(_sum_of(tally, known))
    tied: dict[int, Tied] = {}
    for group in _groups(usable):
        try:
            tied.update(_adjust(writer, group, known))
        except CannotEstimate as refused:
            for each in group:
                tallies.keep_outcome(writer, each.tally, {"why": refused.sentence})
    return tied


def _sum_of(tally: Tally, known: Mapping[int, tuple[Dimension, Doubtful]]) -> _Sum:
    """The tally with keys for names: two subjects may have a size of the same name."""
    written = _parse(tally.as_written)
    keys = dict(zip(written.names, (key for key in tally.dimension_keys if key is not None), strict=True))
    terms = tuple(
        replace(term, times=tuple(SizeName(str(keys[name])) for name in term.times)) for term in written.terms
    )
    constant = sum(term.coefficient for term in terms if not term.times)
    summands = [(term.coefficient, known[keys[name]][1]) for term in written.terms for name in term.times]
    return _Sum(tally, replace(written, terms=terms), tuple(keys.values()), linear(summands, constant))


def _groups(sums: Sequence[_Sum]) -> list[list[_Sum]]:
    """The tallies that sizes tie together."""
    groups: list[tuple[set[int], list[_Sum]]] = []
    for each in sums:
        keys, members = set(each.keys), [each]
        for held in [group for group in groups if group[0] & keys]:
            groups.remove(held)
            keys |= held[0]
            members = held[1] + members
        groups.append((keys, members))
    return [members for _, members in groups]


def _adjust(
    writer: Writer, group: Sequence[_Sum], known: Mapping[int, tuple[Dimension, Doubtful]]
) -> dict[int, Tied]:
    keys, matrix, rhs = conditions([each.written for each in group], lambda name: int(name.label))
    first = min(group, key=lambda each: each.tally.key).tally
    done = adjust([known[key][1] for key in keys], matrix, rhs, of_record=first.id)
    warnings: dict[int, list[Warned]] = defaultdict(list)
    for each in group:
        tallies.keep_outcome(writer, each.tally, _outcome(each, done, keys, known))
    if not done.agree:
        odd = [each for each in group if not each.comes_out] or list(group)
        for each in odd:
            told = _told(each, done, keys, known)
            for key in each.keys:
                warnings[key].append(told)
    return {key: Tied(size, tuple(warnings[key])) for key, size in zip(keys, done.sizes, strict=True)}


def _outcome(
    each: _Sum, done: AdjustedSizes, keys: Sequence[int], known: Mapping[int, tuple[Dimension, Doubtful]]
) -> dict[str, object]:
    return {
        "why": None,
        "quantity": known[each.keys[0]][0].quantity,
        "left_over": each.left_over.value,
        "standard_uncertainty": each.left_over.standard_uncertainty,
        "comes_out": each.comes_out,
        "suspects": [known[keys[n]][0].id for n in done.suspects if keys[n] in each.keys]
        if not each.comes_out
        else [],
    }


def _told(
    each: _Sum, done: AdjustedSizes, keys: Sequence[int], known: Mapping[int, tuple[Dimension, Doubtful]]
) -> Warned:
    quantity = known[each.keys[0]][0].quantity
    left = wording.two_figures(quantity, abs(each.left_over.value))
    allowed = wording.two_figures(quantity, NORMAL_95 * each.left_over.standard_uncertainty)
    said = f"The tally '{each.tally.as_written}' does not come out: {left} are left over, and its sizes' doubts allow {allowed}."
    suspects = [n for n in done.suspects if keys[n] in each.keys]
    if len(done.suspects) == 1 and suspects:
        (n,) = suspects
        blunder = -done.residual[n] / done.redundancy[n]
        size = f"{wording.two_figures(quantity, abs(blunder))} too {'large' if blunder > 0 else 'small'}"
        name = known[keys[n]][0].label
        return Warned(
            "tally-disagrees",
            f"{said} By the other tallies it is '{name}' that is wrong, about {size}. Read it once more.",
        )
    labels = [known[key][0].label for key in each.keys]
    return Warned("tally-disagrees", f"{said} {read_once_more(labels)}")


def read_once_more(labels: Sequence[str]) -> str:
    """What settles a tally that does not come out, where nothing tells which of its sizes is wrong."""
    if len(labels) == 1:
        return f"Read '{labels[0]}' once more, or look whether the tally is right."
    names = ", ".join(f"'{label}'" for label in labels)
    return f"Which size is wrong cannot be told from it: read one of {names} once more."
