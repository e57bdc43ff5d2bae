"""The only place that rounds to the doubt and phrases a size, so that all doors say the same words.

The ± shown is the half-width of the 95 % interval, to two figures where the first is 1 or 2, else to
one; the value goes to the same place (JCGM 100:2008, 7.2.6). An interval that reaches further to one
side is shown by its two ends instead. Nothing here is read back: JSON and sums take unrounded numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import ceil, floor, isfinite, log10

from archive.lengths import Quantity, format_feet_inches
from archive.lengths.notation import rounded
from archive.scales import Scale

__all__ = [
    "counted",
    "grade",
    "in_brackets",
    "is_wider",
    "likelihood",
    "listed",
    "model_size",
    "other_system",
    "places",
    "reads",
    "scale",
    "share_list",
    "size",
]

Interval = tuple[float, float]  # the ends of a 95 % interval

# One side may reach this much further than the other, as a share of the half-width, and still be '±'.
UNEVEN = 0.10
_INCH_MM = 25.4
# Steps, inches, and how wide a 95 % interval allows each: whole feet are so much wider than inches that they
# wait until the doubt is a foot either way.
_STEPS_IN = ((24.0, Fraction(12)), *((1 / n, Fraction(1, n)) for n in (1, 2, 4, 8)))
_FINEST_IN = Fraction(1, 16)
_MOST_DECIMALS = 9
_EXACT_DECIMALS = 3  # for a value that has no doubt, or whose doubt nobody knows


def size(quantity: Quantity | str, value: float, interval_95: Interval | None = None) -> str:
    """Return a size with its doubt: '2743 mm ± 3 mm', '1 in 8.0 ± 0.4', '12', '42.0° ± 0.5°'.

    Parameters
    ----------
    quantity : Quantity or str
        'length' (mm), 'count' (1), 'angle' (degrees) or 'slope' (rise over run).
    value : float
        The best figure, in that unit.
    interval_95 : (float, float), optional
        The ends of its 95 % interval. None, or two equal ends, shows no ±.
    """
    kind = Quantity(quantity)
    if kind is Quantity.COUNT:
        return _count(value, interval_95)
    if kind is Quantity.SLOPE:
        return _slope(value, interval_95)
    return _with_doubt(value, interval_95, " mm" if kind is Quantity.LENGTH else "°")


def model_size(value_mm: float, interval_95_mm: Interval | None, at: Scale) -> str:
    """Return a length of the real thing as it is on the model: '63.06 mm ± 0.07 mm'."""
    ends = (
        None if interval_95_mm is None else (at.model_mm(interval_95_mm[0]), at.model_mm(interval_95_mm[1]))
    )
    return size(Quantity.LENGTH, at.model_mm(value_mm), ends)


def ratio(value: float, u_value: float) -> str:
    """Return a proportion of two sizes with its doubt: '2.06 ± 0.04 to 1'."""
    half_width = 1.959963984540054 * u_value
    return f"{_with_doubt(value, (value - half_width, value + half_width), '')} to 1"


def other_system(quantity: Quantity | str, value: float, interval_95: Interval | None = None) -> str:
    """Return a length in feet and inches, '9 ft 0 in'; nothing for what is no length.

    To the nearest foot, inch, 1/2, 1/4, 1/8 or 1/16 in, the finest of them that the doubt allows: the
    step is no wider than the 95 % interval, a foot no wider than half of it. A small length known better than that is in decimal inches.
    """
    if Quantity(quantity) is not Quantity.LENGTH:
        return ""
    half_mm = _half_width(interval_95)
    if interval_95 is not None and _uneven(value, interval_95):
        step = _step_in(half_mm)
        return f"{format_feet_inches(max(interval_95[0], 0.0), step)} to {format_feet_inches(interval_95[1], step)}"
    if 0 < value < _INCH_MM and 0 < half_mm < _INCH_MM / 32:
        return f"{_number(value / _INCH_MM, places(half_mm / _INCH_MM))} in"
    return format_feet_inches(max(value, 0.0), _step_in(half_mm))


def two_figures(quantity: Quantity | str, amount: float) -> str:
    """Return the width of a doubt, or what a sum leaves over, to two figures."""
    return size(quantity, float(f"{amount:.2g}"))


def doubt(quantity: Quantity | str, half_width: float) -> str:
    """Return a doubt by itself: '± 4.7 mm'; that of a slope in percent, for '1 in n' is no amount."""
    if Quantity(quantity) is Quantity.SLOPE:
        return f"± {_exact(float(f'{half_width * 100:.2g}'))} %"
    return f"± {two_figures(quantity, half_width)}"


def is_wider(half_width: float, allowed: float) -> bool:
    """Return whether a doubt is wider than what would do, both to the two figures in which people see them."""
    return float(f"{half_width:.2g}") > float(f"{allowed:.2g}")


def scale(at: Scale) -> str:
    """Return a scale for people: '1:43.5', '7 mm/ft, 1:43.54'."""
    return at.text


def likelihood(probability: float) -> str:
    """Return a probability in words: very likely from 0.9, likely from 0.5, possible from 0.05, else unlikely."""
    for least, word in ((0.9, "very likely"), (0.5, "likely"), (0.05, "possible")):
        if probability >= least:
            return word
    return "unlikely"


def reads(error_mm: float, half_width_mm: float, near_mm: float, at: Scale | None = None) -> str:
    """Return how an instrument reads: 'reads 7 mm long ± 6 mm near 2.7 m; at 1:43.5 that is 0.16 mm'.

    `half_width_mm` is that of the 95 % interval; an error within it is one that the checks do not show.
    """
    size_mm = abs(error_mm)
    shown = size(Quantity.LENGTH, size_mm, (size_mm - half_width_mm, size_mm + half_width_mm))
    figure, _, doubt = shown.partition(" ± ")
    near = f"near {_number(near_mm / 1000, 1)} m" if near_mm >= 1000 else f"near {_number(near_mm, 0)} mm"
    if size_mm > half_width_mm:
        said = f"reads {figure} {'long' if error_mm > 0 else 'short'}{f' ± {doubt}' if doubt else ''} {near}"
        told_mm = size_mm
    else:
        said = f"reads right {near}, as far as that can be told: to ± {doubt or figure}"
        told_mm = half_width_mm
    if at is None:
        return said
    return f"{said}; at {at.text} that is {_number(at.model_mm(told_mm), max(places(at.model_mm(told_mm)), 0))} mm"


def grade(known_how: str) -> str:
    """Return how a size is known, with a word of help where people would stumble."""
    return {"from a sister": "from a sister (another example of the type)"}.get(known_how, known_how)


_OF_ITSELF = {
    "rounding": "rounding of the reading",
    "tolerance": "the ± written with it",
    "written limit": "the ± written with it",
    "about": "a figure that is only about right",
    "sister": "how far examples of the type differ",
    "unevenness": "unevenness of what was counted",
    "reference": "the length that it was checked against",
    "repeats": "scatter of the repeated readings",
    "mark": "placing of the marks",
    "lens": "the lens",
    "focal length": "the focal length",
    "tilt": "tilt that nobody saw",
    "depth": "how far it stands in front or behind",
    "principal point": "where the middle of the picture lies",
    "facing": "which of its two answers is meant",
    "curvature": "curvature of the sums",
    "disagreement": "readings that lie apart",
}
_OF_SOMETHING = {"offset": "offset", "scale": "scale error", "day": "error of the day", "scatter": "scatter"}


def listed(words: Sequence[str]) -> str:
    """Return names or clauses as one phrase: 'a', 'a and b', 'a, b and c'."""
    *others, last = words
    return f"{', '.join(others)} and {last}" if others else last


def in_brackets(*said: str | None) -> str:
    """Return what is said of a thing to be put behind it: ' (front, mirrored)', or nothing where nothing is."""
    parts = ", ".join(part for part in said if part)
    return f" ({parts})" if parts else ""


def counted(number: int, one: str, many: str) -> str:
    """Return '1 photo', '3 photos'."""
    return f"1 {one}" if number == 1 else f"{number} {many}"


def share_list(named: Iterable[tuple[str, float]]) -> str:
    """Return causes with their shares as one phrase, largest first as they come."""
    return ", ".join(f"{share * 100:.0f} % {phrase}" for phrase, share in named)


def causes(parts: Iterable[tuple[str, str, float]], *, most: int = 4) -> tuple[tuple[str, float], ...]:
    """Return what the doubt comes from, in words, each with its share (0 to 1), the largest first.

    Parameters
    ----------
    parts : iterable of (kind, whose, share)
        Kind of source ('rounding', 'offset'), the name of what it belongs to ('the tape'; '' for
        nothing) and its share of the variance, 0 to 1.
    most : int
        How many are named; the others are summed as 'the rest'. Shares below 1 % are not named.
    """
    summed: dict[str, float] = {}
    for kind, whose, share in parts:
        phrase = _source(kind, whose)
        summed[phrase] = summed.get(phrase, 0.0) + share
    ranked = sorted(summed.items(), key=lambda part: -part[1])
    named = [(phrase, share) for phrase, share in ranked[:most] if share >= 0.01]
    rest = sum(summed.values()) - sum(share for _, share in named)
    if rest >= 0.01:
        named.append(("the rest", rest))
    return tuple(named)


def _source(kind: str, whose: str) -> str:
    if kind in _OF_SOMETHING and whose:
        return f"{whose}'s {_OF_SOMETHING[kind]}"
    return _OF_ITSELF.get(kind, _OF_SOMETHING.get(kind, kind))


def places(half_width: float) -> int:
    """Return to how many decimals a number with this doubt is shown; negative for tens, hundreds."""
    if not (half_width > 0 and isfinite(half_width)):
        return _EXACT_DECIMALS
    first_figure_at = floor(log10(half_width))
    leading = round(half_width / 10.0**first_figure_at, 1)
    if leading >= 10:
        first_figure_at, leading = first_figure_at + 1, leading / 10
    return min(1 - first_figure_at if leading < 3 else -first_figure_at, _MOST_DECIMALS)


def _with_doubt(value: float, interval_95: Interval | None, unit: str) -> str:
    half = _half_width(interval_95)
    if interval_95 is None or not half > 0:
        return f"{_exact(value)}{unit}"
    if not isfinite(half):
        return f"{_exact(value)}{unit}, and nobody knows how surely"
    at = places(half)
    if _uneven(value, interval_95):
        low, high = (_number(end, at) for end in interval_95)
        return f"{low}{'°' if unit == '°' else ''} to {high}{unit}"
    return f"{_number(value, at)}{unit} ± {_number(half, at)}{unit}"


def _count(value: float, interval_95: Interval | None) -> str:
    if interval_95 is None or _half_width(interval_95) < 0.5:
        return _number(value, 0)
    low, high = interval_95
    if _uneven(value, interval_95):
        return f"{_number(floor(low), 0)} to {_number(ceil(high), 0)}"
    return f"{_number(value, 0)} ± {_number((high - low) / 2, 0)}"


def _slope(value: float, interval_95: Interval | None) -> str:
    """Phrase rise over run as '1 in n'; an interval that holds the level has no n at that end."""
    if interval_95 is None or not _half_width(interval_95) > 0:
        return f"1 in {_exact(1 / value)}" if value > 0 else "level"
    low, high = interval_95
    if low <= 0 or value <= 0:
        return f"level to 1 in {_number(1 / high, places(1 / high / 10))}" if high > 0 else "level"
    run, runs = 1 / value, (1 / high, 1 / low)
    at = places(_half_width(runs))
    if _uneven(run, runs):
        return f"1 in {_number(runs[0], at)} to 1 in {_number(runs[1], at)}"
    return f"1 in {_number(run, at)} ± {_number(_half_width(runs), at)}"


def _half_width(interval_95: Interval | None) -> float:
    return 0.0 if interval_95 is None else (interval_95[1] - interval_95[0]) / 2


def _uneven(value: float, interval_95: Interval) -> bool:
    below, above = value - interval_95[0], interval_95[1] - value
    # The least bit more, so that ends which float sums made uneven stay even.
    return abs(above - below) > UNEVEN * _half_width(interval_95) + 1e-9 * abs(value)


def _step_in(half_width_mm: float) -> Fraction:
    """Return the widest step, inches, that the interval allows; 1/16 in at the finest."""
    width_in = 2 * half_width_mm / _INCH_MM * (1 + 1e-9)  # a width of one inch takes whole inches
    return next((step for least_in, step in _STEPS_IN if width_in >= least_in), _FINEST_IN)


def _exact(value: float) -> str:
    text = _number(value, _EXACT_DECIMALS)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _number(value: float, decimals: int) -> str:
    """Return the number to that place, five and more figures in groups of three."""
    text = rounded(value, decimals)
    whole, point, part = text.partition(".")
    if len(whole.removeprefix("-")) >= 5:
        whole = f"{int(whole):,}".replace(",", " ")
    return whole + point + part
