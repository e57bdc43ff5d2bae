"""Compares an answer with the right one of a case, to the tolerance that the case gives.

`value_in_u`: a value may differ by that many of its own right u. `u_rel`: an u by that fraction of the
right u, or of the one found by Monte Carlo. `rel`: every number by that fraction of itself.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from archive.errors import RivetbookError

METROLOGY_METHODS = frozenset(
    [
        "weighted_mean",
        "weighted_mean_shared",
        "adjust_constraints",
        "instrument_check",
        "readings",
        "running_dimensions",
        "count_times_spacing",
    ]
)
PHOTO_METHODS = frozenset(
    [
        "bundle_3_photos",
        "circle_known_diameter_known_camera",
        "collinear_three_known",
        "collinear_with_parallel_edge",
        "equal_spacing",
        "focal_from_two_right_angle_vps",
        "height_single_view",
        "offset_from_plane",
        "plane_points_ml",
        "plane_rectangle",
        "plumb_line_division",
        "plumb_line_division_centre",
        "plumb_line_k1",
        "rectangle_known_side_known_focal",
        "size_from_distance",
        "square_on_proportion",
        "two_coplanar_circles",
    ]
)

_NEVER_JUDGED = frozenset(
    [
        "u_mc",
        "u_first_order",
        "u_parts",
        "u_centre_mc",
        "value_other_gauge",
        "u_other_gauge",
        "other_solution",
        "if_offset_ignored",
        "truth",
        "verified",
        "note",
    ]
)
_NEVER_JUDGED_PREFIXES = ("mc_", "rms_")
_ONLY_BY_REL = frozenset({"chi2", "chi2_along", "dof"})
# With one reading a scatter is undefined: none and 0 are both right.
_UNDEFINED_FOR_ONE = frozenset({"s_mm", "u_typeA_mm"})


def judge(case: Mapping[str, Any], answer: Mapping[str, Any] | Exception) -> list[str]:
    """What is wrong with an answer, one sentence a fault; empty where it is right.

    Parameters
    ----------
    case : mapping
        One case of the file: `inputs`, `expected` and, unless it is to be refused, `tolerance`.
    answer : mapping or exception
        The fields of the answer under the names of `expected`, more being harmless; or what was raised.
    """
    expected = case["expected"]
    if "refuse" in expected:
        return _judge_refusal(expected, answer)
    if isinstance(answer, Exception):
        return [f"refused with {answer!r}, and there is an answer: {expected}"]
    tolerance = case["tolerance"]
    one_reading = len(case["inputs"].get("readings_mm", ())) == 1
    if "rel" in tolerance:
        return _judge_rel(expected, answer, tolerance["rel"], "", one_reading)
    return _judge_in_u(expected, answer, tolerance["value_in_u"], tolerance["u_rel"], "")


def _judge_refusal(expected: Mapping[str, Any], answer: Mapping[str, Any] | Exception) -> list[str]:
    right = {expected["refuse"], *expected.get("also", ()), "doubt_too_large"}
    if not isinstance(answer, Exception):
        return [f"answered {dict(answer)}, and should have refused: {expected['refuse']}"]
    if not isinstance(answer, RivetbookError):
        return [f"fell over with {answer!r}, and should have refused in words: {expected['refuse']}"]
    faults = []
    code = str(getattr(answer, "code", "")).replace("-", "_")
    if code not in right:
        faults.append(f"refused as {code!r}, and right were {sorted(right)}: {answer}")
    if len(str(answer).split()) < 6 or not str(answer).rstrip().endswith("."):
        faults.append(f"the refusal is no helpful sentence: {str(answer)!r}")
    return faults


def _judge_rel(expected: Any, answer: Any, rel: float, where: str, one_reading: bool) -> list[str]:
    if isinstance(expected, Mapping):
        faults = []
        for key, right in expected.items():
            if _never_judged(key):
                continue
            path = f"{where}.{key}".lstrip(".")
            if key not in answer:
                faults.append(f"{path} is missing")
            elif one_reading and key in _UNDEFINED_FOR_ONE:
                faults += [] if answer[key] in (None, 0) else [f"{path} is {answer[key]}, right is null or 0"]
            elif key == "p" and right < 1e-9:
                faults += [] if 0 <= answer[key] < 1e-9 else [f"{path} is {answer[key]}, right is {right}"]
            else:
                faults += _judge_rel(right, answer[key], rel, path, one_reading)
        return faults
    if _is_list(expected):
        return _judge_list(
            expected, answer, where, lambda right, got, at: _judge_rel(right, got, rel, at, one_reading)
        )
    if not _is_number(expected):
        return _judge_equal(expected, answer, where)
    allowed = rel * abs(expected) if expected else 1e-9
    return _judge_number(expected, answer, allowed, where)


def _judge_in_u(expected: Any, answer: Any, in_u: float, u_rel: float, where: str) -> list[str]:
    if _is_list(expected):
        return _judge_list(
            expected, answer, where, lambda right, got, at: _judge_in_u(right, got, in_u, u_rel, at)
        )
    if not isinstance(expected, Mapping):
        return [] if isinstance(expected, float) else _judge_equal(expected, answer, where)
    faults = []
    for key, right in expected.items():
        if _never_judged(key) or key in _ONLY_BY_REL:
            continue
        path = f"{where}.{key}".lstrip(".")
        if key not in answer:
            faults.append(f"{path} is missing")
        elif key == "value":
            faults += _judge_number(right, answer[key], in_u * expected["u"], path)
        elif key == "u":
            faults += _judge_u(right, expected.get("u_mc"), answer[key], u_rel, path)
        elif key == "centre_px":
            for n, (centre, u) in enumerate(zip(right, expected["u_centre_px"], strict=True)):
                faults += _judge_number(centre, answer[key][n], in_u * u, f"{path}[{n}]")
        elif key == "u_centre_px":
            by_chance = expected.get("u_centre_mc", [None] * len(right))
            for n, (u, u_mc) in enumerate(zip(right, by_chance, strict=True)):
                faults += _judge_u(u, u_mc, answer[key][n], u_rel, f"{path}[{n}]")
        else:
            faults += _judge_in_u(right, answer[key], in_u, u_rel, path)
    return faults


def _judge_u(right: float, u_mc: float | None, answer: Any, u_rel: float, where: str) -> list[str]:
    complaint = _judge_number(right, answer, u_rel * right, where)
    if complaint and u_mc is not None and not _judge_number(u_mc, answer, u_rel * u_mc, where):
        return []
    return complaint


def _judge_list(expected: Sequence[Any], answer: Any, where: str, one: Any) -> list[str]:
    if not _is_list(answer) or len(answer) != len(expected):
        return [f"{where} is {answer!r}, right is {list(expected)!r}"]
    return [
        fault
        for n, (right, got) in enumerate(zip(expected, answer, strict=True))
        for fault in one(right, got, f"{where}[{n}]")
    ]


def _judge_number(right: float, answer: Any, allowed: float, where: str) -> list[str]:
    if _is_number(answer) and math.isfinite(answer) and abs(answer - right) <= allowed:
        return []
    return [f"{where} is {answer!r}, right is {right!r} within {allowed:.3g}"]


def _judge_equal(right: Any, answer: Any, where: str) -> list[str]:
    return (
        []
        if type(answer) is type(right) and answer == right
        else [f"{where} is {answer!r}, right is {right!r}"]
    )


def _never_judged(key: str) -> bool:
    return key in _NEVER_JUDGED or key.startswith(_NEVER_JUDGED_PREFIXES)


def _is_number(thing: Any) -> bool:
    return isinstance(thing, int | float) and not isinstance(thing, bool)


def _is_list(thing: Any) -> bool:
    return isinstance(thing, Sequence) and not isinstance(thing, str)
