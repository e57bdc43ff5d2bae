"""Searches kept by name: asked again, added to, forgotten, taken back like any change."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from made_archives import described

from archive.cli import main
from archive.dimensions import undoing
from archive.errors import NotAccepted, RecordNotFound
from archive.records import verdicts
from archive.records.archive import Archive
from archive.records.subjects import subject_named
from archive.records.things import Verdict
from archive.search import find, index
from archive.search.kept import asked_again, forget_search, keep_search, kept_searches

TOLD = [
    {"name": "Low post", "kind": "bollard", "sizes": {"overall height": "0.5 m"}},
    {"name": "Tall post", "kind": "bollard", "sizes": {"overall height": "1.4 m"}},
    {"name": "Wharf crane", "kind": "crane", "sizes": {"overall height": "4 m"}},
]


@pytest.fixture
def wharf(tmp_path: Path) -> Iterator[Archive]:
    with described(tmp_path / "wharf", TOLD) as archive:
        archive.begin_act()
        yield archive
        index.let_go()


def names(archive: Archive, **asked: object) -> list[str]:
    return sorted(hit.subject for hit in find(archive, **asked).hits)  # type: ignore[arg-type]


def test_a_kept_search_finds_what_it_found_and_what_came_since(wharf: Archive) -> None:
    keep_search(wharf, "Posts", {"words": "", "kind": "bollard", "sizes": ["overall height over 0.4 m"]})

    assert names(wharf, **asked_again(wharf, "posts", {})) == ["Low post", "Tall post"]


def test_words_and_conditions_are_added_to_a_kept_search(wharf: Archive) -> None:
    keep_search(wharf, "Posts", {"kind": "bollard", "sizes": ["overall height over 0.4 m"]})

    more = {"words": "tall", "kind": None, "sizes": ("overall height under 2 m",)}

    asked = asked_again(wharf, "Posts", more)
    assert asked["sizes"] == ["overall height over 0.4 m", "overall height under 2 m"]
    assert names(wharf, **asked) == ["Tall post"]


def test_a_name_given_again_takes_the_place_of_the_search_before(wharf: Archive) -> None:
    keep_search(wharf, "Things", {"kind": "bollard"})

    assert "in place of" in keep_search(wharf, "things", {"kind": "crane"})
    assert [each.asked for each in kept_searches(wharf)] == [{"kind": "crane"}]


def test_a_forgotten_search_is_back_after_an_undo(wharf: Archive) -> None:
    keep_search(wharf, "Posts", {"kind": "bollard"})
    wharf.begin_act()
    forget_search(wharf, "Posts")
    assert kept_searches(wharf) == []

    wharf.begin_act()
    undoing.undo(wharf)

    assert [each.name for each in kept_searches(wharf)] == ["Posts"]


def test_an_empty_search_and_an_unknown_name_are_refused(wharf: Archive) -> None:
    with pytest.raises(NotAccepted, match="nothing in that search to keep"):
        keep_search(wharf, "Nothing", {"words": "", "sizes": ()})
    keep_search(wharf, "Posts", {"kind": "bollard"})
    with pytest.raises(RecordNotFound, match="Posts"):
        forget_search(wharf, "Post")


def test_what_is_good_for_a_scale_has_every_size_within_a_fifth_of_a_millimetre_there(wharf: Archive) -> None:
    # 0.2 mm at 1:43.5 is 8.7 mm, at 1:87 it is 17.4 mm.
    with wharf.change("Judged") as writer:
        keys = {name: subject_named(writer, name).key for name in ("Low post", "Tall post", "Wharf crane")}
        verdicts.keep_verdicts(
            writer,
            {
                keys["Low post"]: Verdict(0, 0, 8.0),
                keys["Tall post"]: Verdict(0, 0, 12.0),
                keys["Wharf crane"]: Verdict(1, 0, 2.0),
            },
        )

    assert names(wharf, good_for="1:43.5") == ["Low post"]
    assert names(wharf, good_for="1:87") == ["Low post", "Tall post"]
    assert names(wharf, words="post", good_for="1:43.5") == ["Low post"]


def test_where_nothing_is_good_for_a_scale_the_way_to_see_what_is_lacking_can_be_typed(
    wharf: Archive,
) -> None:
    run = CliRunner().invoke(main, ["--archive", str(wharf.folder), "find", "--good-for", "7 mm to the foot"])

    assert run.exit_code == 0
    line = run.output.splitlines()[-1]
    told = line.partition(": rivetbook ")[2]
    words = ["Wharf crane" if word == "SUBJECT" else word for word in shlex.split(told)]
    lacking = CliRunner().invoke(main, ["--archive", str(wharf.folder), *words])
    assert lacking.exit_code == 0
    assert "missing" in lacking.output
