"""The rendered photographs of the demo as test scenes: every named size that a method can have from them.

Marks are the true places with 1 px of noise (the truth counts pixels from the outer corner of the first one, half
a pixel from ours). The camera is known as its data tell it: whole mm, its lens from edges of the same camera.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from archive.errors import MarksNotUsable
from archive.photogrammetry import distance, heights, line, plane, round, set_back, square_on
from archive.photogrammetry.doubt import Derived
from archive.photogrammetry.focal import camera_from_35mm
from archive.photogrammetry.lens import Lens, lens_from_edges
from archive.photogrammetry.marks import IN_THE_PLANE, Lies, Mark, Shot, known_size, standing_out, stated

TRUTH = Path(__file__).resolve().parents[2] / "demo_library" / "truth.json"
SIGMA_PX = 1.0
U_MM = 1.0  # of known sizes and known depths
SQUARE_ENOUGH_DEG = 8.0


@cache
def truth() -> dict[str, Any]:
    return json.loads(TRUTH.read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Figure:
    """One size from one photo beside its truth, mm."""

    method: str
    photo: str
    what: str
    value: float
    low: float
    high: float
    truth: float
    span_px: float
    within: bool  # the asked size lies within the known one's reach on the photo

    @property
    def holds(self) -> bool:
        return self.low <= self.truth <= self.high

    @property
    def error(self) -> float:
        return abs(self.value / self.truth - 1)


class Photo:
    """One photograph with its true marks, and what somebody would know of its camera."""

    def __init__(self, name: str, subject: str, seed: int = 1, sigma_px: float = SIGMA_PX) -> None:
        self.name, self.subject = name, subject
        self.image, self.thing = truth()["images"][name], truth()["subjects"][subject]
        up = self.image["upright"]
        self.size = up["width"], up["height"]
        self.turn, self.shift = np.array(up["R"]), np.array(up["t_mm"])
        self.focal = up["fx"]
        rng = np.random.default_rng([seed, *name.encode(), *subject.encode()])
        self.true_px = {
            point: np.array(at["upright"]) - 0.5
            for point, at in self.image["points"].get(subject, {}).items()
            if at["visible"]
        }
        self.px = {point: px + rng.normal(0, sigma_px, 2) for point, px in self.true_px.items()}
        self.local = {point: np.array(at) for point, at in self.thing["points_local_mm"].items()}

    def sees(self, *points: str) -> bool:
        return all(point in self.px for point in points)

    def marks(self, *points: str) -> list[Mark]:
        return [Mark(p, *self.px[p], SIGMA_PX) for p in points]

    def world(self, local: np.ndarray) -> np.ndarray:
        placed = self.thing["local_to_world"]
        return np.array(placed["R"]) @ local + np.array(placed["t_mm"])

    def eyed(self, local: np.ndarray) -> np.ndarray:
        """In the camera's axes, mm."""
        return self.turn @ self.world(local) + self.shift

    def direction(self, local: np.ndarray) -> np.ndarray:
        return self.turn @ np.array(self.thing["local_to_world"]["R"]) @ local

    def shot(self) -> Shot:
        told = camera_from_35mm(np.round(self.image["f35_true"]), self.size)
        return Shot(
            told.camera, lens_of(self.size, self.focal, self.image["upright"]["k1"]), seed=1, draws=2000
        )

    def sizes(self) -> Iterator[tuple[str, str, str, float]]:
        """Named sizes that run straight between two visible points: name, from, to, mm."""
        for size in self.thing["dimensions"]:
            if size["along"] == "straight line" and self.sees(size["from"], size["to"]):
                yield size["name"], size["from"], size["to"], size["mm"]

    def figure(
        self, method: str, what: str, answer: Derived, mm: float, ends: tuple[str, str], known: list[str]
    ) -> Figure:
        px = np.array([self.true_px[end] for end in ends])
        reference = np.array([self.true_px[point] for point in known])
        margin = 0.05 * np.ptp(reference, axis=0).max()
        within = bool(
            np.all(px >= reference.min(axis=0) - margin) and np.all(px <= reference.max(axis=0) + margin)
        )
        span = float(np.hypot(*(px[0] - px[1])))
        return Figure(method, self.name, what, answer.value_mm, *answer.interval_95_mm, mm, span, within)


LONG_EDGES = (
    ((0.04, 0.08), (0.95, 0.05)),
    ((0.05, 0.93), (0.96, 0.95)),
    ((0.06, 0.04), (0.05, 0.95)),
    ((0.94, 0.05), (0.95, 0.96)),
    ((0.05, 0.3), (0.95, 0.2)),
    ((0.7, 0.04), (0.78, 0.95)),
)


@cache
def lens_of(size: tuple[int, int], focal: float, k1: float) -> Lens | None:
    """The lens as found from six long edges, seven marks of 1 px on each, in another photo of the same camera."""
    if k1 == 0:
        return None
    rng = np.random.default_rng(7)
    width, height = size
    edges = []
    for i, (first, last) in enumerate(LONG_EDGES):
        t = np.linspace(0, 1, 7)[:, None]
        ideal = (np.array(first) + t * (np.array(last) - np.array(first))) * size - np.array(
            [width, height]
        ) / 2
        seen = (
            ideal * (1 + k1 * ((ideal / focal) ** 2).sum(axis=1, keepdims=True))
            + np.array([width, height]) / 2
            - 0.5
        )
        noisy = seen + rng.normal(0, SIGMA_PX, seen.shape)
        edges.append([Mark(f"edge {i} {j}", x, y, SIGMA_PX) for j, (x, y) in enumerate(noisy)])
    return lens_from_edges(edges, size).lens


class Face:
    """A flat face of a subject, seen with all its corners: axes in the subject's own mm."""

    def __init__(self, photo: Photo, corners: list[str]) -> None:
        self.corners = corners
        a, b, _, d = (photo.local[corner] for corner in corners)
        self.origin, self.wide, self.tall = a, float(np.linalg.norm(b - a)), float(np.linalg.norm(d - a))
        across, up = (b - a) / self.wide, (d - a) / self.tall
        normal = np.cross(across, up)
        if photo.direction(normal) @ photo.eyed(a) > 0:
            normal = -normal
        self.across, self.up, self.normal = across, up, normal
        self.tilt_deg = np.degrees(np.arccos(min(1.0, -photo.direction(normal)[2])))

    def stands_out(self, local: np.ndarray) -> float:
        return float((local - self.origin) @ self.normal)


def faces(photo: Photo) -> Iterator[tuple[str, Face]]:
    for face in photo.thing["faces"]:
        if photo.sees(*face["corners"]):
            yield face["name"], Face(photo, face["corners"])


def off_or_in(depth: float) -> Lies:
    return IN_THE_PLANE if abs(depth) < 1.0 else standing_out(stated("depth", "asked", depth, U_MM))


def parallel_sizes(photo: Photo, face: Face) -> Iterator[tuple[str, str, str, float, float]]:
    """Named sizes that run parallel to a face, with how far they stand out of it, mm."""
    for name, start, end, mm in photo.sizes():
        out = [face.stands_out(photo.local[point]) for point in (start, end)]
        if abs(out[0] - out[1]) < 1.0 and abs(out[0]) < 500:
            yield name, start, end, mm, float(np.mean(out))


def by_faces(photo: Photo) -> Iterator[Figure | tuple[str, str]]:
    shot = photo.shot()
    for where, face in faces(photo):
        corners = photo.marks(*face.corners)
        wide, tall = known_size("wide", face.wide, U_MM), known_size("tall", face.tall, U_MM)
        for name, start, end, mm, out in parallel_sizes(photo, face):
            what, target, lies = f"{name}, by the {where}", photo.marks(start, end), off_or_in(out)
            own = {start, end} <= set(face.corners)
            side, length = (
                ((0, 1), wide) if face.wide > face.tall else ((1, 2), tall)
            )  # the longer one is known
            if own and abs(mm - length.value) < 1.0:
                continue
            tries = {
                "plane by one side": partial(
                    plane.size_by_one_side, corners, length, side, target, lies, shot
                )
            }
            if own:
                pass  # a rectangle of which both sides are known has nothing more to tell of them
            elif lies.in_the_plane:
                tries["plane by a rectangle"] = partial(
                    plane.size_by_rectangle, corners, wide, tall, target, lies, shot
                )
                tries["plane by points"] = partial(by_points, photo, face, (start, end), shot)
            else:
                tries["set back"] = partial(
                    set_back.size_off_a_rectangle, corners, wide, tall, target, lies, shot
                )
            if face.tilt_deg <= SQUARE_ENOUGH_DEG:
                tries["square on"] = partial(
                    square_on.size_by_proportion,
                    [corners[i] for i in side],
                    length,
                    target,
                    lies,
                    shot,
                    u_tilt_deg=3.0,
                )
            for method, ask in tries.items():
                yield from tried(photo, method, what, ask, mm, (start, end), face.corners)


def by_points(photo: Photo, face: Face, ends: tuple[str, str], shot: Shot) -> Derived:
    """All visible named points in the plane of a face but the asked ones, at most eight."""
    points = [p for p in photo.px if abs(face.stands_out(photo.local[p])) < 1.0 and p not in ends]
    points = [*face.corners, *[p for p in points if p not in face.corners][:4]]
    away = np.array([photo.local[p] - face.origin for p in points])
    world = np.column_stack([away @ face.across, away @ face.up])
    return plane.size_by_points(photo.marks(*points), world, photo.marks(*ends), shot=shot)


def by_lines(photo: Photo) -> Iterator[Figure | tuple[str, str]]:
    shot = photo.shot()
    for row in photo.thing["lines"]:
        seen = [(p, x) for p, x in zip(row["points"], row["at_mm"], strict=True) if photo.sees(p)]
        points, at = tuple(p for p, _ in seen), tuple(x for _, x in seen)
        if len(points) < 4:
            continue
        known, target = (0, 1, len(points) - 1), (1, len(points) - 2) if len(points) > 4 else (1, 2)
        if len(points) == 4:
            known = (0, 1, 3)
        ends = (points[known[0]], points[target[1]])
        mm = at[target[1]] - at[0]
        positions = [known_size(points[i], at[i], U_MM) for i in known]
        yield from tried(
            photo,
            "line by known positions",
            row["name"],
            partial(
                line.position_between_known,
                photo.marks(*[points[i] for i in known]),
                positions,
                *photo.marks(ends[1]),
                shot=shot,
            ),
            mm + at[0],
            ends,
            list(points),
        )
        steps = np.diff(at)
        if np.ptp(steps) < 1e-6:
            asked = (points[0], points[-1])
            yield from tried(
                photo,
                "line by equal spacing",
                row["name"],
                partial(
                    line.length_by_equal_spacing,
                    photo.marks(*points),
                    list(range(len(points))),
                    known_size("pitch", steps[0], 0.3 * U_MM),
                    (0, 1),
                    photo.marks(*asked),
                    shot=shot,
                ),
                at[-1] - at[0],
                asked,
                list(points),
            )
        for _, face in faces(photo):
            edge = other_edge(photo, face, points)
            if edge:
                yield from tried(
                    photo,
                    "line by a parallel edge",
                    row["name"],
                    partial(
                        line.length_by_parallel_edge,
                        photo.marks(points[0], points[-2], points[-1]),
                        known_size("whole", at[-1] - at[0], U_MM),
                        (0, 2),
                        photo.marks(*edge),
                        (0, 1),
                        shot=shot,
                    ),
                    at[-2] - at[0],
                    (points[0], points[-2]),
                    list(points),
                )


def other_edge(photo: Photo, face: Face, points: tuple[str, ...]) -> tuple[str, str] | None:
    """An edge of a face that runs parallel to a row but well apart from it."""
    along = photo.local[points[-1]] - photo.local[points[0]]
    along = along / np.linalg.norm(along)
    for a, b in zip(face.corners, [*face.corners[1:], face.corners[0]], strict=True):
        edge = photo.local[b] - photo.local[a]
        away = photo.local[a] - photo.local[points[0]]
        apart = np.linalg.norm(away - (away @ along) * along)
        if np.linalg.norm(np.cross(edge, along)) < 1e-6 * np.linalg.norm(edge) and apart > 300:
            return a, b
    return None


def by_circles(photo: Photo) -> Iterator[Figure | tuple[str, str]]:
    shot = photo.shot()
    for circle in photo.thing["circles"]:
        rim = [p for p in circle["rim_points"] if photo.sees(p)]
        if len(rim) < 6:
            continue
        normal, centre = np.array(circle["normal"]), np.array(circle["centre"])
        normal = -normal if photo.direction(normal) @ photo.eyed(centre) > 0 else normal
        facing = photo.direction(normal)
        across = abs(facing[0]) > abs(facing[1])
        faces_to = ("right" if facing[0] > 0 else "left") if across else ("down" if facing[1] > 0 else "up")
        for name, start, end, mm in photo.sizes():
            out = [float((photo.local[p] - centre) @ normal) for p in (start, end)]
            if abs(out[0] - out[1]) > 1.0 or {start, end} & set(circle["rim_points"]):
                continue
            yield from tried(
                photo,
                "circle",
                f"{name}, by the {circle['name']}",
                partial(
                    round.size_by_circle,
                    photo.marks(*rim),
                    known_size("diameter", 2 * circle["radius_mm"], U_MM),
                    photo.marks(start, end),
                    faces_to,
                    off_or_in(np.mean(out)),
                    shot,
                ),
                mm,
                (start, end),
                rim,
            )


# Plumb edges on one level, which the named heights (from the paving to something set in) are not.
PLUMB = {
    "weigh-hut": (
        [("plinth front left, ground", "plinth front right, ground"), ("quoin front left, course 24", "quoin front right, course 24")],
        [("plinth front right, ground", "plinth rear right, ground"), ("quoin front right, course 24", "quoin rear right, course 24")],
        [(f"quoin {corner}, top of plinth", f"quoin {corner}, course 24") for corner in ("front right", "front left", "rear right")],
    ),
    "wharf-crane": (
        [("base plate front left, top corner", "base plate front right, top corner"), ("post front left edge at cap", "post front right edge at cap")],
        [("base plate front right, top corner", "base plate rear right, top corner"), ("post front right edge at cap", "post rear right edge at cap")],
        [(f"post {corner} edge at socket", f"post {corner} edge at cap") for corner in ("front right", "front left", "rear right")],
    ),
}  # fmt: skip


def by_heights(photo: Photo) -> Iterator[Figure | tuple[str, str]]:
    """The first of three plumb edges is known, the others are asked."""
    if photo.subject not in PLUMB:
        return
    first, second, plumb = PLUMB[photo.subject]
    if not photo.sees(*[point for edge in (*first, *second, *plumb[:2]) for point in edge]):
        return

    def marked(edges: list[tuple[str, str]]) -> list[list[Mark]]:
        return [photo.marks(*edge) for edge in edges]

    mm = float(np.linalg.norm(np.subtract(*(photo.local[point] for point in plumb[0]))))
    for edge in plumb[1:]:
        if photo.sees(*edge):
            yield from tried(
                photo,
                "heights",
                edge[0],
                partial(
                    heights.height_on_common_ground,
                    (marked(first), marked(second)),
                    marked(plumb[:2]),
                    photo.marks(*plumb[0]),
                    known_size("height", mm, U_MM),
                    photo.marks(*edge),
                    shot=photo.shot(),
                ),
                mm,
                edge,
                [*plumb[0], *edge],
            )


def by_distance(photo: Photo) -> Iterator[Figure | tuple[str, str]]:
    """Sizes square to the view, from the distance of their plane (read to 20 mm)."""
    for name, start, end, mm in photo.sizes():
        ends = np.array([photo.eyed(photo.local[p]) for p in (start, end)])
        away = float(ends[:, 2].mean())
        if abs(ends[0, 2] - ends[1, 2]) > 0.02 * mm:
            continue
        rng = np.random.default_rng(len(name))
        yield from tried(
            photo,
            "distance",
            name,
            partial(
                distance.size_by_distance,
                photo.marks(start, end),
                known_size("distance", away + rng.normal(0, 20.0), 20.0),
                shot=photo.shot(),
            ),
            mm,
            (start, end),
            [start, end],
        )


def tried(photo: Photo, method: str, what: str, ask: Any, mm: float, ends: tuple[str, str], known: list[str]):
    """The figure, or method and refusal where the photo shows too little."""
    try:
        answer = ask()
    except MarksNotUsable as refusal:
        yield method, f"{photo.name}: {what}: {refusal}"
        return
    yield photo.figure(method, what, answer, mm, ends, known)


@cache
def everything() -> tuple[tuple[Figure, ...], tuple[tuple[str, str], ...]]:
    """All figures, and the refusals with their sentences."""
    found: list[Figure | tuple[str, str]] = []
    for name, image in truth()["images"].items():
        if name.startswith("P5_screen"):
            continue  # a copy off a screen tells no focal length
        for subject in image["points"]:
            if subject in truth()["subjects"]:
                photo = Photo(name, subject)
                for ask in (by_faces, by_lines, by_heights, by_circles, by_distance):
                    found += ask(photo)
    return tuple(x for x in found if isinstance(x, Figure)), tuple(
        x for x in found if not isinstance(x, Figure)
    )
