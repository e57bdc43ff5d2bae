"""Sums that people write about sizes: tallies that must come out, and sizes worked out from sizes.

3 x bay + 2 x post = overall        a tally: terms `[n x] label` or a length, joined by spaced + or -
5 x door board                      a sum: also label x count, label / label
"bay + post" = Weighbridge hut: end label that holds a sign is quoted; another subject goes before ': '
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, NamedTuple

from archive.errors import LengthNotUnderstood, NotationNotUnderstood
from archive.lengths import parse_length

LONGEST_TEXT = 1000

_SIGN = re.compile(r"\s+([-+=/x×−–])(?:\s+|$)")
_MISPLACED = re.compile(r"[-+=/×−–](?:\s|$)")  # an x alone may be a label
_STICKING = re.compile(r"[=+×]|\d[x×](?=\s|$)")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_QUOTES = {'"': '"', "“": "”", "„": "“", "'": "'", "‘": "’"}
_QUOTE_IT = "Put spaces around a sign, or quotes around a label that holds one."


class SizeName(NamedTuple):
    """A size as a sum names it: its label, and its subject where that is another one."""

    label: str
    subject: str | None = None


@dataclass(frozen=True, slots=True)
class Term:
    """One summand: coefficient * `times` / `over`, sizes by name.

    Without a name it is a plain length in mm (`is_length`), or a bare number, which takes the unit of
    what it stands beside: mm or none.
    """

    coefficient: float
    times: tuple[SizeName, ...]
    over: tuple[SizeName, ...]
    column: int
    is_length: bool = False


@dataclass(frozen=True, slots=True)
class Tally:
    """A sum that must come out: the terms, those right of the = with their sign turned, add up to 0."""

    what: ClassVar[str] = "tally"
    as_written: str
    terms: tuple[Term, ...]

    @property
    def names(self) -> tuple[SizeName, ...]:
        """The sizes in it, in the order written, each once."""
        return _names(self.terms)


@dataclass(frozen=True, slots=True)
class Expression:
    """How a size is worked out from others."""

    what: ClassVar[str] = "sum"
    as_written: str
    terms: tuple[Term, ...]

    @property
    def names(self) -> tuple[SizeName, ...]:
        """The sizes it leans on, in the order written, each once."""
        return _names(self.terms)


def parse_tally(text: str) -> Tally:
    """Read '3 x bay + 2 x post = overall'.

    Raises
    ------
    NotationNotUnderstood
        With the place, why, and how to write it instead.
    """
    left, right, _ = _sides("tally", text)
    if right is None:
        raise NotationNotUnderstood(
            "tally",
            text,
            len(text),
            "nothing says what the sum comes to",
            "Write it like 3 x bay + 2 x post = overall.",
        )
    terms = [*_terms("tally", text, left), *(_turned(term) for term in _terms("tally", text, right))]
    for term in terms:
        if len(term.times) + len(term.over) > 1 or term.over:
            raise NotationNotUnderstood(
                "tally",
                text,
                term.column,
                "a tally only adds and takes away",
                "Multiply by a number written first, as in 3 x bay; work a product of sizes out as a size of its own.",
            )
    if not any(term.times for term in terms):
        raise NotationNotUnderstood(
            "tally", text, 0, "it names no size", "Write it like 3 x bay + 2 x post = overall."
        )
    return Tally(text, tuple(terms))


def parse_expression(text: str) -> Expression:
    """Read '5 x door board', 'overall - 2 x post', 'course x course count' or 'rise / run'.

    Raises
    ------
    NotationNotUnderstood
        With the place, why, and how to write it instead.
    """
    left, right, equals = _sides("sum", text)
    if right is not None:
        raise NotationNotUnderstood(
            "sum",
            text,
            equals,
            "a sum that a size is worked out from has no =",
            "Write only what stands on one side.",
        )
    terms = tuple(_terms("sum", text, left))
    if not _names(terms):
        raise NotationNotUnderstood(
            "sum", text, 0, "it names no size to work it out from", "Write it like 5 x door board."
        )
    return Expression(text, terms)


def _names(terms: Iterable[Term]) -> tuple[SizeName, ...]:
    return tuple(dict.fromkeys(name for term in terms for name in (*term.times, *term.over)))


def _turned(term: Term) -> Term:
    return replace(term, coefficient=-term.coefficient)


class _Piece(NamedTuple):
    """An operand between two signs, and the sign before it ('' at the start of a side)."""

    sign: str
    text: str
    column: int
    quoted: bool


def _sides(what: str, text: str) -> tuple[list[_Piece], list[_Piece] | None, int]:
    pieces = _pieces(what, text)
    equals = [n for n, piece in enumerate(pieces) if piece.sign == "="]
    if len(equals) > 1:
        raise NotationNotUnderstood(
            what,
            text,
            pieces[equals[1]].column,
            "there is a second =",
            "Write one sum at a time, with one = in it.",
        )
    if not equals:
        return pieces, None, 0
    at = equals[0]
    first_right = pieces[at]._replace(sign="")
    return pieces[:at], [first_right, *pieces[at + 1 :]], text.rfind("=", 0, first_right.column)


def _pieces(what: str, text: str) -> list[_Piece]:
    """The operands with the sign before each, quoted labels kept whole."""
    if len(text) > LONGEST_TEXT:
        raise NotationNotUnderstood(what, text, LONGEST_TEXT, "it is too long", "Write it as several.")
    pieces, at, sign = [], 0, ""
    if leading := re.match(r"\s*[-−–]\s+", text):
        at, sign = leading.end(), "-"
    while True:
        at += len(text[at:]) - len(text[at:].lstrip())
        end = _end_of_operand(what, text, at)
        operand = text[at:end].rstrip()
        if not operand or _MISPLACED.match(text, at):
            raise NotationNotUnderstood(
                what,
                text,
                min(at, len(text)),
                "a size or a length is missing here",
                "Write it like 3 x bay + 2 x post.",
            )
        pieces.append(_Piece(sign, operand, at, operand[0] in _QUOTES))
        if not text[end:].strip():
            return pieces
        found = _SIGN.match(text, end)
        if found is None:
            raise NotationNotUnderstood(what, text, end, "a sign is missing after the quotes", _QUOTE_IT)
        sign = {"×": "x", "−": "-", "–": "-"}.get(found[1], found[1])
        at = found.end()


def _end_of_operand(what: str, text: str, at: int) -> int:
    """Where the operand that starts here ends: at a spaced sign that is not in quotes, or at the end."""
    while at < len(text) and text[at] in _QUOTES:
        closing = text.find(_QUOTES[text[at]], at + 1)
        if closing < 0:
            raise NotationNotUnderstood(
                what, text, at, "these quotes are not closed", "Close them after the label."
            )
        at = closing + 1
        if colon := re.compile(r"\s*:\s+").match(text, at):
            at = colon.end()
        elif _SIGN.match(text, at) or not text[at:].strip():
            return at
        else:
            raise NotationNotUnderstood(what, text, at, "something follows the quotes", _QUOTE_IT)
    # A plain subject may come before a quoted label.
    for found in re.compile(r":\s+(?=[\"“„'‘])|" + _SIGN.pattern).finditer(text, at):
        return found.start() if found[1] else _end_of_operand(what, text, found.end())
    return len(text)


def _terms(what: str, text: str, pieces: Sequence[_Piece]) -> list[Term]:
    """Summands of one side: operands joined by x and / belong together."""
    groups: list[list[_Piece]] = []
    for piece in pieces:
        if piece.sign in ("x", "/"):
            groups[-1].append(piece)
        else:
            groups.append([piece])
    return [_term(what, text, group) for group in groups]


def _term(what: str, text: str, group: Sequence[_Piece]) -> Term:
    coefficient = -1.0 if group[0].sign == "-" else 1.0
    times: list[SizeName] = []
    over: list[SizeName] = []
    is_length = False
    for piece in group:
        divides = piece.sign == "/"
        if len(group) > 1 and not piece.quoted and _NUMBER.fullmatch(piece.text):
            number = float(piece.text.replace(",", "."))
            if number == 0:
                raise NotationNotUnderstood(
                    what, text, piece.column, "0 times a size says nothing", "Leave it out."
                )
            coefficient *= 1 / number if divides else number
        elif not piece.quoted and piece.text[0].isdigit():
            if len(group) > 1 and (divides or is_length):
                raise NotationNotUnderstood(
                    what,
                    text,
                    piece.column,
                    "a length stands where a number should",
                    "Note it as a size first.",
                )
            coefficient *= _plain_length_mm(what, text, piece)
            is_length = not _NUMBER.fullmatch(piece.text)
        else:
            (over if divides else times).append(_name(what, text, piece))
    return Term(coefficient, tuple(times), tuple(over), group[0].column, is_length)


def _plain_length_mm(what: str, text: str, piece: _Piece) -> float:
    quote_it = "If it is a label, put it in quotes."
    if _STICKING.search(piece.text):
        raise NotationNotUnderstood(what, text, piece.column, f"'{piece.text}' runs together", _QUOTE_IT)
    try:
        written = parse_length(piece.text)
    except LengthNotUnderstood as unclear:
        raise NotationNotUnderstood(
            what,
            text,
            piece.column,
            f"'{piece.text}' is no length: {unclear.why}",
            f"{unclear.instead} {quote_it}",
        ) from None
    if written.tolerance_mm is not None or written.approximate:
        raise NotationNotUnderstood(
            what,
            text,
            piece.column,
            "a length inside a sum counts as exact",
            "Note it as a size of its own, with its doubt, and name it here.",
        )
    return written.value_mm


def _name(what: str, text: str, piece: _Piece) -> SizeName:
    parts: list[str] = []
    rest, column = piece.text, piece.column
    while rest:
        if rest[0] in _QUOTES:
            closing = rest.index(_QUOTES[rest[0]], 1)
            part, after = rest[1:closing], rest[closing + 1 :]
        else:
            colon = re.search(r":\s+", rest)
            part, after = (rest[: colon.start()], rest[colon.start() :]) if colon else (rest, "")
            if sticking := re.search(r"[=+×]", part):
                raise NotationNotUnderstood(
                    what, text, column + sticking.start(), f"'{sticking[0]}' stands inside a label", _QUOTE_IT
                )
        parts.append(" ".join(part.split()))
        gap = re.match(r"\s*:\s+", after)
        rest_at = len(rest) - len(after) + (gap.end() if gap else 0)
        rest, column = rest[rest_at:], column + rest_at
    if len(parts) > 2 or not all(parts):
        raise NotationNotUnderstood(
            what,
            text,
            piece.column,
            "a size is named by its label, or by a subject, a colon and its label",
            "Write it like Weighbridge hut: door width.",
        )
    return SizeName(parts[-1], parts[0] if len(parts) == 2 else None)
