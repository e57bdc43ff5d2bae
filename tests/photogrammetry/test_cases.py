"""Right answers of the single-photo methods, made elsewhere by other estimators: one test a case."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from typing import Any

import case_files
import pytest
from judge import METROLOGY_METHODS, judge
from photogrammetry.answers import ANSWER

from archive.errors import RivetbookError

COMING_LATER = frozenset({"bundle_3_photos"})  # several photos solved together

FILE = case_files.case_file("RIVETBOOK_METROLOGY_CASES", "metrology-cases.json")
CASES = json.loads(FILE.read_text(encoding="utf-8"))["cases"] if FILE else []
MINE = [case for case in CASES if case["method"] not in METROLOGY_METHODS | COMING_LATER]

pytestmark = pytest.mark.cases


def answer_of(case: Mapping[str, Any]) -> dict[str, Any] | RivetbookError:
    try:
        return ANSWER[case["method"]](case["inputs"])
    except RivetbookError as refusal:
        return refusal


@pytest.mark.parametrize("case", MINE, ids=[case["id"] for case in MINE])
def test_the_answer_is_right(case):
    assert case["method"] in ANSWER, f"no method of the archive answers {case['method']}"
    assert judge(case, answer_of(case)) == []


def test_the_counts_are_told_and_what_comes_later_is_named(capsys):
    if FILE is None:
        pytest.skip("the file of right answers does not lie beside this checkout")
    refusals = sum("refuse" in case["expected"] for case in MINE)
    case_files.count("single-photo", len(MINE) - refusals, refusals, FILE)
    counts = Counter(case["method"] for case in CASES)
    later = ", ".join(f"{method} ({counts[method]})" for method in sorted(COMING_LATER))
    with capsys.disabled():
        print(f"\nphoto cases of a later method, not tried here: {later}")
    assert {case["method"] for case in MINE} <= set(ANSWER)
