"""Every length of the file of right answers, all its fields; a refusal says why and what to write."""

from __future__ import annotations

import json
from typing import Any

import case_files
import pytest

from archive.errors import LengthNotUnderstood
from archive.lengths import parse_length

FILE = case_files.case_file("RIVETBOOK_LENGTH_CASES", "lengths-cases.json")
CASES: list[dict[str, Any]] = json.loads(FILE.read_text(encoding="utf-8")) if FILE else []
ANSWERS = [case for case in CASES if "error" not in case]
REFUSALS = [case for case in CASES if "error" in case]
NO_FILE = "no file of length cases: none beside the checkout, and RIVETBOOK_LENGTH_CASES is not set"

if FILE:
    case_files.count("length", len(ANSWERS), len(REFUSALS), FILE)

pytestmark = [pytest.mark.cases, pytest.mark.skipif(FILE is None, reason=NO_FILE)]


def named(case: dict[str, Any]) -> str:
    return case["text"] or "nothing"


@pytest.mark.parametrize("case", ANSWERS, ids=named)
def test_a_length_is_read_as_the_file_says(case: dict[str, Any]):
    length = parse_length(case["text"])

    assert length.as_written == case["text"]
    assert length.value_mm == pytest.approx(case["mm"], rel=1e-12)
    assert length.approximate == case.get("approximate", False)
    for field in ("resolution_mm", "tolerance_mm", "low_mm", "high_mm"):
        wanted = case.get(field)
        assert getattr(length, field) == (wanted if wanted is None else pytest.approx(wanted, rel=1e-12)), (
            field
        )


@pytest.mark.parametrize("case", REFUSALS, ids=named)
def test_a_length_without_a_single_meaning_is_refused(case: dict[str, Any]):
    with pytest.raises(LengthNotUnderstood) as refused:
        parse_length(case["text"])

    assert refused.value.as_written == case["text"]
    assert refused.value.why
    assert refused.value.instead


def test_the_file_holds_answers_and_refusals():
    assert ANSWERS
    assert REFUSALS
