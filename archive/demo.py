"""The demonstration: the whole job on an invented wharf, through the same use cases as any door's.

Each step prints the command that a person would type, and what came of it; typed into a new archive,
those commands give the same values.
"""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from archive import wording
from archive.carried import carried_folder
from archive.dimensions.checking import check_instrument
from archive.dimensions.lines import read_lines_file, record_lines
from archive.dimensions.overview import SizeLine, size_labelled, sizes_of
from archive.dimensions.putting_right import amend_size
from archive.dimensions.readings import Recorded
from archive.errors import CannotMakeArchive
from archive.ingest.importing import import_files
from archive.packs.reference_pack import write_pack
from archive.records import entering
from archive.records.archive import Archive, open_archive
from archive.records.folder import make_archive
from archive.records.linking import link_photos
from archive.scales import parse_scale
from archive.search import find

_USUAL = "wendle-basin-demo"
_NOTES = "wendle_basin.toml"


def run_demo(folder: Path | None, *, say: Callable[[str], None]) -> Path:
    """Do the whole job in a fresh folder and tell every step; returns the folder.

    Without `folder`, a new one under the current folder. Raises `CannotMakeArchive` when the folder
    that was named holds something already.
    """
    where = _fresh_folder(folder)
    library = carried_folder("demo_library")
    notes = tomllib.loads((library / _NOTES).read_text(encoding="utf-8"))
    for trip in notes["visit"]:
        _lay_out_card(library / "photos", where / "card" / trip["card"], trip["photos"])
    shutil.copytree(library / "notebook", where / "notebook")
    shutil.copytree(library / "sheets", where / "sheets")
    say("Wendle Basin is an invented canal wharf; its photographs were made for this program.")
    say(
        f"Two trips there left two folders of photos in '{where / 'card'}' and notes of sizes in "
        f"'{where / 'notebook'}'. Each step shows what you would type."
    )
    _Demo(where, notes, say).run()
    return where


def _fresh_folder(folder: Path | None) -> Path:
    if folder is None:
        folder, number = Path(_USUAL), 1
        while folder.exists():
            number += 1
            folder = Path(f"{_USUAL}-{number}")
    elif folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CannotMakeArchive(str(folder), "something is there already")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _lay_out_card(photos: Path, card: Path, patterns: Sequence[str]) -> None:
    card.mkdir(parents=True)
    for pattern in patterns:
        for photo in sorted(photos.glob(pattern)):
            shutil.copyfile(photo, card / photo.name)


class _Demo:
    """One run: the folder, the notes to enter, and where the telling goes."""

    def __init__(self, where: Path, notes: Mapping[str, Any], say: Callable[[str], None]) -> None:
        self._where, self._notes, self._say = where, notes, say
        self._archive: Archive | None = None

    def run(self) -> None:
        self._chapter("Make an archive: one folder that holds everything")
        self._typed("new", "archive")
        make_archive(self._where / "archive")
        self._say("  cd archive")
        with open_archive(self._where / "archive", door="demonstration") as archive:
            self._archive = archive
            self._bring_in_photos(archive)
            self._name_subjects(archive)
            self._write_down_sizes(archive)
            self._put_a_slip_right(archive)
            self._settle_a_disagreement(archive)
            self._work_out_sizes(archive)
            self._look_for_things(archive)
            self._turn_to_scale(archive)
            self._make_packs(archive)
        self._say_goodbye()

    def _bring_in_photos(self, archive: Archive) -> None:
        self._chapter("Bring in the photos of two trips")
        for trip in self._notes["visit"]:
            given = {name: trip[name] for name in ("place", "on", "zone", "access")}
            self._typed("visit", "add", trip["name"], **given)
            entering.enter_visit(
                archive,
                trip["name"],
                place=trip["place"],
                days=trip["on"],
                zone=trip["zone"],
                access_notes=trip["access"],
            )
            self._typed("import", f"../card/{trip['card']}", visit=trip["name"])
            report = import_files(archive, [self._where / "card" / trip["card"]], visit=trip["name"])
            self._came(f"Imported {len(report.imported)} photos into {trip['name']}.")

    def _name_subjects(self, archive: Archive) -> None:
        self._chapter("Say what was seen, and which photos show it")
        for thing in self._notes["subject"]:
            given = {n: thing[n] for n in ("kind", "also", "place", "maker", "era", "notes") if n in thing}
            self._typed("subject", "add", thing["name"], **given)
            entering.enter_subject(archive, thing["name"], **given)
            for view, shown in thing["shown"].items():
                self._typed("link", *shown, to=thing["name"], view=view)
                link_photos(archive, shown, [thing["name"]], view=view)
            for file, region in thing.get("where", {}).items():
                self._typed("link", file, to=thing["name"], region=region)
                link_photos(archive, [file], [thing["name"]], view=None, region=region)
            self._came(f"{sum(len(s) for s in thing['shown'].values())} photos show the {thing['name']}.")

    def _write_down_sizes(self, archive: Archive) -> None:
        self._chapter("Write down what was measured, and with what")
        for tool in self._notes["instrument"]:
            given = {name: tool[name] for name in ("kind", "resolution", "limit") if name in tool}
            self._typed(
                "instrument", "add", tool["name"], "--steady" if tool["steady"] else "--changing", **given
            )
            entering.enter_instrument(archive, tool["name"], steady=tool["steady"], **given)
        for page in self._notes["sizes"]:
            self._note_a_page(archive, page["subject"], page["file"])

    def _note_a_page(self, archive: Archive, subject: str, file: str) -> None:
        self._typed("size", "add", subject, lines=f"../notebook/{file}")
        text = read_lines_file(self._where / "notebook" / file)
        for recorded in record_lines(archive, subject, text).recorded:
            self._came(f"{recorded.dimension.label}: {_in_both_systems(recorded)}")
            for warned in recorded.estimate.warnings:
                self._came(warned.message)

    def _put_a_slip_right(self, archive: Archive) -> None:
        self._chapter("Put a slip of the pen right: the old reading is kept, and counts no longer")
        for slip in self._notes["slip"]:
            self._typed("size", "amend", slip["subject"], slip["label"], slip["correct"], why=slip["why"])
            corrected = amend_size(archive, slip["subject"], slip["label"], slip["correct"], why=slip["why"])
            self._came(f"{corrected.dimension.label}: {_in_both_systems(corrected)}")

    def _settle_a_disagreement(self, archive: Archive) -> None:
        self._chapter(
            "Two readings do not agree: see which, and check the tape against a length known better"
        )
        told = self._notes["disagreement"]
        self._note_a_page(archive, told["subject"], told["file"])
        given = {name: told[name] for name in ("reference", "reading", "on")}
        self._typed("instrument", "check", told["instrument"], **given)
        noted = check_instrument(archive, told["instrument"], **given)
        for judged in noted.sheet.verdict:
            self._came(judged.sentence)
        self._typed("size", "show", told["subject"], told["label"])
        (line,) = size_labelled(archive, told["subject"], told["label"]).lines
        best = line.estimate
        if best is not None:
            self._came(
                f"{told['label']}: {wording.size(best.quantity, best.value, (best.low_95, best.high_95))}"
            )
            self._came(f"Its doubt: {line.doubt}.")

    def _work_out_sizes(self, archive: Archive) -> None:
        from archive.dimensions.derivations import enter_sheet  # slow to load

        self._chapter(
            "Work out from the photos what nobody measured (the truth is known, for the wharf is invented)"
        )
        for sheet in self._notes["sheet"]:
            self._typed("derive", f"../sheets/{sheet['file']}")
            came = enter_sheet(archive, self._where / "sheets" / sheet["file"])
            if came.lens is not None:
                self._came(
                    f"Edges that bent by {came.lens.rms_before_px:.1f} px are straight to {came.lens.rms_after_px:.1f} px."
                )
            for size in came.sizes:
                label, true_mm = size.dimension.label, sheet["true_mm"][size.dimension.label]
                known = wording.size("length", size.derived.value_mm, size.derived.interval_95_mm)
                self._came(f"{label}: {known}; in truth {true_mm:.1f} mm")

    def _look_for_things(self, archive: Archive) -> None:
        self._chapter("Find things again: by any word for them, and by size")
        for words, condition in (("crane", None), ("mooring post", None), ("", "height 2.5 to 3 m")):
            self._typed("find", *words.split(), **({"size": condition} if condition else {}))
            found = find(archive, words, sizes=[condition] if condition else [])
            names = ", ".join(hit.subject for hit in found.hits if hit.subject) or "nothing"
            self._came(f"Found: {names}.")

    def _turn_to_scale(self, archive: Archive) -> None:
        self._chapter("See every size at your scale, with its doubt")
        scale = parse_scale("1:43.5")
        self._typed("sizes", "Weighbridge hut", at="1:43.5")
        for line in sizes_of(archive, "Weighbridge hut", scale=scale).lines:
            self._came(_at_scale(line))

    def _make_packs(self, archive: Archive) -> None:
        self._chapter("Take it to the bench: a reference pack for each model")
        for plan in self._notes["build"]:
            given = {name: plan[name] for name in ("scale", "subject", "process", "tolerance")}
            self._typed("build", "add", plan["name"], **given)
            entering.enter_build(
                archive,
                plan["name"],
                scale=plan["scale"],
                of=[plan["subject"]],
                process=plan["process"],
                tolerance=plan["tolerance"],
            )
            self._typed("pack", plan["name"], to=f"../{plan['pack']}")
            report = write_pack(archive, plan["name"], self._where / plan["pack"])
            self._came(f"{report.pages} pages with {report.sizes} sizes and {report.photos} photos.")

    def _say_goodbye(self) -> None:
        first = self._notes["build"][0]["pack"]
        self._say("")
        self._say(
            f"The packs are ready to print: '{self._where / first / 'reference-pack.pdf'}' is the first."
        )
        self._say(f"Try next, inside '{self._where / 'archive'}':")
        for command in ('find "iron post"', 'subject show "Wharf crane"', 'sizes "Quay bollard" --at 7mm/ft'):
            self._say(f"  rivetbook {command}")

    def _chapter(self, title: str) -> None:
        self._say("")
        self._say(title)

    def _came(self, what: str) -> None:
        self._say(f"      {what}")

    def _typed(self, *words: str, **options: str | Sequence[str]) -> None:
        typed = ["rivetbook", *(_quoted(word) for word in words)]
        for name, value in options.items():
            for each in [value] if isinstance(value, str) else value:
                typed += [f"--{name}", _quoted(each)]
        self._say("  " + " ".join(typed))
        if self._archive is not None:
            self._archive.begin_act()  # each command is an act of its own in the history


def _quoted(word: str) -> str:
    """Double quotes are understood by every shell; the notes hold none of their own."""
    return word if re.fullmatch(r"[\w./:+-]+", word) else f'"{word}"'


def _in_both_systems(recorded: Recorded) -> str:
    best = recorded.estimate
    interval = (best.low_95, best.high_95)
    known = wording.size(best.quantity, best.value, interval)
    return f"{known} ({wording.other_system(best.quantity, best.value, interval)})"


def _at_scale(line: SizeLine) -> str:
    best = line.estimate
    if best is None or line.model_mm is None or line.model_interval_95_mm is None:
        return line.dimension.label
    real = wording.size(best.quantity, best.value, (best.low_95, best.high_95))
    model = wording.size("length", line.model_mm, line.model_interval_95_mm)
    return f"{line.dimension.label}: {real}, on the model {model}"
