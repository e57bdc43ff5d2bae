"""A made photograph of two wheels in one plane: a pinhole camera, two circles, marks to a tenth of a pixel."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from made_pictures import jpeg_bytes, upright_scene

from archive.ingest.importing import import_files
from archive.records.archive import Archive
from archive.records.entering import enter_subject, enter_visit

WHEELBASE_MM, LEADING_MM, TRAILING_MM = 2743.2, 939.8, 762.0  # 9 ft, 3 ft 1 in, 2 ft 6 in
FOCAL_PX, SIZE_PX, TURN_DEG = 1500.0, (1600, 1200), 35.0


def wheels_in_a_photo(archive: Archive, folder: Path) -> tuple[Path, float, float]:
    """Put the photo into the archive and write its sheet; returns it with wheel base and trailing diameter, mm."""
    enter_visit(archive, "A yard", place="Wendle Basin", days="2023-06-17", zone="Europe/London")
    (folder / "wagon.jpg").write_bytes(jpeg_bytes(upright_scene(*SIZE_PX)))
    import_files(archive, [folder / "wagon.jpg"], visit="A yard")
    enter_subject(archive, "Wagon")
    rims = {"first": _rim(0.0, LEADING_MM), "second": _rim(WHEELBASE_MM, TRAILING_MM)}
    lines = ["method = 'wheels'", "photo = 'wagon'", "subject = 'Wagon'"]
    lines += [f"{role} = {[f'{role} {n}' for n in range(len(rim))]}" for role, rim in rims.items()]
    lines += ["[marks]"]
    lines += [
        f"'{role} {n}' = {[round(float(v), 1) for v in px]}"
        for role, rim in rims.items()
        for n, px in enumerate(rim)
    ]
    lines += ["[[known]]", "size = '939.8 mm'", "[[asked]]", "label = 'wheel base length'"]
    lines += ["[[asked]]", "what = 'second diameter'", "label = 'trailing wheel diameter'"]
    sheet = folder / "wheels.toml"
    sheet.write_text("\n".join(lines), encoding="utf-8")
    return sheet, WHEELBASE_MM, TRAILING_MM


def _rim(along_mm: float, diameter_mm: float) -> np.ndarray:
    """Twelve places on a rim as the camera sees them, px: the wheels' plane turned by 35 degrees, 6 m away."""
    angle = np.arange(12) * np.pi / 6
    x = along_mm - WHEELBASE_MM / 2 + diameter_mm / 2 * np.cos(angle)
    y = diameter_mm / 2 * np.sin(angle)
    turn = np.radians(TURN_DEG)
    eye = np.column_stack([x * np.cos(turn), y + 300.0, 6000.0 + x * np.sin(turn)])
    return FOCAL_PX * eye[:, :2] / eye[:, 2:] + (np.array(SIZE_PX) - 1) / 2
