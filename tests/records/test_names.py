"""What must hold for every name, however odd: it can be compared, kept, found again and put on a disk."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from wendle_basin import new_archive

from archive.errors import NameTaken, NotAccepted
from archive.records import instruments, subjects, visits
from archive.records.entering import enter_instrument, enter_subject, enter_visit
from archive.records.folder import free_name, path_key, safe_file_name, visit_folder_name
from archive.records.names import (
    LETTERS,
    clean_name,
    has_id_form,
    name_key,
    natural_key,
    near_names,
    new_public_id,
)

# Names as people and other people's disks write them: any text, and more often the awkward characters.
AWKWARD = st.text(
    st.one_of(
        st.characters(),  # lone surrogates too: bytes of a name that no encoding explains
        st.sampled_from('. /\\:*?"<>|\t\n\x00\u200d\u202e\u00a0\u0301\u0308eéßİſKÅﬁ½CONconauxlpt1²(~'),
    ),
    max_size=200,
)
# Device names that Windows keeps for itself, with any ending (Microsoft, "Naming Files, Paths, and Namespaces").
RESERVED = {"con", "prn", "aux", "nul"} | {f"{d}{n}" for d in ("com", "lpt") for n in "0123456789¹²³"}


@given(AWKWARD)
@example("e\u200d\u0301")
@example("¨ wharf")
def test_the_key_of_a_key_is_the_key(name: str) -> None:
    assert name_key(name_key(name)) == name_key(name)


@given(AWKWARD)
def test_a_name_is_found_under_any_case_spacing_and_unicode_form(name: str) -> None:
    key = name_key(name)

    assert name_key(f"  {name}\n") == key
    assert name_key(name.replace(" ", "  ")) == key
    for form in ("NFC", "NFD"):
        assert name_key(unicodedata.normalize(form, name)) == key
    assert name_key(clean_name(name, longest=1000)) == key
    key.encode()  # the database takes it


def test_names_that_look_alike_are_one_and_others_are_not() -> None:
    assert name_key("Wharf  CRANE") == name_key("wharf crane") == name_key("wharf\u00a0crane")
    assert name_key("Straße") == name_key("STRASSE")
    assert name_key("wharf crane") != name_key("wharf cranes")


@given(AWKWARD)
def test_a_kept_name_shows_all_its_characters_on_one_line(name: str) -> None:
    kept = clean_name(name, longest=1000)

    assert clean_name(kept, longest=1000) == kept
    assert kept == kept.strip()
    assert all(c.isprintable() or unicodedata.category(c) in ("Cn", "Co", "Zs") for c in kept)


def test_a_name_that_is_too_long_is_refused_not_cut() -> None:
    assert clean_name("w" * 200) == "w" * 200
    with pytest.raises(NotAccepted, match=r"longer than 200 characters; nothing was changed"):
        clean_name("w" * 201)


@given(AWKWARD)
@example("con" + " " * 130 + "x.jpg")
@example("aaa .bbbbbbbbbbbbbb")
@example(".hidden")
@example("... .jpg")
@example("COM¹.tar.gz")
@example("\u202egpj.exe")
@example("ö" * 300 + ".jpeg")
def test_a_safe_file_name_is_taken_by_every_disk(name: str) -> None:
    safe = safe_file_name(name)

    assert safe
    assert safe not in (".", "..")
    assert not set(safe) & set('<>:"/\\|?*')
    assert all(unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Cn") for c in safe)
    assert unicodedata.is_normalized("NFC", safe)
    assert len(safe.encode()) <= 255 - len(" (9999)")
    assert safe[-1] not in " ."
    assert safe[0] not in " ."
    assert safe.split(".")[0].strip().casefold() not in RESERVED
    assert safe_file_name(safe) == safe


@pytest.mark.parametrize(
    ("found", "kept"),
    [
        ("P5_0412.jpg", "P5_0412.jpg"),
        ("crane, jib (2).JPG", "crane, jib (2).JPG"),
        ("Kran für Öl.jpg", "Kran für Öl.jpg"),
        ("../../etc/passwd", "_.._.._etc_passwd"),
        ("con.jpg", "_con.jpg"),
        ("a:b.jpg", "a_b.jpg"),
        ("", "unnamed"),
    ],
)
def test_a_harmless_name_is_kept_and_a_harmful_one_is_still_recognised(found: str, kept: str) -> None:
    assert safe_file_name(found) == kept


@given(AWKWARD.map(safe_file_name), st.integers(0, 5))
def test_a_free_name_differs_from_all_taken_ones_even_on_a_disk_that_ignores_case(
    name: str, times: int
) -> None:
    taken: set[str] = set()
    for _ in range(times):
        taken.add(path_key(free_name(name.upper(), taken)))

    free = free_name(name, taken)

    assert path_key(free) not in taken
    assert len(taken) == times  # each was different from the ones before


def test_the_second_of_a_name_is_numbered_before_its_ending() -> None:
    assert free_name("HC20_0412.JPG", {"hc20_0412.jpg"}) == "HC20_0412 (2).JPG"
    assert free_name("HC20_0412.JPG", {"hc20_0412.jpg", "hc20_0412 (2).jpg"}) == "HC20_0412 (3).JPG"
    assert free_name("HC20_0413.JPG", {"hc20_0412.jpg"}) == "HC20_0413.JPG"


@given(AWKWARD, st.dates().map(str) | st.none())
def test_a_visits_folder_reads_as_its_day_and_name_and_is_safe(name: str, day: str | None) -> None:
    folder = visit_folder_name(name, day)

    assert folder.startswith(day or "undated")
    assert safe_file_name(folder) == folder


def test_a_visits_folder_can_be_read_without_this_program() -> None:
    assert visit_folder_name("Wendle Basin, June", "2023-06-17") == "2023-06-17 wendle-basin-june"


@given(st.sampled_from(sorted(LETTERS)))
def test_an_id_begins_with_its_sorts_letter_and_has_the_form_of_an_id(sort: str) -> None:
    public_id = new_public_id(sort)

    assert has_id_form(public_id)
    assert public_id[0] == LETTERS[sort]
    assert len(public_id) == 11
    assert not set(public_id[1:]) & set("ilou")


def test_every_sort_has_a_letter_of_its_own() -> None:
    assert len(set(LETTERS.values())) == len(LETTERS)


@given(st.text("abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=15))
def test_no_plain_word_is_taken_for_an_id(word: str) -> None:
    assert not has_id_form(word)


def test_a_slip_of_the_pen_is_answered_with_the_nearest_names() -> None:
    assert near_names("warf crane", ["Wharf crane", "Weighbridge hut", "Bollard"]) == ("Wharf crane",)
    assert near_names("zebra", ["Wharf crane"]) == ()


@given(
    st.text(alphabet="ab _", max_size=4), st.integers(0, 10**30), st.integers(0, 10**30), st.text(max_size=4)
)
def test_names_that_differ_by_a_number_come_in_the_order_of_the_numbers(
    before: str, one: int, other: int, after: str
) -> None:
    first, second = (natural_key(f"{before}{number}.{after}") for number in (one, other))

    assert (first < second) == (one < other)


def test_numbers_are_counted_wherever_they_stand_and_whatever_leads_them() -> None:
    names = ["bay 11", "bay 9, post 10", "bay 2", "bay 010", "Bay 9, post 1"]

    assert sorted(names, key=natural_key) == ["bay 2", "Bay 9, post 1", "bay 9, post 10", "bay 010", "bay 11"]


def test_every_list_of_things_is_in_the_order_in_which_people_count(tmp_path: Path) -> None:
    with new_archive(tmp_path / "archive") as archive:
        for number in (10, 9, 1):
            enter_subject(archive, f"Bay {number}")
            enter_instrument(archive, f"Tape {number}", kind="tape")
            enter_visit(archive, f"Walk {number}", days="2023-06-17", place=f"Lock {number}")
        with archive.look() as look:
            lists = [
                subjects.all_subjects(look),
                instruments.all_instruments(look),
                visits.all_visits(look),
                visits.all_places(look),
            ]
    assert [[int(each.name.split()[1]) for each in things] for things in lists] == [[1, 9, 10]] * 4


def test_a_name_that_is_taken_is_told_with_whose_it_is() -> None:
    told = str(NameTaken("subject", "Mooring post", "Quay bollard"))
    assert told.startswith(
        "'Mooring post' is already a name of the subject 'Quay bollard'; nothing was changed."
    )
    told = str(NameTaken("visit", "wendle  BASIN", "Wendle Basin"))
    assert told.startswith("There is already a visit called 'Wendle Basin'; nothing was changed.")
