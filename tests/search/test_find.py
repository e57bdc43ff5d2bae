"""Finding on the demonstration's archive: by name, by another word for the thing, by size; always an answer."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_archives import described

from archive.errors import LengthNotUnderstood, RecordNotFound
from archive.records.archive import open_archive
from archive.records.subjects import add_subject
from archive.search import find


def subjects_found(basin: Path, words: str = "", **conditions: object) -> list[str]:
    with open_archive(basin) as archive:
        return [hit.subject for hit in find(archive, words, **conditions).hits]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("crane", "Wharf crane"),
        ("CRANES", "Wharf crane"),
        ("mooring post", "Quay bollard"),
        ("bitt", "Quay bollard"),
        ("street light", "Quay lamp"),
        ("hand truck", "Sack truck"),
        ("slate roof", "Weighbridge hut"),
        ("kiosk", "Weighbridge hut"),
    ],
)
def test_a_thing_is_found_by_its_name_its_notes_and_any_word_for_its_kind(
    basin: Path, words: str, first: str
) -> None:
    assert subjects_found(basin, words)[0] == first


def test_a_size_in_range_finds_its_subject_and_one_outside_does_not(basin: Path) -> None:
    # Noted in the demonstration: crane post height 9ft 0in = 2743.2 mm, bollard height 711 mm.
    assert subjects_found(basin, sizes=["post height 2.5 to 3 m"]) == ["Wharf crane"]
    # The lamp's pedestal, by phone 690 mm give or take 20, may just reach in: possible, so it comes after.
    assert subjects_found(basin, sizes=["height 700 to 720 mm"]) == ["Quay bollard", "Quay lamp"]
    assert subjects_found(basin, sizes=["post height over 4 m"]) == []


def test_the_doubt_decides_how_likely_a_size_is_in_range(basin: Path) -> None:
    # Door height of the hut, by phone: 1760 mm give or take 40; half of that lies above 1760.
    with open_archive(basin) as archive:
        hit = find(archive, sizes=["door height over 1760 mm"]).hits[0]
    assert hit.subject == "Weighbridge hut"
    assert hit.in_range_probability == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("bolard", "bollard"), ("Bolards", "bollard"), ("crain", "crane"), ("weibridge", "weighbridge")],
)
def test_a_slip_shows_the_word_that_it_sounds_like(basin: Path, typed: str, meant: str) -> None:
    with open_archive(basin) as archive:
        messages = find(archive, typed).messages
    assert messages == (f"Nothing for “{typed}”; showing {meant}.",)


def test_view_kind_and_visit_narrow_what_is_found(basin: Path) -> None:
    assert subjects_found(basin, view="top") == ["Quay bollard"]
    assert subjects_found(basin, kind="crane") == ["Wharf crane"]
    assert "Weighbridge hut" in subjects_found(basin, kind="building")
    assert "Sack truck" in subjects_found(basin, visit="Wendle Basin, September")


def test_search_follows_what_is_written_without_being_told(basin: Path) -> None:
    with open_archive(basin) as archive:
        assert not [h for h in find(archive, "turntable").hits if h.subject == "Yard turntable"]
        with archive.change("Added the yard turntable") as writer:
            add_subject(writer, "Yard turntable", notes="Sunk in the setts")
        assert find(archive, "turntable").hits[0].subject == "Yard turntable"


def test_a_lost_index_is_made_again(basin: Path) -> None:
    assert subjects_found(basin, "crane")[0] == "Wharf crane"
    for file in sorted((basin / "index").rglob("*"), reverse=True):
        file.unlink() if file.is_file() else file.rmdir()
    assert subjects_found(basin, "crane")[0] == "Wharf crane"


@pytest.mark.parametrize(
    "words",
    [
        "url: x",
        "(*A*) AND (b",
        '"',
        "[1 TO",
        "1:87",
        "a* AND",
        "🚂",
        "κρένα",
        "кран",
        "起重機",
        "x" * 10_000,
        "\x00",
        "  ",
    ],
)
def test_awkward_words_give_an_answer_or_a_plain_sentence(basin: Path, words: str) -> None:
    with open_archive(basin) as archive:
        found = find(archive, words)
    assert found.hits or found.messages


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words=st.text(max_size=40))
def test_any_words_at_all_raise_nothing(basin: Path, words: str) -> None:
    with open_archive(basin) as archive:
        find(archive, words)


def test_conditions_that_cannot_be_read_are_refused(basin: Path) -> None:
    with open_archive(basin) as archive:
        with pytest.raises(LengthNotUnderstood):
            find(archive, sizes=["post height 4-6"])
        with pytest.raises(RecordNotFound, match="no visit called 'Nowhere'"):
            find(archive, visit="Nowhere")


def test_finding_loads_nothing_slow(basin: Path) -> None:
    look = (
        "import json, sys\n"
        "from archive.cli import main\n"
        f"main(['--archive', {str(basin)!r}, 'find', 'crane', '--size', 'post height 2.5 to 3 m'], standalone_mode=False)\n"
        "print(json.dumps(sorted(name.partition('.')[0] for name in sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", look],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    loaded = set(json.loads(done.stdout.splitlines()[-1]))
    assert "Wharf crane" in done.stdout
    assert not loaded & {"numpy", "cv2", "PIL", "reportlab", "pypdfium2", "alembic", "flask", "scipy"}


def test_a_word_is_not_passed_over_for_a_common_one_with_the_same_root(tmp_path: Path) -> None:
    # Without their endings 'herring' and 'hers' are 'her' (Porter 1980), which says nothing; with them only 'hers' does.
    told = [
        {"name": "Stack by the smokehouse", "notes": "Barrels for herring, hoops rusted."},
        {"name": "Stack by the cooperage", "notes": "Barrels for beer, hoops rusted."},
    ]
    with described(tmp_path / "quay", told) as archive:
        assert [hit.subject for hit in find(archive, "herring barrels").hits] == ["Stack by the smokehouse"]
        assert len(find(archive, "the barrels without hers").hits) == 2


def test_the_words_that_stand_nowhere_are_shown_as_they_were_typed(basin: Path) -> None:
    with open_archive(basin) as archive:
        assert find(archive, "(Γερανός)").messages == ("Nothing for “Γερανός”.",)
        assert find(archive, "Bolárd").messages == ("Nothing for “Bolárd”; showing bollard.",)


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("derrick", "Wharf crane"),  # a hoist, of which there is none here: both are for lifting
        ("shed", "Weighbridge hut"),
        ("weybridge", "Weighbridge hut"),  # by ear; three letters are other ones
    ],
)
def test_a_word_for_what_is_not_here_shows_its_kin_and_one_spelt_by_ear_what_it_sounds_like(
    basin: Path, typed: str, first: str
) -> None:
    with open_archive(basin) as archive:
        found = find(archive, typed)

    assert found.hits[0].subject == first
    assert found.messages[0].startswith(f"Nothing for “{typed}”; showing ")
