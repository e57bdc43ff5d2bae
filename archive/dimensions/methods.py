"""From a recipe with everything that it names looked up, to sizes: each method called as `photogrammetry` has it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from archive.dimensions.sheets import SECOND_DIAMETER
from archive.errors import MarksNotUsable
from archive.lengths import parse_length
from archive.metrology.sources import Doubtful
from archive.photogrammetry import distance, heights, line, plane, round, square_on
from archive.photogrammetry.doubt import Derived
from archive.photogrammetry.lens import LensFit, lens_from_edges
from archive.photogrammetry.marks import Array, Lies, Mark, Shot
from archive.photogrammetry.set_back import CORNERS
from archive.records.names import name_key

Edge = Sequence[Mark]


@dataclass(frozen=True, slots=True)
class Given:
    """What a recipe names: its marks, its known sizes in order, and what is known of the photo (`record`: its id)."""

    recipe: Mapping[str, Any]
    marks: Mapping[str, Mark]
    known: Sequence[Doubtful]
    shot: Shot
    size_px: tuple[int, int]
    record: str

    def mark(self, name: str) -> Mark:
        """The mark of this name; raises MarksNotUsable 'no-such-mark'."""
        found = self.marks.get(name_key(name))
        if found is None:
            raise MarksNotUsable(
                "no-such-mark", f"There is no mark '{name}' on the photo; mark it, or correct its name."
            )
        return found

    def listed(self, names: Sequence[str]) -> list[Mark]:
        """The marks of these names."""
        return [self.mark(name) for name in names]

    def edges(self, edges: Sequence[Sequence[str]]) -> list[Edge]:
        """The marks of these edges."""
        return [self.listed(edge) for edge in edges]

    def ends(self, part: Mapping[str, Any]) -> list[Mark]:
        """The marks between which a known or asked size runs."""
        return self.listed([part["from"], part["to"]])

    @property
    def known_ends(self) -> list[Mark]:
        """The ends of the first known size."""
        return self.ends(self.recipe["known"][0])


@dataclass(frozen=True, slots=True)
class KnownPlane:
    """Places of a plane that a recipe knows, (N, 2) mm, and the names of their marks."""

    places_mm: Array
    names: tuple[str, ...]


def solve(method: str, given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    """Work out one asked size of a recipe; raises MarksNotUsable."""
    return _SOLVERS[method](given, asked, lies)


def find_lens(given: Given, record: str) -> LensFit:
    """Find the lens that makes a recipe's edges straight, in the upright photo's pixels; raises MarksNotUsable."""
    return lens_from_edges(given.edges(given.recipe["edges"]), given.size_px, record=record)


def marks_named(recipe: Mapping[str, Any]) -> list[str]:
    """Return the names of all marks that a recipe uses, each once."""
    names: dict[str, str] = {}

    def gather(value: Any) -> None:
        if isinstance(value, str):
            names.setdefault(name_key(value), value)
        elif isinstance(value, Sequence):
            for each in value:
                gather(each)

    for part in (*recipe["known"], *recipe["asked"]):
        gather([part[key] for key in ("from", "to", "point") if key in part])
    for role in (
        "corners",
        "edge",
        "parallel",
        "level",
        "upright",
        "rim",
        "first",
        "second",
        "edges",
        "straight",
    ):
        gather(recipe.get(role, []))
    gather(list(recipe.get("row", {})))
    gather(recipe.get("camera", {}).get("right_angle", []))
    return list(names.values())


def known_plane(method: str, given: Given, diagnostics: Mapping[str, float]) -> KnownPlane | None:
    """The places of a plane that a recipe knows; None for a method that knows no plane. Raises MarksNotUsable."""
    if method == "points":
        names = tuple(part["point"] for part in given.recipe["known"])
        return KnownPlane(np.array(_world(given)), names)
    if method not in ("rectangle", "one side"):
        return None
    corners = given.listed(given.recipe["corners"])
    if method == "rectangle":
        shape = CORNERS * tuple(side.value for side in _sides(given, corners))
    else:
        first, second = _corner_numbers(given, corners, given.recipe["known"][0])
        shape = CORNERS * (1.0, diagnostics["aspect"])
        shape = shape * given.known[0].value / np.hypot(*(shape[first] - shape[second]))
    return KnownPlane(shape, tuple(given.recipe["corners"]))


def _square_on(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    return square_on.size_by_proportion(
        given.known_ends,
        given.known[0],
        given.ends(asked),
        lies,
        given.shot,
        u_tilt_deg=given.recipe.get("tilt_deg", square_on.U_TILT_DEG),
        record=given.record,
    )


def _rectangle(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    corners = given.listed(given.recipe["corners"])
    return plane.size_by_rectangle(corners, *_sides(given, corners), given.ends(asked), lies, given.shot)


def _sides(given: Given, corners: Sequence[Mark]) -> tuple[Doubtful, Doubtful]:
    """The rectangle's side from its first corner to the second, and the one after it."""
    sides: dict[bool, Doubtful] = {}
    for part, known in zip(given.recipe["known"], given.known, strict=True):
        first, second = _corner_numbers(given, corners, part)
        if abs(first - second) == 2:
            raise MarksNotUsable(
                "bad-input", "A known size of the rectangle must be a side of it; give one side each way."
            )
        sides[{first, second} in ({0, 1}, {2, 3})] = known
    if len(sides) != 2:
        raise MarksNotUsable(
            "bad-input",
            "Both known sizes run the same way; give one side each way, or use the method 'one side'.",
        )
    return sides[True], sides[False]


def _one_side(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    corners = given.listed(given.recipe["corners"])
    known = _corner_numbers(given, corners, given.recipe["known"][0])
    return plane.size_by_one_side(corners, given.known[0], known, given.ends(asked), lies, given.shot)


def _corner_numbers(given: Given, corners: Sequence[Mark], part: Mapping[str, Any]) -> tuple[int, int]:
    ends = given.ends(part)
    for end in ends:
        if end not in corners:
            raise MarksNotUsable(
                "bad-input",
                f"The known size ends at '{end.name}', which is no corner of the rectangle; name two corners.",
            )
    return corners.index(ends[0]), corners.index(ends[1])


def _points(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    points = given.listed([part["point"] for part in given.recipe["known"]])
    return plane.size_by_points(points, _world(given), given.ends(asked), lies, given.shot)


def _world(given: Given) -> list[list[float]]:
    return [[parse_length(at).value_mm for at in part["at"]] for part in given.recipe["known"]]


def _edge(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    points = given.listed([part["point"] for part in given.recipe["known"]])
    return line.length_between_known(points, given.known, given.ends(asked), lies, given.shot)


def _row(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    numbers = {name_key(name): n for name, n in given.recipe["row"].items()}
    part = given.recipe["known"][0]
    between = []
    for end in ("from", "to"):
        if name_key(part[end]) not in numbers:
            raise MarksNotUsable(
                "bad-input",
                f"The known size ends at '{part[end]}', which is not in the row; name two things of the row.",
            )
        between.append(numbers[name_key(part[end])])
    points = given.listed(list(given.recipe["row"]))
    return line.length_by_equal_spacing(
        points,
        list(numbers.values()),
        given.known[0],
        (between[0], between[1]),
        given.ends(asked),
        lies,
        given.shot,
    )


def _parallel_edge(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    points = given.listed(given.recipe["edge"])
    pairs = []
    for ends in (given.known_ends, given.ends(asked)):
        for end in ends:
            if end not in points:
                raise MarksNotUsable(
                    "bad-input",
                    f"'{end.name}' is not among the marks of the edge; known and asked sizes both run along it.",
                )
        pairs.append((points.index(ends[0]), points.index(ends[1])))
    parallel = given.listed(given.recipe["parallel"])
    return line.length_by_parallel_edge(
        points, given.known[0], pairs[0], parallel, pairs[1], lies, given.shot
    )


def _heights(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    first, second = (given.edges(edges) for edges in given.recipe["level"])
    upright = given.edges(given.recipe["upright"])
    return heights.height_on_common_ground(
        (first, second), upright, given.known_ends, given.known[0], given.ends(asked), lies, given.shot
    )


def _circle(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    rim = given.listed(given.recipe["rim"])
    return round.size_by_circle(
        rim, given.known[0], given.ends(asked), given.recipe.get("faces"), lies, given.shot
    )


def _wheels(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    first, second = given.listed(given.recipe["first"]), given.listed(given.recipe["second"])
    if asked["what"] == SECOND_DIAMETER:
        return round.second_diameter(first, given.known[0], second, given.shot)
    return round.distance_of_wheels(first, given.known[0], second, lies, given.shot)


def _distance(given: Given, asked: Mapping[str, Any], lies: Lies) -> Derived:
    return distance.size_by_distance(given.ends(asked), given.known[0], lies, given.shot)


_SOLVERS = {
    "square on": _square_on,
    "rectangle": _rectangle,
    "one side": _one_side,
    "points": _points,
    "edge": _edge,
    "row": _row,
    "parallel edge": _parallel_edge,
    "heights": _heights,
    "circle": _circle,
    "wheels": _wheels,
    "distance": _distance,
}
