"""Ratios in one run: a method with its doubt against plain numpy and OpenCV, Monte Carlo batched against looped."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from time import perf_counter
from typing import Any

import cv2
import numpy as np
import pytest
from benchmarks.turns import seconds_in_turns
from case_files import case_file
from photogrammetry.answers import ANSWER
from scipy.optimize import least_squares

from archive.photogrammetry import distance, plane, round
from archive.photogrammetry.doubt import Inputs, drawn
from archive.photogrammetry.focal import camera_from_35mm
from archive.photogrammetry.homography import from_four
from archive.photogrammetry.marks import Mark, Shot, known_size

pytestmark = pytest.mark.cases  # the marks that are timed are theirs

MOST_TIMES_PLAIN = 3.0
LEAST_GAIN_OF_BATCHES = 10.0
CORNERS = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


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


def plain_points(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    world = np.array(inputs["world_mm"])
    n = len(world)

    def solve(x: np.ndarray) -> float:
        h, _ = cv2.findHomography(world, x[: 2 * n].reshape(n, 2), 0)
        ends = cv2.perspectiveTransform(x[2 * n :].reshape(1, 2, 2), np.linalg.inv(h))[0]
        return float(np.hypot(*(ends[0] - ends[1])))

    x = np.concatenate([np.ravel(inputs["points_px"]), np.ravel(inputs["target_px"])])
    return solve, x, np.full(len(x), inputs["sigma_px"])


def plain_one_side(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def solve(x: np.ndarray) -> float:
        h = cv2.getPerspectiveTransform(CORNERS.astype(np.float32), x[:8].reshape(4, 2).astype(np.float32))
        f, cx, cy = x[9:12]
        columns = np.linalg.solve(np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]]), h)
        return float(x[8] * np.linalg.norm(columns[:, 1]) / np.linalg.norm(columns[:, 0]))

    x = np.array([*np.ravel(inputs["rect_px"]), inputs["known_mm"], inputs["f_px"], *inputs["principal_px"]])
    u = [inputs["sigma_px"]] * 8 + [inputs["u_known_mm"], inputs["u_f_px"]] + [inputs["u_principal_px"]] * 2
    return solve, x, np.array(u)


def plain_height(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def crossed(edges: np.ndarray) -> np.ndarray:
        ends = np.concatenate([edges, np.ones((*edges.shape[:2], 1))], axis=2)
        return np.cross(np.cross(ends[0, 0], ends[0, 1]), np.cross(ends[1, 0], ends[1, 1]))

    def over_ground(base: np.ndarray, top: np.ndarray, horizon: np.ndarray, v: np.ndarray) -> float:
        b = np.array([*base, 1.0])
        upright = np.cross(b, v)
        upright = upright / np.hypot(*upright[:2])
        t = np.array([*(top - (upright @ [*top, 1.0]) * upright[:2]), 1.0])
        return float((np.cross(b, t) @ upright) / ((horizon @ b) * (np.cross(v, t) @ upright)))

    def solve(x: np.ndarray) -> float:
        edges = x[:24].reshape(3, 2, 2, 2)
        horizon, v = np.cross(crossed(edges[0]), crossed(edges[1])), crossed(edges[2])
        ends = x[24:32].reshape(4, 2)
        return x[32] * over_ground(ends[2], ends[3], horizon, v) / over_ground(ends[0], ends[1], horizon, v)

    names = ("edges_horizontal1_px", "edges_horizontal2_px", "edges_vertical_px", "ref_base_px", "ref_top_px")
    px = [np.ravel(inputs[name]) for name in (*names, "base_px", "top_px")]
    x = np.concatenate([*px, [inputs["ref_height_mm"]]])
    return solve, x, np.array([inputs["sigma_px"]] * 32 + [inputs["u_ref_height_mm"]])


def plain_focal(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def solve(x: np.ndarray) -> float:
        points = []
        for edges in x[:16].reshape(2, 2, 2, 2):
            ends = np.concatenate([edges, np.ones((2, 2, 1))], axis=2)
            v = np.cross(np.cross(ends[0, 0], ends[0, 1]), np.cross(ends[1, 0], ends[1, 1]))
            points.append(v[:2] / v[2] - x[16:18])
        return float(np.sqrt(-points[0] @ points[1]))

    px = [np.ravel(inputs["edges_dir1_px"]), np.ravel(inputs["edges_dir2_px"]), inputs["principal_px"]]
    return solve, np.concatenate(px), np.array([inputs["sigma_px"]] * 16 + [inputs["u_principal_px"]] * 2)


def off_rim(p: np.ndarray, px: np.ndarray) -> np.ndarray:
    """Orthogonal distances from an ellipse (centre, semi-axes, turn) by a plain search for the foot points."""
    c, s = np.cos(p[4]), np.sin(p[4])
    local = (px - p[:2]) @ np.array([[c, -s], [s, c]])
    t = np.arctan2(local[:, 1] / p[3], local[:, 0] / p[2])
    for _ in range(4):
        foot = np.column_stack([p[2] * np.cos(t), p[3] * np.sin(t)])
        along = np.column_stack([-p[2] * np.sin(t), p[3] * np.cos(t)])
        gap = local - foot
        t = t + (gap * along).sum(1) / ((along**2).sum(1) + (gap * foot).sum(1))
    gap = local - np.column_stack([p[2] * np.cos(t), p[3] * np.sin(t)])
    return np.sign((gap * local).sum(1)) * np.hypot(*gap.T)


def fitted_ellipse(px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Centre, semi-axes and turn (5,), and the conic (3, 3)."""
    (x0, y0), (d1, d2), turn = cv2.fitEllipseDirect(px.astype(np.float32))
    p = least_squares(off_rim, [x0, y0, d1 / 2, d2 / 2, np.radians(turn)], args=(px,), method="lm").x
    c, s = np.cos(p[4]), np.sin(p[4])
    back = np.linalg.inv(np.array([[c, -s, p[0]], [s, c, p[1]], [0, 0, 1]]))
    return p, back.T @ np.diag([1 / p[2] ** 2, 1 / p[3] ** 2, -1]) @ back


def plain_circle(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    n = len(inputs["circle_px"])

    def solve(x: np.ndarray) -> float:
        px, (diameter, f, cx, cy) = x[: 2 * n].reshape(n, 2), x[2 * n + 4 :]
        _, conic = fitted_ellipse(px)
        k = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
        cone = k.T @ conic @ k
        values, vectors = np.linalg.eigh(cone)
        l3, l2, l1 = values
        e1, e3 = vectors[:, 2], vectors[:, 0] * np.sign(vectors[2, 0])
        answers = []
        for sign in (1, -1):
            normal = np.sqrt((l1 - l2) / (l1 - l3)) * e1 + sign * np.sqrt((l2 - l3) / (l1 - l3)) * e3
            normal = -normal * np.sign(normal @ e3)
            through = np.column_stack([(x[2 * n : 2 * n + 4].reshape(2, 2) - (cx, cy)) / f, np.ones(2)])
            ends = through * (-diameter / 2 * l2 / np.sqrt(-l1 * l3) / (through @ normal))[:, None]
            answers.append((normal[0], float(np.linalg.norm(ends[0] - ends[1]))))
        return max(answers)[1]  # the one that faces right

    x = np.concatenate(
        [
            np.ravel(inputs["circle_px"]),
            np.ravel(inputs["target_px"]),
            [inputs["diameter_mm"], inputs["f_px"]],
            inputs["principal_px"],
        ]
    )
    u = (
        [inputs["sigma_px"]] * (2 * n + 4)
        + [inputs["u_diameter_mm"], inputs["u_f_px"]]
        + [inputs["u_principal_px"]] * 2
    )
    return solve, x, np.array(u)


def plain_wheels(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    n = len(inputs["wheel1_px"])

    def solve(x: np.ndarray) -> float:
        px = x[:-1].reshape(-1, 2)
        away = px.mean(axis=0)
        px = (px - away) / 500
        (p1, c1), (p2, c2) = fitted_ellipse(px[:n]), fitted_ellipse(px[n:])
        best = None
        for root in np.linalg.eigvals(np.linalg.solve(c2, c1)).real:
            member = c1 - root * c2
            values, vectors = np.linalg.eigh(member)
            low, high = (
                vectors[:, 0] * np.sqrt(max(-values[0], 0)),
                vectors[:, 2] * np.sqrt(max(values[2], 0)),
            )
            flat = abs(values[1]) / np.abs(values).max()
            if best is None or (values[0] < 0 < values[2] and flat < best[0]):
                best = flat, high + low, high - low
        sides = [
            (line @ [*p1[:2], 1]) * (line @ [*p2[:2], 1]) / np.linalg.norm(line) ** 2 for line in best[1:]
        ]
        infinity = best[1 + int(np.argmax(sides))]
        back = np.linalg.inv(np.array([[1, 0, 0], [0, 1, 0], infinity]))
        places, shape = [], None
        for conic in (c1, c2):
            flat = back.T @ conic @ back
            centre = -np.linalg.solve(flat[:2, :2], flat[:2, 2])
            level = -(flat[:2, 2] @ centre + flat[2, 2])
            places.append(centre)
            shape = flat[:2, :2] / level if shape is None else shape
        gap = places[1] - places[0]
        return float(x[-1] / 2 * np.sqrt(gap @ shape @ gap))

    x = np.array([*np.ravel(inputs["wheel1_px"]), *np.ravel(inputs["wheel2_px"]), inputs["diameter1_mm"]])
    return solve, x, np.array([inputs["sigma_px"]] * (len(x) - 1) + [inputs["u_diameter1_mm"]])


def plain_square_on(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    f, (cx, cy) = inputs["f_px"], inputs["principal_px"]

    def solve(x: np.ndarray) -> float:
        through = np.column_stack([(x[:8].reshape(4, 2) - (cx, cy)) / f, np.ones(4)])
        normal = np.array([np.sin(x[9]), -np.sin(x[10]) * np.cos(x[9]), np.cos(x[10]) * np.cos(x[9])])
        ends = through / (through @ normal)[:, None]
        return float(x[8] * np.linalg.norm(ends[2] - ends[3]) / np.linalg.norm(ends[0] - ends[1]))

    x = np.array([*np.ravel(inputs["ref_px"]), *np.ravel(inputs["target_px"]), inputs["ref_mm"], 0.0, 0.0])
    tilt = np.radians(inputs["u_tilt_deg"])
    return solve, x, np.array([inputs["sigma_px"]] * 8 + [inputs["u_ref_mm"], tilt, tilt])


def plain_parallel_edge(
    inputs: dict[str, Any],
) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    def solve(x: np.ndarray) -> float:
        px = x[:6].reshape(3, 2)
        middle = px.mean(axis=0)
        along = np.linalg.svd(px - middle)[2][0]
        s = (px - middle) @ along
        first, second = x[6:8], x[8:10]
        edge = np.array([first[1] - second[1], second[0] - first[0]])
        v = edge @ (first - middle) / (edge @ along)
        return float(x[10] * (s[1] - s[0]) * (v - s[2]) / ((s[2] - s[0]) * (v - s[1])))

    x = np.array([*np.ravel(inputs["points_px"]), *np.ravel(inputs["parallel_edge_px"]), inputs["known_mm"]])
    return solve, x, np.array([inputs["sigma_px"]] * 10 + [inputs["u_known_mm"]])


def plain_spacing(inputs: dict[str, Any]) -> tuple[Callable[[np.ndarray], float], np.ndarray, np.ndarray]:
    k = np.array(inputs["numbers"], dtype=float)
    n = len(k)
    steps = abs(inputs["known_numbers"][1] - inputs["known_numbers"][0])

    def solve(x: np.ndarray) -> float:
        px = x[:-1].reshape(-1, 2)
        s = (px - px.mean(axis=0)) @ np.linalg.svd(px - px.mean(axis=0))[2][0]
        start = np.linalg.lstsq(np.column_stack([k, np.ones(n), -k * s[:n]]), s[:n], rcond=None)[0]
        a, b, c = least_squares(lambda p: s[:n] - (p[0] * k + p[1]) / (p[2] * k + 1), start, method="lm").x
        places = (s[n:] - b) / (a - c * s[n:])
        return float(abs(places[1] - places[0]) * x[-1] / steps)

    x = np.array([*np.ravel(inputs["points_px"]), *np.ravel(inputs["asked_px"]), inputs["known_mm"]])
    return solve, x, np.array([inputs["sigma_px"]] * (len(x) - 1) + [inputs["u_known_mm"]])


PLAIN = {
    "plane_rectangle": plain_rectangle,
    "plane_points_ml": plain_points,
    "rectangle_known_side_known_focal": plain_one_side,
    "offset_from_plane": plain_offset,
    "collinear_three_known": plain_known_positions,
    "collinear_with_parallel_edge": plain_parallel_edge,
    "equal_spacing": plain_spacing,
    "square_on_proportion": plain_square_on,
    "height_single_view": plain_height,
    "focal_from_two_right_angle_vps": plain_focal,
    "circle_known_diameter_known_camera": plain_circle,
    "two_coplanar_circles": plain_wheels,
    "size_from_distance": plain_distance,
}


def first_case(method: str) -> dict[str, Any]:
    file = case_file("RIVETBOOK_METROLOGY_CASES", "metrology-cases.json")
    if file is None:
        pytest.skip("the file of right answers does not lie beside this checkout")
    cases = json.loads(file.read_text(encoding="utf-8"))["cases"]
    return next(case for case in cases if case["method"] == method and "refuse" not in case["expected"])


def in_reach(case: dict[str, Any]) -> dict[str, Any]:
    """The inputs with an asked size that first order does: not far outside what is known."""
    inputs = dict(case["inputs"])
    if case["method"] == "plane_rectangle":
        inputs["target_px"] = [[1650.0, 1900.0], [1950.0, 1300.0]]
    if case["method"] == "collinear_three_known":
        inputs["asked_px"] = [2200.0, 1615.6]
    if case["method"] == "square_on_proportion":
        inputs["u_tilt_deg"] = 1.0
    if case["method"] == "collinear_with_parallel_edge":
        inputs |= {"known": "A-C", "known_mm": 5486.0, "asked": "A-B"}
    return inputs


def asking(method: str, inputs: dict[str, Any]) -> Callable[[], Any]:
    """The method alone; of the cases' questions two ask more than one thing."""
    if method == "size_from_distance":
        found = camera_from_35mm(inputs["f35_mm"], inputs["image_size_px"], u_convention=0.0, u_principal=0.0)
        ends = [Mark("left", 0.0, 0.0, 1.0), Mark("right", inputs["extent_px"], 0.0, 1.0)]
        known = known_size("distance", inputs["distance_mm"], inputs["u_distance_mm"])
        return partial(distance.size_by_distance, ends, known, shot=Shot(found.camera))
    if method == "two_coplanar_circles":
        rims = [
            [Mark(f"{wheel} {i}", x, y, inputs["sigma_px"]) for i, (x, y) in enumerate(inputs[wheel])]
            for wheel in ("wheel1_px", "wheel2_px")
        ]
        known = known_size("diameter", inputs["diameter1_mm"], inputs["u_diameter1_mm"])
        return partial(round.distance_of_wheels, rims[0], known, rims[1])
    return partial(ANSWER[method], inputs)


@pytest.mark.parametrize("method", PLAIN)
def test_a_method_with_its_doubt_takes_at_most_three_times_the_plain_way(method, capsys):
    inputs = in_reach(first_case(method))
    solve, x, u = PLAIN[method](inputs)
    value, doubt = with_jacobian(solve, x, u)
    answer = ANSWER[method](inputs)
    assert answer["value"] == pytest.approx(value, rel=2e-3)  # the plain way answers the same question
    assert answer["u"] == pytest.approx(doubt, rel=0.05)
    ours, plain = seconds_in_turns(asking(method, inputs), lambda: with_jacobian(solve, x, u))
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
