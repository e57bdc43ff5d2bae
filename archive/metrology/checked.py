"""Inputs looked at before any sum is made of them: each refusal names what was wrong."""

from __future__ import annotations

from collections.abc import Iterable, Sized
from math import isfinite
from numbers import Real

from archive.errors import CannotEstimate


def finite(what: str, number: float) -> float:
    """The number, unless it is none ('bad-input')."""
    if isinstance(number, bool) or not isinstance(number, Real) or not isfinite(number):
        raise CannotEstimate("bad-input", f"{what} must be a number, and {number!r} is none.")
    return float(number)


def not_negative(what: str, number: float) -> float:
    """The number, unless it is negative or none ('bad-uncertainty')."""
    if isinstance(number, bool) or not isinstance(number, Real) or not (isfinite(number) and number >= 0):
        raise CannotEstimate("bad-uncertainty", f"{what} must be 0 or more, and {number!r} was given.")
    return float(number)


def positive(what: str, number: float, code: str = "bad-known") -> float:
    """The number, unless it is not above 0."""
    if finite(what, number) <= 0:
        raise CannotEstimate(code, f"{what} must be more than 0, and {number!r} was given.")
    return float(number)


def fraction(what: str, number: float) -> float:
    """The number, unless it does not lie between 0 and 1 ('bad-input')."""
    if not 0 < finite(what, number) < 1:
        raise CannotEstimate("bad-input", f"{what} must lie between 0 and 1, and {number!r} was given.")
    return float(number)


def finite_list(what: str, numbers: Iterable[float], at_least: int = 0) -> list[float]:
    """The numbers as a list, unless there are too few ('too-few-points') or one is none ('bad-input')."""
    listed = [finite(f"Each of the {what}", number) for number in _several(what, numbers)]
    if len(listed) < at_least:
        raise CannotEstimate(
            "too-few-points", f"At least {at_least} {what} are needed for this, and there are {len(listed)}."
        )
    return listed


def positive_list(what: str, numbers: Iterable[float], code: str = "bad-known") -> list[float]:
    """The numbers as a list, unless one is not above 0."""
    return [positive(f"Each of the {what}", number, code) for number in _several(what, numbers)]


def not_negative_list(what: str, numbers: Iterable[float]) -> list[float]:
    """The numbers as a list, unless one is negative ('bad-uncertainty')."""
    return [not_negative(f"Each of the {what}", number) for number in _several(what, numbers)]


def same_length(what: str, *lists: Sized) -> None:
    """Refuse lists that do not go together ('bad-input')."""
    lengths = [len(one) for one in lists]
    if len(set(lengths)) > 1:
        raise CannotEstimate(
            "bad-input", f"There must be as many {what}, and there are {' and '.join(map(str, lengths))}."
        )


def _several(what: str, numbers: Iterable[float]) -> Iterable[float]:
    """The numbers, unless what was given is no list of any ('bad-input')."""
    if isinstance(numbers, str) or not isinstance(numbers, Iterable):
        raise CannotEstimate("bad-input", f"The {what} must be a list of numbers, and {numbers!r} is none.")
    return numbers


def refuse_wide(value: float, u: float) -> None:
    """Refuse a figure whose standard uncertainty is more than a quarter of it ('doubt-too-large')."""
    if u > 0.25 * abs(value):
        raise CannotEstimate(
            "doubt-too-large",
            f"The doubt (one standard uncertainty {u:.3g}) is more than a quarter of the figure, {value:.3g}, "
            "and would mislead. Take a closer reading.",
        )
