"""Many sizes from one file of lines: checked whole, every fault told with its line, nothing kept by halves."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from wharf_of_files import agree, records_in, wharf_of_files

from archive.dimensions.lines import (
    MOST_BYTES,
    decode_lines,
    parse_lines,
    read_lines_file,
    record_lines,
    template,
)
from archive.dimensions.overview import sizes_of
from archive.dimensions.readings import record_reading
from archive.dimensions.undoing import undo
from archive.errors import FileNotThere, FolderForFile, LinesNotSaved, NotAccepted, RecordNotFound
from archive.records import history, sizes
from archive.records.archive import Archive
from archive.records.entering import enter_subject

GOOD = """
# Wharf crane, from the notebook
with: long tape
on: 2023-06-17
post height = 9ft 0in
base width /over = 2ft 6in     # the plate, not the bolts
base width /between = 0.71 m
BAY SPACING/centres=2.74 m

photo: HC20_0400
on:
crank count = 2
jib angle = 42°
state: as built
grade: published, the canal company's list
post height = 9ft 6in
with:
state:
grade: guess, twice as high as the man beside it
jib reach = about 15ft
grade: sister, Upper crane
drum width = 1ft 1in
grade:
ramp slope = 1:8
"""


@pytest.fixture
def wharf(tmp_path: Path) -> Iterator[Archive]:
    with wharf_of_files(tmp_path / "wharf") as archive:
        yield archive


def test_every_line_is_kept_as_it_was_written_with_what_holds_where_it_stands(wharf: Archive) -> None:
    done = record_lines(wharf, "Wharf crane", GOOD)

    kept = [
        (r.dimension.label, r.dimension.span, r.dimension.state, r.reading.as_written, r.reading.instrument,
         r.reading.photo, r.reading.taken_on, r.reading.grade, r.reading.rests_on)
        for r in done.recorded
    ]  # fmt: skip
    tape, photo, day = "long tape", "HC20_0400.JPG", "2023-06-17"
    assert kept == [
        ("post height", "plain", "as found", "9ft 0in", tape, None, day, "measured", None),
        ("base width", "over", "as found", "2ft 6in", tape, None, day, "measured", None),
        ("base width", "between", "as found", "0.71 m", tape, None, day, "measured", None),
        ("BAY SPACING", "centres", "as found", "2.74 m", tape, None, day, "measured", None),
        ("crank count", "plain", "as found", "2", tape, photo, day, "measured", None),  # the photo's day
        ("jib angle", "plain", "as found", "42°", tape, photo, day, "measured", None),
        ("post height", "plain", "as built", "9ft 6in", tape, photo, day, "published", "the canal company's list"),
        ("jib reach", "plain", "as found", "about 15ft", None, photo, day, "guessed", "twice as high as the man beside it"),
        ("drum width", "plain", "as found", "1ft 1in", None, photo, day, "from a sister", "Upper crane"),
        ("ramp slope", "plain", "as found", "1:8", None, photo, day, "measured", None),
    ]  # fmt: skip
    assert (done.left_empty, done.faults) == (0, ())


def test_what_is_told_of_the_sizes_is_what_is_kept_of_them(wharf: Archive) -> None:
    for text in (GOOD, GOOD.replace("9ft 0in", "9ft 1in")):  # new sizes, and second readings of them
        recorded = record_lines(wharf, "Wharf crane", text).recorded

        with wharf.look() as look:
            kept = sizes.estimates_of(look, [each.dimension for each in recorded])
            read = sizes.readings_by_key(look, [each.reading.key for each in recorded])
        assert [each.estimate for each in recorded] == [kept[each.dimension.key] for each in recorded]
        assert [each.reading for each in recorded] == [read[each.reading.key] for each in recorded]


def test_the_whole_file_is_one_act_and_is_taken_back_as_one(wharf: Archive) -> None:
    before = records_in(wharf.folder)
    record_lines(wharf, "Wharf crane", GOOD)
    with wharf.look() as look:
        act = history.all_acts(look)[0]
    assert act.sentence == "Wrote down 10 sizes of Wharf crane"

    undo(wharf)

    assert records_in(wharf.folder) == before
    assert agree(wharf) == []


FAULTY = """with: long tap
post height = 9ft 0in
door height = 6ft 2im
hight 9ft
width: 3 ft
base width /across = 2ft
crank count = 2.5
grade: heard
photo: HC20_9999
with:
drum width = 1ft
photo:
with: long tap
jib length = 18ft 6in
photo:
grade:
with: long tape
drum diameter = 14in
"""


def test_every_fault_is_told_with_its_line_and_nothing_is_saved(wharf: Archive) -> None:
    before = records_in(wharf.folder)

    with pytest.raises(LinesNotSaved) as refused:
        record_lines(wharf, "Wharf crane", FAULTY, name="'crane.txt'")

    first, *faults, last = str(refused.value).splitlines()
    assert first == "The sizes in 'crane.txt' were not saved: 9 lines could not be kept."
    assert [fault.strip().split("'")[0].split(":")[0] for fault in faults] == [
        "lines 1, 13",  # the same slip twice
        *(f"line {number}, " for number in (3, 4, 5, 6, 7, 8, 9)),
    ]
    for words in ("There is no instrument called 'long tap'", "'im' is not a unit", "line 4, 'hight 9ft'",
                  "width = 3 ft", "/between or /centres", "a count is a whole number", "guess, WHAT IT RESTS ON",
                  "There is no photo called 'HC20_9999'"):  # fmt: skip
        assert words in str(refused.value)
    assert "nothing was changed" not in str(refused.value)
    assert last == "Correct and try again, or keep the 1 good with --keep-good."
    assert records_in(wharf.folder) == before


def test_of_very_many_faults_the_first_are_told_and_the_others_counted(wharf: Archive) -> None:
    alike = "\n".join(f"plank {n} width {n}" for n in range(1000))
    with pytest.raises(LinesNotSaved, match=r"lines 1, 2, .*, 39, 40, 960 others: It is neither") as refused:
        record_lines(wharf, "Wharf crane", alike)
    assert len(str(refused.value).splitlines()) == 3
    different = "\n".join(f"plank {n} width = {n} yeards {n}" for n in range(1000))
    with pytest.raises(
        LinesNotSaved, match=r"1000 lines could not be kept[\s\S]*\n  960 other faults\n"
    ) as refused:
        record_lines(wharf, "Wharf crane", different)
    assert len(str(refused.value).splitlines()) == 43


@pytest.mark.parametrize("line", ["= 3ft", "/over = 3ft", " / centres = 3ft"])
def test_a_size_without_a_label_is_refused(wharf: Archive, line: str) -> None:
    with pytest.raises(LinesNotSaved, match=r"line 1, .*: The label is missing"):
        record_lines(wharf, "Wharf crane", line)


def test_a_colon_for_an_equals_sign_is_told_with_the_line_put_right(wharf: Archive) -> None:
    with pytest.raises(LinesNotSaved, match=r"line 1, .*Write it like: post height = 9ft 0in"):
        record_lines(wharf, "Wharf crane", "post height: 9ft 0in")


def test_the_good_lines_are_kept_where_that_is_wanted(wharf: Archive) -> None:
    done = record_lines(wharf, "Wharf crane", FAULTY, keep_good=True)

    assert [r.dimension.label for r in done.recorded] == ["drum diameter"]
    assert (len(done.faults), done.left_out) == (11, 12)  # two of them with the same fault
    for number, above in ((2, 1), (11, 9), (14, 13)):
        assert any(f"line {number}, " in f and f"stands under line {above}," in f for f in done.faults)
    with wharf.look() as look:
        assert history.all_acts(look)[0].sentence == "Wrote down 1 size of Wharf crane"


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        ("with: long tap", "There is no instrument called 'long tap'. Perhaps you mean 'long tape'."),
        ("photo: HC20_9999", "There is no photo called 'HC20_9999'."),
        ("visit: July", "There is no visit called 'July'."),
        ("on: 31 June 2023", "'31 June 2023' is not a day."),
    ],
)
def test_a_name_that_is_not_found_is_told_where_it_stands_and_hides_no_other_fault(
    wharf: Archive, bad: str, why: str
) -> None:
    with pytest.raises(LinesNotSaved, match="2 lines could not be kept") as refused:
        record_lines(wharf, "Wharf crane", f"\n{bad}\njib length = 18ft\npost height = 9im")

    assert f"line 2, '{bad}': {why}" in str(refused.value)
    assert "line 4, 'post height = 9im': '9im' was not understood" in str(refused.value)


@pytest.mark.parametrize(
    "line", ["post height = 9ft #6 bolts", "post height = 9ft# plate", "post height=9ft  #"]
)
def test_after_a_size_anything_goes_behind_the_sign_of_a_remark(wharf: Archive, line: str) -> None:
    done = record_lines(wharf, "Wharf crane", f"{line}\npost #2 height = 9ft\ndrum width = #not taken")

    assert [(r.dimension.label, r.reading.as_written) for r in done.recorded] == [
        ("post height", "9ft"),
        ("post #2 height", "9ft"),
    ]
    assert done.left_empty == 1


@pytest.mark.parametrize("bad", ["grade: guess", "grade: published,", "grade: heard", "gread: guess, by eye"])
def test_what_stands_under_a_word_that_could_not_be_read_is_not_kept_either(wharf: Archive, bad: str) -> None:
    text = f"post height = 9ft\n{bad}\njib length = 18ft\ngrade: guess, the man beside it\ndrum width = 1ft"

    done = record_lines(wharf, "Wharf crane", text, keep_good=True)

    assert [r.dimension.label for r in done.recorded] == ["post height", "drum width"]
    assert done.faults[1] == "line 3, 'jib length = 18ft': It stands under line 2, which could not be read."


@pytest.mark.parametrize(
    ("grade", "unsaid"),
    [
        ("guessed", "what the guess rests on"),
        ("published", "where the figure is published"),
        ("from a sister", "whose size this is"),
    ],
)
@pytest.mark.parametrize("rests_on", [None, "", " "])
def test_what_a_size_that_was_not_measured_rests_on_must_be_said(
    wharf: Archive, grade: str, unsaid: str, rests_on: str | None
) -> None:
    with pytest.raises(NotAccepted, match=f"It was not said {unsaid}; nothing was changed"):
        record_reading(wharf, "Wharf crane", "jib length", "18ft", grade=grade, rests_on=rests_on)
    how = {"guessed": "guess", "from a sister": "sister"}.get(grade, grade)
    with pytest.raises(
        LinesNotSaved, match=rf"line 1, .*It was not said {unsaid}\. Write .*guess, WHAT IT RESTS ON"
    ):
        record_lines(wharf, "Wharf crane", f"grade: {how}\njib length = 18ft")


def test_a_file_without_a_good_line_saves_nothing_even_so(wharf: Archive) -> None:
    with pytest.raises(LinesNotSaved, match=r"1 line could not be kept[\s\S]*Correct and try again\.$"):
        record_lines(wharf, "Wharf crane", "height = tall", keep_good=True)


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing yet\n", "with: long tape\n", "door height =\n"])
def test_a_file_without_a_size_is_refused(wharf: Archive, text: str) -> None:
    with pytest.raises(NotAccepted, match="There is no size in the lines; nothing was changed"):
        record_lines(wharf, "Wharf crane", text)


def test_sizes_of_different_spans_stand_side_by_side(wharf: Archive) -> None:
    record_lines(wharf, "Weighbridge hut", "door width /over = 3ft 0in\ndoor width /between = 2ft 6in")

    lines = sizes_of(wharf, "Weighbridge hut").lines
    spans = {
        line.dimension.span: line.estimate.value_mm for line in lines if line.dimension.label == "door width"
    }
    # 36 x 25.4 and 30 x 25.4
    assert spans == {"over": pytest.approx(914.4), "between": pytest.approx(762.0)}


def test_one_label_cannot_be_two_quantities_in_one_file(wharf: Archive) -> None:
    with pytest.raises(LinesNotSaved, match=r"line 2, .*it reads as an angle, not a length"):
        record_lines(wharf, "Wharf crane", "jib = 18ft\njib = 42°")


def test_entering_sizes_loads_nothing_slow(wharf: Archive) -> None:
    words = [
        "--archive",
        str(wharf.folder),
        "size",
        "add",
        "Wharf crane",
        "jib length",
        "18ft",
        "--with",
        "long tape",
    ]
    look = (
        f"import sys\nfrom archive.cli import main\nmain({words!r}, standalone_mode=False)\n"
        "print(*sorted({'numpy', 'scipy', 'cv2', 'PIL', 'flask', 'alembic', 'archive.pictures'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True)

    assert done.stdout.splitlines()[-1] == ""


# What the file itself may be


@given(st.text(st.characters(codec="utf-8"), max_size=300))
def test_no_text_makes_it_stumble(text: str) -> None:
    parsed = parse_lines(text)

    count = len(parsed.entries) + parsed.left_empty + len(parsed.faults)
    assert count <= len(text.splitlines())


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_file_may_be_in_utf_8_or_marked_utf_16(encoding: str) -> None:
    assert decode_lines("jib angle = 42°".encode(encoding), "crane.txt") == "jib angle = 42°"


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252", "utf-16-le"])
def test_a_file_in_another_encoding_is_refused_with_the_line(encoding: str) -> None:
    content = "height = 9ft\njib angle = 42° ½\n".encode(encoding)
    with pytest.raises(
        NotAccepted, match=r"'crane\.txt' is not written in UTF-8 \(line \d.*Save it as UTF-8"
    ):
        decode_lines(content, "crane.txt")


def test_a_file_of_another_encoding_is_refused_even_if_it_has_plain_letters_only() -> None:
    with pytest.raises(NotAccepted, match=r"'crane\.txt' is not written in UTF-8"):
        decode_lines("height = 9ft".encode("utf-16-be"), "crane.txt")


def test_a_file_that_is_no_file_of_sizes_is_refused(tmp_path: Path) -> None:
    long = tmp_path / "film.mov"
    with long.open("wb") as file:
        file.truncate(MOST_BYTES + 1)

    with pytest.raises(NotAccepted, match="longer than 4 MB"):
        read_lines_file(long)
    with pytest.raises(FileNotThere):
        read_lines_file(tmp_path / "none.txt")
    with pytest.raises(FolderForFile, match="is a folder and no file of lines"):
        read_lines_file(tmp_path)


# The file to fill in


def test_a_template_that_is_filled_in_is_a_file_of_lines(wharf: Archive) -> None:
    empty = template(wharf, "Wharf crane")
    labels = [line for line in empty.splitlines() if line.endswith("=")]
    assert "jib length =" in labels
    assert {"base width /over =", "base width /between ="} <= set(labels)

    filled = empty.replace("jib length =", "jib length = 18ft 6in").replace("with:", "with: long tape")
    done = record_lines(wharf, "Wharf crane", filled)

    assert [r.reading.as_written for r in done.recorded] == ["18ft 6in"]
    assert done.left_empty == len(labels) - 1


def test_there_is_no_template_for_a_thing_without_a_kind_or_for_nothing(wharf: Archive) -> None:
    enter_subject(wharf, "Odd post")
    with pytest.raises(NotAccepted, match='rivetbook subject amend "Odd post" --kind hut'):
        template(wharf, "Odd post")
    with pytest.raises(RecordNotFound, match="There is no subject called 'Even post'"):
        template(wharf, "Even post")
