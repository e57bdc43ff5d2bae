"""Wendle Basin in a few rows: at least one of every table, so that nothing of an archive goes untested."""

from __future__ import annotations

import atexit
import re
import secrets
import shutil
import tempfile
from fractions import Fraction
from functools import cache
from pathlib import Path

from archive.lengths import parse_length
from archive.metrology.sources import Doubtful, Source
from archive.records import (
    builds,
    checks,
    clocks,
    instruments,
    kept_searches,
    look_alikes,
    marks,
    photos,
    recipes,
    runs,
    sizes,
    subjects,
    tallies,
    tracks,
    verdicts,
    visit_files,
    visits,
    wants,
)
from archive.records import folder as folders
from archive.records import tables as t
from archive.records.archive import Archive, open_archive
from archive.records.things import Original, UsualLimit, Verdict


def new_archive(folder: Path, **options: object) -> Archive:
    """Make an empty archive and open it: a copy of one, for making each anew took most of the time of all tests."""
    shutil.copytree(_empty_archive(), folder, dirs_exist_ok=True)
    settings = folder / folders.SETTINGS_FILE
    own_id = f'archive_id = "{secrets.token_hex(16)}"'
    settings.write_text(re.sub('archive_id = ".*"', own_id, settings.read_text("utf-8")), "utf-8")
    return open_archive(folder, **options)  # type: ignore[arg-type]


@cache
def _empty_archive() -> Path:
    where = Path(tempfile.mkdtemp(prefix="rivetbook-tests-"))
    atexit.register(shutil.rmtree, where, ignore_errors=True)
    folders.make_archive(where / "empty")
    return where / "empty"


def photo_facts(file: str, **more: object) -> dict[str, object]:
    """What is known of a photo of which little is known."""
    unknown = dict.fromkeys(c.name for c in t.photo.columns if c.nullable)
    return {**unknown, "file": file, "keywords": [], "readers": {}, "warnings": [], **more}


def fill(archive: Archive) -> None:
    """Write down a day at Wendle Basin: two visits, three photos, a wharf with its hut and crane, sizes, a build."""
    with archive.change("wrote down what was seen at Wendle Basin") as writer:
        june = visits.add_visit(
            writer, "Wendle Basin, June", zone="Europe/London", place="Wendle Basin", first_day="2023-06-17",
            people="the warden’s daughter", access_notes="ask at the café — gate is locked at 17:00",
        )  # fmt: skip
        visits.add_visit(writer, "Wendle Basin, again", zone="Europe/London", place="Wendle Basin")
        keys = photos.add_photos(
            writer,
            june,
            [
                (
                    photo_facts(
                        f"HC20_041{n}.JPG", width=4000, height=3000, taken=f"2023-06-17T11:0{n}:00", focal_mm=4.3,
                        keywords=["wharf", "crane ½"], warnings=[{"code": "no-zone", "message": "no offset"}],
                    ),
                    [Original("picture", f"visits/{june.folder}/HC20_041{n}.JPG", f"HC20_041{n}.JPG", f"{n:064x}", 9)],
                )
                for n in (2, 3, 4)
            ],
        )  # fmt: skip
        look_alikes.keep_fingerprints(writer, {keys[0]: "0123456789abcdef" * 2, keys[1]: ""})
        visit_files.add_visit_files(
            writer,
            june,
            [
                Original(
                    "film", f"visits/{june.folder}/round the crane.mp4", "round the crane.mp4", "f" * 64, 9
                )
            ],
        )
        tracks.add_track(writer, f"visits/{june.folder}/round the crane.mp4", [(1_687_000_000.0, 52.5, -1.5)])
        clocks.say(writer, june.key, "Halden C20", 4020)
        wharf = subjects.add_subject(writer, "Wendle Basin wharf", place="Wendle Basin")
        crane = subjects.add_subject(
            writer,
            "Wharf crane",
            kind="crane",
            also=("Hand crane",),
            part_of=wharf.name,
            maker="Ötteley & Sons",
        )
        for photo in photos.photos_by_key(writer, keys):
            photos.link(writer, photo, crane, view="front")
        tape = instruments.add_instrument(
            writer, "long tape", kind="tape", resolution_mm=1.0, limit_as_written="0.3 mm + 0.2 mm/m",
            limit_constant_mm=0.3, limit_per_mm=0.0002, steady=True,
        )  # fmt: skip
        instruments.add_instrument(
            writer, "drawing of the crane", kind="drawing", resolution_mm=None, limit_as_written=None,
            limit_constant_mm=None, limit_per_mm=None, steady=True, drawn_at="1:48",
        )  # fmt: skip
        instruments.keep_usual_limit(
            writer, UsualLimit("laser", "1.5 mm + 0.1 mm/m", 1.5, 0.0001, None, "the maker's sheet")
        )
        checks.add_check(
            writer, tape, parse_length("2743mm ± 1mm"), parse_length("2.745 m"), day="2023-06-17", visit=june
        )
        wants.decide(
            writer, crane, "jib length", "wanted", precision_as_written="± 10 mm", precision_constant=10.0
        )
        kept_searches.keep_search(writer, "Posts to model", {"words": "post", "kind": "bollard"})
        verdicts.keep_verdicts(writer, {crane.key: Verdict(8, 0, 14.6)})
        (jib,) = sizes.add_dimensions(writer, crane, [("jib length", "as found", "centres", "length")])
        written = {
            "quantity": "length", "unit": "mm", "resolution": 25.4, "resolution_mm": 25.4, "approximate": False,
            "grade": "measured", "instrument_id": tape.key, "photo_id": keys[0], "taken_on": "2023-06-17",
            "dimension_id": jib.key,
        }  # fmt: skip
        (first,) = sizes.add_readings(
            writer, [{"as_written": "18ft 5in", "value": 5613.4, "value_mm": 5613.4, **written}]
        )
        corrected = {"as_written": "18ft 6in", "value": 5638.8, "value_mm": 5638.8, "replaces_id": first}
        (second,) = sizes.add_readings(writer, [{**corrected, **written}])
        run = runs.add_run(writer, crane, "along the jib", "0; head 18ft 6in", replaces=None)
        runs.link_readings(writer, run, {second: 0})
        tallies.add_tally(writer, crane, "jib length = 18ft 6in", [jib.key])
        offset, rounding = Source("offset", tape.id), Source("rounding", "jib", distribution="rectangular")
        doubtful = Doubtful(5638.8, {offset: 1.2, rounding: 7.332})
        figure = {
            "quantity": "length", "unit": "mm", "value_mm": 5638.8, "low_95": 5624.2, "high_95": 5653.4,
            "grade": "measured", "readings": 1, "formulas": 1, "warnings": [],
        }  # fmt: skip
        sizes.keep_figures(writer, {second: doubtful}, [(jib, doubtful, figure)])
        builds.add_build(
            writer, "Crane in 7 mm", scale_as_written="1:43.5", ratio=Fraction(87, 2), of=[crane], process="resin",
            tolerance_as_written="0.1mm", tolerance_mm=0.1,
        )  # fmt: skip
        foot = marks.put_mark(
            writer, photos.photos_by_key(writer, keys)[0], "jib foot", x_px=812.5, y_px=1604.25, clear="worn"
        )
        recipe = {"known": [{"from": "jib foot", "to": "jib head", "input": 0}], "asked": []}
        worked_out = recipes.add_derivation(
            writer, "w0123456789", photos.photos_by_key(writer, keys)[0], "lens", recipe,
            input_keys={0: jib.key}, marks=[foot],
        )  # fmt: skip
        recipes.keep_lens(
            writer, worked_out,
            {
                "camera": "Halden C20", "focal_mm": 4.3, "width": 4000, "height": 3000, "model": "division",
                "strength": -0.02, "off_x_px": 1.5, "off_y_px": -2.0, "norm_radius_px": 2500.0,
                "factor": [[0.001, 0.0, 0.0], [0.1, 9.0, 0.0], [0.2, 0.3, 9.0]],
            },
        )  # fmt: skip
        writer.insert(t.visit_name, visit_id=june.key, name="The first time", name_key="the first time")
        writer.insert(
            t.removed_file, photo="p0000000000", file="HC20_0411.JPG", role="picture",
            stored_path=f"removed/{june.folder}/HC20_0411.JPG", path_key=f"removed/{june.folder}/hc20_0411.jpg",
            sha256="f" * 64, bytes=9,
        )  # fmt: skip
        writer.insert(
            t.kind, slug="wharf-crane", name="wharf crane", name_key="wharf crane", broader="crane",
            words=["quay crane"], views=["front"], sizes=["jib length"],
        )  # fmt: skip
