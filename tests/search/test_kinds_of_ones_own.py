"""Kinds of one's own: found by every word, under the broader kind, counted in the tree."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from made_archives import described

from archive.errors import NameTaken, NotAccepted, UnknownKind
from archive.records.archive import Archive
from archive.records.entering import enter_kind, enter_subject, leave_out_kind
from archive.search import find, index
from archive.search.kind_tree import kind_tree


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Archive]:
    with described(
        tmp_path / "yard", [{"name": "Wharf crane", "kind": "crane"}, {"name": "Stool"}]
    ) as archive:
        yield archive
        index.let_go()


def found(archive: Archive, words: str = "", **conditions: object) -> list[str]:
    return [hit.subject for hit in find(archive, words, **conditions).hits]  # type: ignore[arg-type]


def test_a_subject_is_found_by_every_word_for_its_own_kind_and_by_the_broader_kind(yard: Archive) -> None:
    enter_kind(yard, "Pot derrick", under="crane", also=["turning mast"])
    enter_subject(yard, "Old Nan", kind="turning masts")

    assert found(yard, "derrick") == ["Old Nan"]
    assert found(yard, "turning mast") == ["Old Nan"]
    assert set(found(yard, kind="crane")) == {"Wharf crane", "Old Nan"}
    assert found(yard, kind="pot derrick") == ["Old Nan"]


def test_a_word_that_a_kind_is_given_later_finds_what_is_of_it(yard: Archive) -> None:
    assert found(yard, "kibblehoist") == []
    enter_kind(yard, "kibblehoist", under="crane")
    enter_subject(yard, "Shaft top", kind="kibblehoist")
    assert found(yard, "kibblehoist") == ["Shaft top"]


def test_the_tree_counts_a_kind_with_all_that_is_narrower(yard: Archive) -> None:
    enter_kind(yard, "Pot derrick", under="crane")
    enter_subject(yard, "Old Nan", kind="Pot derrick")
    lines = {line.kind.name: line for line in kind_tree(yard)}
    crane, derrick = lines["crane"], lines["Pot derrick"]

    assert (crane.subjects, crane.with_narrower) == (1, 2)
    assert (derrick.subjects, derrick.depth, derrick.own) == (1, crane.depth + 1, True)
    assert {line.with_narrower for line in kind_tree(yard, used=True)} <= {1, 2}
    assert [line.kind.name for line in kind_tree(yard, "pot derrick")] == ["Pot derrick"]


def test_a_name_that_is_taken_and_a_broader_kind_that_is_not_there_are_refused(yard: Archive) -> None:
    with pytest.raises(NameTaken):
        enter_kind(yard, "CRANE")
    with pytest.raises(UnknownKind, match="crane"):
        enter_kind(yard, "Pot derrick", under="crame")
    with pytest.raises(NotAccepted, match="no view"):
        enter_kind(yard, "Pot derrick", views=["sideways"])


def test_only_an_own_kind_that_nothing_is_of_can_be_taken_away(yard: Archive) -> None:
    enter_kind(yard, "Pot derrick", under="crane")
    enter_kind(yard, "Small derrick", under="Pot derrick")
    with pytest.raises(NotAccepted, match="Small derrick"):
        leave_out_kind(yard, "Pot derrick")
    enter_subject(yard, "Old Nan", kind="Small derrick")
    with pytest.raises(NotAccepted, match="1 subject"):
        leave_out_kind(yard, "Small derrick")
    with pytest.raises(NotAccepted, match="comes with Rivetbook"):
        leave_out_kind(yard, "crane")

    enter_kind(yard, "Spare", under="crane")
    leave_out_kind(yard, "Spare")
    with pytest.raises(UnknownKind):
        kind_tree(yard, "Spare")
