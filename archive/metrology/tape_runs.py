"""A tape's run as people write it, and the sizes that stand between its positions.

    0; door left 0.42 m; [door width /over]; door right 1.18; end 2.73

Positions are read from one zero, the first unit serves all, and a name in brackets is that of the
size between its neighbours; without one it is called 'A to B'.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from archive.errors import LengthNotUnderstood, NotationNotUnderstood
from archive.lengths import WrittenLength, parse_length
from archive.metrology.readings import InstrumentError, reading
from archive.metrology.sources import Doubtful, linear

SPANS = ("over", "between", "centres", "plain")
LONGEST_TEXT = 4000

_EXAMPLE = "Write it like 0; door left 0.42 m; [door width /over]; door right 1.18; end 2.73."
_BARE = re.compile(r"\d+(?:[.,]\d+)?")
_ONE_UNIT = re.compile(r"[^A-Za-zμµ'\"′″’”]*([A-Za-zμµ'\"′″’”]+)\.?(?:\s*±.*)?")
_QUOTED = re.compile(r"\"([^\"]+)\"\s+|“([^”]+)”\s+")
_START = "start"


@dataclass(frozen=True, slots=True)
class RunPosition:
    """A named place along the tape, as it was read. The hooked zero is exact and has no reading."""

    label: str
    as_written: str
    written: WrittenLength | None  # None for the hooked zero
    column: int

    @property
    def value_mm(self) -> float:
        """Distance from the tape's zero, mm."""
        return self.written.value_mm if self.written else 0.0


@dataclass(frozen=True, slots=True)
class RunSize:
    """The size between two neighbouring positions, by their places in the run."""

    label: str
    span: str | None  # None where the writing says nothing of it
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Run:
    """Positions along one tape, in order, and the sizes between neighbours."""

    as_written: str
    positions: tuple[RunPosition, ...]
    sizes: tuple[RunSize, ...]


@dataclass(frozen=True, slots=True)
class _Piece:
    text: str
    column: int


def parse_run(text: str) -> Run:
    """Read a run as it was written down.

    Raises
    ------
    NotationNotUnderstood
        With the place: no unit anywhere, a position without a name or a number, one that runs backwards,
        brackets that do not stand between two positions, two sizes with one name.
    """
    if len(text) > LONGEST_TEXT:
        raise NotationNotUnderstood("run", text, LONGEST_TEXT, "it is too long", "Write it as several runs.")
    positions: list[RunPosition] = []
    names: dict[int, tuple[str, str | None, int]] = {}  # of the size that ends at this position
    bracket: _Piece | None = None
    unit = _first_unit(text)
    for piece in _pieces(text):
        if piece.text.startswith("["):
            if not positions or bracket is not None:
                raise NotationNotUnderstood(
                    "run", text, piece.column, "this name does not stand between two positions", _EXAMPLE
                )
            bracket = piece
            continue
        positions.append(_position(text, piece, unit, first=not positions))
        if bracket is not None:
            names[len(positions) - 1] = (*_size_name(text, bracket), bracket.column)
            bracket = None
    if bracket is not None:
        raise NotationNotUnderstood("run", text, bracket.column, "no position follows this name", _EXAMPLE)
    if len(positions) < 2:
        raise NotationNotUnderstood("run", text, len(text), "a run has two positions at least", _EXAMPLE)
    _refuse_backwards(text, positions)
    return Run(text, tuple(positions), _sizes(text, positions, names))


def run_sizes(
    run: Run,
    *,
    of_record: str,
    instrument: InstrumentError | None = None,
    resolution_mm: float | None = None,
) -> tuple[Doubtful, ...]:
    """The sizes of a run, in its order, mm: neighbours share a position's rounding, all share the tape.

    Parameters
    ----------
    run : Run
    of_record : str
        Public id of the run, whose roundings are told apart by the position's number.
    instrument : InstrumentError, optional
        What is known of the tape. Its offset is that of the hook: it goes out between two positions.
    resolution_mm : float, optional
        The step read to, where the instrument says it; else the digits of each position do.
    """
    positions = [
        _doubtful(position, n, of_record, instrument, resolution_mm)
        for n, position in enumerate(run.positions)
    ]
    return tuple(linear([(1.0, positions[size.end]), (-1.0, positions[size.start])]) for size in run.sizes)


def _doubtful(
    position: RunPosition,
    number: int,
    of_record: str,
    instrument: InstrumentError | None,
    resolution_mm: float | None,
) -> Doubtful:
    written = position.written
    if written is None:
        return Doubtful(0.0, {})
    return reading(
        written.value_mm,
        of_record=of_record,
        component=str(number),
        resolution_mm=written.resolution_mm if resolution_mm is None else resolution_mm,
        tolerance_mm=written.tolerance_mm,
        approximate=written.approximate,
        instrument=instrument,
    )


def _pieces(text: str) -> Iterator[_Piece]:
    for found in re.finditer(r"[^;]+", text):
        stripped = found[0].strip()
        if stripped:
            yield _Piece(stripped, found.start() + len(found[0]) - len(found[0].lstrip()))


def _first_unit(text: str) -> str | None:
    """The unit of the first position that carries one by itself, as written; it serves the bare ones."""
    for piece in _pieces(text):
        if piece.text.startswith("["):
            continue
        _, value = _parted(piece.text, None)
        if value and not _BARE.fullmatch(value) and (found := _ONE_UNIT.fullmatch(value)):
            return found[1]
    return None


def _parted(piece: str, unit: str | None) -> tuple[str, str]:
    """Label and value: the value is the longest end of the text that reads as a length ('' if none does)."""
    after_quotes = _QUOTED.match(piece)
    if after_quotes:
        return after_quotes[1] or after_quotes[2], piece[after_quotes.end() :].strip()
    if piece[:1].isdigit() and _reads(piece, unit):
        return "", piece
    for found in re.finditer(r"\s+", piece):
        if _reads(piece[found.end() :], unit):
            return " ".join(piece[: found.start()].split()), piece[found.end() :]
    return piece, ""


def _reads(value: str, unit: str | None) -> bool:
    try:
        parse_length(_with_unit(value, unit))
    except LengthNotUnderstood:
        return False
    return True


def _with_unit(value: str, unit: str | None) -> str:
    return f"{value} {unit}" if unit and _BARE.fullmatch(value) else value


def _position(text: str, piece: _Piece, unit: str | None, *, first: bool) -> RunPosition:
    label, value = _parted(piece.text, unit)
    column = piece.column + len(piece.text) - len(value)
    if not value:
        raise NotationNotUnderstood(
            "run", text, piece.column, f"'{piece.text}' ends in no position", _EXAMPLE
        )
    bare = _BARE.fullmatch(value) is not None
    if first and bare and not float(value.replace(",", ".")):
        return RunPosition(label or _START, value, None, piece.column)
    if bare and unit is None:
        raise NotationNotUnderstood(
            "run", text, column, "no unit serves this figure", "Give the first one a unit, as in 0.42 m."
        )
    try:
        written = parse_length(_with_unit(value, unit))
    except LengthNotUnderstood as unclear:
        raise NotationNotUnderstood(
            "run", text, column, f"'{value}' is no length: {unclear.why}", unclear.instead
        ) from None
    if first and written.value_mm == 0:
        return RunPosition(label or _START, value, None, piece.column)
    if not label:
        raise NotationNotUnderstood("run", text, piece.column, "this position has no name", _EXAMPLE)
    return RunPosition(label, value, written, piece.column)


def _size_name(text: str, bracket: _Piece) -> tuple[str, str | None]:
    found = re.fullmatch(r"\[([^\[\]/]*?)\s*(?:/\s*(\w+)\s*)?\]", bracket.text)
    label = " ".join(found[1].split()) if found else ""
    if not found or not label:
        raise NotationNotUnderstood("run", text, bracket.column, f"'{bracket.text}' names no size", _EXAMPLE)
    span = found[2]
    if span is not None and span not in SPANS:
        raise NotationNotUnderstood(
            "run",
            text,
            bracket.column + bracket.text.rindex("/"),
            f"'{span}' is no span",
            f"It is one of {', '.join(SPANS)}.",
        )
    return label, span


def _refuse_backwards(text: str, positions: list[RunPosition]) -> None:
    for before, after in pairwise(positions):
        if after.value_mm <= before.value_mm:
            raise NotationNotUnderstood(
                "run",
                text,
                after.column,
                f"'{after.label}' at {after.as_written} does not lie beyond '{before.label}' at {before.as_written}",
                "Look at your note: one of the two was misread or is in the wrong place.",
            )


def _sizes(
    text: str, positions: list[RunPosition], names: dict[int, tuple[str, str | None, int]]
) -> tuple[RunSize, ...]:
    sizes: dict[tuple[str, str | None], RunSize] = {}
    for end in range(1, len(positions)):
        plain = f"{positions[end - 1].label} to {positions[end].label}"
        label, span, column = names.get(end, (plain, None, positions[end].column))
        if (label.casefold(), span) in sizes:
            raise NotationNotUnderstood(
                "run",
                text,
                column,
                f"two sizes of this run would be called '{label}'",
                "Number the positions, or name the size between them in brackets.",
            )
        sizes[label.casefold(), span] = RunSize(label, span, end - 1, end)
    return tuple(sizes.values())
