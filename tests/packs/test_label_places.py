"""Texts on a picture stay on it and off one another."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from archive.packs.label_places import Box, LabelPlaces


def test_a_text_goes_right_below_what_it_names():
    assert LabelPlaces(400, 300).place(100, 50, 60, 20) == Box(108, 58, 168, 78)


def test_a_second_text_of_the_same_place_goes_above_it():
    room = LabelPlaces(400, 300)
    first = room.place(100, 50, 60, 20)
    assert room.place(100, 50, 60, 20) == Box(108, 22, 168, 42)
    assert first.overlap(Box(108, 22, 168, 42)) == 0


def test_no_text_lies_over_a_line():
    room = LabelPlaces(400, 300)
    room.keep_off_line((100, 0), (100, 300), 5)
    placed = room.place(100, 150, 80, 20)
    assert placed.left >= 105 or placed.right <= 95


@given(st.lists(st.tuples(st.floats(0, 800), st.floats(0, 600)), max_size=8), st.floats(20, 300))
def test_every_text_stays_on_the_picture_and_where_there_is_room_no_two_overlap(anchors, wide):
    room = LabelPlaces(800, 600)
    placed = [room.place(x, y, wide, 20) for x, y in anchors]
    assert all(box.left >= 0 and box.top >= 0 and box.right <= 800 and box.bottom <= 600 for box in placed)
    apart = [a for a, b in combinations(anchors, 2) if abs(a[0] - b[0]) < 320 and abs(a[1] - b[1]) < 60]
    if not apart:
        assert not any(a.overlap(b) for a, b in combinations(placed, 2))
