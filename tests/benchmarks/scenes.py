"""Made-up scenes with known truth: a pinhole camera with radial distortion looks at a wall, a row, the ground.

Shares no code with the methods that are tried on it. World axes: x right along the wall, y up, z out of the
wall towards the camera; mm. Photos are 4000 x 3000 px, (0, 0) the centre of the top-left pixel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

WIDTH, HEIGHT = 4000, 3000
HALF_DIAGONAL = 2500.0
MIDDLE = np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2])


@dataclass(frozen=True)
class Sight:
    """A camera in its place: focal length and principal point in px, looking along the third row of `turn`."""

    focal: float
    principal: np.ndarray
    turn: np.ndarray  # world -> camera (x right, y down, z forward)
    eye: np.ndarray
    strength: float = 0.0  # of the division model about `lens_centre`
    lens_centre: np.ndarray = None  # type: ignore[assignment]

    def see(self, points: np.ndarray) -> np.ndarray:
        """Where world points (N, 3) come to lie on the photo, px, without noise."""
        inside = (points - self.eye) @ self.turn.T
        if np.any(inside[:, 2] <= 0):
            return np.full((len(points), 2), np.nan)
        ideal = self.focal * inside[:, :2] / inside[:, 2:] + self.principal
        if self.strength == 0:
            return ideal
        away = ideal - self.lens_centre
        far = np.hypot(*away.T)
        k = self.strength / HALF_DIAGONAL**2
        under = 1 - 4 * k * far**2
        with np.errstate(invalid="ignore", divide="ignore"):
            bent = np.where(
                far > 0, (1 - np.sqrt(under)) / (2 * k * far), 0.0
            )  # solves far = r / (1 + k r^2)
            return self.lens_centre + away * np.where(far > 0, bent / far, 1.0)[:, None]


def random_sight(
    rng: Generator,
    looks_at: tuple[float, float, float],
    width_mm: float,
    share: tuple[float, float] = (0.45, 0.8),
    yaw_deg: tuple[float, float] = (-35.0, 35.0),
    pitch_deg: tuple[float, float] = (-12.0, 12.0),
    roll_deg: float = 2.0,
) -> Sight:
    """A camera of 24 to 70 mm (as on 35 mm film) that sees `width_mm` over a share of the frame's width."""
    focal = rng.uniform(24, 70) * 2 * HALF_DIAGONAL / 43.2666
    yaw, pitch = np.radians(rng.uniform(*yaw_deg)), np.radians(rng.uniform(*pitch_deg))
    distance = focal * width_mm / (rng.uniform(*share) * WIDTH)
    towards = np.array([np.sin(yaw) * np.cos(pitch), np.sin(pitch), np.cos(yaw) * np.cos(pitch)])
    eye = np.array(looks_at) + distance * towards
    forward = -towards
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    roll = np.radians(rng.normal(0, roll_deg))
    turn = np.array(
        [np.cos(roll) * right + np.sin(roll) * down, -np.sin(roll) * right + np.cos(roll) * down, forward]
    )
    principal = MIDDLE + rng.normal(0, 0.01 * WIDTH, 2)
    return Sight(focal, principal, turn, eye)


def square_sight(
    rng: Generator, looks_at: tuple[float, float, float], width_mm: float, tilt_deg: float
) -> Sight:
    """A camera held square to the wall but for a normal error of `tilt_deg` about each picture axis."""
    sight = random_sight(rng, looks_at, width_mm, yaw_deg=(0, 0), pitch_deg=(0, 0), roll_deg=0.0)
    about_x, about_y = np.radians(rng.normal(0, tilt_deg, 2))
    distance = np.linalg.norm(sight.eye - looks_at)
    towards = np.array(
        [np.sin(about_y), np.sin(about_x) * np.cos(about_y), np.cos(about_x) * np.cos(about_y)]
    )
    right = np.cross([0.0, 1.0, 0.0], towards)
    right /= np.linalg.norm(right)
    turn = np.array([right, -np.cross(towards, right), -towards])
    return replace(sight, eye=np.array(looks_at) + distance * towards, turn=turn)


def with_lens(rng: Generator, sight: Sight, low: float = -0.2, high: float = -0.02) -> Sight:
    """The same camera through a lens that bends, its centre off by 1 % of the diagonal."""
    centre = MIDDLE + rng.normal(0, 0.01 * 2 * HALF_DIAGONAL, 2)
    return replace(sight, strength=rng.uniform(low, high), lens_centre=centre)


def straight_edges(rng: Generator, sight: Sight, n_edges: int, per_edge: int) -> list[np.ndarray]:
    """Photo places along edges that are straight in the world, near the borders, in two directions; px, no noise."""
    found: list[np.ndarray] = []
    while len(found) < n_edges:
        upright = len(found) % 2
        first, last = rng.uniform(0.04, 0.2, 2), rng.uniform(0.8, 0.96, 2)
        border = (rng.uniform(0.05, 0.25) if rng.random() < 0.5 else rng.uniform(0.75, 0.95)) + rng.normal(
            0, 0.02, 2
        )
        ends = np.array([[first[0], border[0]], [last[0], border[1]]])
        ends = ends[:, ::-1] if upright else ends
        t = np.linspace(0, 1, per_edge)[:, None]
        ideal = (ends[0] + t * (ends[1] - ends[0])) * (WIDTH, HEIGHT)
        # Lines of the photo without distortion are lines of the world; a flat one far off will do.
        rays = np.column_stack([(ideal - sight.principal) / sight.focal, np.ones(per_edge)]) @ sight.turn
        found.append(sight.see(sight.eye + 5000 * rays))
    return found


def in_frame(px: np.ndarray) -> bool:
    """Whether all places lie in the picture."""
    return bool(np.all(np.isfinite(px)) and np.all(px >= 0) and np.all(px <= (WIDTH - 1, HEIGHT - 1)))
