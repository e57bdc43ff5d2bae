from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from archive.dimensions.readings import record_reading
from archive.dimensions.sums import work_out_size
from archive.errors import NotAccepted, RecordNotFound
from archive.ingest.importing import import_files
from archive.packs.gather import content_of
from archive.packs.reference_pack import write_pack
from archive.records.archive import Archive, open_archive
from archive.records.entering import enter_build, enter_instrument, enter_subject
from archive.records.folder import make_archive
from archive.records.linking import link_photos

FRONT, SIDE, BOTH = "P5_20230617_101431.jpg", "HC20_0412.JPG", "P5_20230617_101204.jpg"
MADE_ON = date(2024, 9, 12)


@pytest.fixture
def wharf(tmp_path: Path, photos_folder: Path) -> Archive:
    """An archive as a person makes it: three photos, two subjects, a tape, four readings, a build of both."""
    make_archive(tmp_path / "wharf")
    archive = open_archive(tmp_path / "wharf")
    import_files(archive, [photos_folder / name for name in (FRONT, SIDE, BOTH)], visit="Wendle Basin, June")
    enter_subject(archive, "Weighbridge hut", kind="hut", era="1870s", place="Wendle Basin")
    enter_subject(archive, "Wharf crane", maker="Harrow & Sleight")
    enter_subject(archive, "Bollard")
    link_photos(archive, [FRONT], ["Weighbridge hut"], view="front")
    link_photos(archive, [SIDE], ["Weighbridge hut"], view="right side", mirrored=True)
    link_photos(archive, [BOTH], ["Wharf crane", "Weighbridge hut", "Bollard"], view="overview")
    enter_instrument(archive, "long tape", kind="tape", resolution="1mm", limit="0.3 mm + 0.2 mm/m")
    for label, written in (("door height", "5ft 9in"), ("door height", "1753 mm"), ("board count", "5")):
        record_reading(archive, "Weighbridge hut", label, written, instrument="long tape", on="2023-06-17")
    record_reading(
        archive,
        "Wharf crane",
        "post height",
        "about 9ft",
        grade="guessed",
        rests_on="the man beside it",
        state="1962",
        span="over",
    )
    enter_build(
        archive,
        "Wharf in 7 mm",
        scale="7mm/ft",
        of=["Weighbridge hut", "Wharf crane"],
        process="resin",
        tolerance="0.1mm",
    )
    yield archive
    archive.close()


def test_a_build_gathers_its_subjects_their_sizes_and_the_photos_that_show_them(wharf):
    content = content_of(wharf, "wharf in 7 MM", made_on=MADE_ON)

    assert (content.build, content.process, content.tolerance_mm) == ("Wharf in 7 mm", "resin", 0.1)
    assert content.ratio == Fraction(3048, 70)  # 304.8 mm to 7 mm, exactly
    hut, crane = content.subjects
    assert (hut.name, hut.era, hut.place, hut.visits) == (
        "Weighbridge hut",
        "1870s",
        "Wendle Basin",
        ("Wendle Basin, June",),
    )
    assert "hut" in hut.kind
    assert crane.maker == "Harrow & Sleight"
    assert [(photo.name, photo.main.view) for photo in content.photos] == [
        (FRONT, "front"),
        (SIDE, "right side"),
        (BOTH, "overview"),
    ]
    assert content.photos[1].main.mirrored
    # The bollard is in the photo too, but not in the build.
    assert [seen.subject for seen in content.photos[2].sightings] == ["Weighbridge hut", "Wharf crane"]


def test_sizes_carry_what_was_written_the_best_figure_and_the_model_size(wharf):
    content = content_of(wharf, "Wharf in 7 mm", made_on=MADE_ON)
    height, boards, post = content.sizes

    assert height.as_written == ("5ft 9in", "1753 mm")
    # By hand: 5 ft 9 in is 1752.6 mm, and both readings were taken to the tape's millimetre.
    assert height.value == pytest.approx(1752.8, abs=0.3)
    assert height.model.value_mm == pytest.approx(height.value * 7 / 304.8, rel=1e-12)
    assert height.model.u_mm == pytest.approx(height.u * 7 / 304.8, rel=1e-12)
    assert height.source_text == "long tape, 17 June 2023"
    assert height.grade == "measured"
    assert (boards.quantity, boards.value, boards.model) == ("count", 5, None)
    assert (post.grade, post.state, post.span, post.source_text) == (
        "guessed",
        "1962",
        "over",
        "the man beside it",
    )
    for size in content.sizes:
        assert size.real_text


def test_a_size_says_each_thing_that_it_rests_on_once(wharf):
    taken = {"instrument": "long tape", "photo": FRONT}
    for written in ("2ft 3in", "27in"):
        record_reading(wharf, "Weighbridge hut", "door width", written, **taken)
    record_reading(
        wharf, "Weighbridge hut", "door width", "686 mm", visit="Wendle Basin, June", on="2024-09-08"
    )

    content = content_of(wharf, "Wharf in 7 mm", made_on=MADE_ON)

    (width,) = [size for size in content.sizes if size.label == "door width"]
    assert width.source_text == "long tape, photo P5_20230617_101431, 17 June 2023; 8 September 2024"
    assert width.as_written == ("2ft 3in", "27in", "686 mm")


def test_readings_that_do_not_agree_are_told_in_the_pack(wharf):
    record_reading(wharf, "Weighbridge hut", "door height", "2 m 5 cm", instrument="long tape")

    content = content_of(wharf, "Wharf in 7 mm", made_on=MADE_ON)

    (height,) = [size for size in content.sizes if size.label == "door height"]
    assert [warning.code for warning in height.warnings] == ["readings-disagree"]


KILLED = """
import os, signal, sys
from pathlib import Path
from archive.packs.reference_pack import write_pack
from archive.records.archive import open_archive

def killed_at_the_second_photo(stage, done, total):
    if done == 2:
        os.kill(os.getpid(), signal.SIGKILL)

write_pack(open_archive(Path(sys.argv[1])), "Wharf in 7 mm", Path(sys.argv[2]), progress=killed_at_the_second_photo)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="must skip: POSIX signals")
def test_killed_while_it_copies_photos_there_is_no_pack_and_the_next_one_is_whole(wharf, tmp_path):
    done = subprocess.run([sys.executable, "-c", KILLED, str(wharf.folder), str(tmp_path / "pack")])

    assert done.returncode == -signal.SIGKILL
    assert not (tmp_path / "pack").exists()
    report = write_pack(wharf, "Wharf in 7 mm", tmp_path / "pack")
    assert (report.photos, report.sizes) == (3, 3)


def test_the_pack_of_an_archive_that_cannot_be_written_is_whole(wharf, tmp_path):
    wharf.close()
    folders = [wharf.folder, *(path for path in wharf.folder.rglob("*") if path.is_dir())]
    for path in [*folders, *(path for path in wharf.folder.rglob("*") if path.is_file())]:
        path.chmod(path.stat().st_mode & ~(stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH))
    try:
        with open_archive(wharf.folder) as archive:
            if os.access(wharf.folder, os.W_OK):
                archive.read_only = True  # the superuser may write anywhere
            report = write_pack(archive, "Wharf in 7 mm", tmp_path / "pack")
    finally:
        for path in folders:
            path.chmod(path.stat().st_mode | stat.S_IWUSR)

    assert (report.photos, report.sizes, report.left_out) == (3, 3, ())
    assert json.loads((tmp_path / "pack" / "pack.json").read_text())["build"] == "Wharf in 7 mm"


def test_a_pack_inside_the_folders_of_originals_is_refused(wharf):
    with pytest.raises(NotAccepted, match="the archive's own folder 'visits'"):
        write_pack(wharf, "Wharf in 7 mm", wharf.folder / "visits" / "pack")

    assert not (wharf.folder / "visits" / "pack").exists()


def test_an_unknown_build_is_named_and_nothing_is_written(wharf, tmp_path):
    with pytest.raises(RecordNotFound, match="no build called 'Wharf in 4 mm'"):
        write_pack(wharf, "Wharf in 4 mm", tmp_path / "pack")

    assert not (tmp_path / "pack").exists()


def test_a_size_worked_out_from_others_names_its_sum_as_the_source_and_not_as_what_was_written(wharf):
    record_reading(wharf, "Wharf crane", "board width", "6in")
    work_out_size(wharf, "Wharf crane", "deck width", "5 x board width")

    (deck,) = [
        size
        for size in content_of(wharf, "Wharf in 7 mm", made_on=MADE_ON).sizes
        if size.label == "deck width"
    ]

    assert (deck.source_text, deck.as_written) == ("from other sizes: 5 x board width", ())
