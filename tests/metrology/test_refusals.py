"""What no honest figure follows from is refused, in a sentence, with its reason."""

from __future__ import annotations

import numpy as np
import pytest

from archive.errors import CannotEstimate
from archive.metrology.adjustment import adjust_constraints
from archive.metrology.instruments import instrument_check
from archive.metrology.means import weighted_mean, weighted_mean_shared
from archive.metrology.readings import repeated_readings
from archive.metrology.runs import running_dimensions
from archive.metrology.spacing import count_times_spacing

NAN = float("nan")
NAMES = ["left", "right", "wall"]
SUM = [[1, 1, -1]]


@pytest.mark.parametrize(
    ("code", "ask"),
    [
        ("too-few-points", lambda: weighted_mean([], [])),
        ("bad-input", lambda: weighted_mean([1000, 1001], [1])),
        ("bad-input", lambda: weighted_mean([1000, NAN], [1, 1])),
        ("bad-input", lambda: weighted_mean(1000, [1, 1])),
        ("bad-uncertainty", lambda: weighted_mean([1000, 1001], [1, -1])),
        ("doubt-too-large", lambda: weighted_mean([10, 11], [9, 9])),
        ("bad-uncertainty", lambda: weighted_mean_shared([1000, 1001], [0, 1])),
        ("bad-uncertainty", lambda: weighted_mean_shared([1000, 1001], [-1, 1], [[2, 2]])),
        ("bad-input", lambda: weighted_mean_shared([1000, 1001], [1, 1], [[2, 2, 2]])),
        ("singular-covariance", lambda: weighted_mean_shared([1000, 1000], [0, 0], [[2, 2]])),
        ("singular-covariance", lambda: weighted_mean_shared([1000, 1009], [0, 0], [[2, 4]])),
        ("bad-input", lambda: adjust_constraints(NAMES, [1, 2], [1, 1, 1], SUM, [0])),
        ("bad-input", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 1, 1], [[1, 1]], [0])),
        ("bad-input", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 1, 1], SUM, [0, 1])),
        ("bad-input", lambda: adjust_constraints(["a", "a", "b"], [1, 2, 3], [1, 1, 1], SUM, [0])),
        ("bad-uncertainty", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 0, 1], SUM, [0])),
        ("too-few-points", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 1, 1], [], [])),
        ("bad-input", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 1, 1], SUM, [])),
        ("doubt-too-large", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 1, 1], SUM, [0])),
        ("constraints-dependent", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 1, 1], SUM * 2, [0, 0])),
        ("constraints-dependent", lambda: adjust_constraints(NAMES, [1, 2, 3], [1, 1, 1], [[0, 0, 0]], [0])),
        ("constraints-inconsistent", lambda: adjust_constraints(NAMES, [1, 2, 3], [1] * 3, [[0, 0, 0]], [1])),
        (
            "constraints-inconsistent",
            lambda: adjust_constraints(NAMES, [1, 2, 3], [1] * 3, [[1, 1, -1], [-2, -2, 2]], [0, 1]),
        ),
        ("too-few-points", lambda: instrument_check([], [], 0.5, 1, 1000)),
        ("bad-input", lambda: instrument_check([1000], [1000, 1001], 0.5, 1, 1000)),
        ("bad-known", lambda: instrument_check([0], [1000], 0.5, 1, 1000)),
        ("bad-uncertainty", lambda: instrument_check([1000], [1000], -0.5, 1, 1000)),
        ("bad-uncertainty", lambda: instrument_check([1000], [1000], 0.5, -1, 1000)),
        ("bad-input", lambda: instrument_check([1000], [1000], 0.5, 1, 0)),
        ("degenerate-points", lambda: instrument_check([1000, 1000.3], [1001, 1002], 0.5, 1, 1000)),
        ("degenerate-points", lambda: instrument_check([1000] * 4, [1001, 1002, 1000, 1001], 0, 1, 1000)),
        ("degenerate-points", lambda: instrument_check([1000, 2000], [2000, 1000], 0.5, 1, 1500)),
        ("bad-input", lambda: repeated_readings([1000], 1, 1, 1.0)),
        ("bad-input", lambda: repeated_readings([1000], 1, 1, 0)),
        ("bad-input", lambda: repeated_readings([1000, NAN], 1)),
        ("bad-uncertainty", lambda: repeated_readings([1000], 1, -1)),
        ("doubt-too-large", lambda: repeated_readings([10], 100)),
        ("point-order", lambda: running_dimensions([1000, 900], 1, [(0, 1), ("hook", 1)])),
        ("point-order", lambda: running_dimensions([-1, 900], 1, [(0, 1), ("hook", 1)])),
        ("bad-input", lambda: running_dimensions([500, 900], 1, [(0, 2), (0, 1)])),
        ("bad-input", lambda: running_dimensions([500, 900], 1, [(-1, 1), (0, 1)])),
        ("bad-input", lambda: running_dimensions([500, 900], 1, [("hook", "hook"), (0, 1)])),
        ("bad-input", lambda: running_dimensions([500, 900], 1, [(0, 1)])),
        ("bad-uncertainty", lambda: running_dimensions([500, 900], 1, [(0, 1), ("hook", 1)], u_hook_mm=-1)),
        ("bad-uncertainty", lambda: running_dimensions([500, 900], -1, [(0, 1), ("hook", 1)])),
        ("bad-uncertainty", lambda: running_dimensions([500, 900], "5", [(0, 1), ("hook", 1)])),
        ("too-few-points", lambda: running_dimensions([], 1, [(0, 1), ("hook", 1)])),
        ("bad-input", lambda: count_times_spacing(6, 8, 600, 2)),
        ("bad-known", lambda: count_times_spacing(0, 8, 600, 2)),
        ("bad-known", lambda: count_times_spacing(30, 8, -600, 2)),
        ("bad-uncertainty", lambda: count_times_spacing(30, 8, 600, -2)),
        ("bad-uncertainty", lambda: count_times_spacing(30, 8, 600, 2, u_each_mm=-1)),
        ("doubt-too-large", lambda: count_times_spacing(30, 8, 600, 200)),
    ],
)
def test_it_is_refused_with_its_reason(code, ask):
    with pytest.raises(CannotEstimate, match=r"\w+ \w+ \w+.*\.$") as refused:
        ask()
    assert refused.value.code == code


def test_whole_numbers_of_numpy_are_numbers():
    # By hand: weights 1/4 and 1/4.
    assert weighted_mean(np.array([1000, 1002]), np.array([2, 2])).value == 1001


def test_more_may_be_measured_than_asked_for_where_they_are_not_the_same_ones():
    # By hand: 6/8 of 600 mm.
    assert count_times_spacing(6, 8, 600, 2, measured_among_counted=False).value == 450
