"""Sheets: what is wrong with one is told all at once, each fault with its key or its line."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.dimensions.sheets import METHODS, _Reading, parse_lies, read_sheet
from archive.errors import LengthNotUnderstood, SheetNotUnderstood

SQUARE_ON = """
method = 'square on'
photo = 'HC20_0415'
subject = 'Wharf crane'
[marks]
a = [100, 200]
b = [100.5, 900, 'crisp']
c = [400, 250, 'worn']
d = [400, 800]
[[known]]
from = 'a'
to = 'b'
size = '9ft 0in'
[[asked]]
from = 'c'
to = 'd'
label = 'jib length'
lies = 'standing out 2in'
"""


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(SheetNotUnderstood) as refused:
        read_sheet(text, "a sheet")
    return refused.value.faults


def test_a_sheet_says_method_photo_marks_known_and_asked() -> None:
    sheet = read_sheet(SQUARE_ON, "a sheet")

    assert (sheet.method.name, sheet.photo) == ("square on", "HC20_0415")
    assert [(m.name, m.x_px, m.y_px, m.clear) for m in sheet.marks][1:3] == [
        ("b", 100.5, 900.0, "crisp"),
        ("c", 400.0, 250.0, "worn"),
    ]
    assert sheet.recipe == {
        "known": [{"from": "a", "to": "b", "size": "9ft 0in"}],
        "asked": [{"from": "c", "to": "d", "lies": "standing out 2in"}],
    }
    (asked,) = sheet.asked
    assert (asked.subject, asked.label, asked.span, asked.state) == (
        "Wharf crane",
        "jib length",
        "plain",
        "as found",
    )


def test_where_a_size_lies_is_not_sure_unless_somebody_says() -> None:
    (asked,) = read_sheet(SQUARE_ON.replace("lies = 'standing out 2in'\n", ""), "a sheet").recipe["asked"]
    assert asked["lies"] == "not sure"


def test_a_known_size_of_the_archive_is_named_by_label_and_subject() -> None:
    text = SQUARE_ON.replace("size = '9ft 0in'", "dimension = 'post height'\nspan = 'over'")
    (named,) = read_sheet(text, "a sheet").inputs
    assert (named.subject, named.label, named.span, named.state) == (
        "Wharf crane",
        "post height",
        "over",
        None,
    )


@pytest.mark.parametrize(
    ("was", "becomes", "fault"),
    [
        ("method = 'square on'", "method = 'squareon'", "method: 'squareon' is no method; write one of: square on"),
        ("method = 'square on'", "", "method: no method is named; write one of: square on, rectangle"),
        ("photo = 'HC20_0415'", "photo = 415", "photo: write the file name of the photo, in quotes"),
        ("photo = 'HC20_0415'", "", "photo: this is missing: the file name of the photo"),
        ("a = [100, 200]", "a = [100]", "marks, 'a': write x and y in pixels"),
        ("a = [100, 200]", "a = [100, 200, 'dull']", "marks, 'a': write x and y in pixels"),
        ("a = [100, 200]", "a = [100, nan]", "marks, 'a': write x and y in pixels"),
        ("a = [100, 200]", "B = [1, 2]", "two marks have this name"),
        ("size = '9ft 0in'", "", "[[known]] 1: write either size = '6ft 2in' or dimension ="),
        ("size = '9ft 0in'", "size = 2743", "[[known]] 1, size: write a length with its unit"),
        ("size = '9ft 0in'", "size = '0 mm'", "[[known]] 1, size: '0 mm' is no length that something could have"),
        ("size = '9ft 0in'", "size = '9ftt'", "[[known]] 1, size: '9ftt' was not understood as a length"),
        ("to = 'b'", "too = 'b'", "[[known]] 1, too: this key means nothing here; do you mean 'to'?"),
        ("lies = 'standing out 2in'", "lies = 'behind'", "[[asked]] 1, lies: 'behind' does not say where it lies"),
        ("label = 'jib length'", "", "[[asked]] 1, label: this is missing"),
        ("[[asked]]", "[asked]", "asked: write [[asked]], in double brackets"),
        ("[marks]", "corners = ['a', 'b']\n[marks]", "corners: this key means nothing here"),
        ("[marks]", "tilt_deg = 95\n[marks]", "tilt_deg: write by how many degrees"),
        ("[marks]", "camera = { focal = 26 }\n[marks]", "camera: write focal_35mm = 26, or right_angle"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_key_and_what_to_write(was: str, becomes: str, fault: str) -> None:
    assert was in SQUARE_ON
    told = faults(SQUARE_ON.replace(was, becomes, 1))
    assert any(fault in each for each in told), told


def test_all_faults_are_told_at_once() -> None:
    text = SQUARE_ON.replace("'9ft 0in'", "'9 im'").replace("label = 'jib length'", "")
    assert len(faults(text)) == 2


def test_what_is_no_toml_is_told_with_its_line() -> None:
    (fault,) = faults(SQUARE_ON.replace("to = 'b'", "to = b"))
    assert fault.startswith("line 12, column 6: from here on it cannot be read")


def test_each_method_takes_its_own_marks_and_number_of_known_sizes() -> None:
    text = SQUARE_ON.replace("'square on'", "'rectangle'").replace(
        "[marks]", "corners = ['a', 'b', 'c']\n[marks]"
    )
    told = faults(text)
    assert any("corners: there are 3 marks where 4 are needed" in each for each in told)
    assert any(
        "known: there are 1 [[known]] and the method 'rectangle' takes exactly 2" in each for each in told
    )


@pytest.mark.parametrize("method", METHODS)
def test_every_method_says_what_it_misses_in_an_empty_sheet(method: str) -> None:
    told = " ".join(faults(f"method = '{method}'\nphoto = 'HC20_0415'"))
    for role in METHODS[method].roles:
        assert f"{role}: this is missing" in told
    assert ("nothing is asked" in told) == (METHODS[method].asked is not None)


@pytest.mark.parametrize(
    ("written", "towards_mm", "sure"),
    [
        ("in the plane", None, True),
        ("not sure", None, False),
        ("set back 62 mm", -62.0, True),
        ("standing out 1 1/4in", 31.75, True),
        ("set  back 0.1 m", -100.0, True),
    ],
)
def test_where_a_size_lies_is_read(written: str, towards_mm: float | None, sure: bool) -> None:
    lies = parse_lies(written)
    found = lies.towards_camera * lies.length.value_mm if lies.length else None
    assert (found, lies.sure) == (towards_mm, sure)


def test_not_sure_may_say_within_what() -> None:
    lies = parse_lies("not sure within 20 mm")
    assert not lies.sure
    assert lies.length is not None
    assert lies.length.value_mm == 20.0


@given(st.text(max_size=200))
def test_no_text_whatever_breaks_the_reader(text: str) -> None:
    with suppress(SheetNotUnderstood):
        read_sheet(text, "a sheet")


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=10,
)
KEYS = ("photo", "subject", "marks", "known", "asked", "camera", "straight", "tilt_deg", "faces", *(
    role for method in METHODS.values() for role in method.roles
))  # fmt: skip


@given(
    st.sampled_from(sorted(METHODS)), st.dictionaries(st.sampled_from(sorted(set(KEYS))), VALUES, max_size=6)
)
def test_no_value_in_the_place_of_another_breaks_the_reader(method: str, document: dict[str, object]) -> None:
    with suppress(SheetNotUnderstood):
        _Reading({"method": method, **document}, "a sheet").sheet()


@given(st.text(max_size=30))
def test_where_it_lies_is_read_or_refused(text: str) -> None:
    with suppress(ValueError, LengthNotUnderstood):
        parse_lies(text)


def test_the_sheet_in_readme_is_one_and_its_table_names_every_method_with_its_keys() -> None:
    text = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    section = text.partition("## Sizes from photos: the sheet")[2].partition("\n## ")[0]
    sheet = read_sheet(section.partition("```toml\n")[2].partition("```")[0], "README's")

    assert sheet.recipe["asked"][0]["lies"] == "set back 63 mm"
    rows = [line.split("|")[1:3] for line in section.splitlines() if line.startswith("| `")]
    assert [name.strip(" `") for name, _ in rows] == list(METHODS)
    for name, needs in rows:
        method = METHODS[name.strip(" `")]
        for key in (*method.roles, *method.may_have):
            assert f"`{key}`" in needs, (name, key)
