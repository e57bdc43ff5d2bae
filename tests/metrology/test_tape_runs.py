"""A tape's run: what is read out of it, what its sizes share, and where a bad one is pointed at."""

from __future__ import annotations

from math import sqrt

import pytest

from archive.errors import NotationNotUnderstood
from archive.metrology.readings import Limits, unchecked
from archive.metrology.sources import covariance, linear
from archive.metrology.tape_runs import parse_run, run_sizes

FRONT = "0; door left 0.42 m; [door width /over]; door right 1.18; window left 1.46; end 2.73"


def test_positions_are_kept_as_they_were_read_and_the_first_unit_serves_all():
    run = parse_run(FRONT)
    assert [p.as_written for p in run.positions] == ["0", "0.42 m", "1.18", "1.46", "2.73"]
    assert [p.value_mm for p in run.positions] == pytest.approx([0, 420, 1180, 1460, 2730])


def test_neighbours_give_sizes_and_brackets_name_the_one_between():
    run = parse_run(FRONT)
    assert [(s.label, s.span) for s in run.sizes] == [
        ("start to door left", None),
        ("door width", "over"),
        ("door right to window left", None),
        ("window left to end", None),
    ]


def test_the_hooked_zero_has_no_rounding_and_each_position_shares_its_own_with_its_neighbours():
    # By hand: steps of 10 mm, u = 10 / sqrt 12 a position; the door has two, the first size one.
    first, door, gap, _ = run_sizes(parse_run(FRONT), of_record="run1")
    assert first.standard_uncertainty == pytest.approx(10 / sqrt(12))
    assert door.standard_uncertainty == pytest.approx(10 / sqrt(6))
    assert covariance(door, gap) == pytest.approx(-100 / 12)


def test_all_sizes_added_are_the_whole_with_its_two_ends_only():
    tape = unchecked(Limits(constant_mm=1.5, per_mm=0.001), "tape-1")
    whole = linear([(1.0, size) for size in run_sizes(parse_run(FRONT), of_record="run1", instrument=tape)])
    assert whole.value == pytest.approx(2730)
    assert whole.standard_uncertainty == pytest.approx(sqrt(100 / 12 + 1.5**2 / 3 + 2.73**2 / 3))


def test_the_hooks_error_goes_out_between_two_positions():
    tape = unchecked(Limits(constant_mm=1.5), "tape-1")
    sizes = run_sizes(parse_run(FRONT), of_record="run1", instrument=tape, resolution_mm=1)
    assert [source.kind for source, _ in sizes[0].shares()] == ["offset", "rounding"]
    assert {source.kind for source, _ in sizes[1].shares()} == {"rounding"}


def test_feet_and_inches_labels_with_figures_and_commas_are_read():
    run = parse_run("left corner 0; bay 2 left 4ft 6in; bay 3 right 7ft 2½in")
    assert [p.label for p in run.positions] == ["left corner", "bay 2 left", "bay 3 right"]
    assert [p.value_mm for p in run.positions] == pytest.approx([0, 1371.6, 2197.1])
    assert [p.value_mm for p in parse_run("0; a 0,42 m; c 1,18").positions] == pytest.approx([0, 420, 1180])


def test_a_position_with_a_unit_of_its_own_keeps_it():
    assert [p.value_mm for p in parse_run("0; a 420 mm; b 0.9 m; d 950").positions] == pytest.approx(
        [0, 420, 900, 950]
    )


def test_a_run_that_is_not_hooked_has_no_exact_zero():
    (size,) = run_sizes(parse_run("left 100 mm; right 900 mm"), of_record="run1")
    assert (size.value, size.standard_uncertainty) == (800, pytest.approx(1 / sqrt(6)))


@pytest.mark.parametrize(
    ("text", "at", "why"),
    [
        ("0; a 1.2 m; b 1.1; c 1.3", "b 1.1", "'b' at 1.1 does not lie beyond 'a' at 1.2 m"),
        ("0; a 1.2 m; b 1.2; c 1.3", "b 1.2", "does not lie beyond"),
        ("door left 420; right 900", "420", "no unit serves this figure"),
        ("0; 4 ft 6 in; b 6 ft", "4 ft", "has no name"),
        ("0; a b; c 1.2 m", "a b", "ends in no position"),
        ("0; a 1.2 m; [w /ove]; b 1.3", "/ove", "'ove' is no span"),
        ("0; a 1.2 m; [w]", "[w]", "no position follows"),
        ("[w]; a 1 m; b 2", "[w]", "does not stand between two positions"),
        ("0; a 1 m; [w]; [v]; b 2", "[v]", "does not stand between two positions"),
        ("0; a 1 m; []; b 2", "[]", "names no size"),
        ("0; post 1 m; post 2; post 3", "post 3", "two sizes of this run would be called"),
    ],
)
def test_a_bad_run_is_refused_and_the_place_pointed_at(text, at, why):
    with pytest.raises(NotationNotUnderstood, match="nothing was saved") as refused:
        parse_run(text)
    assert why in str(refused.value)
    assert refused.value.column == text.rindex(at)
    shown, caret = str(refused.value).splitlines()[1:]
    assert shown[caret.index("^") :].startswith(at)


@pytest.mark.parametrize("text", ["", " ; ;", "0", "a 1 m", "0;" * 3000])
def test_what_is_no_run_is_refused(text):
    with pytest.raises(NotationNotUnderstood):
        parse_run(text)
