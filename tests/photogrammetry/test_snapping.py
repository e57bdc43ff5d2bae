"""Snapped marks: made pictures with exact edges, and the rendered photographs with true marks."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from photogrammetry.rendered import TRUTH, Photo, truth
from PIL import Image, ImageOps

from archive.photogrammetry import snapping
from archive.photogrammetry.marks import WORN_EDGE_U_MM

PHOTOS = TRUTH.parent / "photos"
PANES = [
    [
        f"pane r{row} c{column} {corner}"
        for corner in ("lower left", "lower right", "upper right", "upper left")
    ]
    for row in (1, 2, 3)
    for column in (1, 2)
]


def blurred(ideal: np.ndarray, factor: int, noise: float = 2.0) -> np.ndarray:
    """A picture made `factor` times finer, each pixel the mean of its part, with a little blur and noise."""
    height, width = (side // factor for side in ideal.shape)
    grey = ideal.reshape(height, factor, width, factor).mean(axis=(1, 3))
    grey = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 0.7)
    return grey + np.random.default_rng(1).normal(0, noise, grey.shape).astype(np.float32)


def half_plane(x: float, y: float, angle: float, size: int = 64, factor: int = 8) -> np.ndarray:
    """Dark on one side of the straight edge through a place, bright on the other."""
    fine = (np.arange(size * factor) + 0.5) / factor - 0.5
    right, down = np.meshgrid(fine, fine)
    side = (right - x) * np.cos(angle) + (down - y) * np.sin(angle) > 0
    return blurred(np.where(side, 180.0, 60.0), factor)


@given(x=st.floats(28, 36), y=st.floats(28, 36), angle=st.floats(0, np.pi), thrown=st.floats(-4, 4))
@settings(max_examples=40, deadline=None)
def test_a_mark_thrown_off_a_clean_edge_comes_back_across_it(x, y, angle, thrown):
    grey = half_plane(x, y, angle)
    normal = np.array([np.cos(angle), np.sin(angle)])

    snapped = snapping.snap_to_edge(grey, *(np.array([x, y]) + thrown * normal))

    assert snapped.kind == "edge"
    assert abs((snapped.x_px - x) * normal[0] + (snapped.y_px - y) * normal[1]) < 0.15
    assert abs(np.dot(snapped.across, normal)) > 0.99


@given(x=st.floats(28, 36), y=st.floats(28, 36), right=st.floats(-3, 3), down=st.floats(-3, 3))
@settings(max_examples=40, deadline=None)
def test_a_mark_thrown_off_a_clean_corner_comes_back_to_it(x, y, right, down):
    factor, size = 8, 64
    fine = (np.arange(size * factor) + 0.5) / factor - 0.5
    grey = blurred(np.where((fine[None, :] > x) & (fine[:, None] > y), 180.0, 60.0), factor)

    snapped = snapping.snap_to_corner(grey, x + right, y + down)

    assert snapped.kind == "corner"
    assert np.hypot(snapped.x_px - x, snapped.y_px - y) < 0.5
    assert snapped.sigma_px >= 0.5  # the usual floor


@pytest.mark.parametrize("snap", [snapping.snap_to_corner, snapping.snap_to_edge])
def test_where_there_is_nothing_it_stays_and_says_so(snap):
    noise = np.random.default_rng(2).normal(120, 3, (64, 64)).astype(np.float32)

    snapped = snap(noise, 31.0, 33.0)

    assert (snapped.x_px, snapped.y_px, snapped.kind, snapped.sigma_px) == (31.0, 33.0, "nothing", None)
    assert snapped.says.startswith("The mark stays where it was put")


def test_between_two_edges_it_stays_and_asks_for_the_one_that_is_meant():
    fine = (np.arange(64 * 8) + 0.5) / 8 - 0.5
    stripe = np.where(np.abs(fine - 32) < 3, 180.0, 60.0)
    snapped = snapping.snap_to_edge(blurred(np.tile(stripe, (512, 1)), 8), 32.0, 32.0)
    assert snapped.kind == "nothing"
    assert "two edges" in snapped.says


def test_at_the_border_it_stays():
    assert snapping.snap_to_corner(np.zeros((40, 40), np.float32), 2.0, 20.0).kind == "nothing"
    assert snapping.snap_to_edge(np.zeros((40, 40), np.float32), 20.0, 38.0).kind == "nothing"


@cache
def grey_photo(path: Path) -> np.ndarray:
    with Image.open(path) as picture:
        return snapping.grey_of(np.asarray(ImageOps.exif_transpose(picture).convert("RGB")))


def plain_edge(grey: np.ndarray, at: np.ndarray, along: np.ndarray, half: int) -> bool:
    """Whether anyone sees an edge there: brightness differs between its sides by much more than within them."""
    height, width = grey.shape
    if not (16 < at[0] < width - 17 and 16 < at[1] < height - 17):
        return False
    across = np.array([-along[1], along[0]])
    beside, means = np.arange(1.5, 7.1, 0.5), []
    for side in (beside, -beside):
        places = at[:, None, None] + np.multiply.outer(along, np.arange(-half, half + 1))[:, :, None]
        places = (places + (across[:, None] * side)[:, None, :]).astype(np.float32)
        means.append(cv2.remap(grey, places[0], places[1], cv2.INTER_LINEAR).mean(axis=0))
    step = abs(means[0].mean() - means[1].mean())
    return bool(step > 20 and max(mean.std() for mean in means) < 0.2 * step)


def thrown_marks() -> tuple[np.ndarray, np.ndarray]:
    """Errors (px) and doubts (px) of marks snapped from 4 px off plain corners and edges, each (N, 2)."""
    rng = np.random.default_rng(3)
    corners, edges = [], []
    for name, image in truth()["images"].items():
        if name.startswith("P5_screen"):
            continue
        grey = grey_photo(PHOTOS / name)
        for subject in image["points"]:
            if subject not in truth()["subjects"]:
                continue
            photo = Photo(name, subject)
            rings = [face["corners"] for face in photo.thing["faces"]] + (
                PANES if subject == "weigh-hut" else []
            )
            for ring in rings:
                for i, corner in enumerate(ring):
                    after, before = ring[(i + 1) % 4], ring[i - 1]
                    if not photo.sees(corner, after):
                        continue
                    here, there = photo.true_px[corner], photo.true_px[after]
                    long = float(np.hypot(*(there - here)))
                    along = (there - here) / long
                    # Truth is the sharp nominal edge; what is seen is rounded off by up to 2 mm.
                    rounding = (
                        WORN_EDGE_U_MM * long / np.linalg.norm(photo.local[after] - photo.local[corner])
                    )
                    if photo.sees(before) and is_plain_corner(grey, here, (there, photo.true_px[before])):
                        turn = rng.uniform(0, 2 * np.pi)
                        snapped = snapping.snap_to_corner(
                            grey, *(here + 4 * np.array([np.cos(turn), np.sin(turn)]))
                        )
                        if snapped.kind == "corner":
                            error = np.hypot(snapped.x_px - here[0], snapped.y_px - here[1])
                            corners.append((error, np.hypot(snapped.sigma_px, rounding)))
                    across = np.array([-along[1], along[0]])
                    for share in (0.2, 0.35, 0.5, 0.65, 0.8) if long > 60 else ():
                        at = here + share * (there - here)
                        if plain_edge(grey, at, along, 4):
                            snapped = snapping.snap_to_edge(grey, *(at + 4 * rng.choice([-1, 1]) * across))
                            if snapped.kind == "edge":
                                error = abs((np.array([snapped.x_px, snapped.y_px]) - at) @ across)
                                edges.append((error, np.hypot(snapped.sigma_px, rounding)))
    return np.array(corners), np.array(edges)


def is_plain_corner(grey: np.ndarray, here: np.ndarray, ends: tuple[np.ndarray, np.ndarray]) -> bool:
    for end in ends:
        long = np.hypot(*(end - here))
        if long < 30 or not plain_edge(grey, here + 9 * (end - here) / long, (end - here) / long, 3):
            return False
    return True


def test_on_the_photographs_marks_thrown_four_pixels_off_come_back(capsys):
    corners, edges = thrown_marks()
    with capsys.disabled():
        for what, found, k in (("corners", corners, 2.45), ("edges", edges, 1.96)):
            holding = np.mean(found[:, 0] <= k * found[:, 1])
            print(
                f"\nsnapped {what}: {len(found)}, median error {np.median(found[:, 0]):.2f} px, {holding:.0%} hold",
                end="",
            )
    assert len(corners) >= 20
    assert len(edges) >= 200
    # 95 % of a round normal scatter lies within 2.45 sigma, of a plain one within 1.96.
    for found, k in ((corners, 2.45), (edges, 1.96)):
        assert np.median(found[:, 0]) <= 0.5
        assert np.mean(found[:, 0] <= k * found[:, 1]) >= 0.93
