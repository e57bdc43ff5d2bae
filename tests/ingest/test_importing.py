"""Importing: names that no disk likes, files in the way, folders that cannot be read, disks that fill up."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import shutil
import stat
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_pictures import exif_block, jpeg_bytes, png_bytes, upright_scene, with_exif
from wendle_basin import new_archive

from archive.dimensions.putting_right import amend_photos, remove_photos
from archive.dimensions.undoing import undo
from archive.errors import CouldNotWrite, FileNotThere, ImportCutShort, NotAccepted, RecordNotFound
from archive.ingest import importing, previews
from archive.ingest.importing import import_files
from archive.records import originals, photos, visits
from archive.records.archive import Archive
from archive.records.entering import enter_visit
from archive.records.kept_previews import preview_path
from archive.records.manifests import MANIFEST
from archive.records.things import Photo, Visit

JUNE = "Wendle Basin, June"


def picture(number: int = 0) -> bytes:
    """A picture like no other."""
    return png_bytes(upright_scene(40 + number, 30))


def photo_taken(day: str) -> bytes:
    written = f"{day.replace('-', ':')} 10:14:31"
    return with_exif(jpeg_bytes(upright_scene()), exif_block({}, {0x9003: (2, written)}))


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with new_archive(tmp_path / "archive") as opened:
        yield opened


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    return folder


def photos_in(archive: Archive) -> list[Photo]:
    with archive.look() as look:
        return photos.all_photos(look)


def visits_in(archive: Archive) -> list[Visit]:
    with archive.look() as look:
        return visits.all_visits(look)


def kept_in(archive: Archive) -> dict[str, bytes]:
    """Every file of the visits, by its name, but the lists of checksums."""
    files = (archive.folder / "visits").rglob("*")
    return {f.name: f.read_bytes() for f in files if f.is_file() and f.name != MANIFEST}


def checksums_hold(folder: Path) -> bool:
    """What `sha256sum --check --strict` does: two columns, names exactly as they stand."""
    for line in (folder / MANIFEST).read_bytes().splitlines():
        sha256, name = line[:64].decode(), line[66:]
        assert line[64:66] == b"  "
        assert hashlib.sha256((folder / os.fsdecode(name)).read_bytes()).hexdigest() == sha256
    if shutil.which("sha256sum"):
        check = ["sha256sum", "--check", "--strict", "--quiet", MANIFEST]
        return subprocess.run(check, cwd=folder).returncode == 0
    return True


# Names


ODD_NAMES = [
    b"caf\xe9 at the gate.png",  # Latin-1: no UTF-8
    b"wharf.png",
    b"Wharf.PNG",
    b"cafe\xcc\x81.png",  # e and a combining accent
    b"caf\xc3\xa9.png",  # é in one
    b"n" * 251 + b".png",  # 255 bytes
    "½".encode() * 125 + b".png",
    b"trailing dots...",
    b"trailing space .png ",
    b"con.png",
    b"LPT1",
    b"a:b?c*.png",
    b"100% of the crane.png",
    b"two\nlines.png",
    b"back\\slash.png",
    b"-rf.png",
    b".hidden.png",
    b"manifest-sha256.txt",
    b" .png",
    "\u202egnp.exe".encode(),
    "Ⅷ ﬁne.png".encode(),
]


def test_odd_names_are_kept_under_names_that_every_disk_takes(archive: Archive, card: Path) -> None:
    for number, name in enumerate(ODD_NAMES):
        with contextlib.suppress(OSError):  # this disk does not take the name either
            (card / os.fsdecode(name)).write_bytes(picture(number))
    given = [file.read_bytes() for file in card.iterdir()]

    report = import_files(archive, [card], visit=JUNE)

    assert len(report.imported) == len(given)
    assert not report.left_out
    kept = kept_in(archive)
    assert sorted(kept.values()) == sorted(given)
    assert len({name.casefold() for name in kept}) == len(kept)
    for name in kept:
        assert name.isprintable()
        assert len(name.encode()) <= 255
        assert not set(name) & set('<>:"/\\|?*%')
        assert not name.endswith((".", " "))
        assert name.partition(".")[0].casefold() not in ("con", "lpt1")
    (folder,) = (archive.folder / "visits").iterdir()
    assert checksums_hold(folder)
    assert import_files(archive, [card], visit=JUNE).imported == []


def test_a_name_that_is_no_text_is_kept_with_its_bytes_escaped(archive: Archive, card: Path) -> None:
    try:
        (card / os.fsdecode(b"caf\xe9.png")).write_bytes(picture())
    except OSError:
        pytest.skip("must skip: this disk takes no such name")

    import_files(archive, [card], visit=JUNE)

    (held,) = photos_in(archive)
    assert held.picture.name_as_found == r"caf\xe9.png"


def test_a_picture_called_like_our_list_of_checksums_is_not_overwritten_by_it(
    archive: Archive, card: Path
) -> None:
    (card / "manifest-sha256.txt").write_bytes(picture())

    import_files(archive, [card], visit=JUNE)

    assert kept_in(archive) == {"manifest-sha256 (2).txt": picture()}


# What lies in the way


def test_a_file_that_somebody_put_into_the_folder_is_never_replaced(archive: Archive, card: Path) -> None:
    import_files(archive, [_written(card / "first.png", 1)], visit=JUNE)
    (folder,) = (archive.folder / "visits").iterdir()
    (folder / "crane.png").write_bytes(b"a note that somebody left here")

    import_files(archive, [_written(card / "crane.png", 2)], visit=JUNE)

    kept = kept_in(archive)
    assert kept["crane.png"] == b"a note that somebody left here"
    assert kept["crane (2).png"] == picture(2)


def test_copies_that_a_cut_off_import_left_are_taken_in_whatever_order_they_come(
    archive: Archive, card: Path
) -> None:
    enter_visit(archive, JUNE, days="2023-06-17")
    (visit,) = visits_in(archive)
    folder = originals.visit_folder(archive, visit)
    (folder / "crane.png").write_bytes(picture(1))
    (folder / "crane (2).png").write_bytes(picture(2))
    for number in (1, 2):
        (card / str(number)).mkdir()
        _written(card / str(number) / "crane.png", number)

    import_files(archive, [card / "2", card / "1"], visit=JUNE)

    assert kept_in(archive) == {"crane.png": picture(1), "crane (2).png": picture(2)}
    assert sorted(p.file for p in photos_in(archive)) == ["crane (2).png", "crane.png"]


def test_a_disk_without_second_names_serves_too_and_replaces_nothing(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    import_files(archive, [_written(card / "crane.png", 1)], visit=JUNE)
    (folder,) = (archive.folder / "visits").iterdir()
    (folder / "hut.png").write_bytes(b"somebody's own")
    import_files(archive, [_written(card / "hut.png", 2)], visit=JUNE)

    kept = {"crane.png": picture(1), "hut.png": b"somebody's own", "hut (2).png": picture(2)}
    assert kept_in(archive) == kept


# What was given


def _written(file: Path, number: int) -> Path:
    file.write_bytes(picture(number))
    return file


def test_a_file_that_changes_after_it_was_looked_at_is_left_out(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    crane, hut = _written(card / "crane.png", 1), _written(card / "hut.png", 2)
    looked = importing.survey

    def then_somebody_saves_it(*args: object, **kwargs: object) -> object:
        found = looked(*args, **kwargs)  # type: ignore[arg-type]
        crane.write_bytes(picture(3))
        return found

    monkeypatch.setattr(importing, "survey", then_somebody_saves_it)
    report = import_files(archive, [card], visit=JUNE)

    assert report.imported == ["hut.png"]
    assert [(left.file, left.reason) for left in report.left_out] == [
        (str(crane), "it changed while it was being read")
    ]
    assert kept_in(archive) == {"hut.png": hut.read_bytes()}


def test_the_copy_keeps_the_time_of_its_file(archive: Archive, card: Path) -> None:
    crane = _written(card / "crane.png", 1)
    os.utime(crane, (1_686_996_871, 1_686_996_871))

    import_files(archive, [card], visit=JUNE)

    (held,) = photos_in(archive)
    assert originals.picture_path(archive, held).stat().st_mtime == 1_686_996_871


def test_a_folder_that_cannot_be_opened_is_named_and_the_rest_is_imported(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (card / "locked").mkdir()
    _written(card / "crane.png", 1)
    scandir = os.scandir

    def guarded(path: str) -> object:
        if str(path).endswith("locked"):
            raise PermissionError(errno.EACCES, "Permission denied", path)
        return scandir(path)

    monkeypatch.setattr(os, "scandir", guarded)
    report = import_files(archive, [card], visit=JUNE)

    assert report.imported == ["crane.png"]
    (left,) = report.left_out
    assert left.file == str(card / "locked")
    assert left.reason == "it could not be read (Permission denied)"


def test_a_link_to_a_folder_is_named_and_not_followed_round_in_circles(archive: Archive, card: Path) -> None:
    _written(card / "crane.png", 1)
    try:
        (card / "round").symlink_to(card, target_is_directory=True)
    except OSError:
        pytest.skip("must skip: links cannot be made here")

    report = import_files(archive, [card], visit=JUNE)

    assert report.imported == ["crane.png"]
    assert [left.file for left in report.left_out] == [str(card / "round")]


def test_links_that_lead_nowhere_are_left_out(archive: Archive, card: Path) -> None:
    try:
        (card / "itself.png").symlink_to(card / "itself.png")
        (card / "gone.png").symlink_to(card / "nowhere.png")
    except OSError:
        pytest.skip("must skip: links cannot be made here")

    report = import_files(archive, [card], visit=JUNE)

    assert {left.reason for left in report.left_out} == {"it is a link that leads nowhere"}
    with pytest.raises(FileNotThere):
        import_files(archive, [card / "itself.png"], visit=JUNE)


def test_a_file_that_is_linked_to_keeps_the_name_that_it_lies_under(archive: Archive, card: Path) -> None:
    (card / "phone").mkdir()
    _written(card / "phone" / "P5_0412.png", 1)
    try:
        (card / "a link.png").symlink_to(card / "phone" / "P5_0412.png")
    except OSError:
        pytest.skip("must skip: links cannot be made here")

    report = import_files(archive, [card], visit=JUNE)

    assert (report.imported, len(report.already_held)) == (["P5_0412.png"], 1)


def test_a_folder_that_holds_the_archive_gives_one_line_for_it(archive: Archive, card: Path) -> None:
    import_files(archive, [_written(card / "crane.png", 1)], visit=JUNE)

    report = import_files(archive, [archive.folder.parent], visit=JUNE)

    assert [(left.file, left.reason) for left in report.left_out] == [
        (str(archive.folder), "it lies in the archive itself")
    ]
    assert len(report.already_held) == 1


# Visits


def test_nothing_new_makes_no_visit(archive: Archive, card: Path) -> None:
    _written(card / "crane.png", 1)
    import_files(archive, [card], visit=JUNE)
    before = visits_in(archive)

    report = import_files(archive, [card], visit="another one")

    assert len(report.already_held) == 1
    assert visits_in(archive) == before


def test_a_visit_without_days_is_given_those_of_its_photos(archive: Archive, card: Path) -> None:
    enter_visit(archive, JUNE)
    (card / "a.jpg").write_bytes(photo_taken("2023-06-18"))
    (card / "b.jpg").write_bytes(photo_taken("2023-06-17"))

    import_files(archive, [card], visit=JUNE)

    (visit,) = visits_in(archive)
    assert (visit.first_day, visit.last_day) == ("2023-06-17", "2023-06-18")


def test_days_that_somebody_gave_a_visit_stay(archive: Archive, card: Path) -> None:
    enter_visit(archive, JUNE, days="2023-06-20")
    (card / "a.jpg").write_bytes(photo_taken("2023-06-18"))

    import_files(archive, [card], visit=JUNE)

    (visit,) = visits_in(archive)
    assert (visit.first_day, visit.last_day) == ("2023-06-20", "2023-06-20")


def test_photos_without_a_date_need_a_name_for_their_visit(archive: Archive, card: Path) -> None:
    _written(card / "crane.png", 1)

    with pytest.raises(NotAccepted, match="--visit NAME"):
        import_files(archive, [card])

    assert visits_in(archive) == []


def test_an_id_of_no_visit_makes_no_visit_of_that_name(archive: Archive, card: Path) -> None:
    _written(card / "crane.png", 1)

    with pytest.raises(RecordNotFound, match="There is no visit"):
        import_files(archive, [card], visit="v0123456789")

    assert visits_in(archive) == []
    assert kept_in(archive) == {}


# Disks


@pytest.mark.parametrize("full_at", [1, 3, 4])
def test_a_disk_that_fills_up_keeps_what_was_imported_and_the_next_import_goes_on(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch, full_at: int
) -> None:
    for number in range(5):
        _written(card / f"{number}.png", number)
    monkeypatch.setattr(importing, "_BATCH", 2)
    flush, flushed = os.fsync, [0]

    def full(handle: int) -> None:
        if not stat.S_ISDIR(os.fstat(handle).st_mode):
            flushed[0] += 1
            if flushed[0] == full_at:
                raise OSError(errno.ENOSPC, "No space left on device")
        flush(handle)

    with monkeypatch.context() as filled:
        filled.setattr(os, "fsync", full)
        # Of the one that did not fit nothing stays; those before it are recorded.
        expected = (
            (CouldNotWrite, "Make room") if full_at < 2 else (ImportCutShort, "of 5 photos were imported")
        )
        with pytest.raises(expected[0], match=expected[1]):
            import_files(archive, [card], visit=JUNE)

    assert len(photos_in(archive)) == len(kept_in(archive)) == full_at - 1
    report = import_files(archive, [card], visit=JUNE)
    assert len(report.imported) == 5 - (full_at - 1)
    assert sorted(kept_in(archive).values()) == sorted(picture(n) for n in range(5))


def test_a_visits_folder_that_cannot_be_written_is_a_plain_sentence(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _written(card / "crane.png", 1)

    def refuse(self: Path, *_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(self))

    with monkeypatch.context() as locked:
        locked.setattr(Path, "mkdir", refuse)
        with pytest.raises(CouldNotWrite, match="Permission denied"):
            import_files(archive, [card], visit=JUNE)
    assert visits_in(archive) == [], "no visit stays that nothing could be put into"

    assert import_files(archive, [card], visit=JUNE).imported == ["crane.png"]


def test_a_source_that_is_pulled_out_leaves_the_rest_out_with_the_reason(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(3):
        _written(card / f"{number}.png", number)
    looked = importing.survey

    def then_the_card_is_pulled(*args: object, **kwargs: object) -> object:
        found = looked(*args, **kwargs)  # type: ignore[arg-type]
        (card / "1.png").unlink()
        (card / "2.png").unlink()
        return found

    monkeypatch.setattr(importing, "survey", then_the_card_is_pulled)
    report = import_files(archive, [card], visit=JUNE)

    assert report.imported == ["0.png"]
    assert [left.file for left in report.left_out] == [str(card / "1.png"), str(card / "2.png")]
    assert all(left.reason.startswith("it could not be read (") for left in report.left_out)


def test_a_disk_that_can_suddenly_not_be_written_is_told_by_names_that_people_know(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _written(card / "crane.png", 1)
    plain_open, plain_unlink = Path.open, Path.unlink

    def refuse(what: str) -> OSError:
        return OSError(errno.EROFS, "Read-only file system", what)

    def open_(self: Path, mode: str = "r", *args: object, **kwargs: object) -> object:
        if "x" in mode:
            raise refuse(str(self))
        return plain_open(self, mode, *args, **kwargs)  # type: ignore[arg-type]

    def unlink(self: Path, *args: object, **kwargs: object) -> None:
        if ".rivetbook-part-" in self.name:
            raise refuse(str(self))
        plain_unlink(self, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "open", open_)
    monkeypatch.setattr(Path, "unlink", unlink)
    with pytest.raises(CouldNotWrite) as refused:
        import_files(archive, [card], visit=JUNE)

    assert "Read-only file system" in str(refused.value)
    assert "rivetbook-part" not in str(refused.value)


# Previews


def test_a_preview_that_the_disk_does_not_take_leaves_nothing_half_written(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import_files(archive, [_written(card / "crane.png", 1)], visit=JUNE)
    (held,) = photos_in(archive)
    whole = previews.preview_of(archive, held)
    preview_path(archive, held).unlink()

    def half(path: Path, data: bytes) -> int:
        with path.open("wb") as file:
            file.write(data[:100])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", half)
    assert previews.preview_of(archive, held) == whole
    assert [file for file in (archive.folder / "previews").rglob("*") if file.is_file()] == []


def test_a_preview_that_a_pulled_plug_left_empty_is_made_again(archive: Archive, card: Path) -> None:
    import_files(archive, [_written(card / "crane.png", 1)], visit=JUNE)
    (held,) = photos_in(archive)
    whole = previews.preview_of(archive, held)
    preview_path(archive, held).write_bytes(b"")

    assert previews.preview_of(archive, held) == whole
    assert preview_path(archive, held).read_bytes() == whole


# What was taken out


def test_a_photo_that_was_taken_out_is_offered_back_and_comes_back_with_what_was_written_about_it(
    archive: Archive, card: Path
) -> None:
    (card / "crane.png").write_bytes(picture(1))
    import_files(archive, [card], visit=JUNE)
    amend_photos(archive, ["crane"], caption="The crane from the lock side")
    archive.begin_act()
    remove_photos(archive, ["crane"])
    (card / "bollard.png").write_bytes(picture(2))

    archive.begin_act()
    report = import_files(archive, [card], visit=JUNE)

    assert report.imported == ["bollard.png"]
    ((act, files),) = report.taken_out_by.items()
    assert [Path(file).name for file in files] == ["crane.png"]
    undo(archive, act.number)
    assert {p.file: p.caption for p in photos_in(archive)} == {
        "bollard.png": None,
        "crane.png": "The crane from the lock side",
    }


def test_a_photo_that_was_taken_out_comes_in_as_a_new_one_where_that_is_wanted(
    archive: Archive, card: Path
) -> None:
    (card / "crane.png").write_bytes(picture(1))
    import_files(archive, [card], visit=JUNE)
    amend_photos(archive, ["crane"], caption="The crane from the lock side")
    remove_photos(archive, ["crane"])

    report = import_files(archive, [card], visit=JUNE, taken_out=True)

    assert (report.imported, report.left_out) == (["crane.png"], [])
    assert [p.caption for p in photos_in(archive)] == [None]


def test_what_an_import_brought_that_was_taken_back_comes_in_again_as_ever(
    archive: Archive, card: Path
) -> None:
    (card / "crane.png").write_bytes(picture(1))
    import_files(archive, [card], visit="The wrong visit")
    undo(archive)

    assert import_files(archive, [card], visit=JUNE).imported == ["crane.png"]
