"""Scales of models: what was written -> the exact ratio of the real thing to the model.

'1:43.5', '7mm/ft', '1/4 in to the foot' and names such as 'OO' or 'N (GB)' are read by `parse_scale`;
the named ones lie in `table.toml` with their sources. A ratio is never rounded: 7 mm to the foot is
304.8/7, and only its name is '1:43.5'.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path

from archive.errors import LengthNotUnderstood, ScaleNotUnderstood
from archive.lengths import parse_length
from archive.lengths.notation import format_inches
from archive.lengths.tokens import EXAMPLES, Token, Unclear, tokens_of
from archive.lengths.units import INCH, INTERNATIONAL_FOOT_MM, UNIT_CALLED

__all__ = ["NamedScale", "Scale", "named_scales", "parse_scale"]

INSTEAD = "Write it like 1:43.5, 7 mm/ft, 1/4 in to the foot, OO or N (GB)."

# '7 mm to the foot', '7mm/ft', '1/4" = 1 ft': the rightmost sign parts the model from the real thing.
_FOR_EVERY = re.compile(r"\s*(?:=|/|:|\bto\b|\bper\b|\bequals?\b)\s*(?:(?:the|a|one)\s+)?", re.IGNORECASE)
_SPOKEN = re.compile(r"^(?:scale|gauge)\s+|\s+scale$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class NamedScale:
    """One row of the table; `ratio` is real over model, `gauge_mm` the model track for standard gauge."""

    name: str
    names: tuple[str, ...]
    ratio: Fraction
    traded: str  # the rounded name it is sold under, '1:76'
    gauge_mm: float | None
    used_for: str
    source: str


@dataclass(frozen=True, slots=True)
class Scale:
    """The scale of a model. `ratio` is real over model and exact: 87 for 1:87, 304.8/7 for 7 mm to the foot."""

    name: str
    ratio: Fraction
    as_written: str
    source: str = "as written"
    traded: str = ""
    gauge_mm: float | None = None

    def model_mm(self, real_mm: float) -> float:
        """Return how long `real_mm` of the real thing is on the model, mm."""
        return real_mm * self.ratio.denominator / self.ratio.numerator

    def real_mm(self, model_mm: float) -> float:
        """Return how long `model_mm` of the model is on the real thing, mm."""
        return model_mm * self.ratio.numerator / self.ratio.denominator

    @property
    def text(self) -> str:
        """'1:43.5', 'OO, 1:76.2': the name and the ratio, once where they are the same."""
        return self.name if self.name == self.ratio_text else f"{self.name}, {self.ratio_text}"

    @property
    def ratio_text(self) -> str:
        """'1:43.5', or '1:43.54' for 304.8/7: to at most two decimals, for people only."""
        return f"1:{_trimmed(self.ratio)}"


@cache
def named_scales() -> tuple[NamedScale, ...]:
    """Return the scales that have a name, the largest models first."""
    table = tomllib.loads(Path(__file__).with_name("table.toml").read_text(encoding="utf-8"))
    return tuple(
        NamedScale(
            name=row["name"],
            names=tuple(row["names"]),
            ratio=_fraction(row["ratio"]),
            traded=row.get("traded", ""),
            gauge_mm=row.get("gauge_mm"),
            used_for=row["used_for"],
            source=row["source"],
        )
        for row in table["scale"]
    )


def parse_scale(text: str) -> Scale:
    """Return the scale that `text` writes.

    Parameters
    ----------
    text : str
        A ratio ('1:43.5', '1/87', '1 : 43,5'), a length for a foot or any other length ('7mm/ft',
        '7 mm to the foot', '1/4" = 1 ft', '10 mm to 1 m'), millimetres or inches alone, which are for
        a foot ('7 mm'), or a name ('OO', 'H0', 'N (GB)', 'TT:120').

    Raises
    ------
    ScaleNotUnderstood
        If it is none of these, or a name that stands for several scales, which are then listed.
    """
    spoken = _SPOKEN.sub("", text.strip()) if len(text) <= 200 else ""
    if not spoken:
        raise ScaleNotUnderstood(
            text, "it is empty or far too long" if text else "nothing is written there", INSTEAD
        )
    scale = _by_name(text, spoken) or _by_ratio(text, spoken) or _by_lengths(text, spoken)
    if scale is None:
        raise ScaleNotUnderstood(text, "it is neither a ratio nor a scale by name", INSTEAD)
    return scale


def _by_name(text: str, spoken: str) -> Scale | None:
    key = _key(spoken)
    rows = [row for row in named_scales() if key in {_key(name) for name in (row.name, *row.names)}]
    if len(rows) > 1:
        listed = "; ".join(_from_row(row, text).text for row in rows)
        raise ScaleNotUnderstood(
            text, f"it is the name of several scales ({listed})", "Write the ratio of yours."
        )
    return _from_row(rows[0], text) if rows else None


def _key(name: str) -> str:
    return re.sub(r"\s+", "", name).casefold()


def _from_row(row: NamedScale, text: str) -> Scale:
    return Scale(row.name, row.ratio, text, row.source, row.traded, row.gauge_mm)


def _by_ratio(text: str, spoken: str) -> Scale | None:
    tokens = _tokens(text, spoken)
    kinds = [token.kind for token in tokens]
    if kinds == ["number"]:
        raise ScaleNotUnderstood(
            text, "a number alone may be many things", f"Write 1:{spoken} if that is the ratio."
        )
    if kinds == ["fraction"]:
        model, real = (Fraction(part) for part in tokens[0].text.split("/"))
    elif kinds in (["number", kind, "number"] for kind in ("colon", "slash", "to")):
        model, real = _number(tokens[0]), _number(tokens[2])
    else:
        return None
    if model <= 0 or real <= 0:
        raise ScaleNotUnderstood(text, "a scale divides by more than nothing", INSTEAD)
    ratio = real / model
    return Scale(f"1:{_trimmed(ratio, 4)}", ratio, text)


def _tokens(text: str, spoken: str) -> list[Token]:
    try:
        return tokens_of(spoken)
    except Unclear as unclear:
        instead = INSTEAD if unclear.instead == EXAMPLES else unclear.instead
        raise ScaleNotUnderstood(text, unclear.why, instead) from None


def _number(token: Token) -> Fraction:
    assert token.number is not None, "a number carries its value"
    return token.number.value


def _by_lengths(text: str, spoken: str) -> Scale | None:
    """Read 'so much for so much'; a length alone is for a foot."""
    model_text, real_mm = spoken, INTERNATIONAL_FOOT_MM
    for sign in reversed(list(_FOR_EVERY.finditer(spoken))):
        below = spoken[sign.end() :].strip()
        unit = UNIT_CALLED.get(below.casefold().rstrip("."))
        if unit is not None or (_has_unit(below) and _has_unit(spoken[: sign.start()])):
            model_text = spoken[: sign.start()]
            real_mm = unit.mm if unit is not None else _length(text, below)
            break
    if (
        ":" in model_text
        or not _has_unit(model_text)
        or not any(character.isnumeric() for character in model_text)
    ):
        return None
    model_mm = _length(text, model_text)
    if model_mm <= 0 or real_mm <= 0:
        raise ScaleNotUnderstood(text, "a scale divides by more than nothing", INSTEAD)
    ratio = real_mm / model_mm
    if real_mm == INTERNATIONAL_FOOT_MM:
        for row in named_scales():
            if row.ratio == ratio:
                return replace(_from_row(row, text), name=_for_a_foot(model_mm, model_text))
    return Scale(f"1:{_trimmed(ratio, 4)}", ratio, text)


def _has_unit(text: str) -> bool:
    return any(character.isalpha() or character in "'′’\"″”" for character in text)


def _for_a_foot(model_mm: Fraction, model_text: str) -> str:
    metric = any(token.unit is not None and token.unit.metric for token in tokens_of(model_text))
    if metric:
        return f"{_trimmed(model_mm, 4)} mm/ft"
    return f"{format_inches(model_mm / INCH.mm)} in/ft"


def _length(text: str, part: str) -> Fraction:
    try:
        length = parse_length(part)
    except LengthNotUnderstood as refused:
        raise ScaleNotUnderstood(text, refused.why, INSTEAD) from None
    if length.tolerance_mm is not None or length.approximate:
        raise ScaleNotUnderstood(text, "a scale is exact, and no range or doubt belongs to it", INSTEAD)
    # Written lengths are short decimals or inch fractions of 25.4: the nearest simple fraction is the exact one.
    return Fraction(length.value_mm).limit_denominator(10**6)


def _fraction(text: str) -> Fraction:
    above, _, below = text.partition("/")
    return Fraction(above) / Fraction(below or "1")


def _trimmed(ratio: Fraction, decimals: int = 2) -> str:
    return f"{float(ratio):.{decimals}f}".rstrip("0").rstrip(".") if ratio >= 1 else f"{float(ratio):.4g}"
