"""A Wendle Basin archive with files on disk, and how to tell whether two archives are the same."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing
from pathlib import Path

from wendle_basin import new_archive, photo_facts

from archive.dimensions.readings import record_reading
from archive.records import originals, photos, visits
from archive.records.archive import Archive
from archive.records.entering import enter_build, enter_instrument, enter_subject, enter_visit
from archive.records.linking import link_photos
from archive.records.things import Original

VISITS = ("Wendle Basin, June", "Wendle Basin, again")
SUBJECTS = ("Wendle Basin wharf", "Wharf crane", "Weighbridge hut", "Bollard")


def wharf_of_files(folder: Path, photos_each: int = 3) -> Archive:
    """Make an archive of two visits with photos (small files; no picture is opened), subjects, sizes and a build."""
    archive = new_archive(folder)
    enter_visit(archive, VISITS[0], place="Wendle Basin", days="2023-06-17", zone="Europe/London")
    enter_visit(archive, VISITS[1], place="Wendle Basin", days="2023-09-02", zone="Europe/London")
    for number, name in enumerate(VISITS):
        add_files(archive, name, [f"HC20_04{number}{n}.JPG" for n in range(photos_each)])
    enter_subject(archive, SUBJECTS[0], place="Wendle Basin")
    enter_subject(archive, SUBJECTS[1], kind="crane", part_of=SUBJECTS[0], also=["Hand crane"])
    enter_subject(archive, SUBJECTS[2], kind="hut", part_of=SUBJECTS[0])
    enter_subject(archive, SUBJECTS[3])
    enter_instrument(archive, "long tape", kind="tape", resolution="1mm", limit="0.3 mm + 0.2 mm/m")
    link_photos(archive, ["HC20_0400", "HC20_0401", "HC20_0410"], [SUBJECTS[1]], view="front")
    link_photos(archive, ["HC20_0401", "HC20_0411"], [SUBJECTS[2]], view="detail")
    for subject in SUBJECTS[1:3]:
        record_reading(archive, subject, "door height", "6ft 2in", instrument="long tape", photo="HC20_0400")
        record_reading(archive, subject, "door height", "1.88 m", visit=VISITS[1])
        record_reading(archive, subject, "step count", "5")
    enter_build(archive, "Crane in 7 mm", scale="7mm/ft", of=[SUBJECTS[1], SUBJECTS[2]])
    originals.write_manifests(archive)
    archive.begin_act()
    return archive


def add_files(archive: Archive, visit: str, names: list[str]) -> None:
    """Put files into a visit as an import does: first the files, then the rows."""
    with archive.change(f"Imported {len(names)} photos into {visit}") as writer:
        of = visits.visit_named(writer, visit)
        folder = originals.visit_folder(archive, of)
        added = []
        for n, name in enumerate(names):
            content = f"{visit} {name}".encode()
            (folder / name).write_bytes(content)
            sha256 = hashlib.sha256(content).hexdigest()
            facts = photo_facts(
                name, taken=f"{of.first_day}T11:0{n % 10}:00", make="Wendle", model="HC20", focal_35mm=35.0,
                width=1500, height=1000, stored_width=1500, stored_height=1000,
            )  # fmt: skip
            original = Original("picture", f"visits/{of.folder}/{name}", name, sha256, len(content))
            added.append((facts, [original]))
        photos.add_photos(writer, of, added)


def records_in(folder: Path) -> str:
    """The whole database as text, leaving out the history."""
    with closing(sqlite3.connect(folder / "archive.db")) as database:
        return "\n".join(line for line in database.iterdump() if not line.startswith('INSERT INTO "change"'))


def files_in(folder: Path) -> dict[str, str]:
    """What every file of visits and removed holds."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for top in ("visits", "removed")
        for path in sorted((folder / top).rglob("*"))
        if path.is_file()
    }


def agree(archive: Archive) -> list[str]:
    """What of records and folders does not agree; nothing is to be moved any more and each file has its row."""
    faults = ["moves are pending"] if archive.has_moves_to_complete() else []
    rows: dict[str, str] = {}
    with closing(sqlite3.connect(archive.folder / "archive.db")) as database:
        for table in ("original", "visit_file", "removed_file"):
            rows.update(database.execute(f"SELECT stored_path, sha256 FROM {table}").fetchall())
        faults += [f"broken key: {row}" for row in database.execute("PRAGMA foreign_key_check")]
    files = {name: sha for name, sha in files_in(archive.folder).items() if "manifest-sha256" not in name}
    faults += [
        f"not as recorded: {name}"
        for name in sorted(set(rows) | set(files))
        if rows.get(name) != files.get(name)
    ]
    for manifest in archive.folder.rglob("manifest-sha256.txt"):
        for line in manifest.read_text(encoding="utf-8").splitlines():
            sha256, _, name = line.partition("  ")
            if files.get(str((manifest.parent / name).relative_to(archive.folder))) != sha256:
                faults.append(f"the list in {manifest.parent.name} is wrong: {name}")
    return faults
