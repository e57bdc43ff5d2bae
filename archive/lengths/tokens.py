"""From characters to tokens: every mark, dash, space and figure that people write becomes one of a few.

Characters are replaced one by one and not by NFKC of the whole text, which turns a tight '2⅜' into
'23⁄8'. Nothing here backtracks, so that hostile text is refused as fast as honest text is read.
"""

from __future__ import annotations

import itertools
import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from archive.lengths.units import UNIT_CALLED, Unit

LONGEST_TEXT = 200
_ONE = Fraction(1)
EXAMPLES = "Write it like 18ft 6in, 5.64 m or 5640 mm."


class Unclear(Exception):
    """Why a text has no single meaning, and how to write it instead; the readers add the text itself."""

    def __init__(self, why: str, instead: str = EXAMPLES) -> None:
        super().__init__(why, instead)
        self.why, self.instead = why, instead


class Number(NamedTuple):
    """A decimal number, exact, and the step of its last written figure."""

    value: Fraction
    step: Fraction

    @property
    def whole(self) -> bool:
        """Whether it was written without decimals."""
        return self.step == 1


class Token(NamedTuple):
    """One piece of a text. `kind` is a word of this module; `gap` counts the spaces before it."""

    kind: str
    text: str
    gap: int
    number: Number | None = None  # of a 'number'; of a 'fraction' its value and one part of it
    unit: Unit | None = None


_SAME_AS = {
    **dict.fromkeys("‘’‛´`ʹʼˈ′‵＇", "'"),
    **dict.fromkeys("“”‟ʺ˝″‶＂", '"'),
    **dict.fromkeys("‐‑‒–—―−⁃﹘﹣－", "-"),
    **dict.fromkeys("⁄∕⧸", "/"),
    **dict.fromkeys("∼≈≃≅〜～", "~"),
    **dict.fromkeys("º˚", "°"),
    "·": ".",
    "∶": ":",
    "﹢": "+",
    "µ": "μ",
    "㎛": "μm",
    "㎜": "mm",
    "㎝": "cm",
    "㎞": "km",
    "㎟": "mm²",
    "㎠": "cm²",
    "㎡": "m²",
    "㎥": "m³",
    "‴": "'''",
}
_RAISED = "⁰¹²³⁴⁵⁶⁷⁸⁹"
_LOWERED = "₀₁₂₃₄₅₆₇₈₉"
_PLAIN_FIGURES = str.maketrans(_RAISED + _LOWERED, "0123456789" * 2)

_PIECES = re.compile(
    rf"""(?P<small_fraction>[{_RAISED}]+/[{_LOWERED}]+)
    | (?P<number>[.,]?\d+(?:[.,]\d+)*)
    | (?P<word>(?:(?![{_RAISED}{_LOWERED}])[^\W\d_])+\.?)
    | (?P<plus_minus>±|\+\ ?/?\ ?-)
    | (?P<mark>'{{1,2}}(?!')|")
    | (?P<power>\^?[{_RAISED}]+|\^\d+)
    | (?P<sign>.)""",
    re.VERBOSE | re.DOTALL,
)
_FIRST_GROUP = re.compile(r"[1-9]\d{0,2}")
_NEXT_GROUP = re.compile(r"\d{3}(?:[.,]\d+)?")
_KIND_OF_SIGN = {
    "-": "dash",
    "/": "slash",
    "~": "about",
    ",": "and",
    "&": "and",
    ".": "point",
    ":": "colon",
    "%": "percent",
    "°": "degree",
    "+": "plus",
    ">": "sign",
    "<": "sign",
}
_KIND_OF_WORD = {
    **dict.fromkeys(
        ["about", "abt", "around", "approx", "approximately", "circa", "c", "ca", "roughly", "say"],
        "about",
    ),
    "to": "to",
    "and": "and",
    **dict.fromkeys(["deg", "degs", "degree", "degrees"], "degree"),
    **dict.fromkeys(["percent", "pct"], "percent"),
    "per": "slash",
}


def tokens_of(text: str) -> list[Token]:
    """Return the tokens of `text`: numbers and fractions put together, units and other words known.

    Raises `Unclear` for an empty or endless text, for characters that cannot be seen, and for
    numbers that can be read in two ways.
    """
    if len(text) > LONGEST_TEXT:
        raise Unclear(f"it is {len(text)} characters long, far more than one size needs")
    plain = "".join(_plain(character) for character in text).strip()
    if not plain:
        raise Unclear("nothing is written there")
    return _grouped(_fractions(_plus_minus_words(_pieces(plain))))


@lru_cache(maxsize=512)
def _plain(character: str) -> str:
    """Return what stands for `character` in plain writing."""
    if "！" <= character <= "～" and character not in _SAME_AS:
        character = chr(ord(character) - 0xFEE0)
    if character in _SAME_AS:
        return _SAME_AS[character]
    category = unicodedata.category(character)
    if category == "Nd":
        return str(unicodedata.decimal(character))
    if category == "Zs" or character in "\t\r\n":
        return " "
    if category[0] == "C" or category in ("Mn", "Me"):
        name = unicodedata.name(character, "").lower() or f"U+{ord(character):04X}"
        raise Unclear(
            f"it holds a character that cannot be seen or belongs to no size ({name})",
            "Type it again rather than pasting it, like 18ft 6in, 5.64 m or 5640 mm.",
        )
    if category == "No" and "⁄" in (parts := unicodedata.normalize("NFKC", character)):
        return f" {parts.replace('⁄', '/')}{' ' if parts[-1].isdigit() else ''}"
    return character


def _pieces(plain: str) -> list[Token]:
    tokens: list[Token] = []
    gap = 0
    for piece in _PIECES.finditer(plain):
        kind, text = str(piece.lastgroup), piece.group()
        if text == " ":
            gap += 1
            continue
        tokens.append(_known(kind, text, gap))
        gap = 0
    if len(tokens) > 1 and tokens[-1].kind == "point":
        tokens.pop()  # the full stop of a sentence
    _refuse_letters_for_figures(tokens)
    _refuse_marks_for_both(tokens)
    return tokens


def _known(kind: str, text: str, gap: int) -> Token:
    if kind == "small_fraction":
        above, below = text.translate(_PLAIN_FIGURES).split("/")
        return _fraction(above, below, gap)
    if kind == "mark":
        return Token("unit", text, gap, unit=UNIT_CALLED['"' if text == "''" else text])
    if kind == "word":
        name = text.rstrip(".").casefold()
        if name in UNIT_CALLED:
            return Token("unit", text, gap, unit=UNIT_CALLED[name])
        return Token(_KIND_OF_WORD.get(name, "word"), text, gap)
    if kind == "sign":
        return Token(_KIND_OF_SIGN.get(text, "sign"), text, gap)
    return Token(kind, text, gap)


def _refuse_letters_for_figures(tokens: list[Token]) -> None:
    for before, after in itertools.pairwise(tokens):
        if after.gap:
            continue
        texts = {before.kind: before.text, after.kind: after.text}
        if texts.keys() != {"word", "number"}:
            continue
        letters = texts["word"].rstrip(".")
        if set(letters) <= set("lIoO"):
            raise Unclear(f"there is a letter '{letters}' in place of a figure", "Type 1 or 0 there.")
        if letters in "eE" and before.kind == "number":
            raise Unclear("it is a power of ten, not a plain finite number", "Write all its figures out.")


def _refuse_marks_for_both(tokens: list[Token]) -> None:
    """Refuse '4 ft,8 in': its comma may part feet from inches, or make the inches 0.8."""
    for before, after in pairwise(tokens):
        leads = after.kind == "number" and (after.text[0] == "," or (after.text[0] == "." and not after.gap))
        if before.kind == "unit" and leads:
            raise Unclear(
                f"'{after.text}' may be {after.text[1:]} after a {'comma' if after.text[0] == ',' else 'point'}, or 0.{after.text[1:]}",
                f"Write {after.text[1:]} or 0.{after.text[1:]} there.",
            )


def number_in(figures: str) -> Number:
    """Return the number that `figures` (figures, points and commas) writes, or raise `Unclear`.

    A point is decimal. A comma is decimal too, unless exactly three figures follow it, which is
    undecidable. Where both stand, or one of them twice, the earlier one groups thousands.
    """
    points, commas = figures.count("."), figures.count(",")
    if points + commas == 0:
        return Number(Fraction(int(figures)), _ONE)
    decimal = figures[max(figures.rfind("."), figures.rfind(","))]
    if figures.count(decimal) > 1:
        if points and commas:
            raise Unclear(f"the points and commas of '{figures}' follow no rule")
        return Number(Fraction(int(_without_groups(figures, decimal))), _ONE)
    whole, part = figures.split(decimal)
    if points and commas:
        whole = _without_groups(whole, "," if decimal == "." else ".")
    elif decimal == "," and len(part) == 3:
        raise Unclear(
            f"the comma in '{figures}' may be a decimal comma or group thousands",
            f"Write {whole or 0}.{part} or {int(whole + part)}.",
        )
    step = Fraction(1, 10 ** len(part))
    return Number(int(whole + part) * step, step)


def _without_groups(figures: str, separator: str) -> str:
    first, *groups = figures.split(separator)
    if not 1 <= len(first) <= 3 or first.startswith("0") or any(len(group) != 3 for group in groups):
        raise Unclear(f"'{figures}' is not grouped in thousands, nor is it a decimal number")
    return "".join([first, *groups])


def _fraction(above: str, below: str, gap: int) -> Token:
    if int(below) == 0:
        raise Unclear(f"'{above}/{below}' divides by zero", "Write the fraction like 8 1/2 in.")
    return Token(
        "fraction",
        f"{above}/{below}",
        gap,
        Number(Fraction(int(above), int(below)), Fraction(1, int(below))),
    )


def _plus_minus_words(tokens: list[Token]) -> list[Token]:
    """Put 'plus or minus', 'plus/minus' and 'plus-minus' together."""

    def spelt(three: list[Token]) -> Token | None:
        middle = three[1].text.casefold() == "or" or three[1].kind in ("slash", "dash")
        if middle and [three[0].text.casefold(), three[2].text.casefold()] == ["plus", "minus"]:
            return Token("plus_minus", "±", three[0].gap)
        return None

    return _replaced(tokens, 3, spelt)


def _fractions(tokens: list[Token]) -> list[Token]:
    """Put '5/8' together; '1/43.5' stays apart, being a ratio."""

    def fraction(three: list[Token]) -> Token | None:
        above, slash, below = three
        if (above.kind, slash.text, below.kind) == ("number", "/", "number") and (
            above.text.isdigit() and below.text.isdigit()
        ):
            return _fraction(above.text, below.text, above.gap)
        return None

    return _replaced(tokens, 3, fraction)


def _replaced(
    tokens: list[Token], length: int, replacement: Callable[[list[Token]], Token | None]
) -> list[Token]:
    if len(tokens) < length:
        return tokens
    result: list[Token] = []
    at = 0
    while at < len(tokens):
        window = tokens[at : at + length]
        new = replacement(window) if len(window) == length else None
        result.append(new or tokens[at])
        at += length if new else 1
    return result


def _grouped(tokens: list[Token]) -> list[Token]:
    """Read the numbers, those with thousands set apart by single spaces ('12 500') as one."""
    result: list[Token] = []
    at = 0
    while at < len(tokens):
        token, at = tokens[at], at + 1
        if token.kind == "number":
            groups: list[str] = []
            if _FIRST_GROUP.fullmatch(token.text):
                while at < len(tokens) and tokens[at].gap == 1 and _NEXT_GROUP.fullmatch(tokens[at].text):
                    groups.append(tokens[at].text)
                    at += 1
                    if not groups[-1].isdigit():
                        break
            token = Token("number", token.text, token.gap, _number_of(token.text, groups))
        result.append(token)
    return result


def _number_of(first: str, groups: list[str]) -> Number:
    # With spaces between the thousands, a comma can only be decimal.
    return number_in("".join([first, *groups]).replace(",", ".") if groups else first)
