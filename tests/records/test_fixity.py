"""Every fault of an original is found whatever its times say, named with its remedy, and taken back from a copy."""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from made_pictures import png_bytes, upright_scene
from wendle_basin import new_archive

from archive.errors import ArchiveReadOnly, FileNotThere, NotAccepted
from archive.ingest.importing import import_files
from archive.records import photos, putting_right
from archive.records.archive import Archive, open_archive
from archive.records.fixity import verify
from archive.records.manifests import MANIFEST
from archive.records.repairing import PutBack, repair

FAULTS = 200  # of each sort
SEED = 17_06_2023


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of two visits with 200 originals: pictures, each with a sidecar that is as good as random."""
    where = tmp_path_factory.mktemp("kept")
    chance = random.Random(SEED)
    with new_archive(where / "archive") as archive:
        for visit in ("Wendle Basin, June", "Wendle Basin, September"):
            card = where / visit
            card.mkdir()
            for number in range(FAULTS // 4):
                scene = upright_scene(20 + number, 20 + len(visit))
                (card / f"HC20_{number:04}.png").write_bytes(png_bytes(scene))
                (card / f"HC20_{number:04}.xmp").write_bytes(chance.randbytes(chance.randint(1, 3000)))
            import_files(archive, [card], visit=visit)
    return where / "archive"


@pytest.fixture
def archive(kept: Path, tmp_path: Path) -> Iterator[Archive]:
    with open_archive(Path(shutil.copytree(kept, tmp_path / "archive"))) as opened:
        yield opened


def originals_of(archive: Archive) -> list[Path]:
    files = (archive.folder / "visits").rglob("*")
    return sorted(file for file in files if file.is_file() and file.name != MANIFEST)


def stored(archive: Archive, file: Path) -> str:
    return file.relative_to(archive.folder).as_posix()


def flipped(file: Path, chance: random.Random) -> None:
    data = bytearray(file.read_bytes())
    data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    file.write_bytes(data)


def cut_short(file: Path, chance: random.Random) -> None:
    data = file.read_bytes()
    file.write_bytes(data[: chance.randrange(len(data))])


def test_nothing_is_found_where_nothing_is_wrong(archive: Archive) -> None:
    found = verify(archive)

    assert (found.files, found.findings) == (FAULTS, [])
    assert found.bytes == sum(file.stat().st_size for file in originals_of(archive))


@pytest.mark.parametrize("spoil", [flipped, cut_short])
def test_each_of_200_random_flipped_bits_and_cuts_is_found_though_the_times_were_put_back(
    archive: Archive, kept: Path, spoil: Callable[[Path, random.Random], None]
) -> None:
    chance = random.Random(SEED)
    files = originals_of(archive)
    for file in files:
        before = file.stat()
        spoil(file, chance)
        os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))

    found = verify(archive)

    assert len(files) == FAULTS
    assert [(f.fault, f.path) for f in found.findings] == [("altered", stored(archive, f)) for f in files]
    assert all("repair --from" in finding.remedy for finding in found.findings)
    done = repair(archive, kept)
    assert len(done.put_back) == FAULTS
    assert done.still_wrong == verify(archive).findings == []
    assert [f.read_bytes() for f in files] == [f.read_bytes() for f in sorted(kept.glob("visits/*/HC20*"))]
    aside = [file for file in (archive.folder / "set-aside").rglob("*") if file.is_file()]
    assert len(aside) == FAULTS, "what is altered is never thrown away"


def test_each_of_200_deletions_is_found_and_taken_back(archive: Archive, kept: Path) -> None:
    files = originals_of(archive)
    for file in files:
        file.unlink()

    found = verify(archive)

    assert [(f.fault, f.path) for f in found.findings] == [("missing", stored(archive, f)) for f in files]
    done = repair(archive, kept)
    assert len(done.put_back) == FAULTS
    assert verify(archive).findings == []


def test_each_of_200_swaps_is_found_and_undone_without_any_copy(archive: Archive) -> None:
    chance = random.Random(SEED)
    files = originals_of(archive)
    before = {file: file.read_bytes() for file in files}
    shuffled = chance.sample(files, FAULTS)
    for one, other in zip(shuffled[::2], shuffled[1::2], strict=True):
        times = one.stat(), other.stat()
        one.write_bytes(before[other])
        other.write_bytes(before[one])
        for file, time in zip((one, other), times, strict=True):
            os.utime(file, ns=(time.st_atime_ns, time.st_mtime_ns))

    found = verify(archive)

    assert {f.path for f in found.of("altered")} == {stored(archive, file) for file in files}
    assert len(found.findings) == FAULTS
    assert all(finding.message.startswith("It holds the bytes of 'visits/") for finding in found.findings)
    assert {finding.remedy for finding in found.findings} == {"Let it be put back: rivetbook repair"}
    repair(archive)
    assert {file: file.read_bytes() for file in files} == before


def test_one_worker_finds_the_same_as_many(archive: Archive) -> None:
    files = originals_of(archive)
    files[3].unlink()
    flipped(files[5], random.Random(SEED))

    assert verify(archive, workers=1) == verify(archive, workers=8)


def test_an_altered_original_whose_bytes_lie_elsewhere_in_the_archive_needs_no_copy(archive: Archive) -> None:
    file = originals_of(archive)[0]
    content = file.read_bytes()
    file.with_name("kept before I spoilt it.jpg").write_bytes(content)
    file.write_bytes(content[:-5])

    (altered,) = verify(archive).of("altered")
    assert altered.remedy == "Let it be put back: rivetbook repair"
    repair(archive)
    assert file.read_bytes() == content


def test_a_stray_is_named_with_what_it_is(archive: Archive) -> None:
    first, second, *_ = originals_of(archive)
    (first.parent / "a note.txt").write_text("bring the long tape")
    shutil.copy(first, first.with_name("twice.png"))
    second.rename(second.with_name("renamed.png"))

    found = verify(archive)

    place = stored(archive, first.parent)
    assert [(f.fault, f.path, f.message) for f in found.findings] == [
        ("missing", stored(archive, second), f"It lies at '{place}/renamed.png' now"),
        ("stray", f"{place}/a note.txt", "The records know nothing of it"),
        ("stray", f"{place}/renamed.png", f"It is '{stored(archive, second)}'"),
        ("stray", f"{place}/twice.png", f"The very bytes are held as '{stored(archive, first)}'"),
    ]
    done = repair(archive)
    assert done.put_back == [PutBack(stored(archive, second), f"{place}/renamed.png", None)]
    assert [f.path.rpartition("/")[2] for f in done.still_wrong] == ["a note.txt", "twice.png"]
    assert (first.parent / "a note.txt").read_text() == "bring the long tape"


def test_what_the_list_of_checksums_leaves_out_or_says_wrongly_is_named_and_written_anew(
    archive: Archive,
) -> None:
    first, second, *_ = originals_of(archive)
    manifest = first.with_name(MANIFEST)
    lines = manifest.read_text("utf-8").splitlines(keepends=True)
    lines[1] = "0" * 64 + lines[1][64:]
    manifest.write_text("".join([*lines[1:], "0" * 64 + "  nobody.png\n"]), "utf-8")

    found = verify(archive)

    assert [(f.fault, f.path) for f in found.findings] == [
        ("unlisted", stored(archive, first)),
        ("unlisted", stored(archive, second)),
        ("unlisted", stored(archive, manifest)),
    ]
    assert repair(archive).lists_written
    assert verify(archive).findings == []
    manifest.unlink()
    assert len(verify(archive).of("unlisted")) == FAULTS // 2
    repair(archive)
    assert verify(archive).findings == []


def test_a_link_in_place_of_an_original_is_no_original(archive: Archive, tmp_path: Path) -> None:
    file = originals_of(archive)[0]
    shutil.copy(file, tmp_path / "elsewhere.png")
    file.unlink()
    try:
        file.symlink_to(tmp_path / "elsewhere.png")
    except OSError:
        pytest.skip("must skip: links cannot be made here")

    (finding,) = verify(archive).findings

    assert (finding.fault, finding.message) == ("altered", "It is a link or a folder, not the file itself")
    repair(archive, tmp_path)
    assert file.is_file()
    assert not file.is_symlink()
    assert verify(archive).findings == []


def test_what_was_taken_out_may_be_gone_but_not_altered(archive: Archive) -> None:
    with archive.look() as look:
        first, second, *_ = photos.all_photos(look)
    for photo in (first, second):
        with archive.change("taken out") as writer:
            putting_right.remove_photo(writer, photo)
    assert verify(archive).findings == []
    removed = sorted(f for f in (archive.folder / "removed").rglob("*") if f.is_file() and f.name != MANIFEST)
    removed[0].unlink()
    flipped(removed[1], random.Random(SEED))

    assert [(f.fault, f.path) for f in verify(archive).findings] == [("altered", stored(archive, removed[1]))]


def test_a_copy_that_is_spoilt_too_is_not_taken(archive: Archive, kept: Path, tmp_path: Path) -> None:
    copy = Path(shutil.copytree(kept, tmp_path / "copy"))
    file = originals_of(archive)[0]
    flipped(file, random.Random(1))
    flipped(copy / stored(archive, file), random.Random(2))
    spoilt = file.read_bytes()

    done = repair(archive, copy)

    assert done.put_back == []
    assert [(f.fault, f.path) for f in done.still_wrong] == [("altered", stored(archive, file))]
    assert file.read_bytes() == spoilt
    shutil.copy(kept / stored(archive, file), copy / "under another name")
    assert len(repair(archive, copy).put_back) == 1


def test_looking_changes_nothing(archive: Archive) -> None:
    files = originals_of(archive)
    files[0].unlink()
    flipped(files[1], random.Random(SEED))

    def everything() -> dict[Path, tuple[int, bytes]]:
        kept = [
            f for place in ("visits", "removed", "set-aside") for f in (archive.folder / place).rglob("*")
        ]
        return {f: (f.stat().st_mtime_ns, f.read_bytes() if f.is_file() else b"") for f in kept}

    before = everything()
    verify(archive)
    assert everything() == before


def test_what_cannot_be_repaired_from_is_refused(archive: Archive, tmp_path: Path) -> None:
    with pytest.raises(FileNotThere, match="no folder at"):
        repair(archive, tmp_path / "nowhere")
    with pytest.raises(NotAccepted, match="is the archive that is to be repaired"):
        repair(archive, archive.folder / "visits")
    archive.read_only = True
    with pytest.raises(ArchiveReadOnly):
        repair(archive)
