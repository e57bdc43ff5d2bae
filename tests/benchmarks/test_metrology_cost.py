"""What agreement and tallies cost, beside the same sums by numpy alone, in turns within one run."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from benchmarks.turns import ratio

from archive.metrology.adjustment import adjust
from archive.metrology.agreement import combine
from archive.metrology.sources import Doubtful, Source

OFFSET, SCALE = Source("offset", "tape"), Source("scale", "tape")
READINGS, TALLIES = 500, 100


def system(sizes: int) -> tuple[list[list[Doubtful]], np.ndarray, np.ndarray, Callable[[], np.ndarray]]:
    """Readings of sizes with one tape, tallies among them, and numpy's own solution of the whole."""
    rng = np.random.default_rng(sizes)
    truth = np.repeat(rng.uniform(500, 3000, sizes), READINGS // sizes)
    which = np.repeat(np.arange(sizes), READINGS // sizes)
    read = truth + rng.normal(0, 0.5, READINGS)
    share = np.column_stack([np.eye(READINGS) * 2.9, np.ones(READINGS), truth * 5e-4])
    groups: list[list[Doubtful]] = [[] for _ in range(sizes)]
    for n in range(READINGS):
        sources = {Source("rounding", f"r{n}"): 2.9, OFFSET: 1.0, SCALE: float(truth[n]) * 5e-4}
        groups[which[n]].append(Doubtful(float(read[n]), sources))
    tallies = np.zeros((TALLIES, sizes))
    for row in tallies:
        row[rng.choice(sizes, 4, replace=False)] = rng.choice([1.0, -1.0, 2.0, -3.0], 4)
    rhs = tallies @ truth[:: READINGS // sizes]
    design = (which[:, None] == np.arange(sizes)).astype(float)

    def bare() -> np.ndarray:
        weighted = np.linalg.solve(share @ share.T, np.column_stack([design, read]))
        normal = design.T @ weighted
        bordered = np.block([[normal[:, :-1], tallies.T], [tallies, np.zeros((TALLIES, TALLIES))]])
        return np.linalg.solve(bordered, np.concatenate([normal[:, -1], rhs]))[:sizes]

    return groups, tallies, rhs, bare


@pytest.mark.parametrize("apart_mm", [0, 90])
def test_five_hundred_readings_of_one_size_cost_at_most_three_bare_solutions(apart_mm, capsys):
    groups, _, _, _ = system(250)
    readings = [
        Doubtful(2743.0 + n % 7 + apart_mm * (n == 60), r.sensitivities)
        for n, r in enumerate(r for g in groups for r in g)
    ]
    share = np.column_stack(
        [np.eye(READINGS) * 2.9, np.ones(READINGS), [r.sensitivities[SCALE] for r in readings]]
    )
    values = np.array([r.value for r in readings])

    def bare() -> np.ndarray:
        return np.linalg.solve(share @ share.T, np.column_stack([np.ones(READINGS), values]))

    solved = bare()
    assert combine(readings, of_record="d").value == pytest.approx(solved[:, 1].sum() / solved[:, 0].sum())
    assert combine(readings, of_record="d").agree is not bool(apart_mm)
    measured = ratio(lambda: combine(readings, of_record="d"), bare)
    with capsys.disabled():
        print(f"\n500 readings of one size: {measured:.2f} x the bare solution", end="")
    assert measured <= 3


@pytest.mark.parametrize("sizes", [125, 250])
def test_five_hundred_readings_and_a_hundred_tallies_cost_at_most_three_bare_solutions(sizes, capsys):
    groups, tallies, rhs, bare = system(sizes)

    def ours() -> object:
        figures = [combine(group, of_record=f"d{n}").result for n, group in enumerate(groups)]
        return adjust(figures, tallies, rhs, of_record="s")

    assert ours().values == pytest.approx(bare(), abs=1e-6)
    measured = ratio(ours, bare, rounds=7)  # half a second each: quick things take many more turns
    with capsys.disabled():
        print(f"\n500 readings of {sizes} sizes, 100 tallies: {measured:.2f} x the bare solution", end="")
    assert measured <= 3


def test_the_cost_grows_with_the_number_of_sizes_and_no_faster(capsys):
    groups, _, _, _ = system(250)

    def figures(of: int) -> list[float]:
        return [combine(group, of_record=f"d{n}").value for n, group in enumerate(groups[:of])]

    # Four times 50 beside 200: both take as long, so that a busy machine is as likely to disturb either.
    measured = ratio(lambda: figures(200), lambda: [figures(50) for _ in range(4)])
    with capsys.disabled():
        print(f"\n200 sizes cost {measured:.2f} x four times 50 sizes", end="")
    assert measured <= 1.5
