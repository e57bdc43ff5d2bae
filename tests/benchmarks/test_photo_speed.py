"""Ratios in one run: a method with its doubt against plain numpy and OpenCV, Monte Carlo batched against looped."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from statistics import median
from time import perf_counter
from typing import Any

import cv2
import numpy as np
import pytest
from case_files import case_file
from photogrammetry.answers import ANSWER

from archive.photogrammetry import plane
from archive.photogrammetry.doubt import Inputs, drawn
from archive.photogrammetry.homography import from_four
from archive.photogrammetry.marks import Mark, Shot, known_size

MOST_TIMES_PLAIN = 3.0
LEAST_GAIN_OF_BATCHES = 10.0
CORNERS = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


def taking_turns(
    first: Callable[[], Any], second: Callable[[], Any], rounds: int = 15
) -> tuple[float, float]:
    """Median seconds of two things that take turns, so that both see the same machine."""
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for run, kept in zip((first, second), times, strict=True):
            begin = perf_counter()
            run()
            kept.append(perf_counter() - begin)
    return median(times[0]), median(times[1])


def with_jacobian(solve: Callable[[np.ndarray], float], x: np.ndarray, u: np.ndarray) -> tuple[float, float]:
    """The plain way: a bare solve and its central differences, one input after another."""
    value = solve(x)
    slopes = []
    for i in range(len(x)):
        step = np.zeros_like(x)
        step[i] = 0.1 * u[i]
        slopes.append((solve(x + step) - solve(x - step)) / 0.2)
    return value, float(np.linalg.norm(slopes))


def plain_rectangle(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def solve(x: np.ndarray) -> float:
        corners = (CORNERS * x[12:14]).astype(np.float32)
        h = cv2.getPerspectiveTransform(x[:8].reshape(4, 2).astype(np.float32), corners)
        ends = cv2.perspectiveTransform(x[8:12].reshape(1, 2, 2), h)[0]
        return float(np.hypot(*(ends[0] - ends[1])))

    px = np.concatenate([np.ravel(inputs["rect_px"]), np.ravel(inputs["target_px"])])
    x = np.concatenate([px, [inputs["width_mm"], inputs["height_mm"]]])
    return solve, x, np.array([inputs["sigma_px"]] * 12 + [inputs["u_width_mm"], inputs["u_height_mm"]])


def plain_offset(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def solve(x: np.ndarray) -> float:
        f, cx, cy, depth = x[14:18]
        k = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
        world = np.column_stack([CORNERS * x[12:14], np.zeros(4)])
        _, turn, place = cv2.solvePnP(world, x[:8].reshape(4, 2), k, None, flags=cv2.SOLVEPNP_ITERATIVE)
        normal = cv2.Rodrigues(turn)[0][:, 2]
        normal = -normal * np.sign(normal @ place[:, 0])
        through = np.column_stack([(x[8:12].reshape(2, 2) - (cx, cy)) / f, np.ones(2)])
        ends = through * ((normal @ place[:, 0] + depth) / (through @ normal))[:, None]
        return float(np.linalg.norm(ends[0] - ends[1]))

    px = np.concatenate([np.ravel(inputs["rect_px"]), np.ravel(inputs["target_px"])])
    rest = [inputs[name] for name in ("width_mm", "height_mm", "f_px")]
    x = np.concatenate([px, rest, inputs["principal_px"], [inputs["offset_mm"]]])
    u = [inputs["sigma_px"]] * 12 + [inputs[name] for name in ("u_width_mm", "u_height_mm", "u_f_px")]
    return solve, x, np.array([*u, *[inputs["u_principal_px"]] * 2, inputs["u_offset_mm"]])


def plain_distance(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def solve(x: np.ndarray) -> float:
        return float(x[4] * np.hypot(x[0] - x[2], x[1] - x[3]) / x[5])

    f = inputs["f35_mm"] * np.hypot(*inputs["image_size_px"]) / 43.2666
    x = np.array([0.0, 0.0, inputs["extent_px"], 0.0, inputs["distance_mm"], f])
    return solve, x, np.array([inputs["sigma_px"]] * 4 + [inputs["u_distance_mm"], 33.6])


def plain_known_positions(
    inputs: dict[str, Any],
) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def solve(x: np.ndarray) -> float:
        px = x[:8].reshape(4, 2)
        _, _, vt = np.linalg.svd(px - px.mean(axis=0))
        s = (px - px.mean(axis=0)) @ vt[0]
        t = x[8:11]
        a, b, c = np.linalg.solve(np.column_stack([t, np.ones(3), -t * s[:3]]), s[:3])
        return float((s[3] - b) / (a - c * s[3]))

    x = np.concatenate([np.ravel(inputs["points_px"]), inputs["asked_px"], inputs["positions_mm"]])
    return solve, x, np.array([inputs["sigma_px"]] * 8 + list(inputs["u_positions_mm"]))


PLAIN = {
    "plane_rectangle": plain_rectangle,
    "offset_from_plane": plain_offset,
    "size_from_distance": plain_distance,
    "collinear_three_known": plain_known_positions,
}


def first_case(method: str) -> dict[str, Any]:
    file = case_file("RIVETBOOK_METROLOGY_CASES", "metrology-cases.json")
    if file is None:
        pytest.skip("the file of right answers does not lie beside this checkout")
    cases = json.loads(file.read_text(encoding="utf-8"))["cases"]
    return next(case for case in cases if case["method"] == method and "refuse" not in case["expected"])


@pytest.mark.parametrize("method", PLAIN)
def test_a_method_with_its_doubt_takes_at_most_three_times_the_plain_way(method, capsys):
    case = first_case(method)
    solve, x, u = PLAIN[method](case["inputs"])
    value, _ = with_jacobian(solve, x, u)
    assert value == pytest.approx(
        case["expected"]["value"], rel=2e-3
    )  # the plain way answers the same question
    ours, plain = taking_turns(lambda: ANSWER[method](case["inputs"]), lambda: with_jacobian(solve, x, u))
    with capsys.disabled():
        print(
            f"\n{method}: {1e3 * ours:.2f} ms, plain {1e3 * plain:.2f} ms, ratio {ours / plain:.2f}", end=""
        )
    assert ours <= MOST_TIMES_PLAIN * plain


def test_a_hundred_thousand_draws_at_once_take_a_tenth_of_the_time_of_one_by_one(capsys):
    inputs = first_case("plane_rectangle")["inputs"]
    marks = [Mark(f"m{i}", x, y, 1.0) for i, (x, y) in enumerate([*inputs["rect_px"], *inputs["target_px"]])]
    numbers = [known_size("wide", inputs["width_mm"], 2.0), known_size("tall", inputs["height_mm"], 3.0)]
    shot = Shot(draws=100_000)

    def solve(px: np.ndarray, sizes: np.ndarray) -> np.ndarray:
        return plane.between(from_four(CORNERS * sizes[:, None, :], px[:, :4]), px[:, 4:])

    every = Inputs(marks, numbers, shot)
    x = every.at + drawn(every.sources, shot.draws, 0) @ every.sensitivities.T
    begin = perf_counter()
    batched = every.solve(solve, x)
    at_once = perf_counter() - begin
    begin = perf_counter()
    looped = np.array([every.solve(solve, row[None])[0] for row in x[:2000]])
    one_by_one = (perf_counter() - begin) * len(x) / 2000
    with capsys.disabled():
        print(
            f"\n100,000 draws: at once {at_once:.2f} s, one by one {one_by_one:.1f} s, ratio {one_by_one / at_once:.0f}",
            end="",
        )
    assert looped == pytest.approx(batched[:2000], rel=1e-9)
    assert at_once * LEAST_GAIN_OF_BATCHES <= one_by_one


def test_monte_carlo_agrees_with_first_order_where_that_is_to_be_trusted():
    inputs = first_case("plane_rectangle")["inputs"]
    corners = [Mark(f"c{i}", x, y, 0.3) for i, (x, y) in enumerate(inputs["rect_px"])]
    ends = [Mark("left", 1700.0, 1900.0, 0.3), Mark("right", 1900.0, 1300.0, 0.3)]
    sizes = known_size("wide", inputs["width_mm"], 1.0), known_size("tall", inputs["height_mm"], 1.0)
    shot = Shot(draws=100_000, seed=5)
    first = plane.size_by_rectangle(corners, *sizes, ends, shot=shot)
    drawn_out = plane.size_by_rectangle(corners, *sizes, ends, shot=replace(shot, force_monte_carlo=True))
    assert (first.method, drawn_out.method) == ("jacobian", "monte carlo")
    assert drawn_out.standard_uncertainty_mm == pytest.approx(first.standard_uncertainty_mm, rel=0.01)
    assert drawn_out.interval_95_mm == pytest.approx(
        first.interval_95_mm, abs=0.03 * first.standard_uncertainty_mm * 2
    )
