from __future__ import annotations

from dataclasses import replace

import pytest


@pytest.mark.parametrize(
    ("label", "part"),
    [
        ("door height", "door"),
        ("window pane width", "window pane"),
        ("height", "height"),
        ("length over walls", "length over walls"),
        ("height to eaves", "height to eaves"),
        ("wall height above plinth", "wall"),
        ("overall height", "overall height"),
        ("", ""),
    ],
)
def test_the_part_is_what_stands_before_the_measure(content, label, part):
    assert replace(content.sizes[0], label=label).part == part


def test_a_label_tells_its_span_and_state_where_they_are_not_the_usual_ones(content):
    post, jib = content.sizes[-2:]

    assert post.full_label == "post height, over (1962)"
    assert jib.full_label == "jib length"


def test_a_size_is_within_the_tolerance_when_its_whole_interval_is(content):
    # By hand: 2 u of the front width is 6 mm, on the model 6 * 7 / 304.8 = 0.138 mm.
    width = content.sizes[0]

    assert not replace(content, tolerance_mm=0.138).exceeds_tolerance(width)
    assert replace(content, tolerance_mm=0.137).exceeds_tolerance(width)
    assert not replace(content, tolerance_mm=None).exceeds_tolerance(width)
    unknown = replace(width, model=replace(width.model, interval_95_mm=None))
    assert content.exceeds_tolerance(unknown)  # nobody can say that it is within
