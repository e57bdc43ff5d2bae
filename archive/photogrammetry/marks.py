"""What a method is given: marks, where the asked size lies, and what is known of the photo as a whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import isfinite
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from archive.errors import MarksNotUsable
from archive.metrology.sources import Doubtful, Source

if TYPE_CHECKING:
    from archive.photogrammetry.lens import Lens

Array = npt.NDArray[np.floating[Any]]
Clearness = Literal["crisp", "plain", "worn"]

SIGMA_PX: dict[Clearness, float] = {"crisp": 0.7, "plain": 1.0, "worn": 2.5}
WORN_EDGE_U_MM = 2.0
FLOOR_PX = 0.5
NOT_SURE_U_MM = 50.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A named point on the upright photo, (0, 0) the centre of the top-left pixel, x right, y down.

    `sigma_px` is one standard uncertainty of x and of y alike, independent of each other. Where it was
    `given` it is used as it stands; else the residuals of a fit may raise it. `edge_u_mm` is what a worn
    edge of the thing itself adds. Two marks with one `record` are the same mark, and so the same source.
    """

    name: str
    x_px: float
    y_px: float
    sigma_px: float = 1.0
    given: bool = True
    edge_u_mm: float = 0.0
    record: str = ""

    @property
    def sources(self) -> tuple[Source, Source]:
        """The two independent sources of doubt in placing it, across and down the photo."""
        record = self.record or self.name
        return Source("mark", record, "x"), Source("mark", record, "y")


def mark(
    name: str,
    x_px: float,
    y_px: float,
    clearness: Clearness = "plain",
    record: str = "",
    snapped_px: float = 0.0,
) -> Mark:
    """A mark as a person puts it: crisp, plain or worn, never in pixels of doubt.

    `snapped_px` is the doubt that snapping found, px; it stands in for the clearness but not below the floor.
    """
    sigma = max(snapped_px, FLOOR_PX) if snapped_px else SIGMA_PX[clearness]
    edge = WORN_EDGE_U_MM if clearness == "worn" else 0.0
    return Mark(name, x_px, y_px, sigma, given=False, edge_u_mm=edge, record=record)


@dataclass(frozen=True, slots=True)
class Lies:
    """Where an asked size lies: `towards_camera` mm in front of the plane of the known size (behind: negative)."""

    towards_camera: Doubtful
    sure: bool = True

    @property
    def in_the_plane(self) -> bool:
        """Whether nothing at all stands between the size and the plane."""
        return self.towards_camera.value == 0 and not self.towards_camera.sensitivities


IN_THE_PLANE = Lies(Doubtful(0.0, {}))


def set_back(length: Doubtful) -> Lies:
    """Behind the plane by a length, mm."""
    return Lies(Doubtful(-length.value, {source: -s for source, s in length.sensitivities.items()}))


def standing_out(length: Doubtful) -> Lies:
    """In front of the plane by a length, mm."""
    return Lies(length)


def not_sure(record: str, u_mm: float = NOT_SURE_U_MM) -> Lies:
    """Nobody noted where it lies: in the plane as far as one knows, with `u_mm` of doubt towards the camera."""
    return Lies(Doubtful(0.0, {Source("depth", record): u_mm}), sure=False)


@dataclass(frozen=True, slots=True)
class Camera:
    """A pinhole camera: focal length and principal point, px of the upright photo at full resolution."""

    focal_px: Doubtful
    principal_x_px: Doubtful
    principal_y_px: Doubtful

    @property
    def numbers(self) -> tuple[Doubtful, Doubtful, Doubtful]:
        """Focal length, principal x and y: the order in which the methods take them."""
        return self.focal_px, self.principal_x_px, self.principal_y_px


def camera(
    focal_px: float,
    u_focal_px: float,
    principal_px: Sequence[float],
    u_principal_px: float,
    record: str = "camera",
) -> Camera:
    """A camera from plain numbers, px, each with its own independent doubt."""

    return Camera(
        stated("focal length", record, focal_px, u_focal_px),
        stated("principal point", record, principal_px[0], u_principal_px, "x"),
        stated("principal point", record, principal_px[1], u_principal_px, "y"),
    )


def stated(kind: str, record: str, value: float, u: float, component: str = "") -> Doubtful:
    """A number with a stated standard uncertainty, in its own unit, as one source of its own.

    Raises MarksNotUsable 'bad-uncertainty' where that is negative or no number.
    """
    if not isfinite(u) or u < 0:
        raise MarksNotUsable(
            "bad-uncertainty",
            f"The doubt of the {kind} was given as {u:g}, and it cannot be less than 0; state it again.",
        )
    return Doubtful(value, {Source(kind, record, component): u} if u else {})


def known_size(record: str, value_mm: float, u_mm: float) -> Doubtful:
    """A known size of the real thing, mm, from plain numbers."""
    return stated("known size", record, value_mm, u_mm)


@dataclass(frozen=True, slots=True)
class Shot:
    """What is known of the photo as a whole, and how the sums are to be done.

    `straight_edges` are marks along edges that are straight in the real thing: where they bend and no
    lens is known, every size from the photo says so. `seed` fixes the Monte Carlo draws.
    """

    camera: Camera | None = None
    lens: Lens | None = None
    straight_edges: Sequence[Sequence[Mark]] = field(default=())
    seed: int = 0
    draws: int = 20_000
    force_monte_carlo: bool = False


PLAIN_SHOT = Shot()


def coordinates(marks: Sequence[Mark]) -> Array:
    """Marks as an array, shape (N, 2), px."""
    return np.array([(mark.x_px, mark.y_px) for mark in marks], dtype=float).reshape(-1, 2)


def sigmas(marks: Sequence[Mark]) -> Array:
    """Their standard uncertainties, shape (N,), px."""
    return np.array([mark.sigma_px for mark in marks], dtype=float)
