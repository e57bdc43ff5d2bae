"""What a label measures, and the reading of it: a length, a count, an angle or a slope.

The label's last word says which (count; angle; slope, gradient, batter), else what the person asked
for, else a ° means an angle, else it is a length.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from math import pi, radians, tan
from typing import NamedTuple

from archive.errors import LengthNotUnderstood
from archive.lengths.grammar import parse_length, with_plain_range, without_about
from archive.lengths.tokens import Token, Unclear, tokens_of
from archive.lengths.units import FOOT, INCH
from archive.lengths.written import WrittenLength


class Quantity(StrEnum):
    """What kind of thing a size is; only lengths are divided by a scale."""

    LENGTH = "length"
    COUNT = "count"
    ANGLE = "angle"
    SLOPE = "slope"

    @property
    def unit(self) -> str:
        """What its values are in: mm, whole things, degrees, or rise over run."""
        return {"length": "mm", "count": "1", "angle": "deg", "slope": "rise/run"}[self.value]

    @property
    def named(self) -> str:
        """'a length', 'an angle': as a sentence says it."""
        return f"{'an' if self is Quantity.ANGLE else 'a'} {self.value}"


_SAID_BY = {
    "count": Quantity.COUNT,
    "angle": Quantity.ANGLE,
    "slope": Quantity.SLOPE,
    "gradient": Quantity.SLOPE,
    "batter": Quantity.SLOPE,
}
_DEGREE_SIGNS = "°º˚"
_INSTEAD = {
    Quantity.COUNT: "Write a whole number, like 12.",
    Quantity.ANGLE: "Write it like 42°, 42.5° ± 0.5° or 42° 30′.",
    Quantity.SLOPE: "Write it like 1 in 8 or 12 %.",
}


class WrittenQuantity(NamedTuple):
    """A reading as somebody wrote it down; all numbers in `unit`, as in `WrittenLength`."""

    quantity: Quantity
    as_written: str
    value: float
    resolution: float | None = None  # None for a range and for a count, which is exact
    tolerance: float | None = None
    low: float | None = None
    high: float | None = None
    approximate: bool = False
    length: WrittenLength | None = None  # where it is one

    @property
    def unit(self) -> str:
        """What the numbers are in: 'mm', '1', 'deg' or 'rise/run'."""
        return self.quantity.unit


class _Amount(NamedTuple):
    value: Fraction
    step: Fraction


def quantity_of(label: str, text: str = "", forced: Quantity | str | None = None) -> Quantity:
    """Return what `label` measures; `forced` and then the ° of `text` decide where the label does not."""
    words = re.findall(r"\w+", label.casefold())
    if words and (said := _SAID_BY.get(words[-1])):
        return said
    if forced is not None:
        return Quantity(forced)
    return Quantity.ANGLE if any(sign in text for sign in _DEGREE_SIGNS) else Quantity.LENGTH


def parse_quantity(label: str, text: str, forced: Quantity | str | None = None) -> WrittenQuantity:
    """Return what `text` writes for the size called `label`.

    Parameters
    ----------
    label : str
        'door height', 'rivet count', 'jib angle', 'ramp slope'.
    text : str
        A length as in `parse_length`; '12'; '42°', '42 deg', '42° 30′'; '1 in 8', '1:8', '12 %'.
        All take 'about', '±' and 'a to b'.
    forced : Quantity or str, optional
        What the person says it is.

    Raises
    ------
    LengthNotUnderstood
        If the text is no such quantity or has no single meaning.
    """
    quantity = quantity_of(label, text, forced)
    if quantity is Quantity.LENGTH:
        return _of_length(text)
    try:
        return _of_others(quantity, text)
    except Unclear as unclear:
        raise LengthNotUnderstood(text, unclear.why, _INSTEAD[quantity], quantity.named) from None


def _of_length(text: str) -> WrittenQuantity:
    length = parse_length(text)
    return WrittenQuantity(
        Quantity.LENGTH,
        text,
        length.value_mm,
        length.resolution_mm,
        length.tolerance_mm,
        length.low_mm,
        length.high_mm,
        length.approximate,
        length,
    )


def _of_others(quantity: Quantity, text: str) -> WrittenQuantity:
    tokens, approximate = without_about(tokens_of(text))
    read = {Quantity.COUNT: _count, Quantity.ANGLE: _angle, Quantity.SLOPE: _slope}[quantity]
    body, doubt = _parted(with_plain_range(tokens), "plus_minus")
    low_tokens, high_tokens = _parted(body, "to", "dash")
    if high_tokens is not None:
        if doubt is not None:
            raise Unclear("a range and a tolerance are given together")
        return _range(quantity, text, read, low_tokens, high_tokens, approximate)
    if doubt is not None:
        body, doubt = _sharing_sign(body, doubt)
    amount = read(body)
    tolerance = None if doubt is None else read(doubt).value
    if tolerance is not None and tolerance <= 0:
        raise Unclear("the tolerance is nothing")
    exact = quantity is Quantity.COUNT and not approximate
    return WrittenQuantity(
        quantity,
        text,
        float(amount.value),
        None if exact else float(amount.step),
        None if tolerance is None else float(tolerance),
        approximate=approximate,
    )


def _range(
    quantity: Quantity,
    text: str,
    read: Callable[[list[Token]], _Amount],
    low_tokens: list[Token],
    high_tokens: list[Token],
    approximate: bool,
) -> WrittenQuantity:
    ends = [read(tokens).value for tokens in _sharing_sign(low_tokens, high_tokens)]
    if quantity is Quantity.SLOPE:
        ends.sort()  # '1 in 8 to 1 in 10' names the steeper one first
    low, high = ends
    if low >= high:
        raise Unclear("the range runs backwards, or both its ends are the same")
    return WrittenQuantity(
        quantity,
        text,
        float((low + high) / 2),
        None,
        float((high - low) / 2),
        float(low),
        float(high),
        approximate,
    )


def _parted(tokens: list[Token], *kinds: str) -> tuple[list[Token], list[Token] | None]:
    places = [at for at, token in enumerate(tokens) if token.kind in kinds and at > 0]
    if len(places) > 1:
        raise Unclear("there are more than two figures to it")
    if not places:
        return tokens, None
    return tokens[: places[0]], tokens[places[0] + 1 :]


def _sharing_sign(left: list[Token], right: list[Token]) -> tuple[list[Token], list[Token]]:
    """Give '42 ± 1°' and '12 to 14 %' their sign on both sides."""
    signs = ("degree", "percent")
    if len(left) == 1 and right and right[-1].kind in signs:
        left = [*left, right[-1]]
    elif len(right) == 1 and left and left[-1].kind in signs:
        right = [*right, left[-1]]
    return left, right


def _kinds(tokens: list[Token]) -> list[str]:
    if tokens and tokens[0].kind == "dash":
        raise Unclear("it cannot be negative")
    return [token.kind for token in tokens]


def _amount(token: Token) -> _Amount:
    assert token.number is not None, "a number or a fraction carries its number"
    return _Amount(token.number.value, token.number.step)


def _count(tokens: list[Token]) -> _Amount:
    if _kinds(tokens) != ["number"] or _amount(tokens[0]).step != 1:
        raise Unclear("a count is a whole number and has no unit")
    return _amount(tokens[0])


def _angle(tokens: list[Token]) -> _Amount:
    """Read degrees, then minutes and seconds of arc where they follow."""
    kinds = _kinds(tokens)
    if kinds == ["number"] or kinds == ["number", "degree"]:
        angle = _amount(tokens[0])
    elif kinds in (
        ["number", "degree", "number", "unit"],
        ["number", "degree", "number", "unit", "number", "unit"],
    ):
        angle = _degrees_minutes(tokens)
    else:
        raise Unclear("it is not an angle in degrees")
    if angle.value > 360:
        raise Unclear("it is more than 360°")
    return angle


def _degrees_minutes(tokens: list[Token]) -> _Amount:
    value, step = Fraction(0), Fraction(1)
    wanted = [None, FOOT, INCH]  # the marks of minutes and seconds are those of feet and inches
    for place, at in enumerate(range(0, len(tokens), 2)):
        part, sign = _amount(tokens[at]), tokens[at + 1]
        if place and (sign.unit is not wanted[place] or sign.text[0].isalpha() or part.value >= 60):
            raise Unclear("minutes and seconds of arc are below 60 and marked ′ and ″")
        if step != 1 and place:
            raise Unclear("the degrees have decimals, yet minutes follow")
        value += part.value / 60**place
        step = part.step
    return _Amount(value, step / 60 ** (len(tokens) // 2 - 1))


def _slope(tokens: list[Token]) -> _Amount:
    """Read '1 in 8', '1:8', '1/8', '12 %' or an angle to the level, as rise over run."""
    kinds = _kinds(tokens)
    if kinds == ["number", "percent"]:
        share = _amount(tokens[0])
        return _Amount(share.value / 100, share.step / 100)
    if kinds == ["fraction"] and tokens[0].number is not None:
        rise, run = (Fraction(part) for part in tokens[0].text.split("/"))
        return _rise_over_run(_Amount(rise, Fraction(1)), _Amount(run, Fraction(1)))
    if len(kinds) == 3 and kinds[0] == kinds[2] == "number" and tokens[1].text.casefold() in ("in", ":", "/"):
        return _rise_over_run(_amount(tokens[0]), _amount(tokens[2]))
    if "degree" in kinds:
        angle = _angle(tokens)
        if angle.value >= 90:
            raise Unclear("a slope is less than 90°")
        slope = tan(radians(angle.value))
        return _Amount(Fraction(slope), Fraction((1 + slope**2) * pi / 180) * angle.step)
    raise Unclear("it is not a slope")


def _rise_over_run(rise: _Amount, run: _Amount) -> _Amount:
    if not run.value:
        raise Unclear("a slope rises over some distance, not over nothing")
    # One step more or less of the run changes the slope by rise/run^2, to first order.
    return _Amount(rise.value / run.value, max(rise.value, Fraction(1)) * run.step / run.value**2)
