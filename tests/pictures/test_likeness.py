"""Fingerprints: alike for one picture however it was saved, unlike for different ones."""

from __future__ import annotations

import io

import pytest
from made_pictures import STORED_AS, jpeg_bytes, made_view, png_bytes
from PIL import Image

from archive import pictures
from archive.pictures import likeness
from archive.records.look_alikes import MOST_DIFFERENCE


def fingerprint(picture: Image.Image) -> str:
    return pictures.fingerprint(jpeg_bytes(picture, quality=90))


def apart(one: Image.Image, other: Image.Image) -> int:
    every_way = likeness.fingerprints_any_way_round(jpeg_bytes(one, quality=90))
    return min(likeness.difference(way, fingerprint(other)) for way in every_way)


@pytest.mark.parametrize("seed", range(6))
def test_a_picture_saved_again_made_small_or_cut_a_little_is_alike(seed: int) -> None:
    whole = made_view(seed)
    rough = Image.open(io.BytesIO(jpeg_bytes(whole, quality=25)))

    assert apart(whole, rough) <= MOST_DIFFERENCE
    assert apart(whole, whole.resize((120, 90))) <= MOST_DIFFERENCE
    assert apart(whole, whole.crop((6, 5, 474, 355))) <= MOST_DIFFERENCE


@pytest.mark.parametrize("turn", STORED_AS)
def test_it_is_alike_whichever_way_it_is_turned_or_mirrored(turn: int) -> None:
    how = STORED_AS[turn]

    assert all(
        apart(made_view(n), made_view(n).transpose(how) if how is not None else made_view(n)) <= 6
        for n in range(2)
    )


def test_different_pictures_are_not_alike_in_any_turn() -> None:
    # Two fingerprints of unlike pictures differ in 64 bits of 128 on average, the nearest of eight turns in fewer.
    scenes = [made_view(n) for n in range(9)]

    assert min(apart(a, b) for n, a in enumerate(scenes) for b in scenes[:n]) > MOST_DIFFERENCE + 4


def test_those_that_are_near_to_one_are_found_among_many() -> None:
    # By hand: 0f and 1f differ in one bit, 00 and 0f in four, 00 and ff in eight.
    many = likeness.Fingerprints([first + "00" * 15 for first in ("00", "0f", "ff", "1f", "00")])

    assert many.near(0, 0) == [4]
    assert many.near(0, 4) == [1, 4]
    assert many.near(3, 3) == [1, 2]
    assert many.near(2, 8) == [0, 1, 3, 4]


def test_there_are_eight_ways_round_the_upright_one_first() -> None:
    ways = likeness.fingerprints_any_way_round(jpeg_bytes(made_view(3), quality=90))

    assert len(set(ways)) == 8
    assert ways[0] == fingerprint(made_view(3))


def test_an_even_surface_has_no_fingerprint() -> None:
    even = Image.new("RGB", (400, 300), (120, 130, 140))

    assert fingerprint(even) == ""
    assert likeness.fingerprints_any_way_round(jpeg_bytes(even)) == ()
    assert pictures.fingerprint(png_bytes(Image.new("L", (1, 1)))) == ""
