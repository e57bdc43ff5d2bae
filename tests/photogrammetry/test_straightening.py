"""Straightened pictures: right angles are right, nothing is mirrored, a bending lens is taken out."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.metrology.sources import Doubtful
from archive.photogrammetry.lens import Lens
from archive.photogrammetry.straightening import places_in_plane, straightened_picture

WORLD_MM = np.array([(0.0, 0.0), (1200.0, 0.0), (1200.0, 800.0), (0.0, 800.0)])
SEEN_PX = np.array(
    [(210.0, 640.0), (1010.0, 560.0), (930.0, 180.0), (250.0, 90.0)]
)  # the wall's foot is below


def lens(strength: float, model: str = "division") -> Lens:
    numbers = (Doubtful(strength, {}), Doubtful(599.5, {}), Doubtful(399.5, {}))
    return Lens(*numbers, 720.0, model)  # type: ignore[arg-type]


def photo_of_a_wall() -> np.ndarray:
    """A photo, 1200 by 800 px, of a white wall of 1200 x 800 mm with one black spot, 300 mm across and 200 mm up."""
    wall = np.full((801, 1201, 3), 255, dtype=np.uint8)
    cv2.circle(wall, (300, 200), 40, (0, 0, 0), -1)  # wall coordinates: x mm, y mm, drawn as pixels
    h = cv2.getPerspectiveTransform(WORLD_MM.astype(np.float32), SEEN_PX.astype(np.float32))
    return cv2.warpPerspective(wall, h, (1200, 800))


def test_a_spot_of_the_wall_lies_where_its_mm_say_and_is_round_again() -> None:
    straight = straightened_picture(photo_of_a_wall(), 1.0, WORLD_MM, SEEN_PX, SEEN_PX)

    grey = straight.picture.mean(axis=2)
    (left, top), (right, bottom) = (straight.px_of(np.array([at]))[0] for at in ((0.0, 800.0), (1200.0, 0.0)))
    assert left < right  # not mirrored, and the wall's foot is below as in the photo
    assert top < bottom
    inside = grey[int(top) + 5 : int(bottom) - 5, int(left) + 5 : int(right) - 5]
    down, across = np.nonzero(inside < 128)
    x, y = straight.px_of(np.array([(300.0, 200.0)]))[0] - (int(left) + 5, int(top) + 5)
    assert (across.mean(), down.mean()) == (pytest.approx(x, abs=1.0), pytest.approx(y, abs=1.0))
    assert np.ptp(across) * straight.mm_per_px == pytest.approx(80, abs=4)  # twice the radius of 40 mm
    assert np.ptp(down) * straight.mm_per_px == pytest.approx(80, abs=4)


def test_marks_are_found_at_their_places_in_the_plane() -> None:
    assert places_in_plane(WORLD_MM, SEEN_PX, SEEN_PX) == pytest.approx(WORLD_MM, abs=1e-6)


@given(
    st.floats(-0.25, 0.25), st.sampled_from(["division", "polynomial"]),
    st.floats(0, 1199), st.floats(0, 799),
)  # fmt: skip
def test_a_lens_bends_what_it_straightens_back_to_where_it_was(
    strength: float, model: str, x: float, y: float
) -> None:
    made, px = lens(strength, model), np.array([[x, y]])
    straight = made.straightened(px[None], np.array([[number.value for number in made.numbers]]))[0]
    assert made.bent(straight) == pytest.approx(px, abs=1e-6)


def test_nothing_is_straightened_to_beyond_where_the_lens_folds() -> None:
    # Polynomial with k1 = -0.25: r (1 - r^2/4) has its maximum 0.770 at r = 1.155.
    assert np.isnan(lens(-0.25, "polynomial").bent(np.array([[599.5 + 0.8 * 720, 399.5]]))).all()
