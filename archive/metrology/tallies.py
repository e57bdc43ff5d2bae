"""Tallies as conditions on sizes, sizes worked out from sizes, and the order in which to do it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from typing import Literal, TypeVar

from archive.errors import CannotEstimate, NotationNotUnderstood
from archive.metrology.notation import Expression, SizeName, Tally, Term
from archive.metrology.sources import Doubtful, linear

Key = TypeVar("Key")
Dimension = Literal["length", "number", "angle"]

_A = {"length": "a length", "number": "a number", "angle": "an angle"}


def conditions(
    tallies: Sequence[Tally], resolve: Callable[[SizeName], Key]
) -> tuple[list[Key], list[list[float]], list[float]]:
    """Tallies as linear conditions on sizes: the sizes' keys, a matrix (C, N) and right-hand sides (C,), mm.

    `resolve` says which size a name means; two names of one size become one column.
    """
    columns: dict[Key, int] = {}
    for tally in tallies:
        for name in tally.names:
            columns.setdefault(resolve(name), len(columns))
    matrix, rhs = [], []
    for tally in tallies:
        row, constant = [0.0] * len(columns), 0.0
        for term in tally.terms:
            if term.times:
                row[columns[resolve(term.times[0])]] += term.coefficient
            else:
                constant += term.coefficient
        matrix.append(row)
        rhs.append(-constant)
    return list(columns), matrix, rhs


def work_out(expression: Expression, size_of: Callable[[SizeName], Doubtful]) -> Doubtful:
    """The value of an expression with its sources, to first order (JCGM 100:2008, 5.1.2 and 5.2.2).

    Raises
    ------
    CannotEstimate
        'bad-input' where it divides by 0.
    """
    return linear((1.0, _value_of(term, size_of)) for term in expression.terms)


def dimension_of(written: Tally | Expression, dimension: Callable[[SizeName], Dimension]) -> Dimension:
    """What a sum comes to, given what each size in it is; a count and a slope are both a 'number'.

    Raises
    ------
    NotationNotUnderstood
        Where lengths are added to numbers, or multiplied with lengths.
    """
    found: Dimension | None = None
    for term in written.terms:
        if not (term.times or term.over or term.is_length):
            continue  # a bare number
        one = _dimension_of_term(written, term, dimension)
        if found is not None and one != found:
            raise NotationNotUnderstood(
                written.what,
                written.as_written,
                term.column,
                f"this is {_A[one]}, and what stands before it {_A[found]}",
                "Only like can be added to like.",
            )
        found = one
    return found or "number"


def order_of_recompute(leans_on: Mapping[Key, Iterable[Key]], name: Callable[[Key], str] = str) -> list[Key]:
    """Sizes in an order in which each comes after all that it leans on.

    Raises
    ------
    CannotEstimate
        'cycle' if a size leans on itself by some path, which is named.
    """
    try:
        return list(TopologicalSorter(leans_on).static_order())
    except CycleError as cycle:
        # Found from what is leaned on towards what leans.
        path = [name(key) for key in reversed(cycle.args[1])]
        raise CannotEstimate(
            "cycle",
            f"A size cannot be worked out from itself, and here {' leans on '.join(path)}. "
            "Nothing was changed. Work one of them out another way.",
        ) from None


def _value_of(term: Term, size_of: Callable[[SizeName], Doubtful]) -> Doubtful:
    factors = [(size_of(name), 1) for name in term.times] + [(size_of(name), -1) for name in term.over]
    value = Doubtful(term.coefficient, {})
    for factor, power in factors:
        if power == 1:
            value = linear([(factor.value, value), (value.value, factor)], -value.value * factor.value)
        elif factor.value == 0:
            raise CannotEstimate("bad-input", "The sum divides by a size that is 0, so it comes to nothing.")
        else:
            ratio = value.value / factor.value
            value = linear([(1 / factor.value, value), (-ratio / factor.value, factor)], ratio)
    return value


def _dimension_of_term(
    written: Tally | Expression, term: Term, dimension: Callable[[SizeName], Dimension]
) -> Dimension:
    power, angles = int(term.is_length), 0
    for names, sign in ((term.times, 1), (term.over, -1)):
        for name in names:
            power += sign * (dimension(name) == "length")
            angles += sign * (dimension(name) == "angle")
    if (power, angles) not in {(0, 0), (1, 0), (0, 1)}:
        raise NotationNotUnderstood(
            written.what,
            written.as_written,
            term.column,
            "this comes to neither a length, a number nor an angle",
            "Multiply a length by a count, or divide a length by a length.",
        )
    return "length" if power else "angle" if angles else "number"
