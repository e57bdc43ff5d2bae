"""Lenses kept in the pixels of the stored picture serve photos held any way up, and are used by themselves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from wendle_basin import new_archive

from archive.carried import carried_folder
from archive.dimensions.cameras import lens_facts, upright_lens
from archive.dimensions.derivations import enter_sheet
from archive.dimensions.overview import sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.undoing import undo
from archive.ingest.importing import import_files
from archive.metrology.sources import Doubtful, Source
from archive.photogrammetry.lens import Lens
from archive.records import photos
from archive.records.archive import Archive
from archive.records.entering import enter_subject, enter_visit
from archive.records.things import KeptLens, Photo

LIBRARY = carried_folder("demo_library")
TURNS = {  # EXIF orientation -> what Pillow calls turning the stored picture upright
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


@pytest.fixture
def yard(tmp_path: Path) -> Archive:
    with new_archive(tmp_path / "yard") as archive:
        enter_visit(archive, "September", place="Wendle Basin", days="2024-09-08", zone="Europe/London")
        import_files(
            archive,
            [LIBRARY / "photos" / name for name in ("HC20_1188.JPG", "HC20_0412.JPG")],
            visit="September",
        )
        enter_subject(archive, "Wharf crane")
        record_reading(archive, "Wharf crane", "band spacing", "686 mm")
        yield archive


def held_as(photo: Photo, orientation: int) -> Photo:
    """The photo, 1500 by 1000 px as stored, as if it had been held another way up."""
    width, height = (1500, 1000) if orientation < 5 else (1000, 1500)
    return replace(photo, orientation=orientation, width=width, height=height)


def a_photo(archive: Archive) -> Photo:
    with archive.look() as look:
        return photos.photo_named(look, "HC20_1188")


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_lens_found_in_a_photo_held_any_way_up_is_the_same_lens(yard: Archive, orientation: int) -> None:
    photo = held_as(a_photo(yard), orientation)
    sources = [Source("lens", "w1", str(n)) for n in range(3)]
    factor = np.array([[0.01, 0.0, 0.0], [0.3, 4.0, 0.0], [-0.2, 0.5, 5.0]])
    numbers = [
        Doubtful(value, {s: float(f) for s, f in zip(sources, row, strict=True) if f})
        for value, row in zip((-0.03, photo.width / 2 + 12.0, photo.height / 2 - 7.0), factor, strict=True)  # type: ignore[operator]
    ]
    found = Lens(*numbers, 901.0)

    facts = lens_facts(found, photo)
    kept = KeptLens(derivation="w1", **{**facts, "factor": tuple(map(tuple, facts["factor"]))})
    again = upright_lens(kept, photo)

    for before, after in zip(found.numbers, again.numbers, strict=True):
        assert after.value == pytest.approx(before.value)
        for source in sources:
            assert after.sensitivities.get(source, 0.0) == pytest.approx(
                before.sensitivities.get(source, 0.0)
            )


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_centre_of_a_kept_lens_turns_with_the_picture(yard: Archive, orientation: int) -> None:
    stored = np.zeros((1000, 1500), dtype=np.uint8)
    stored[430, 840] = (
        255  # the lens's centre in the stored picture: 90.5 px right of the middle, 69.5 px above it
    )
    kept = KeptLens(
        "w1", "Halden C20", 12.9, 1500, 1000, "division", -0.03, 90.5, -69.5, 901.0, ((0.0,), (0.0,), (0.0,))
    )
    turned = Image.fromarray(stored)
    upright = np.asarray(turned.transpose(TURNS[orientation]) if orientation in TURNS else turned)
    (down,), (across,) = np.nonzero(upright)

    centre = upright_lens(kept, held_as(a_photo(yard), orientation))
    assert (centre.centre_x_px.value, centre.centre_y_px.value) == (across, down)


def test_a_lens_found_later_is_used_by_what_was_worked_out_before_and_no_longer_once_it_is_taken_back(
    yard: Archive,
) -> None:
    enter_sheet(yard, LIBRARY / "sheets" / "square-on.toml")
    before = _jib(yard)
    yard.begin_act()
    enter_sheet(yard, LIBRARY / "sheets" / "lens.toml")
    after = _jib(yard)

    # By hand with k1 = -0.09 over 1466.7 px squared: the jib's 582 px become 0.95 % more, the known 178.6 px 0.70 %.
    assert after == pytest.approx(before * 1.0095 / 1.0070, rel=0.001)
    undo(yard)
    assert _jib(yard) == before


def _jib(archive: Archive) -> float:
    line = next(s for s in sizes_of(archive, "Wharf crane").lines if s.dimension.label == "jib radius")
    assert line.estimate is not None
    return line.estimate.value
