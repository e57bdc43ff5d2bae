"""Random scenes through each method: one function a method, each giving one answer beside its truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from benchmarks import scenes
from numpy.random import Generator

from archive.metrology.sources import Doubtful
from archive.photogrammetry import distance, focal, heights, lens, line, plane, round, set_back, square_on
from archive.photogrammetry.marks import (
    IN_THE_PLANE,
    Camera,
    Lies,
    Mark,
    Shot,
    camera,
    known_size,
    not_sure,
    standing_out,
    stated,
)

DRAWS = 2000
U_FOCAL = 0.02
U_PRINCIPAL_PX = 0.01 * scenes.WIDTH


@dataclass(frozen=True)
class Trial:
    """One answer: value and 95 % interval beside the truth, in the unit of the method, and its warnings' codes."""

    value: float
    low: float
    high: float
    truth: float
    codes: frozenset[str] = frozenset()

    @property
    def holds(self) -> bool:
        return self.low <= self.truth <= self.high


class Visit:
    """One scene's noise: how well marks, sizes and camera are known, drawn as the methods are told they are."""

    def __init__(self, rng: Generator, lens_known: str = "no lens") -> None:
        self.rng, self.lens_known = rng, lens_known
        self.sigma = rng.uniform(0.5, 2.0)
        self.count = 0

    def marks(self, px: np.ndarray) -> list[Mark]:
        noisy = px + self.rng.normal(0, self.sigma, px.shape)
        first, self.count = self.count, self.count + len(px)
        return [Mark(f"m{first + i}", x, y, self.sigma) for i, (x, y) in enumerate(noisy)]

    def known(self, name: str, truth_mm: float, relative_u: float = 0.002) -> Doubtful:
        u = self.rng.uniform(0.3, 1.0) * relative_u * truth_mm
        return known_size(name, truth_mm + self.rng.normal(0, u), u)

    def camera(self, sight: scenes.Sight) -> Camera:
        told = sight.focal * (1 + self.rng.normal(0, U_FOCAL))
        return camera(told, U_FOCAL * told, scenes.MIDDLE, U_PRINCIPAL_PX)

    def depth(self) -> tuple[float, Lies]:
        """How far something truly stands out of the wall, mm, and what was said of it."""
        said = self.rng.integers(3)
        if said == 0:
            return 0.0, IN_THE_PLANE
        if said == 1:
            truth, u = self.rng.uniform(-150, 150), 5.0
            return truth, standing_out(stated("depth", "asked", truth + self.rng.normal(0, u), u))
        return self.rng.normal(0, 50.0), not_sure("asked")

    def shot(self, sight: scenes.Sight) -> Shot:
        found, edges = None, ()
        if self.lens_known == "known":
            u = np.array([0.002, 8.0, 8.0])
            told = self.rng.normal([sight.strength, *sight.lens_centre], u)
            numbers = [
                stated("lens", "lens", x, s, str(i)) for i, (x, s) in enumerate(zip(told, u, strict=True))
            ]
            found = lens.Lens(*numbers, norm_radius_px=scenes.HALF_DIAGONAL)
        elif self.lens_known != "no lens":
            marked = [self.marks(px) for px in scenes.straight_edges(self.rng, sight, 6, 7)]
            if self.lens_known == "from edges":
                found = lens.lens_from_edges(marked, (scenes.WIDTH, scenes.HEIGHT)).lens
            else:
                edges = marked
        seed = int(self.rng.integers(2**31))
        return Shot(self.camera(sight), found, edges, seed=seed, draws=DRAWS)

    def look(self, **how: object) -> scenes.Sight:
        make = how.pop("make", scenes.random_sight)
        sight = make(self.rng, **how)
        return sight if self.lens_known == "no lens" else scenes.with_lens(self.rng, sight)


Scene = Callable[[Visit], Trial | None]
RING = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], dtype=float)


def answered(answer, truth: float) -> Trial:
    low, high = answer.interval_95_mm
    return Trial(answer.value_mm, low, high, truth, frozenset(warning.code for warning in answer.warnings))


def wall(visit: Visit, wide: float, tall: float, depth: float) -> np.ndarray:
    """Two places on a wall (or `depth` in front of it), well apart, within or somewhat outside a rectangle."""
    size = np.array([wide, tall])
    while True:
        ends = visit.rng.uniform(-0.25, 1.25, (2, 2)) * size
        if np.hypot(*(ends[0] - ends[1])) > 0.25 * wide:
            return np.column_stack([ends, np.full(2, depth)])


def rectangle(visit: Visit):
    wide, tall = visit.rng.uniform(800, 3000), visit.rng.uniform(800, 2500)
    sight = visit.look(looks_at=(wide / 2, tall / 2, 0.0), width_mm=wide, share=(0.3, 0.6))
    depth, lies = visit.depth()
    ends = wall(visit, wide, tall, depth)
    px = sight.see(np.concatenate([RING * (wide, tall, 1), ends]))
    return wide, tall, sight, lies, ends, px


def by_rectangle(visit: Visit) -> Trial | None:
    wide, tall, sight, lies, ends, px = rectangle(visit)
    if not scenes.in_frame(px):
        return None
    corners, target = visit.marks(px[:4]), visit.marks(px[4:])
    sizes = visit.known("width", wide), visit.known("height", tall)
    answer = plane.size_by_rectangle(corners, *sizes, target, lies, visit.shot(sight))
    return answered(answer, np.linalg.norm(ends[0] - ends[1]))


def by_points(visit: Visit) -> Trial | None:
    wide, tall, sight, lies, ends, _ = rectangle(visit)
    world = np.concatenate(
        [RING * (wide, tall, 1), [(wide / 2, 0, 0), (wide, tall / 2, 0), (wide / 3, tall, 0)]]
    )
    px = sight.see(np.concatenate([world, ends]))
    if not scenes.in_frame(px):
        return None
    points, target = visit.marks(px[:7]), visit.marks(px[7:])
    answer = plane.size_by_points(points, world[:, :2], target, lies, visit.shot(sight))
    return answered(answer, np.linalg.norm(ends[0] - ends[1]))


def by_one_side(visit: Visit) -> Trial | None:
    wide, _, sight, lies, ends, px = rectangle(visit)
    if not scenes.in_frame(px):
        return None
    corners, target = visit.marks(px[:4]), visit.marks(px[4:])
    answer = plane.size_by_one_side(
        corners, visit.known("width", wide), (0, 1), target, lies, visit.shot(sight)
    )
    return answered(answer, np.linalg.norm(ends[0] - ends[1]))


def off_a_rectangle(visit: Visit) -> Trial | None:
    wide, tall, sight, _, _, _ = rectangle(visit)
    truth, u = visit.rng.uniform(-400, 400), visit.rng.uniform(2, 20)
    ends = wall(visit, wide, tall, truth)
    px = sight.see(np.concatenate([RING * (wide, tall, 1), ends]))
    if not scenes.in_frame(px):
        return None
    corners, target = visit.marks(px[:4]), visit.marks(px[4:])
    lies = standing_out(stated("depth", "asked", truth + visit.rng.normal(0, u), u))
    sizes = visit.known("width", wide), visit.known("height", tall)
    answer = set_back.size_off_a_rectangle(corners, *sizes, target, lies, visit.shot(sight))
    return answered(answer, np.linalg.norm(ends[0] - ends[1]))


def by_proportion(visit: Visit) -> Trial | None:
    wide = visit.rng.uniform(1500, 5000)
    tilt = visit.rng.choice([3.0, 6.0])
    sight = visit.look(
        make=scenes.square_sight, looks_at=(wide / 2, wide / 3, 0.0), width_mm=wide, tilt_deg=tilt
    )
    depth, lies = visit.depth()
    reference = np.array([(0.1, 0.1, 0), (0.1 + visit.rng.uniform(0.2, 0.6), 0.1, 0)]) * wide
    ends = wall(visit, 0.8 * wide, 0.6 * wide, depth)
    px = sight.see(np.concatenate([reference, ends]))
    if not scenes.in_frame(px):
        return None
    known = visit.known("known", reference[1, 0] - reference[0, 0])
    shot = visit.shot(sight)
    answer = square_on.size_by_proportion(
        visit.marks(px[:2]), known, visit.marks(px[2:]), lies, shot, u_tilt_deg=float(tilt)
    )
    return answered(answer, np.linalg.norm(ends[0] - ends[1]))


def edge(visit: Visit, n: int, extra: int):
    """Positions along a level edge at a slant, with a depth for the asked ones in the plane of camera and edge."""
    long = visit.rng.uniform(2000, 6000)
    sight = visit.look(
        looks_at=(long / 2, visit.rng.uniform(-0.2, 0.2) * long, 0.0),
        width_mm=long,
        share=(0.5, 0.9),
        yaw_deg=(-60, 60),
    )
    known = np.sort(visit.rng.uniform(0.1, 0.8, n)) * long
    asked = visit.rng.uniform(0.0, 1.0, extra) * long
    return sight, known, asked


def seen_along(sight: scenes.Sight, known: np.ndarray, asked: np.ndarray, depth: float) -> np.ndarray:
    """The edge is the world's x axis; what stands out does so square to it, towards the camera."""
    towards = np.array([0.0, *(sight.eye[1:] / np.linalg.norm(sight.eye[1:]))])
    points = np.concatenate([known, asked])[:, None] * np.array([1.0, 0.0, 0.0])
    points[len(known) :] += depth * towards
    return sight.see(points)


def by_known_positions(visit: Visit) -> Trial | None:
    sight, known, asked = edge(visit, 3, 1)
    depth, lies = visit.depth()
    px = seen_along(sight, known, asked, depth)
    if not scenes.in_frame(px) or np.diff(known).min() < 0.12 * np.ptp(known):
        return None
    u = 0.001 * np.ptp(known)
    positions = [known_size(f"p{i}", x + visit.rng.normal(0, u), u) for i, x in enumerate(known)]
    marked = visit.marks(px)
    answer = line.position_between_known(marked[:3], positions, marked[3], lies, visit.shot(sight))
    return answered(answer, asked[0])


def by_spacing(visit: Visit) -> Trial | None:
    sight, _, asked = edge(visit, 3, 2)
    depth, lies = visit.depth()
    numbers = np.arange(visit.rng.integers(4, 9))
    spacing = visit.rng.uniform(200, 600)
    px = seen_along(sight, numbers * spacing, asked, depth)
    if not scenes.in_frame(px) or abs(asked[0] - asked[1]) < 500:
        return None
    marked = visit.marks(px)
    known = visit.known("known", 2 * spacing)
    n = len(numbers)
    answer = line.length_by_equal_spacing(
        marked[:n], [int(k) for k in numbers], known, (1, 3), marked[n:], lies, visit.shot(sight)
    )
    return answered(answer, abs(asked[0] - asked[1]))


def by_parallel_edge(visit: Visit) -> Trial | None:
    sight, known, _ = edge(visit, 3, 0)
    px = seen_along(sight, known, np.array([]), 0.0)
    above = sight.see(np.array([(known[0], 1200.0, 0), (known[2], 1200.0, 0)]))
    if not scenes.in_frame(np.concatenate([px, above])) or np.diff(known).min() < 0.15 * np.ptp(known):
        return None
    size = visit.known("known", known[1] - known[0])
    answer = line.length_by_parallel_edge(
        visit.marks(px), size, (0, 1), visit.marks(above), (0, 2), shot=visit.shot(sight)
    )
    return answered(answer, known[2] - known[0])


def by_height(visit: Visit) -> Trial | None:
    """A slab on the ground gives level edges, two posts the uprights; y is up, the ground is y = 0."""
    wide, deep, post = (
        visit.rng.uniform(2500, 5000),
        visit.rng.uniform(2000, 4000),
        visit.rng.uniform(1500, 2500),
    )
    sight = visit.look(
        looks_at=(wide / 2, 900.0, deep / 2),
        width_mm=1.5 * wide,
        share=(0.5, 0.8),
        pitch_deg=(4, 22),
        yaw_deg=(15, 40),
    )
    slab = np.array([(0, 0, 0), (wide, 0, 0), (wide, 0, deep), (0, 0, deep)], dtype=float)
    up = np.array([0.0, post, 0.0])
    known_at, asked_at = slab[0] + (0.3 * wide, 0, 0.4 * deep), slab[0] + (0.7 * wide, 0, 0.6 * deep)
    known, asked = visit.rng.uniform(1000, 2200), visit.rng.uniform(800, 3000)
    tops = [known_at, known_at + np.array([0, known, 0]), asked_at, asked_at + np.array([0, asked, 0])]
    px = sight.see(np.concatenate([slab, slab[[0, 1]] + up, tops]))
    if not scenes.in_frame(px):
        return None

    def edges(*pairs: tuple[int, int]) -> list[list[Mark]]:
        return [visit.marks(px[list(pair)]) for pair in pairs]

    level = edges((0, 1), (3, 2)), edges((0, 3), (1, 2))
    answer = heights.height_on_common_ground(
        level,
        edges((0, 4), (1, 5)),
        visit.marks(px[6:8]),
        visit.known("known", known),
        visit.marks(px[8:10]),
        shot=visit.shot(sight),
    )
    return answered(answer, asked)


def rim(middle: np.ndarray, radius: float, n: int = 10) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return middle + radius * np.column_stack([np.cos(turn), np.sin(turn), np.zeros(n)])


def by_circle(visit: Visit) -> Trial | None:
    diameter = visit.rng.uniform(500, 1500)
    sight = visit.look(looks_at=(0, 0, 0), width_mm=3 * diameter, yaw_deg=(18, 50), share=(0.6, 0.9))
    depth, lies = visit.depth()
    ends = wall(visit, 1.5 * diameter, diameter, depth) - (0.5 * diameter, 0.5 * diameter, 0)
    px = sight.see(np.concatenate([rim(np.zeros(3), diameter / 2), ends]))
    if not scenes.in_frame(px):
        return None
    facing = "left" if (sight.turn @ [0, 0, 1])[0] < 0 else "right"
    answer = round.size_by_circle(
        visit.marks(px[:10]),
        visit.known("known", diameter),
        visit.marks(px[10:]),
        facing,
        lies,
        visit.shot(sight),
    )
    return answered(answer, np.linalg.norm(ends[0] - ends[1]))


def by_wheels(visit: Visit) -> Trial | None:
    diameter, base = visit.rng.uniform(700, 1200), visit.rng.uniform(1800, 3500)
    sight = visit.look(looks_at=(base / 2, 0, 0), width_mm=base + diameter)
    px = sight.see(
        np.concatenate([rim(np.zeros(3), diameter / 2), rim(np.array([base, 0.0, 0.0]), diameter / 2)])
    )
    if not scenes.in_frame(px):
        return None
    shot = visit.shot(sight)
    answer = round.distance_of_wheels(
        visit.marks(px[:10]), visit.known("known", diameter), visit.marks(px[10:]), shot=shot
    )
    return answered(answer, base)


def by_distance(visit: Visit) -> Trial | None:
    wide = visit.rng.uniform(1000, 4000)
    sight = visit.look(make=scenes.square_sight, looks_at=(wide / 2, 0, 0), width_mm=wide, tilt_deg=0.0)
    depth, lies = visit.depth()
    px = sight.see(np.array([(0.1 * wide, 0, depth), (0.9 * wide, 0, depth)]))
    if not scenes.in_frame(px):
        return None
    answer = distance.size_by_distance(
        visit.marks(px), visit.known("distance", sight.eye[2], 0.01), lies, visit.shot(sight)
    )
    return answered(answer, 0.8 * wide)


def focal_length(visit: Visit) -> Trial | None:
    sight = visit.look(looks_at=(1000, 700, 1000), width_mm=3000, yaw_deg=(30, 60), share=(0.5, 0.9))
    corners = np.array(
        [(0, 0, 2000), (2000, 0, 2000), (2000, 0, 0), (0, 1500, 2000), (2000, 1500, 2000), (2000, 1500, 0)]
    )
    px = sight.see(corners.astype(float))
    if not scenes.in_frame(px):
        return None
    told = camera(1.0, 0.0, scenes.MIDDLE, U_PRINCIPAL_PX).numbers
    first = [visit.marks(px[[0, 1]]), visit.marks(px[[3, 4]])]
    second = [visit.marks(px[[1, 2]]), visit.marks(px[[4, 5]])]
    found = focal.focal_by_right_angle(first, second, (told[1], told[2]), shot=visit.shot(sight))
    return Trial(found.number.value, *found.interval_95, sight.focal)


def lens_strength(visit: Visit) -> Trial | None:
    sight = scenes.with_lens(visit.rng, scenes.random_sight(visit.rng, (0, 0, 0), 3000))
    edges = [visit.marks(px) for px in scenes.straight_edges(visit.rng, sight, 6, 9)]
    number = lens.lens_from_edges(edges, (scenes.WIDTH, scenes.HEIGHT)).lens.strength
    half = 1.959964 * number.standard_uncertainty
    return Trial(number.value, number.value - half, number.value + half, sight.strength)


METHODS: dict[str, Scene] = {
    "square on": by_proportion,
    "plane by a rectangle": by_rectangle,
    "plane by points": by_points,
    "plane by one side": by_one_side,
    "line by known positions": by_known_positions,
    "line by equal spacing": by_spacing,
    "line by a parallel edge": by_parallel_edge,
    "heights": by_height,
    "circle": by_circle,
    "two wheels": by_wheels,
    "set back": off_a_rectangle,
    "distance": by_distance,
    "focal length": focal_length,
    "lens": lens_strength,
}
LENSES = ("no lens", "known", "from edges")


def trials(scene: Scene, n: int, seed: int, lens_known: str = "mixed") -> tuple[list[Trial], int]:
    """`n` answers of one method on scenes drawn from `seed`, and how many more scenes were refused in words."""
    from archive.errors import MarksNotUsable

    rng = np.random.default_rng(seed)
    found: list[Trial] = []
    refused = 0
    while len(found) < n:
        told = LENSES[rng.choice(3, p=[0.5, 0.25, 0.25])] if lens_known == "mixed" else lens_known
        try:
            trial = scene(Visit(rng, told))
        except MarksNotUsable:
            refused += 1
            continue
        if trial is not None:
            found.append(trial)
    return found, refused
