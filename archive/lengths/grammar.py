"""From tokens to a length: `[about] value [± value]` or `[about] value to value`.

A value is a run of terms, each an amount and a unit ('4 ft', '8½ in'). A dash between two terms
joins feet to inches where the units say so, and is a range otherwise; what has two sane readings
is refused with both.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from archive.errors import LengthNotUnderstood
from archive.lengths.tokens import EXAMPLES, Token, Unclear, tokens_of
from archive.lengths.units import FOOT, INCH, INTERNATIONAL_FOOT_MM, MILLIMETRE, Unit, unit_mm
from archive.lengths.written import WrittenLength

LONGEST_MM = Fraction(10**10)

_NUMBER_WORDS = frozenset(
    [
        "a",
        "an",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
        "twenty",
        "thirty",
        "forty",
        "fifty",
        "sixty",
        "hundred",
        "thousand",
        "dozen",
        "half",
        "quarter",
    ]
)
_ONE_ENDED = frozenset(
    ["over", "under", "above", "below", "at", "up", "more", "less", "no", "exceeding", "max", "min"]
)
_SEVERAL = frozenset(["x", "×", "by", "*"])
_TRAILING_ABOUT = frozenset(["about", "approx", "approximately", "circa", "roughly"])
_AREAS = frozenset(["sq", "square", "cu", "cubic", "sqm", "sqft", "acre", "acres", "hectare", "hectares"])


class Term(NamedTuple):
    """An amount and its unit, as they stand in a value; `step` is the amount's last figure or fraction."""

    amount: Fraction
    step: Fraction
    unit: Unit | None
    vulgar: bool  # holds a fraction with a bar
    hyphened: bool  # 'whole-fraction'
    after: str  # what joins it to the term before: '', 'dash' or 'and'

    @property
    def whole(self) -> bool:
        """Whether it is a plain whole number, as every term but the last must be."""
        return self.step == 1 and not self.vulgar


class Value(NamedTuple):
    """A length within the text, exact, and the step of its last figure, both in mm."""

    mm: Fraction
    step_mm: Fraction
    unit: Unit  # of the last term


def parse_length(text: str, *, foot_mm: Fraction = INTERNATIONAL_FOOT_MM) -> WrittenLength:
    """Return the length that `text` writes, in any notation of the trade.

    Parameters
    ----------
    text : str
        '4ft 8½in', "14'-6", '1 435 mm', '1,5 m', '2 ch 50 lk', '1.36-1.38 m', 'about 12 ft',
        '1435 ± 2 mm'. A bare number is millimetres.
    foot_mm : Fraction
        What a foot is, mm, for a drawing with its own foot; inches and yards follow it.

    Returns
    -------
    WrittenLength
        Value, resolution, tolerance and ends of a range, mm.

    Raises
    ------
    LengthNotUnderstood
        If the text has no single meaning; it says why and how to write it instead.
    """
    try:
        return _length(text, foot_mm)
    except Unclear as unclear:
        raise LengthNotUnderstood(text, unclear.why, unclear.instead) from None


def _length(text: str, foot_mm: Fraction) -> WrittenLength:
    tokens, approximate = without_about(tokens_of(text))
    tokens = with_plain_range(tokens)
    _refuse_what_is_no_length(tokens)
    body, tolerance = _parted(tokens, "plus_minus", "a tolerance is given twice")
    if not body:
        raise Unclear("there is a tolerance without a size before it", "Write it like 1435 ± 2 mm.")
    ends = _ends(body)
    if len(ends) == 1:
        return _single(text, ends[0], tolerance, approximate, foot_mm)
    if tolerance is not None:
        raise Unclear("a range and a tolerance are given together", "Give one of them, like 1.36 to 1.38 m.")
    low, high = (_value(terms, foot_mm) for terms in ends)
    _check_range(low, high)
    return WrittenLength(
        as_written=text,
        value_mm=float((low.mm + high.mm) / 2),
        tolerance_mm=float((high.mm - low.mm) / 2),
        low_mm=float(low.mm),
        high_mm=float(high.mm),
        approximate=approximate,
    )


def _single(
    text: str, terms: list[Term], tolerance: list[Token] | None, approximate: bool, foot_mm: Fraction
) -> WrittenLength:
    half_width: Fraction | None = None
    if tolerance is None:
        value = _value(terms, foot_mm)
    elif len(tolerance) == 2 and tolerance[0].number and tolerance[1].kind == "percent":
        value = _value(terms, foot_mm)
        half_width = value.mm * tolerance[0].number.value / 100
    else:
        doubt_ends = _ends(tolerance) if tolerance else []
        if len(doubt_ends) != 1:
            raise Unclear("no single tolerance follows the ±", "Write it like 1435 ± 2 mm.")
        doubt_terms = doubt_ends[0]
        terms = _sharing_unit(terms, doubt_terms)
        value = _value(terms, foot_mm)
        if len(doubt_terms) == 1 and doubt_terms[0].unit is None:
            doubt_terms = [doubt_terms[0]._replace(unit=value.unit)]
        half_width = _value(doubt_terms, foot_mm).mm
    if half_width is not None and half_width <= 0:
        raise Unclear("the tolerance is nothing", "Leave it off, or write it like 1435 ± 2 mm.")
    if half_width is not None and half_width > value.mm > 0:
        raise Unclear("the tolerance is larger than the size", "Write it with both units, like 1.5 m ± 5 cm.")
    return WrittenLength(
        as_written=text,
        value_mm=float(value.mm),
        resolution_mm=float(value.step_mm),
        tolerance_mm=None if half_width is None else float(half_width),
        approximate=approximate,
    )


def without_about(tokens: Sequence[Token]) -> tuple[list[Token], bool]:
    """Return the tokens without 'about', 'c.', '~' or 'approx.' at either end, and whether any was there."""
    rest = list(tokens)
    while rest and rest[0].kind == "about":
        rest = rest[1:]
        if rest and rest[0].kind == "point":
            rest = rest[1:]
    while len(rest) > 1 and rest[-1].text.rstrip(".").casefold() in _TRAILING_ABOUT:
        rest = rest[:-1]
    if [token.text.casefold() for token in rest[-2:]] == ["or", "so"]:
        rest = rest[:-2]
    if not rest:
        raise Unclear("there is no size after 'about'")
    return rest, len(rest) < len(tokens)


def with_plain_range(tokens: list[Token]) -> list[Token]:
    """Return 'from a to b' and 'between a and b' as 'a to b'."""
    first = tokens[0].text.casefold()
    if first == "between":
        return [
            token._replace(kind="to") if token.text.casefold() == "and" else token for token in tokens[1:]
        ]
    if first == "from" and any(token.kind == "to" for token in tokens):
        return tokens[1:]
    return tokens


def _refuse_what_is_no_length(tokens: Sequence[Token]) -> None:
    """Refuse ratios, slopes, angles, areas and words with a reason of their own."""
    kinds = [token.kind for token in tokens]
    if "colon" in kinds or _is_decimal_ratio(tokens):
        raise Unclear("it reads as a scale or a ratio, not a length")
    if kinds[:3] == ["number", "unit", "number"] and tokens[1].text.casefold() == "in" and len(kinds) == 3:
        raise Unclear(
            "it reads as a slope, not a length",
            "For inches write the unit last, like 8 1/2 in; the label of a slope ends in 'slope'.",
        )
    if "degree" in kinds:
        raise Unclear("it reads as an angle, not a length")
    if "percent" in kinds and "plus_minus" not in kinds:
        raise Unclear("it reads as a percentage, not a length")
    for before, token in pairwise([None, *tokens]):
        _refuse_area(before, token)
        if token is not None and token.kind in ("word", "sign"):
            raise Unclear(*_what_is_wrong_with(token))


def _is_decimal_ratio(tokens: Sequence[Token]) -> bool:
    slashes = [at for at, token in enumerate(tokens) if token.text == "/"]
    return any(
        0 < at < len(tokens) - 1 and tokens[at - 1].kind == tokens[at + 1].kind == "number" for at in slashes
    )


def _refuse_area(before: Token | None, token: Token | None) -> None:
    if token is None:
        return
    raised = token.kind == "power"
    tight = token.kind == "number" and token.gap == 0 and token.text in ("2", "3")
    # 4'2 is 4 ft 2 in, m2 is an area.
    tight = tight and before is not None and before.kind == "unit" and before.text[0].isalpha()
    if raised or (tight and before is not None and before.unit is not FOOT):
        raise Unclear("it reads as an area or a volume, not a length")


def _what_is_wrong_with(token: Token) -> tuple[str, str]:
    word = token.text.rstrip(".").casefold()
    if word in _NUMBER_WORDS:
        return f"'{token.text}' is a number in words, and only figures are read", EXAMPLES
    if word in ("mil", "mils"):
        return (
            f"'{token.text}' is used for a thousandth of an inch and for a millimetre",
            "Write thou or mm.",
        )
    if word in _AREAS:
        return "it reads as an area or a volume, not a length", EXAMPLES
    if word in _ONE_ENDED or word in tuple("<>≤≥"):
        return f"'{token.text}' gives one end only, not a length", "Write a length or a range, like 4 to 5 m."
    if word in _SEVERAL:
        return f"'{token.text}' stands between several sizes", "Write one size at a time, like 5.64 m."
    if token.kind == "sign":
        return f"'{token.text}' belongs to no length", EXAMPLES
    return f"'{token.text[:30]}' is not a unit of length", EXAMPLES


def _parted(tokens: list[Token], kind: str, twice: str) -> tuple[list[Token], list[Token] | None]:
    places = [at for at, token in enumerate(tokens) if token.kind == kind]
    if not places:
        return tokens, None
    if len(places) > 1:
        raise Unclear(twice)
    return tokens[: places[0]], tokens[places[0] + 1 :]


def _ends(tokens: list[Token]) -> list[list[Term]]:
    """Return the terms of one value, or of the two ends of a range, with shared units filled in."""
    low_tokens, high_tokens = _parted(tokens, "to", "'to' is written twice")
    if high_tokens is not None:
        if not low_tokens or not high_tokens:
            raise Unclear("a range has two ends", "Write it like 1.36 to 1.38 m.")
        ends = [*_split_at_dashes(_terms(low_tokens)), *_split_at_dashes(_terms(high_tokens))]
    else:
        ends = _split_at_dashes(_terms(tokens))
        if len(ends) == 2:
            ends = _dashed_pair(*ends)
    if len(ends) > 2:
        raise Unclear("there are more than two ends to this range", "Write it like 1.36 to 1.38 m.")
    if len(ends) == 2:
        low, high = ends
        low = _sharing_unit(low, high)
        return [low, _sharing_unit(high, low)]
    return ends


def _terms(tokens: list[Token]) -> list[Term]:
    terms: list[Term] = []
    at = 0
    while at < len(tokens):
        after = ""
        if tokens[at].kind in ("dash", "and") and terms:
            after = tokens[at].kind
            at += 1
        elif tokens[at].kind == "dash":
            raise Unclear("a length cannot be negative", "Leave the minus sign off.")
        term, at = _term(tokens, at, after)
        terms.append(term)
    return terms


def _term(tokens: list[Token], at: int, after: str) -> tuple[Term, int]:
    kinds = [token.kind for token in tokens[at : at + 3]]
    hyphened = kinds == ["number", "dash", "fraction"]
    if hyphened or kinds[:2] == ["number", "fraction"]:
        amount, step = _mixed(tokens[at], tokens[at + 1 + hyphened])
        at += 2 + hyphened
    elif kinds and kinds[0] in ("number", "fraction"):
        amount, step = _amount(tokens[at])
        at += 1
    else:
        raise Unclear(_no_number_there(tokens, at))
    vulgar = tokens[at - 1].kind == "fraction"
    unit = None
    if at < len(tokens) and tokens[at].kind == "unit":
        unit = tokens[at].unit
        at += 1
    return Term(amount, step, unit, vulgar, hyphened, after), at


def _amount(token: Token) -> tuple[Fraction, Fraction]:
    assert token.number is not None, "a number or a fraction carries its number"
    return token.number.value, token.number.step


def _mixed(whole: Token, part: Token) -> tuple[Fraction, Fraction]:
    (amount, step), (fraction, fraction_step) = _amount(whole), _amount(part)
    if step != 1:
        raise Unclear(
            f"'{whole.text}' has decimals and a fraction follows it",
            "Use one of them, like 8.5 in or 8 1/2 in.",
        )
    if fraction >= 1:
        raise Unclear(
            f"'{part.text}' after a whole number is one or more",
            "Use a fraction below one, like 8 1/2 in.",
        )
    return amount + fraction, fraction_step


def _no_number_there(tokens: list[Token], at: int) -> str:
    if at >= len(tokens):
        return "it stops where a figure should follow"
    if (unit := tokens[at].unit) is not None:
        return f"there are {unit.plural} with no figure before them"
    if tokens[at].kind == "plus":
        return "there is a plus sign; an uneven tolerance is written as a range, like 1434 to 1437 mm"
    return f"'{tokens[at].text}' stands where a figure should"


def _split_at_dashes(terms: list[Term]) -> list[list[Term]]:
    """Part the terms at the dashes that mean a range; a dash from feet to inches joins."""
    ends = [terms[:1]]
    for before, term in pairwise(terms):
        if term.after == "dash" and not _joins(before, term):
            ends.append([])
        ends[-1].append(term)
    return ends


def _joins(before: Term, term: Term) -> bool:
    if before.unit is None or before.unit.metric:
        return False
    if term.unit is None:
        return before.unit is FOOT
    return not term.unit.metric and term.unit.mm < before.unit.mm


def _dashed_pair(first: list[Term], second: list[Term]) -> list[list[Term]]:
    """Return feet and inches written '4-8½' or '7-0-1/2' as one value, a range as its two ends."""
    if len(first) > 1 or len(second) > 1 or first[0].unit is not None:
        return [first, second]
    left, right = first[0], second[0]
    if right.unit not in (None, INCH):
        return [first, second]
    could_be_feet = left.whole and right.amount < 12
    if could_be_feet and right.vulgar and (right.unit is None or right.hyphened):
        return [[left._replace(unit=FOOT), right._replace(unit=INCH)]]
    shown = f"{_plain(left.amount)} ft {_plain(right.amount)} in"
    as_range = f"{_plain(left.amount)} to {_plain(right.amount)}"
    if right.unit is None:
        if could_be_feet:
            raise Unclear(f"it may be {shown}, or a range {as_range}", f"Write {shown}, or {as_range} mm.")
        raise Unclear(f"it may be a range {as_range}, in no unit", f"Write it like {as_range} mm.")
    if could_be_feet and left.amount >= right.amount:
        raise Unclear(f"it may be {shown}, or a range that runs backwards", f"Write {shown}.")
    if could_be_feet and right.vulgar:
        raise Unclear(f"it may be {shown}, or a range {as_range} in", f"Write {shown}, or {as_range} in.")
    return [first, second]


def _plain(amount: Fraction) -> str:
    """Return the amount as it is typed: '8', '8 1/2', '8.1'."""
    whole, part = divmod(amount, 1)
    if not part:
        return str(whole)
    if part.denominator % 5 == 0 and 10**9 % part.denominator == 0:
        return f"{float(amount):.9g}"
    return f"{whole} {part}" if whole else str(part)


def _sharing_unit(terms: list[Term], other: list[Term]) -> list[Term]:
    """Give a lone bare number the unit of the other end or of the tolerance."""
    if len(terms) > 1 or terms[0].unit is not None:
        return terms
    if len(other) > 1:
        raise Unclear(
            "one of the two sizes has no unit, and the other has several",
            "Give both of them their units, like 4 ft to 5 ft 6 in.",
        )
    return [terms[0]._replace(unit=other[0].unit)]


def _value(terms: list[Term], foot_mm: Fraction) -> Value:
    terms = _with_units_left_off(terms)
    for before, term in pairwise(terms):
        _check_order(before, term)
    units_mm = [unit_mm(_unit(term), foot_mm) for term in terms]
    first, *others = (term.amount * of_mm for term, of_mm in zip(terms, units_mm, strict=True))
    total = sum(others, first)
    if total > LONGEST_MM:
        raise Unclear(
            "it is longer than 10 000 km, or not a finite number", "Look for a slip in the figures."
        )
    return Value(total, terms[-1].step * units_mm[-1], _unit(terms[-1]))


def _unit(term: Term) -> Unit:
    assert term.unit is not None, "units left off are filled in before"
    return term.unit


def _with_units_left_off(terms: list[Term]) -> list[Term]:
    """Fill in millimetres after a lone number and inches after feet; refuse where nothing is meant."""
    if terms[0].unit is None:
        if len(terms) > 1:
            raise Unclear(
                "figures stand side by side with no unit between, so feet and inches cannot be told"
            )
        if terms[0].vulgar:
            amount = _plain(terms[0].amount)
            raise Unclear("there is a fraction without a unit", f"Write {amount} in, if inches are meant.")
        return [terms[0]._replace(unit=MILLIMETRE)]
    for before, term in pairwise(terms):
        if term.unit is None and not (before.unit is FOOT and term is terms[-1]):
            raise Unclear(
                f"'{_plain(term.amount)}' at the end has no unit"
                if term is terms[-1]
                else "a unit is missing",
                "Give every figure its unit, like 2 m 35 cm or 4 ft 8 in.",
            )
    return [term if term.unit else term._replace(unit=INCH) for term in terms]


def _check_order(before: Term, term: Term) -> None:
    greater, lesser = _unit(before), _unit(term)
    if greater.metric != lesser.metric:
        raise Unclear(
            "metric and imperial units are mixed in one length", "Use one system, like 18ft 6in or 5.64 m."
        )
    if greater is lesser:
        raise Unclear(f"{greater.plural} are given twice")
    if greater.mm < lesser.mm:
        raise Unclear(
            f"the units are in the wrong order, {greater.plural} before {lesser.plural}",
            "Write the larger unit first, like 18ft 6in.",
        )
    if not before.whole:
        raise Unclear(
            f"the {greater.plural} are not whole, yet {lesser.plural} follow", "Write it like 4 ft 8 1/2 in."
        )
    limit = greater.mm / lesser.mm
    if term.amount >= limit:
        raise Unclear(
            f"{_plain(limit)} or more {lesser.plural} after {greater.plural} look like a slip",
            f"Count them on into the {greater.plural}, or correct the figure.",
        )


def _check_range(low: Value, high: Value) -> None:
    if low.unit.metric != high.unit.metric:
        raise Unclear("metric and imperial units are mixed in one range", "Use one system for both ends.")
    if low.mm > high.mm:
        raise Unclear("the range runs backwards", "Write the smaller end first, like 1.36 to 1.38 m.")
    if low.mm == high.mm:
        raise Unclear("both ends of the range are the same", "Write the size once, with ± if you know it.")
