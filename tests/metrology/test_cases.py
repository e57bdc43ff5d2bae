"""Right answers made elsewhere, by other estimators: one test a case."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

import pytest
from case_files import case_file, count
from judge import METROLOGY_METHODS, PHOTO_METHODS, judge

from archive.errors import RivetbookError
from archive.metrology.adjustment import adjust_constraints
from archive.metrology.instruments import instrument_check
from archive.metrology.means import weighted_mean, weighted_mean_shared
from archive.metrology.readings import repeated_readings
from archive.metrology.runs import running_dimensions
from archive.metrology.spacing import count_times_spacing

FILE = case_file("RIVETBOOK_METROLOGY_CASES", "metrology-cases.json")
CASES = json.loads(FILE.read_text(encoding="utf-8"))["cases"] if FILE else []
MINE = [case for case in CASES if case["method"] not in PHOTO_METHODS]

pytestmark = pytest.mark.cases


def no_doubt(inputs: Mapping[str, Any]) -> list[float]:
    """What a missing list of uncertainties stands for."""
    return [0.0] * len(inputs["values_mm"])


def shared_mean(inputs: Mapping[str, Any]) -> Any:
    sources = [source["u_mm"] for source in inputs.get("shared_sources", ())]
    return weighted_mean_shared(inputs["values_mm"], inputs.get("u_own_mm", no_doubt(inputs)), sources)


def check(inputs: Mapping[str, Any]) -> Any:
    numbers = ("reference_mm", "reading_mm", "u_reference_mm", "resolution_mm", "new_reading_mm")
    answer = instrument_check(**{"u_reference_mm": 0.0, **{k: inputs[k] for k in numbers if k in inputs}})
    return {**asdict(answer), "error_mm": answer.error_mm}


def plain(function: Callable[..., Any]) -> Callable[[Mapping[str, Any]], Any]:
    """The function called with the inputs of a case, those left out that only explain."""
    explain = {"asked", "model", "rule", "form", "note"}
    return lambda inputs: function(**{k: v for k, v in inputs.items() if k not in explain})


def with_doubts(function: Callable[..., Any]) -> Callable[[Mapping[str, Any]], Any]:
    """As `plain`, for a function that must be told the doubts."""
    return lambda inputs: plain(function)({"u_mm": no_doubt(inputs), **inputs})


ANSWER: dict[str, Callable[[Mapping[str, Any]], Any]] = {
    "weighted_mean": with_doubts(weighted_mean),
    "weighted_mean_shared": shared_mean,
    "adjust_constraints": with_doubts(adjust_constraints),
    "instrument_check": check,
    "readings": plain(repeated_readings),
    "running_dimensions": plain(running_dimensions),
    "count_times_spacing": plain(count_times_spacing),
}


def answer_of(case: Mapping[str, Any]) -> Any:
    try:
        answer = ANSWER[case["method"]](case["inputs"])
    except RivetbookError as refusal:
        return refusal
    fields = answer if isinstance(answer, dict) else asdict(answer)
    return json.loads(json.dumps(fields))  # tuples become lists, as in the file


@pytest.mark.parametrize("case", MINE, ids=[case["id"] for case in MINE])
def test_the_answer_is_right(case):
    assert case["method"] in METROLOGY_METHODS, f"no method of the archive answers {case['method']}"
    assert judge(case, answer_of(case)) == []


def test_every_method_is_answered():
    if FILE is None:
        pytest.skip("the file of right answers does not lie beside this checkout")
    assert set(ANSWER) == METROLOGY_METHODS
    refused = sum("refuse" in case["expected"] for case in MINE)
    count("metrology", len(MINE) - refused, refused, FILE)
