"""Hints: what is likely of a picture, said at import and never acted upon; bursts and copies by group."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from made_pictures import exif_block, jpeg_bytes, made_view, png_bytes, with_exif
from PIL import Image
from wendle_basin import new_archive

from archive.ingest import choosing_visit
from archive.ingest.importing import import_files
from archive.records import photos
from archive.records.archive import Archive
from archive.records.entering import enter_visit
from archive.records.look_alikes import groups_of_look_alikes

JUNE = "Wendle Basin, June"


def shot(
    picture: Image.Image,
    taken: str = "10:14:31",
    camera: str = "Halden C20",
    subsecond: str = "",
    day: str = "2023:06:17",
) -> bytes:
    own = {0x9003: (2, f"{day} {taken}")} | ({0x9291: (2, subsecond)} if subsecond else {})
    return with_exif(jpeg_bytes(picture), exif_block({0x0110: (2, camera)}, own))


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with new_archive(tmp_path / "archive") as opened:
        yield opened


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    return folder


def hints(archive: Archive, card: Path) -> dict[str, list[str]]:
    told: dict[str, list[str]] = {}
    for hint in import_files(archive, [card], visit=JUNE).hints:
        told.setdefault(hint.file, []).append(hint.code)
    return told


def groups(archive: Archive) -> list[tuple[str, list[str]]]:
    with archive.look() as look:
        every = photos.all_photos(look)
    return [
        (group.sort, [photo.file for photo in group.photos])
        for group in groups_of_look_alikes(archive, every)
    ]


def test_a_small_picture_without_camera_data_is_likely_a_shrunk_copy(archive: Archive, card: Path) -> None:
    (card / "sent.jpg").write_bytes(jpeg_bytes(made_view(1, (1600, 1200))))
    (card / "own.jpg").write_bytes(shot(made_view(2)))
    (card / "large.jpg").write_bytes(jpeg_bytes(made_view(3, (3000, 2000)), quality=30))
    (card / "plan.png").write_bytes(png_bytes(made_view(4)))

    assert hints(archive, card) == {"sent.jpg": ["likely-copy"]}


def test_a_folder_of_copies_is_told_in_a_few_lines(archive: Archive, card: Path) -> None:
    for number in range(20):
        (card / f"sent {number:02}.jpg").write_bytes(jpeg_bytes(made_view(number)))

    report = import_files(archive, [card], visit=JUNE)

    assert len([hint for hint in report.hints if hint.code == "likely-copy"]) == 20
    told = [(hint.file, hint.message) for hint in report.few_hints if hint.code == "likely-copy"]
    assert [file for file, _ in told] == ["sent 00.jpg", "sent 01.jpg", "sent 02.jpg", "17 more"]
    assert told[-1][1].startswith("The same goes for sent 03.jpg, sent 04.jpg,")
    assert told[-1][1].endswith("sent 14.jpg and others.")
    sorts = [hint.code for hint in report.few_hints]
    assert sorts == sorted(sorts, key=sorts.index), "each sort in one place"


def test_a_copy_of_a_photo_that_is_there_is_told_which_and_which_is_larger(
    archive: Archive, card: Path
) -> None:
    (card / "crane.jpg").write_bytes(shot(made_view(1, (1600, 1200))))
    (card / "sent.jpg").write_bytes(jpeg_bytes(made_view(1, (800, 600))))

    told = {(h.file, h.code): h.message for h in import_files(archive, [card], visit=JUNE).hints}

    assert told["sent.jpg", "look-alike"] == (
        "It looks like crane.jpg (1600 × 1200); that one is larger, and better to measure on. Both are kept."
    )
    assert ("crane.jpg", "look-alike") not in told  # once is enough
    assert groups(archive) == [("same picture", ["crane.jpg", "sent.jpg"])]


def test_a_picture_of_another_visit_is_named_with_it(archive: Archive, card: Path) -> None:
    (card / "crane.jpg").write_bytes(shot(made_view(1)))
    import_files(archive, [card], visit="Wendle Basin, May")
    (card / "crane.jpg").write_bytes(jpeg_bytes(made_view(1), quality=60))

    told = [h.message for h in import_files(archive, [card], visit=JUNE).hints if h.code == "look-alike"]

    assert told == ["It looks like Wendle Basin, May/crane.jpg (480 × 360). Both are kept."]


@pytest.mark.parametrize("name", ["Screenshot 2024-05-01.png", "P5_screen_2024.png", "Bildschirmfoto 3.jpg"])
def test_a_picture_of_a_screen_is_offered_as_evidence_for_what_it_shows(
    archive: Archive, card: Path, name: str
) -> None:
    (card / name).write_bytes(png_bytes(made_view(5)))

    (hint,) = import_files(archive, [card], visit=JUNE).hints

    assert hint.code == "picture-of-screen"
    assert hint.message.endswith(f"rivetbook size add SUBJECT LABEL SIZE --with phone --photo '{name}'")


def test_a_phone_that_notes_it_in_the_comment_is_believed(archive: Archive, card: Path) -> None:
    block = exif_block({0x0110: (2, "P5")}, {0x9286: (7, b"ASCII\0\0\0Screenshot")})
    (card / "IMG_1.jpg").write_bytes(with_exif(jpeg_bytes(made_view(5)), block))

    assert hints(archive, card) == {"IMG_1.jpg": ["picture-of-screen"]}


def test_a_screened_door_is_no_picture_of_a_screen(archive: Archive, card: Path) -> None:
    (card / "windscreen.jpg").write_bytes(shot(made_view(6)))
    (card / "silkscreened plate.jpg").write_bytes(shot(made_view(7)))

    assert hints(archive, card) == {}


def test_hints_are_no_doubts(archive: Archive, card: Path) -> None:
    (card / "sent.jpg").write_bytes(jpeg_bytes(made_view(1)))

    assert not import_files(archive, [card], visit=JUNE).has_doubts


def moved(by_px: int) -> Image.Image:
    """What a camera sees that moves a little between the pictures of a burst."""
    return made_view(8, (520, 360)).crop((by_px, 0, 480 + by_px, 360))


def test_photos_taken_one_after_the_other_are_a_burst_and_not_copies(archive: Archive, card: Path) -> None:
    for number, (second, part) in enumerate((("10:14:31", "2"), ("10:14:31", "7"), ("10:14:32", "1"))):
        (card / f"b{number}.jpg").write_bytes(shot(moved(3 * number), second, subsecond=part))
    (card / "later.jpg").write_bytes(shot(moved(9), "10:15:30"))
    (card / "turned away.jpg").write_bytes(shot(made_view(9), "10:14:33"))
    (card / "other camera.jpg").write_bytes(shot(moved(4), "10:14:32", camera="P5"))

    told = hints(archive, card)

    assert groups(archive)[0] == ("burst", ["b0.jpg", "b1.jpg", "b2.jpg"])
    assert "later.jpg" not in told


def test_two_bursts_stay_two(archive: Archive, card: Path) -> None:
    for number, second in enumerate(("10:14:31", "10:14:32", "10:14:50", "10:14:51")):
        (card / f"b{number}.jpg").write_bytes(shot(moved(number), second))
    import_files(archive, [card], visit=JUNE)

    assert groups(archive) == [("burst", ["b0.jpg", "b1.jpg"]), ("burst", ["b2.jpg", "b3.jpg"])]


def test_photos_taken_long_after_the_rest_may_be_of_another_trip(archive: Archive, card: Path) -> None:
    for number, day in enumerate(("2023:06:17", "2023:06:18", "2023:06:28", "2023:07:18"), 1):
        (card / f"HC20_000{number}.JPG").write_bytes(shot(made_view(number), day=day))

    told = [hint for hint in import_files(archive, [card]).hints if hint.code == "other-trip"]

    assert [hint.file for hint in told] == ["HC20_0004.JPG"]
    assert "taken 20 days after the rest" in told[0].message


def test_who_names_the_visit_is_not_told_that_it_is_long(archive: Archive, card: Path) -> None:
    for number, day in enumerate(("2023:06:17", "2024:06:17"), 1):
        (card / f"HC20_000{number}.JPG").write_bytes(shot(made_view(number), day=day))

    assert hints(archive, card) == {}


def test_photos_of_another_zone_than_the_one_that_was_guessed_say_so(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choosing_visit, "this_machines_zone", lambda: "Europe/London")
    for seed, name, offset in (
        (1, "home.jpg", "+01:00"),
        (2, "away.jpg", "+02:00"),
    ):  # British summer time, and an hour more
        own = {0x9003: (2, "2023:06:17 10:14:31"), 0x9011: (2, offset)}
        (card / name).write_bytes(
            with_exif(jpeg_bytes(made_view(seed)), exif_block({0x0110: (2, "P5")}, own))
        )

    assert hints(archive, card) == {"away.jpg": ["zone-differs"]}


def test_a_track_of_another_time_says_when_it_runs(archive: Archive, card: Path) -> None:
    enter_visit(archive, JUNE, days="2023-06-17", zone="Europe/London")
    archive.begin_act()
    (card / "crane.jpg").write_bytes(shot(made_view(1)))  # 09:14 UTC
    (card / "walk.gpx").write_text(
        '<gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        '<trkpt lat="52.5" lon="-1.5"><time>2023-06-17T10:00:00Z</time></trkpt>'
        '<trkpt lat="52.5" lon="-1.5"><time>2023-06-17T10:40:00Z</time></trkpt></trkseg></trk></gpx>'
    )

    report = import_files(archive, [card], visit=JUNE)

    (hint,) = report.hints
    assert hint.code == "track-elsewhen"
    assert "it runs from 2023-06-17 10:00 to 2023-06-17 10:40 UTC" in hint.message
    assert "taken from 2023-06-17 09:14 to 2023-06-17 09:14 UTC" in hint.message
