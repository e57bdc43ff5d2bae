"""Asks the archive's photo methods what a case of the file of right answers asks, by the case's method name."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from archive.errors import MarksNotUsable
from archive.photogrammetry import distance, focal, heights, lens, line, plane, round, set_back, square_on
from archive.photogrammetry.doubt import Derived
from archive.photogrammetry.marks import (
    Camera,
    Mark,
    Shot,
    camera,
    known_size,
    standing_out,
    stated,
)

Inputs = Mapping[str, Any]


def marked(px: Sequence[Sequence[float]], name: str, inputs: Inputs) -> list[Mark]:
    return [Mark(f"{name}[{i}]", x, y, inputs["sigma_px"]) for i, (x, y) in enumerate(px)]


def edges(pairs: Sequence[Sequence[Sequence[float]]], name: str, inputs: Inputs) -> list[list[Mark]]:
    return [marked(pair, f"{name}[{i}]", inputs) for i, pair in enumerate(pairs)]


def known(inputs: Inputs, name: str, key: str | None = None):
    return known_size(name, inputs[key or f"{name}_mm"], inputs.get(f"u_{name}_mm", 0.0))


def camera_of(inputs: Inputs) -> Camera:
    return camera(
        inputs["f_px"], inputs.get("u_f_px", 0.0), inputs["principal_px"], inputs.get("u_principal_px", 0.0)
    )


def corner_numbers(text: str) -> tuple[int, int]:
    first, second = (int(number) for number in re.findall(r"\[(\d+)\]", text))
    return first, second


def letters(text: str) -> tuple[int, int]:
    first, second = ("ABCDEFGH".index(letter) for letter in text.split("-"))
    return first, second


def size(answer: Derived) -> dict[str, Any]:
    return {"value": answer.value_mm, "u": answer.standard_uncertainty_mm}


def plane_rectangle(inputs: Inputs) -> dict[str, Any]:
    corners, target = (
        marked(inputs["rect_px"], "rect_px", inputs),
        marked(inputs["target_px"], "target_px", inputs),
    )
    return size(plane.size_by_rectangle(corners, known(inputs, "width"), known(inputs, "height"), target))


def plane_points_ml(inputs: Inputs) -> dict[str, Any]:
    points, target = (
        marked(inputs["points_px"], "points_px", inputs),
        marked(inputs["target_px"], "target_px", inputs),
    )
    return size(plane.size_by_points(points, inputs["world_mm"], target))


def rectangle_known_side_known_focal(inputs: Inputs) -> dict[str, Any]:
    corners = marked(inputs["rect_px"], "rect_px", inputs)
    asked = corner_numbers(inputs["asked"])
    if max(asked) >= len(corners):
        raise MarksNotUsable(
            "too-few-points", "The asked side runs to a corner that is not marked; mark four corners."
        )
    target = [corners[i] for i in asked]
    side = corner_numbers(inputs["known_side"])
    shot = Shot(camera_of(inputs))
    return size(plane.size_by_one_side(corners, known(inputs, "known"), side, target, shot=shot))


def focal_from_two_right_angle_vps(inputs: Inputs) -> dict[str, Any]:
    principal = camera(1.0, 0.0, inputs["principal_px"], inputs.get("u_principal_px", 0.0)).numbers[1:]
    found = focal.focal_by_right_angle(
        edges(inputs["edges_dir1_px"], "edges_dir1_px", inputs),
        edges(inputs["edges_dir2_px"], "edges_dir2_px", inputs),
        (principal[0], principal[1]),
    )
    return {"value": found.number.value, "u": found.number.standard_uncertainty}


def collinear_three_known(inputs: Inputs) -> dict[str, Any]:
    points = marked(inputs["points_px"], "points_px", inputs)
    u = inputs.get("u_positions_mm") or [0.0] * len(inputs["positions_mm"])
    if len(u) != len(inputs["positions_mm"]):
        raise MarksNotUsable(
            "bad-input", "Each known position needs its own doubt; give as many as positions."
        )
    positions = [
        known_size(f"positions_mm[{i}]", x, u)
        for i, (x, u) in enumerate(zip(inputs["positions_mm"], u, strict=True))
    ]
    asked = marked([inputs["asked_px"]], "asked_px", inputs)[0]
    return size(line.position_between_known(points, positions, asked))


def collinear_with_parallel_edge(inputs: Inputs) -> dict[str, Any]:
    points = marked(inputs["points_px"], "points_px", inputs)
    edge = marked(inputs["parallel_edge_px"], "parallel_edge_px", inputs)
    ends = letters(inputs["known"]), letters(inputs["asked"])
    return size(line.length_by_parallel_edge(points, known(inputs, "known"), ends[0], edge, ends[1]))


def equal_spacing(inputs: Inputs) -> dict[str, Any]:
    points, target = (
        marked(inputs["points_px"], "points_px", inputs),
        marked(inputs["asked_px"], "asked_px", inputs),
    )
    first, second = inputs["known_numbers"]
    return size(
        line.length_by_equal_spacing(
            points, inputs["numbers"], known(inputs, "known"), (first, second), target
        )
    )


def square_on_proportion(inputs: Inputs) -> dict[str, Any]:
    reference, target = (
        marked(inputs["ref_px"], "ref_px", inputs),
        marked(inputs["target_px"], "target_px", inputs),
    )
    depth = standing_out(stated("depth", "target", 0.0, inputs.get("u_depth_mm", 0.0)))
    answer = square_on.size_by_proportion(
        reference,
        known(inputs, "ref"),
        target,
        depth,
        Shot(camera_of(inputs)),
        u_tilt_deg=inputs.get("u_tilt_deg", 0.0),
    )
    return size(answer)


def height_single_view(inputs: Inputs) -> dict[str, Any]:
    level = tuple(edges(inputs[f"edges_horizontal{i}_px"], f"edges_horizontal{i}_px", inputs) for i in (1, 2))
    ends = {
        name: [
            *marked([inputs[f"{name}base_px"]], f"{name}base", inputs),
            *marked([inputs[f"{name}top_px"]], f"{name}top", inputs),
        ]
        for name in ("ref_", "")
    }
    upright = edges(inputs["edges_vertical_px"], "edges_vertical_px", inputs)
    answer = heights.height_on_common_ground(
        (level[0], level[1]), upright, ends["ref_"], known(inputs, "ref_height"), ends[""]
    )
    return size(answer)


def circle_known_diameter_known_camera(inputs: Inputs) -> dict[str, Any]:
    rim, target = (
        marked(inputs["circle_px"], "circle_px", inputs),
        marked(inputs["target_px"], "target_px", inputs),
    )
    shot = Shot(camera_of(inputs))
    return size(
        round.size_by_circle(rim, known(inputs, "diameter"), target, inputs.get("plane_faces"), shot=shot)
    )


def two_coplanar_circles(inputs: Inputs) -> dict[str, Any]:
    first, second = (
        marked(inputs["wheel1_px"], "wheel1_px", inputs),
        marked(inputs["wheel2_px"], "wheel2_px", inputs),
    )
    diameter = known(inputs, "diameter1")
    answer = size(round.distance_of_wheels(first, diameter, second))
    return {**answer, "second_diameter": size(round.second_diameter(first, diameter, second))}


def offset_from_plane(inputs: Inputs) -> dict[str, Any]:
    corners, target = (
        marked(inputs["rect_px"], "rect_px", inputs),
        marked(inputs["target_px"], "target_px", inputs),
    )
    lies = standing_out(stated("depth", "target", inputs["offset_mm"], inputs.get("u_offset_mm", 0.0)))
    answer = set_back.size_off_a_rectangle(
        corners, known(inputs, "width"), known(inputs, "height"), target, lies, Shot(camera_of(inputs))
    )
    return size(answer)


def plumb_line(model: lens.Model, u_centre_px: float | None) -> Callable[[Inputs], dict[str, Any]]:
    def answer(inputs: Inputs) -> dict[str, Any]:
        lines = edges(inputs["lines_px"], "lines_px", inputs)
        fit = lens.lens_from_edges(
            lines,
            inputs["image_size_px"],
            model=model,
            centre_px=inputs["centre_px"],
            u_centre_px=inputs.get("u_centre_px", 0.0) if u_centre_px is None else u_centre_px,
            norm_radius_px=inputs.get("norm_radius_px"),
        )
        strength, *centre = fit.lens.numbers
        return {
            "value": strength.value,
            "u": strength.standard_uncertainty,
            "centre_px": [number.value for number in centre],
            "u_centre_px": [number.standard_uncertainty for number in centre],
        }

    return answer


def size_from_distance(inputs: Inputs) -> dict[str, Any]:
    found = focal.camera_from_35mm(
        inputs["f35_mm"],
        inputs["image_size_px"],
        convention=inputs["convention"],
        u_convention=0.0,
        u_principal=0.0,
    )
    target = marked([(0.0, 0.0), (inputs["extent_px"], 0.0)], "target", inputs)
    answer = distance.size_by_distance(target, known(inputs, "distance"), shot=Shot(found.camera))
    return {
        **size(answer),
        "f_px_diagonal": found.diagonal_px,
        "f_px_width": found.width_px,
        "convention_gap_pct": found.convention_gap_percent,
        "u_f_px_rounding": found.u_rounding_px,
    }


ANSWER: dict[str, Callable[[Inputs], dict[str, Any]]] = {
    "plane_rectangle": plane_rectangle,
    "plane_points_ml": plane_points_ml,
    "rectangle_known_side_known_focal": rectangle_known_side_known_focal,
    "focal_from_two_right_angle_vps": focal_from_two_right_angle_vps,
    "collinear_three_known": collinear_three_known,
    "collinear_with_parallel_edge": collinear_with_parallel_edge,
    "equal_spacing": equal_spacing,
    "square_on_proportion": square_on_proportion,
    "height_single_view": height_single_view,
    "circle_known_diameter_known_camera": circle_known_diameter_known_camera,
    "two_coplanar_circles": two_coplanar_circles,
    "offset_from_plane": offset_from_plane,
    "plumb_line_k1": plumb_line("polynomial", 0.0),
    "plumb_line_division": plumb_line("division", 0.0),
    "plumb_line_division_centre": plumb_line("division", None),
    "size_from_distance": size_from_distance,
}
