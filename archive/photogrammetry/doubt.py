"""Carry the doubt of marks, known sizes, lens and camera into a size: to first order, or by Monte Carlo.

First order with numerical derivatives (JCGM 100:2008, 5.1.2 and 5.1.4); Monte Carlo (JCGM 101:2008) where
first order is doubtful. Either way all varied inputs go through the method at once, as one batch.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite, isinf, sqrt
from typing import Literal, NoReturn

import numpy as np
from scipy.special import ndtri, stdtrit

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful, Source
from archive.photogrammetry.checks import LARGEST_RELATIVE_U
from archive.photogrammetry.marks import Array, Lies, Mark, Shot, coordinates

Solve = Callable[[Array, Array], Array]
"""A method on a batch: marks (B, N, 2) px without distortion, numbers (B, K) -> (B,) of the size, NaN where none."""

RELATIVE_U_FOR_FIRST_ORDER = 0.03
AGREEMENT_OF_ORDERS = 0.05
STEP = 0.1
BATCH = 4096
NORMAL_95 = float(ndtri(0.975))


@dataclass(frozen=True, slots=True)
class Caution:
    """Something the reader of a size must know; the code is stable, the message is for people."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Solved:
    """A number, what it leans on, and how sure one may be of it; in the number's own unit."""

    number: Doubtful
    interval_95: tuple[float, float]
    method: Literal["jacobian", "monte carlo"]
    first_order_u: float


@dataclass(frozen=True, slots=True)
class Derived:
    """A size worked out from a photo, mm of the real thing.

    `size` carries the named sources; their sensitivities give exactly the standard uncertainty that is
    reported, also where Monte Carlo found more than first order (a source of kind 'curvature' then holds
    the difference). `diagnostics` are numbers for the curious, units in their names.
    """

    size: Doubtful
    interval_95_mm: tuple[float, float]
    method: Literal["jacobian", "monte carlo"]
    diagnostics: Mapping[str, float] = field(default_factory=dict)
    warnings: tuple[Caution, ...] = ()

    @property
    def value_mm(self) -> float:
        """The size, mm."""
        return self.size.value

    @property
    def standard_uncertainty_mm(self) -> float:
        """One standard uncertainty, mm."""
        return self.size.standard_uncertainty

    def share_of(self, kind: str) -> float:
        """Share of the variance that sources of one kind hold, 0 to 1."""
        return sum(share for source, share in self.size.shares() if source.kind == kind)


class Inputs:
    """All inputs of a method as one vector with a matrix of sensitivities to independent sources."""

    def __init__(self, marks: Sequence[Mark], numbers: Sequence[Doubtful], shot: Shot) -> None:
        lens = shot.lens.numbers if shot.lens else ()
        self._lens = shot.lens
        self._n_marks, self._n_numbers = len(marks), len(numbers)
        scalars = (*numbers, *lens)
        self.at = np.concatenate([coordinates(marks).ravel(), [number.value for number in scalars]])
        self._columns: dict[Source, int] = {}
        entries: list[tuple[int, int, float]] = []
        for i, mark in enumerate(marks):
            for axis, source in enumerate(mark.sources):
                entries.append((2 * i + axis, self._column(source), mark.sigma_px))
        for k, number in enumerate(scalars):
            for source, s in number.sensitivities.items():
                if s:
                    entries.append((2 * self._n_marks + k, self._column(source), s))
        self.sensitivities = np.zeros((len(self.at), len(self._columns)))
        for row, column, s in entries:
            self.sensitivities[row, column] = s

    def _column(self, source: Source) -> int:
        return self._columns.setdefault(source, len(self._columns))

    @property
    def sources(self) -> tuple[Source, ...]:
        """The independent sources, in the order of the columns."""
        return tuple(self._columns)

    def undistorted(self, x: Array) -> tuple[Array, Array]:
        """Split input vectors (B, M) into marks without distortion (B, N, 2) and numbers (B, K)."""
        px = x[:, : 2 * self._n_marks].reshape(len(x), self._n_marks, 2)
        numbers = x[:, 2 * self._n_marks : 2 * self._n_marks + self._n_numbers]
        if self._lens is not None:
            px = self._lens.straightened(px, x[:, 2 * self._n_marks + self._n_numbers :])
        return px, numbers

    def split_centre(self) -> tuple[Array, Array]:
        """The inputs as they stand, as a batch of one: marks (1, N, 2) without distortion, numbers (1, K)."""
        return self.undistorted(self.at[None])

    def solve(self, method: Solve, x: Array) -> Array:
        """Run the method on input vectors (B, M), batch by batch so that memory stays bounded."""
        parts = [method(*self.undistorted(x[i : i + BATCH])) for i in range(0, len(x), BATCH)]
        return np.concatenate(parts)


def carry(
    method: Solve,
    marks: Sequence[Mark],
    numbers: Sequence[Doubtful],
    shot: Shot,
    *,
    target: Sequence[Mark] = (),
    second_order: str = "",
    far_outside: bool = False,
    least_scale: float = 0.0,
) -> Solved:
    """Solve, with first-order doubt from one batch of central differences, or by Monte Carlo where that is doubtful.

    Parameters
    ----------
    method : Solve
        Maps marks (B, N, 2) px without distortion and numbers (B, K) to the size (B,).
    marks, numbers
        N marks and K numbers, each with its own sources; one source met twice is one source.
    shot : Shot
        Lens, seed and draws.
    target : two marks
        The ends of the asked length; they tell how many px a worn edge's mm are.
    second_order : str
        Kind of source ('tilt') whose second-order term is added to the variance, cross terms included
        (JCGM 100:2008, 5.1.2 note); the value stays where it is.
    far_outside : bool
        Whether the size lies so far outside what is known that first order is not to be trusted.
    least_scale : float
        What the doubt is compared with where the value itself is smaller (a position may be 0).

    Raises
    ------
    MarksNotUsable
        'no-solution' where the inputs as they stand have none, 'doubt-too-large' over 25 % of the value.
    """
    inputs = Inputs(_with_worn_edges(method, marks, numbers, shot, target), numbers, shot)
    n = len(inputs.sources)
    steps = STEP * np.concatenate([np.zeros((1, n)), np.eye(n), -np.eye(n)])
    results = inputs.solve(method, inputs.at + steps @ inputs.sensitivities.T)
    value, up, down = float(results[0]), results[1 : n + 1], results[n + 1 :]
    if not isfinite(value):
        raise MarksNotUsable(
            "no-solution",
            "No real thing could look like these marks; check each against the photo, and their order.",
        )
    first = (up - down) / (2 * STEP)
    if not np.all(np.isfinite(first)):
        _too_large()
    first_u = sqrt(float(first @ first))
    own_curvature = (up + down - 2 * value) / STEP**2
    extra = 0.5 * float(own_curvature @ own_curvature)
    added = _second_order(inputs, method, second_order) if second_order else 0.0
    u = sqrt(first_u**2 + added)
    scale = max(abs(value), least_scale)
    if u > LARGEST_RELATIVE_U * scale:
        _too_large()
    curved = sqrt(first_u**2 + extra) > (1 + AGREEMENT_OF_ORDERS) * first_u
    if shot.force_monte_carlo or far_outside or curved or u > RELATIVE_U_FOR_FIRST_ORDER * scale:
        return _monte_carlo(inputs, method, value, first, scale, shot)
    ledger = _ledger(inputs.sources, first, u)
    k = _coverage(inputs.sources, first)
    return Solved(Doubtful(value, ledger), (value - k * u, value + k * u), "jacobian", first_u)


def _with_worn_edges(
    method: Solve, marks: Sequence[Mark], numbers: Sequence[Doubtful], shot: Shot, target: Sequence[Mark]
) -> Sequence[Mark]:
    """Add to each mark the px of its worn edge's mm, at the scale of the asked length."""
    if not target or not any(mark.edge_u_mm for mark in marks):
        return marks
    inputs = Inputs(marks, numbers, shot)
    size_mm = float(inputs.solve(method, inputs.at[None])[0])
    px_per_mm = float(np.hypot(*np.diff(coordinates(target), axis=0)[0])) / size_mm
    return [
        replace(mark, sigma_px=float(np.hypot(mark.sigma_px, mark.edge_u_mm * px_per_mm))) for mark in marks
    ]


def _too_large() -> NoReturn:
    raise MarksNotUsable(
        "doubt-too-large",
        "The doubt would be more than a quarter of the size itself; mark a longer known size, nearer to what is asked, "
        "or a photo taken closer and more square-on.",
    )


def _second_order(inputs: Inputs, method: Solve, kind: str) -> float:
    """Half the sum of squared second derivatives by the sources of one kind, in the square of the size's unit."""
    columns = [j for j, source in enumerate(inputs.sources) if source.kind == kind]
    if not columns:
        return 0.0
    units = np.eye(len(inputs.sources))[columns]
    signs = STEP * np.array([(1, 1), (1, -1), (-1, 1), (-1, -1)])
    pairs = [(a, b) for a in range(len(columns)) for b in range(len(columns))]
    steps = np.array([s * units[a] + t * units[b] for a, b in pairs for s, t in signs])
    results = inputs.solve(method, inputs.at + steps @ inputs.sensitivities.T).reshape(-1, 4)
    curvature = (results @ np.array([1.0, -1.0, -1.0, 1.0])) / (4 * STEP**2)
    return 0.5 * float(curvature @ curvature)


def _monte_carlo(
    inputs: Inputs, method: Solve, value: float, first: Array, scale: float, shot: Shot
) -> Solved:
    draws = drawn(inputs.sources, shot.draws, shot.seed)
    results = inputs.solve(method, inputs.at + draws @ inputs.sensitivities.T)
    solved = results[np.isfinite(results)]
    if len(solved) < 0.975 * shot.draws:
        _too_large()
    u = float(np.std(solved, ddof=1))
    if u > LARGEST_RELATIVE_U * scale:
        _too_large()
    low, high = np.quantile(solved, [0.025, 0.975])
    ledger = _ledger(inputs.sources, first, u)
    return Solved(
        Doubtful(value, ledger), (float(low), float(high)), "monte carlo", sqrt(float(first @ first))
    )


def drawn(sources: Sequence[Source], draws: int, seed: int) -> Array:
    """Draws of the sources, shape (draws, len(sources)), by each one's distribution (JCGM 101:2008, 6.4)."""
    generator = np.random.default_rng(seed)
    z = generator.standard_normal((draws, len(sources)))
    for j, source in enumerate(sources):
        if source.distribution == "rectangular":
            z[:, j] = generator.uniform(-sqrt(3), sqrt(3), draws)
        elif source.distribution == "triangular":
            z[:, j] = generator.triangular(-sqrt(6), 0, sqrt(6), draws)
        elif not isinf(source.degrees_of_freedom):
            z[:, j] = generator.standard_t(source.degrees_of_freedom, draws)
    return z


def _ledger(sources: Sequence[Source], first: Array, u: float) -> dict[Source, float]:
    """First-order sensitivities, with what else there is to `u` as a source of its own."""
    ledger = {source: float(s) for source, s in zip(sources, first, strict=True) if s}
    first_u = sqrt(float(first @ first))
    if u > first_u:
        ledger[Source("curvature", "+".join(sorted({s.of_record for s in ledger})))] = sqrt(u**2 - first_u**2)
        return ledger
    return {source: s * u / first_u for source, s in ledger.items()}


def _coverage(sources: Sequence[Source], first: Array) -> float:
    """Coverage factor for 95 %, by Welch-Satterthwaite where a source has few degrees of freedom (GUM G.4)."""
    dof = [source.degrees_of_freedom for source in sources]
    denominator = sum(float(s) ** 4 / nu for s, nu in zip(first, dof, strict=True))
    if denominator == 0:
        return NORMAL_95
    return float(stdtrit(max(1, int(float(first @ first) ** 2 / denominator)), 0.975))


def derived(
    solved: Solved,
    lies: Lies,
    diagnostics: Mapping[str, float] | None = None,
    warnings: Sequence[Caution] = (),
) -> Derived:
    """Wrap a solved length as a size, and say what not knowing its depth costs."""
    size = Derived(solved.number, solved.interval_95, solved.method)
    u = size.standard_uncertainty_mm
    share = (
        sum(
            (s / u) ** 2
            for source, s in solved.number.sensitivities.items()
            if source in lies.towards_camera.sensitivities
        )
        if u
        else 0.0
    )
    figures = {**(diagnostics or {}), "first_order_u_mm": solved.first_order_u}
    said = list(warnings)
    if not lies.sure:
        figures |= {"depth_share": share, "u_with_depth_known_mm": u * sqrt(max(0.0, 1 - share))}
        saved = 1 - sqrt(max(0.0, 1 - share))
        said.append(
            Caution(
                "depth-not-sure",
                f"Nobody said whether it lies in the plane of the known size; that is {100 * share:.0f} % of its doubt. Saying "
                f"how far it stands in front or behind would make the doubt {100 * saved:.0f} % smaller.",
            )
        )
    return Derived(solved.number, solved.interval_95, solved.method, figures, tuple(said))
