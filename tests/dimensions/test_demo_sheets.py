"""The sheets of the demo library: each method once, on the photos' own subjects, right within its interval.

Their marks are the truth's, off by about a pixel each as a hand would be; true sizes are those of truth.json, or
the distance of two of its points.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest
from demonstration import Demonstration
from wendle_basin import new_archive

from archive.carried import carried_folder
from archive.dimensions.derivations import enter_sheet
from archive.dimensions.gaps import gaps_of
from archive.dimensions.sheets import METHODS
from archive.records.archive import Archive, open_archive
from archive.scales import parse_scale

LIBRARY = carried_folder("demo_library")
SHEETS = sorted((LIBRARY / "sheets").glob("*.toml"))
NO_PHOTO_SERVES = {"wheels"}  # no photo of the demo shows two wheels in one plane

POINTS = {  # the points between which each size is asked: subject in truth.json, from, to
    "jib radius": ("wharf-crane", "cap apex", "sheave pin end, right", "y"),
    "post height above socket": ("wharf-crane", "post front right edge at socket", "post front right edge at cap", ""),
    "bands 1 to 4 height": ("wharf-crane", "band 1 lower edge, right face, front", "band 4 lower edge, right face, front", ""),
    "lintel length": ("weigh-hut", "door lintel lower left", "door lintel lower right", ""),
    "sill length": ("weigh-hut", "window sill left", "window sill right", ""),
    "window height": ("weigh-hut", "pane r1 c1 lower left", "pane r3 c1 upper left", ""),
    "step width": ("weigh-hut", "step left, top front", "step right, top front", ""),
    "four planks width": ("weigh-hut", "door board 1 left edge, foot", "door board 5 left edge, foot", ""),
    "wall height above plinth": ("weigh-hut", "quoin front right, top of plinth", "quoin front right, course 24", ""),
    "rear wall height above plinth": ("weigh-hut", "quoin rear right, top of plinth", "quoin rear right, course 24", ""),
    "fifteen courses height": ("weigh-hut", "quoin front right, course 9 bed", "quoin front right, course 24 bed", ""),
    "bolt circle diameter": ("bollard", "base bolt 1, top centre", "base bolt 4, top centre", ""),
    "height over finial": ("lamp-standard", "plinth front left, ground", "finial top", "z"),
}  # fmt: skip


def true_mm(label: str) -> float:
    subject, start, end, along = POINTS[label]
    points = json.loads((LIBRARY / "truth.json").read_text(encoding="utf-8"))["subjects"][subject][
        "points_local_mm"
    ]
    away = np.subtract(points[end], points[start])
    return abs(float(away["xyz".index(along)])) if along else float(np.linalg.norm(away))


@pytest.fixture(scope="module")
def basin(tmp_path_factory: pytest.TempPathFactory, demonstration: Demonstration) -> Archive:
    """The archive of the demonstration, with all that its sheets have done there."""
    folder = demonstration.copied_to(tmp_path_factory.mktemp("demo") / "archive")
    with open_archive(folder) as archive:
        for sheet in SHEETS:
            enter_sheet(archive, sheet)
        yield archive


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.stem)
def test_a_sheet_of_the_demo_library_gives_the_true_size_within_its_interval(
    basin: Archive, sheet: Path
) -> None:
    entered = enter_sheet(basin, sheet)

    for size in entered.sizes:
        low, high = size.derived.interval_95_mm
        assert low <= true_mm(size.dimension.label) <= high, size.dimension.label
        assert size.known.standard_uncertainty == pytest.approx(
            size.derived.standard_uncertainty_mm, rel=1e-6
        )
    if entered.lens is not None:
        # Halden C20 at its widest: Brown k1 = -0.09 over the focal length squared, that is -0.0341 over the
        # half diagonal squared (1466.67 px, 901.4 px); to this order the division model's number is the same.
        lens = entered.lens.lens.strength
        assert lens.value == pytest.approx(-0.09 * (901.4 / 1466.67) ** 2, abs=2 * lens.standard_uncertainty)
        assert entered.lens.rms_after_px < 1.0


def test_every_method_has_its_sheet_or_is_known_to_have_no_photo() -> None:
    methods = {tomllib.loads(sheet.read_text(encoding="utf-8"))["method"] for sheet in SHEETS}
    assert methods | NO_PHOTO_SERVES == set(METHODS)


def test_a_photo_that_a_size_was_worked_out_from_is_not_said_to_mend_it(basin: Archive) -> None:
    gaps = gaps_of(basin, "Weighbridge hut", at=parse_scale("1:60")).standing("too rough")

    # 12 mm would do, the lintel is known to 14 mm from the front photo, and no other looks straight at it.
    assert {"lintel length", "sill length"} <= {gap.label for gap in gaps}
    for gap in gaps:
        assert gap.mend is not None
        assert gap.line is not None
        assert gap.mend.photo not in {reading.photo for reading in gap.line.readings if reading.derived_by}


def test_two_wheels_in_one_plane_are_tried_on_a_made_scene(tmp_path: Path) -> None:
    from made_wheels import wheels_in_a_photo

    with new_archive(tmp_path / "yard") as archive:
        sheet, wheelbase_mm, second_mm = wheels_in_a_photo(archive, tmp_path)
        entered = enter_sheet(archive, sheet)

    told = {size.dimension.label: size.derived for size in entered.sizes}
    for label, mm in (("wheel base length", wheelbase_mm), ("trailing wheel diameter", second_mm)):
        low, high = told[label].interval_95_mm
        assert low <= mm <= high
        assert told[label].value_mm == pytest.approx(mm, rel=0.02)
