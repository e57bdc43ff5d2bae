"""By proportion and by size on the model, judged with the doubt of both sizes."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from made_archives import add_size
from wendle_basin import new_archive

from archive.errors import NotAccepted, RecordNotFound, ScaleNotUnderstood
from archive.metrology.sources import Source
from archive.records import subjects
from archive.records.archive import Archive
from archive.search import find, index
from archive.search.by_ratio import parse_ratio


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    with new_archive(tmp_path_factory.mktemp("yard") / "archive") as archive:
        with archive.change("Put together for a test") as writer:
            tower = subjects.add_subject(writer, "Tall tower", kind="tank-tower")
            add_size(writer, tower, "overall height", "6 m", u=10)
            add_size(writer, tower, "overall width", "3 m", u=10)
            add_size(writer, tower, "door width", "1 m", u=1)
            shed = subjects.add_subject(writer, "Long shed", kind="shed")
            add_size(writer, shed, "overall height", "3 m", u=5)
            add_size(writer, shed, "overall width", "6 m", u=5)
            drawn = subjects.add_subject(writer, "Drawn box", kind="hut")
            print_scale = Source("scale", "a drawing of unknown scale")
            add_size(writer, drawn, "overall height", "2 m", u=100, leans_on=print_scale)
            add_size(writer, drawn, "overall width", "1 m", u=50, leans_on=print_scale)
            paced = subjects.add_subject(writer, "Paced box", kind="hut")
            add_size(writer, paced, "overall height", "2 m", u=100)
            add_size(writer, paced, "overall width", "1 m", u=50)
        yield archive
        index.let_go()


@pytest.mark.parametrize(
    ("written", "first", "second", "low", "high"),
    [
        ("height to width about 2 to 1", "height", "width", 1.8, 2.2),
        ("height to width 2 to 1", "height", "width", 1.9, 2.1),
        ("height:width 2:1", "height", "width", 1.9, 2.1),
        ("height to width = 1.5", "height", "width", 1.425, 1.575),
        ("overall height to door width over 3", "overall height", "door width", 3, None),
        (
            "length over walls to width over walls over 1.2",
            "length over walls",
            "width over walls",
            1.2,
            None,
        ),
        ("length over width 2 to 1", "length", "width", 1.9, 2.1),
        ("length to width at most 3 to 2", "length", "width", None, 1.5),
        ("length to width between 3 to 2 and 2", "length", "width", 1.5, 2),
        ("head diameter to shaft diameter about 7 to 4", "head diameter", "shaft diameter", 1.575, 1.925),
    ],
)
def test_a_proportion_is_read(
    written: str, first: str, second: str, low: float | None, high: float | None
) -> None:
    asked = parse_ratio(written)
    assert (asked.first, asked.second) == (first, second)
    assert (asked.low, asked.high) == (pytest.approx(low), pytest.approx(high))


@pytest.mark.parametrize(
    "written",
    [
        "",
        "2 to 1",
        "height about 2 to 1",
        "height to width",
        "height to width 0 to 1",
        "height to width 2 to 0",
    ],
)
def test_what_is_no_proportion_is_refused(written: str) -> None:
    with pytest.raises(NotAccepted, match="was not understood as a proportion"):
        parse_ratio(written)


def test_a_proportion_finds_what_has_it_and_not_what_has_it_the_other_way_round(yard: Archive) -> None:
    hits = find(yard, ratios=["height to width about 2 to 1"]).hits
    # 6 m to 3 m is 2; its door is another part, and 6 to 1 no answer to this question.
    assert "Tall tower" in [hit.subject for hit in hits]
    assert "Long shed" not in [hit.subject for hit in hits]
    tower = next(hit for hit in hits if hit.subject == "Tall tower")
    assert [(r.first.label, r.second.label) for r in tower.ratios] == [("overall height", "overall width")]
    assert tower.ratios[0].ratio == pytest.approx(2.0)
    # Relative doubts 10/6000 and 10/3000 in quadrature, times 2.
    assert tower.ratios[0].u_ratio == pytest.approx(2 * ((1 / 600) ** 2 + (1 / 300) ** 2) ** 0.5)
    assert [hit.subject for hit in find(yard, ratios=["height to door width over 5"]).hits] == ["Tall tower"]


def test_a_doubt_that_both_sizes_share_does_not_blur_their_proportion(yard: Archive) -> None:
    hits = {h.subject: h for h in find(yard, ratios=["height to width between 1.95 and 2.05"]).hits}
    assert hits["Drawn box"].in_range_probability == pytest.approx(1.0)

    chance = random.Random(5)  # by simulation: heights and widths paced one by one
    drawn = [chance.gauss(2000, 100) / chance.gauss(1000, 50) for _ in range(40_000)]
    held = sum(1.95 <= ratio <= 2.05 for ratio in drawn) / len(drawn)
    assert hits["Paced box"].in_range_probability == pytest.approx(held, abs=0.01)


def test_a_size_on_the_model_is_one_of_the_real_thing_at_that_scale(yard: Archive) -> None:
    # 6 m and 3 m at 1:87 are 69.0 and 34.5 mm.
    found = find(yard, model_sizes=["overall height 68 to 70 mm"], at="1:87")
    assert [hit.subject for hit in found.hits] == ["Tall tower"]
    assert found.at is not None
    assert found.at.ratio == 87
    both = find(yard, sizes=["overall width over 2 m"], model_sizes=["overall height 30 to 40 mm"], at="1:87")
    assert [hit.subject for hit in both.hits] == ["Long shed"]


def test_a_size_on_the_model_needs_a_scale_that_is_one(yard: Archive) -> None:
    with pytest.raises(NotAccepted, match="--at"):
        find(yard, model_sizes=["overall height 68 to 70 mm"])
    with pytest.raises(ScaleNotUnderstood):
        find(yard, model_sizes=["overall height 68 to 70 mm"], at="1:none")
    with pytest.raises(RecordNotFound, match="bore"):
        find(yard, ratios=["bore to width about 2 to 1"])
