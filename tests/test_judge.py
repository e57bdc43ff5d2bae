"""The judge itself must notice a wrong answer, or nothing that it passes means anything."""

from __future__ import annotations

import pytest
from judge import judge

from archive.errors import CannotEstimate

BY_REL = {
    "inputs": {"readings_mm": [1.0, 2.0]},
    "expected": {
        "value": 100.0,
        "shift": 0.0,
        "p": 1e-20,
        "agree": True,
        "suspect": None,
        "group": ["bay"],
        "weights": [0.4, 0.6],
        "differences": [{"from_to": ["hook", 0], "value": 10.0}],
        "u_mc": 3.0,
        "note": "not judged",
    },
    "tolerance": {"rel": 0.01},
}
RIGHT_BY_REL = {
    "value": 100.9,
    "shift": 1e-10,
    "p": 0.0,
    "agree": True,
    "suspect": None,
    "group": ["bay"],
    "weights": [0.4, 0.6],
    "differences": [{"from_to": ["hook", 0], "value": 10.0}],
}
IN_U = {
    "inputs": {},
    "expected": {
        "value": 100.0,
        "u": 2.0,
        "u_mc": 3.0,
        "centre_px": [10.0, 20.0],
        "u_centre_px": [1.0, 1.0],
        "distances": [{"points": [4, 6], "value": 50.0, "u": 1.0}],
        "chi2": 9.0,
        "rms_after_px": 0.5,
    },
    "tolerance": {"value_in_u": 0.1, "u_rel": 0.1},
}
RIGHT_IN_U = {
    "value": 100.19,
    "u": 3.2,
    "centre_px": [10.05, 20.05],
    "u_centre_px": [1.05, 0.95],
    "distances": [{"points": [4, 6], "value": 50.05, "u": 1.05}],
}
REFUSAL = {"inputs": {}, "expected": {"refuse": "bad_input", "also": ["degenerate_points"]}}


def test_right_answers_pass():
    assert judge(BY_REL, RIGHT_BY_REL) == []
    assert judge(IN_U, RIGHT_IN_U) == []


@pytest.mark.parametrize(
    ("case", "right", "key", "wrong"),
    [
        (BY_REL, RIGHT_BY_REL, "value", 101.1),
        (BY_REL, RIGHT_BY_REL, "value", float("nan")),
        (BY_REL, RIGHT_BY_REL, "value", None),
        (BY_REL, RIGHT_BY_REL, "shift", 1e-6),
        (BY_REL, RIGHT_BY_REL, "p", 1e-8),
        (BY_REL, RIGHT_BY_REL, "agree", False),
        (BY_REL, RIGHT_BY_REL, "agree", 1),
        (BY_REL, RIGHT_BY_REL, "suspect", "bay"),
        (BY_REL, RIGHT_BY_REL, "group", []),
        (BY_REL, RIGHT_BY_REL, "weights", [0.4, 0.5]),
        (BY_REL, RIGHT_BY_REL, "differences", [{"from_to": [1, 0], "value": 10.0}]),
        (IN_U, RIGHT_IN_U, "value", 100.21),
        (IN_U, RIGHT_IN_U, "u", 2.5),
        (IN_U, RIGHT_IN_U, "centre_px", [10.2, 20.0]),
        (IN_U, RIGHT_IN_U, "distances", [{"points": [4, 6], "value": 50.2, "u": 1.0}]),
        (IN_U, RIGHT_IN_U, "distances", [{"points": [4, 7], "value": 50.0, "u": 1.0}]),
        (IN_U, RIGHT_IN_U, "distances", []),
    ],
)
def test_a_wrong_or_missing_field_is_noticed(case, right, key, wrong):
    assert judge(case, {**right, key: wrong})
    assert judge(case, {k: v for k, v in right.items() if k != key})


def test_a_refusal_needs_the_right_reason_and_a_sentence():
    sentence = "A difference from a position to itself says nothing."
    assert judge(REFUSAL, CannotEstimate("degenerate-points", sentence)) == []
    assert judge(REFUSAL, CannotEstimate("too-few-points", sentence))
    assert judge(REFUSAL, CannotEstimate("bad-input", "No."))
    assert judge(REFUSAL, ZeroDivisionError("division by zero"))
    assert judge(REFUSAL, {"value": 0.0})


def test_refusing_what_has_an_answer_is_a_fault():
    assert judge(BY_REL, CannotEstimate("bad-input", "This can not be worked out at all."))
