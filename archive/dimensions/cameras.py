"""The camera and the lens of a photo: from its data, from the sheet, from what was found of the camera before."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from archive.errors import MarksNotUsable, NotAccepted
from archive.metrology.sources import Doubtful, Source
from archive.photogrammetry.doubt import Caution
from archive.photogrammetry.focal import (
    assumed_camera,
    camera_from_35mm,
    camera_from_sensor,
    focal_by_right_angle,
)
from archive.photogrammetry.lens import Lens
from archive.photogrammetry.marks import Array, Camera, Mark, Shot
from archive.records.recipes import camera_of
from archive.records.things import KeptLens, Photo

# Stored picture -> upright one, by EXIF orientation: what becomes of an offset from the middle.
_TURNS = {
    1: ((1, 0), (0, 1)),
    2: ((-1, 0), (0, 1)),
    3: ((-1, 0), (0, -1)),
    4: ((1, 0), (0, -1)),
    5: ((0, 1), (1, 0)),
    6: ((0, -1), (1, 0)),
    7: ((0, -1), (-1, 0)),
    8: ((0, 1), (-1, 0)),
}


def size_of(photo: Photo) -> tuple[int, int]:
    """Width and height of the upright picture, px; raises `NotAccepted` where it cannot be shown."""
    if photo.width is None or photo.height is None:
        raise NotAccepted(
            f"'{photo.file}' cannot be shown, so nothing can be worked out from it", "Take another photo."
        )
    return photo.width, photo.height


def camera_for(
    photo: Photo,
    said: Mapping[str, Any],
    edges_named: Callable[[Sequence[Sequence[str]]], list[Sequence[Mark]]],
    shot: Shot,
) -> tuple[Camera, tuple[Caution, ...]]:
    """Return the camera of a photo: as the sheet says, else by the photo's data, else an ordinary one with a wide doubt.

    Photos that one camera took at one focal length share the doubt of that focal length. Raises MarksNotUsable.
    """
    size_px = size_of(photo)
    if "right_angle" in said:
        ordinary, _ = assumed_camera(size_px, record=photo.id)
        first, second = (edges_named(edges) for edges in said["right_angle"])
        principal = ordinary.principal_x_px, ordinary.principal_y_px
        found = focal_by_right_angle(first, second, principal, frame_width_px=max(size_px), shot=shot)
        return replace(ordinary, focal_px=found.number), ()
    try:
        camera, cautions = _camera_from_data(photo, said.get("focal_35mm"), size_px)
    except MarksNotUsable:
        if "focal_35mm" in said:
            raise
        return assumed_camera(size_px, record=photo.id)  # what the photo's data give, no lens has
    # The middle of the picture lies elsewhere in a picture held upright, so that it is each photo's own.
    principal_x, principal_y = (
        _of_record(number, photo.id) for number in (camera.principal_x_px, camera.principal_y_px)
    )
    return Camera(camera.focal_px, principal_x, principal_y), cautions


def _camera_from_data(
    photo: Photo, said_focal_35mm: float | None, size_px: tuple[int, int]
) -> tuple[Camera, tuple[Caution, ...]]:
    """The camera by the focal length as on film, as the sheet or the photo's data say it, else by lens and sensor."""
    zoom = photo.digital_zoom or 1.0
    as_taken = (
        (float(photo.width_as_taken), float(photo.height_as_taken))
        if photo.width_as_taken and photo.height_as_taken
        else None
    )
    focal_35mm = said_focal_35mm or photo.focal_35mm
    if focal_35mm:
        told = camera_from_35mm(
            focal_35mm,
            size_px,
            digital_zoom=1.0 if said_focal_35mm else zoom,
            original_size_px=None if said_focal_35mm else as_taken,
            record=f"{camera_of(photo)} at {focal_35mm:g} mm",
        )
        return told.camera, told.warnings
    if photo.focal_mm and photo.sensor_px_per_mm:
        return camera_from_sensor(
            photo.focal_mm,
            photo.sensor_px_per_mm,
            size_px,
            original_size_px=as_taken,
            digital_zoom=zoom,
            record=f"{camera_of(photo)} at {photo.focal_mm:g} mm",
        )
    return assumed_camera(size_px, record=photo.id)


def _of_record(number: Doubtful, record: str) -> Doubtful:
    return Doubtful(
        number.value, {source._replace(of_record=record): s for source, s in number.sensitivities.items()}
    )


def upright_lens(kept: KeptLens, photo: Photo) -> Lens:
    """Return a camera's lens in the pixels of an upright photo that it took."""
    width, height = size_of(photo)
    turn = np.array(_TURNS[photo.orientation or 1], dtype=float)
    off = turn @ (kept.off_x_px, kept.off_y_px)
    factor = np.array(kept.factor)
    factor = np.vstack([factor[:1], turn @ factor[1:]])
    sources = [Source("lens", kept.derivation, str(n)) for n in range(factor.shape[1])]

    def number(value: float, row: int) -> Doubtful:
        shares = zip(sources, factor[row], strict=True)
        return Doubtful(float(value), {source: float(s) for source, s in shares if s})

    return Lens(
        number(kept.strength, 0),
        number((width - 1) / 2 + off[0], 1),
        number((height - 1) / 2 + off[1], 2),
        kept.norm_radius_px,
        "polynomial" if kept.model == "polynomial" else "division",
    )


def lens_facts(lens: Lens, photo: Photo) -> dict[str, Any]:
    """Return a lens that was found in an upright photo as it is kept: in the pixels of the stored picture."""
    width, height = size_of(photo)
    turn = np.array(_TURNS[photo.orientation or 1], dtype=float)
    middle = (width - 1) / 2, (height - 1) / 2
    off = turn.T @ (lens.centre_x_px.value - middle[0], lens.centre_y_px.value - middle[1])
    sources = sorted({s for number in lens.numbers for s in number.sensitivities}, key=lambda s: s.component)
    factor: Array = np.array([[number.sensitivities.get(s, 0.0) for s in sources] for number in lens.numbers])
    factor = np.vstack([factor[:1], turn.T @ factor[1:]])
    return {
        "camera": camera_of(photo),
        "focal_mm": photo.focal_mm,
        "width": photo.stored_width,
        "height": photo.stored_height,
        "model": lens.model,
        "strength": lens.strength.value,
        "off_x_px": float(off[0]),
        "off_y_px": float(off[1]),
        "norm_radius_px": lens.norm_radius_px,
        "factor": factor.tolist(),
    }
