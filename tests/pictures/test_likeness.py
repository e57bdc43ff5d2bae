"""Fingerprints: alike for one picture however it was saved, unlike for different ones."""

from __future__ import annotations

import io
import random

import pytest
from made_pictures import STORED_AS, jpeg_bytes, png_bytes
from PIL import Image, ImageDraw

from archive import pictures
from archive.pictures import likeness
from archive.records.look_alikes import MOST_DIFFERENCE


def scene(seed: int, size: tuple[int, int] = (480, 360)) -> Image.Image:
    """A made view of sky, ground and some blocks, like no other."""
    chance = random.Random(seed)
    width, height = size
    picture = Image.new("RGB", size, (150, 180, 210))
    pen = ImageDraw.Draw(picture)
    pen.rectangle((0, chance.uniform(0.5, 0.8) * height, width, height), fill=(90, 80, 60))
    for _ in range(9):
        left, top = chance.uniform(0, 0.8) * width, chance.uniform(0.1, 0.7) * height
        shade = chance.randrange(30, 250)
        box = (left, top, left + chance.uniform(0.1, 0.3) * width, top + chance.uniform(0.1, 0.3) * height)
        pen.rectangle(box, fill=(shade, chance.randrange(30, 250), shade // 2))
    return picture


def fingerprint(picture: Image.Image) -> str:
    return pictures.fingerprint(jpeg_bytes(picture, quality=90))


def apart(one: Image.Image, other: Image.Image) -> int:
    every_way = likeness.fingerprints_any_way_round(jpeg_bytes(one, quality=90))
    return min(likeness.difference(way, fingerprint(other)) for way in every_way)


@pytest.mark.parametrize("seed", range(12))
def test_a_picture_saved_again_made_small_or_cut_a_little_is_alike(seed: int) -> None:
    whole = scene(seed)
    rough = Image.open(io.BytesIO(jpeg_bytes(whole, quality=25)))

    assert apart(whole, rough) <= MOST_DIFFERENCE
    assert apart(whole, whole.resize((120, 90))) <= MOST_DIFFERENCE
    assert apart(whole, whole.crop((6, 5, 474, 355))) <= MOST_DIFFERENCE


@pytest.mark.parametrize("turn", STORED_AS)
def test_it_is_alike_whichever_way_it_is_turned_or_mirrored(turn: int) -> None:
    how = STORED_AS[turn]

    assert all(
        apart(scene(n), scene(n).transpose(how) if how is not None else scene(n)) <= 6 for n in range(8)
    )


def test_different_pictures_are_not_alike_in_any_turn() -> None:
    # Two fingerprints of unlike pictures differ in 64 bits of 128 on average, the nearest of eight turns in fewer.
    scenes = [scene(n) for n in range(14)]

    assert min(apart(a, b) for n, a in enumerate(scenes) for b in scenes[:n]) > MOST_DIFFERENCE + 4


def test_there_are_eight_ways_round_the_upright_one_first() -> None:
    ways = likeness.fingerprints_any_way_round(jpeg_bytes(scene(3), quality=90))

    assert len(set(ways)) == 8
    assert ways[0] == fingerprint(scene(3))


def test_an_even_surface_has_no_fingerprint() -> None:
    even = Image.new("RGB", (400, 300), (120, 130, 140))

    assert fingerprint(even) == ""
    assert likeness.fingerprints_any_way_round(jpeg_bytes(even)) == ()
    assert pictures.fingerprint(png_bytes(Image.new("L", (1, 1)))) == ""
