"""Positions read along one hooked tape from one zero, and the lengths between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from archive.errors import CannotEstimate
from archive.metrology.checked import finite_list, not_negative, refuse_wide
from archive.metrology.readings import InstrumentError, reading
from archive.metrology.sources import Doubtful, Source, covariance, linear

Position = int | Literal["hook"]


@dataclass(frozen=True, slots=True)
class Difference:
    """The length from one position to another, mm."""

    from_to: tuple[Position, Position]
    value: float
    u: float


@dataclass(frozen=True, slots=True)
class Sum:
    """The sum of the asked lengths, mm."""

    value: float
    u: float


@dataclass(frozen=True, slots=True)
class RunningDimensions:
    """Two lengths of one run, how they are correlated (-1 to 1), and their sum."""

    differences: tuple[Difference, Difference]
    correlation: float
    sum: Sum


def running_dimensions(
    positions_mm: Sequence[float],
    resolution_mm: float,
    asked_differences: Sequence[tuple[Position, Position]],
    u_scale_rel: float = 0.0,
    u_hook_mm: float = 0.0,
) -> RunningDimensions:
    """Two lengths between positions of one tape, with what they share.

    Parameters
    ----------
    positions_mm : sequence of float, shape (N,), N >= 1
        Positions read from the tape's end, mm, in order along the tape.
    resolution_mm : float
        The step read to, mm; each position is rounded by itself.
    asked_differences : two pairs (from, to)
        Positions counted from 0, or 'hook': the end of the tape itself, exactly 0.
    u_scale_rel, u_hook_mm : float
        Standard uncertainty of the tape's scale (no unit) and of its hook (mm), common to all positions.

    Returns
    -------
    RunningDimensions

    Raises
    ------
    CannotEstimate
        'point-order' for a position that is not beyond the one before; 'bad-input' for a position that is
        not there, a difference from a position to itself, or other than two differences;
        'bad-uncertainty' for a negative u or step; 'too-few-points' without a position;
        'doubt-too-large' where u is more than a quarter of a length.

    Notes
    -----
    true position = reading (1 + scale) + hook + rounding (JCGM 100:2008, 5.2: shared causes are
    carried by name).
    """
    positions = finite_list("positions", positions_mm, at_least=1)
    _refuse_backwards(positions)
    step = not_negative("The resolution", resolution_mm)
    tape = InstrumentError(
        Doubtful(0.0, {Source("offset", "tape"): not_negative("The u of the hook", u_hook_mm)}),
        Doubtful(0.0, {Source("scale", "tape"): not_negative("The u of the scale", u_scale_rel)}),
    )
    read = [
        reading(position, of_record=str(n), resolution_mm=step, instrument=tape)
        for n, position in enumerate(positions)
    ]
    if len(asked_differences) != 2:
        raise CannotEstimate(
            "bad-input", f"Two lengths are asked for at a time, not {len(asked_differences)}."
        )
    first, second = (_difference(read, pair) for pair in asked_differences)
    total = linear([(1.0, first), (1.0, second)])
    for length in (first, second):
        refuse_wide(length.value, length.standard_uncertainty)
    product = first.standard_uncertainty * second.standard_uncertainty
    pairs = [(start, end) for start, end in asked_differences]
    return RunningDimensions(
        differences=(
            Difference(pairs[0], first.value, first.standard_uncertainty),
            Difference(pairs[1], second.value, second.standard_uncertainty),
        ),
        correlation=covariance(first, second) / product if product else 0.0,
        sum=Sum(total.value, total.standard_uncertainty),
    )


def _difference(read: Sequence[Doubtful], pair: Sequence[Position]) -> Doubtful:
    if len(pair) != 2:
        raise CannotEstimate("bad-input", f"A length lies between two positions, and {len(pair)} were given.")
    if pair[0] == pair[1]:
        raise CannotEstimate(
            "bad-input", "A length was asked for from a position to itself. Name two positions."
        )
    start, end = (_position(read, which) for which in pair)
    return linear([(1.0, end), (-1.0, start)])


def _position(read: Sequence[Doubtful], which: Position) -> Doubtful:
    if which == "hook":
        return Doubtful(0.0, {})
    if isinstance(which, bool) or not isinstance(which, int) or not 0 <= which < len(read):
        raise CannotEstimate(
            "bad-input",
            f"There is no position {which!r}: the run has {len(read)}, counted from 0, and its 'hook'.",
        )
    return read[which]


def _refuse_backwards(positions: Sequence[float]) -> None:
    if positions[0] < 0:
        raise CannotEstimate("point-order", f"Position 0 ({positions[0]:g} mm) lies before the tape's zero.")
    for n, (before, after) in enumerate(pairwise(positions), start=1):
        if after <= before:
            raise CannotEstimate(
                "point-order",
                f"Position {n} ({after:g} mm) is not beyond the one before it ({before:g} mm), "
                "so one of the two was misread.",
            )
