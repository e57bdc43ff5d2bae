"""Having sizes worked out from a photo: a sheet entered, its recipe kept, its readings graded 'worked out'."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.dimensions import solving
from archive.dimensions.doubts import doubt_in_words
from archive.dimensions.marking import PlacedMark, mark_names, place_marks
from archive.dimensions.methods import marks_named
from archive.dimensions.readings import SPANS, identity_of
from archive.dimensions.sheets import AskedSize, NamedSize, Sheet, read_sheet
from archive.dimensions.trust import Tools
from archive.errors import (
    FileNotThere,
    FolderForFile,
    MarksNotUsable,
    NotAccepted,
    NotWorkedOut,
    SheetNotUnderstood,
)
from archive.lengths import quantity_of
from archive.metrology.sources import Doubtful
from archive.photogrammetry.doubt import Derived
from archive.photogrammetry.lens import LensFit
from archive.records import marks, photos, recipes, sizes, subjects
from archive.records.archive import Archive
from archive.records.changes import Look, Writer
from archive.records.ledgers import reading_ledgers
from archive.records.names import clean_name, name_key, near_names, new_public_id
from archive.records.things import Derivation, Dimension, Estimate, Photo, PhotoMark, Reading

WORKED_OUT = "worked out"
_LARGEST_SHEET = 1_000_000  # bytes


@dataclass(frozen=True, slots=True)
class SizeWorkedOut:
    """One asked size: the reading that it became, and the best figure of its size with it.

    `known` is the reading with its sources, `doubt` their shares in words, `replaces` the reading that it replaces.
    """

    dimension: Dimension
    reading: Reading
    derived: Derived
    known: Doubtful
    doubt: str
    estimate: Estimate
    replaces: str | None


@dataclass(frozen=True, slots=True)
class Entered:
    """What a sheet came to. `is_new` is False where the archive held just this recipe already.

    `snapped` are the marks that were to move to a corner or an edge, each with what came of it.
    """

    derivation: Derivation
    photo: Photo
    sizes: tuple[SizeWorkedOut, ...]
    lens: LensFit | None
    is_new: bool
    moved: tuple[PhotoMark, ...]
    snapped: tuple[PlacedMark, ...]


class _OnlyTried(Exception):
    """Leaves the transaction of a dry run without a commit."""


def enter_sheet(archive: Archive, path: Path, *, dry_run: bool = False, move_marks: bool = False) -> Entered:
    """Enter the sheet in a file; see `enter`. Raises `FileNotThere` and `FolderForFile` as well."""
    if path.is_dir():
        raise FolderForFile(str(path), "sheet")
    try:
        with path.open("rb") as file:
            held = file.read(_LARGEST_SHEET + 1)
    except OSError as error:
        raise FileNotThere(str(path), "sheet") from error
    try:
        text = held.decode("utf-8")
    except UnicodeDecodeError as error:
        raise SheetNotUnderstood(path.name, ("line 1: this is no text in UTF-8; save it as such",)) from error
    if len(held) > _LARGEST_SHEET:
        raise SheetNotUnderstood(path.name, ("its end: it is longer than 1 MB, which no sheet is",))
    return enter(archive, read_sheet(text, path.name), path.name, dry_run=dry_run, move_marks=move_marks)


def enter(
    archive: Archive, sheet: Sheet, name: str, *, dry_run: bool = False, move_marks: bool = False
) -> Entered:
    """Put a sheet's marks on its photo, work out what it asks, and write that down as readings.

    Parameters
    ----------
    sheet : Sheet
        As `read_sheet` gives it; `name` is what the person calls it.
    dry_run : bool
        Work everything out, and keep nothing.
    move_marks : bool
        Let marks that lie elsewhere on the photo than the sheet says move there; else that is refused.

    Returns
    -------
    Entered
        The derivation, and every size with its reading and its new best figure. A size that was worked out from
        the same ends in the same way before gets a reading that replaces the old one; just the same recipe is
        kept once.

    Raises
    ------
    NotWorkedOut
        With every asked size that cannot be had, and what to mark instead.
    RecordNotFound, SeveralMatch, NotAccepted, SizesInACircle
        Nothing is saved then.
    """
    result: Entered | None = None
    with archive.look() as look:
        photo = photos.photo_named(look, sheet.photo)
    placed = place_marks(archive, photo, sheet.marks)
    try:
        with archive.change(f"Worked out {_what(sheet)} from {photo.file}") as writer:
            result = _Entering(writer, sheet, photo, name, placed).do(move_marks)
            if dry_run:
                raise _OnlyTried
    except _OnlyTried:
        pass
    assert result is not None
    return result


def _what(sheet: Sheet) -> str:
    if sheet.method.name == "lens":
        return "the lens"
    labels = [f"'{size.label}' of {size.subject}" for size in sheet.asked]
    return labels[0] if len(labels) == 1 else f"{len(labels)} sizes"


class _Entering:
    """One sheet being entered in one transaction."""

    def __init__(
        self, writer: Writer, sheet: Sheet, photo: Photo, name: str, placed: Sequence[PlacedMark]
    ) -> None:
        self._writer, self._sheet, self._photo, self._name = writer, sheet, photo, name
        self._placed = placed

    def do(self, move_marks: bool) -> Entered:
        moved = self._put_marks(move_marks)
        inputs = {n: _input(self._writer, named).key for n, named in enumerate(self._sheet.inputs)}
        dimensions = [self._dimension(asked) for asked in self._sheet.asked]
        same = self._held_already(inputs, dimensions)
        if same is not None:
            self._refuse_unsolved(solving.solve_recipe(self._writer, same))
            return self._told(same, dimensions, moved, is_new=False)
        derivation = self._keep_recipe(inputs)
        if self._sheet.method.name == "lens":
            return self._find_lens(derivation, moved)
        came = solving.solve_recipe(self._writer, derivation)
        self._refuse_unsolved(came)
        self._write_readings(derivation, dimensions, came)
        solving.solve_again(
            self._writer, [derivation.key]
        )  # with all that leans on these sizes; refuses circles
        return self._told(derivation, dimensions, moved, is_new=True)

    def _put_marks(self, move_marks: bool) -> tuple[PhotoMark, ...]:
        """Put the sheet's marks on the photo; returns those that lay elsewhere, as they were."""
        held = marks.marks_by_name(self._writer, self._photo.key)
        to_put = [
            mark
            for mark in self._placed
            if name_key(mark.name) not in held or not mark.lies_at(held[name_key(mark.name)])
        ]
        elsewhere = tuple(held[name_key(mark.name)] for mark in to_put if name_key(mark.name) in held)
        if elsewhere and not move_marks:
            raise NotAccepted(
                f"On {self._photo.file} the marks {mark_names(elsewhere)} lie elsewhere than the sheet says",
                "Give them other names in the sheet, or move them, and all that is worked out from them, with --move-marks.",
            )
        for mark in to_put:
            mark.put_on(self._writer, self._photo)
        if elsewhere:
            solving.solve_again(self._writer, recipes.keys_resting_on_touched(self._writer))
        return elsewhere

    def _dimension(self, asked: AskedSize) -> Dimension:
        subject = subjects.subject_named(self._writer, asked.subject)
        if asked.span not in SPANS:
            raise NotAccepted(f"A size is not taken '{asked.span}'", f"Say one of: {', '.join(SPANS)}.")
        key = name_key(asked.label), name_key(asked.state), asked.span
        held = {identity_of(d): d for d in sizes.dimensions_of(self._writer, subject)}
        quantity = held[key].quantity if key in held else quantity_of(asked.label).value
        if quantity != "length":
            raise NotAccepted(
                f"'{asked.label}' of {subject.name} is a {quantity}, and a photo gives lengths",
                "Ask for another label.",
            )
        if key in held:
            return held[key]
        return sizes.add_dimensions(
            self._writer, subject, [(asked.label, asked.state, asked.span, "length")]
        )[0]

    def _held_already(self, inputs: Mapping[int, int], dimensions: Sequence[Dimension]) -> Derivation | None:
        """The derivation that says just the same, if its readings all count still."""
        for derivation in recipes.derivations_of_photo(self._writer, self._photo):
            counting = self._counting(derivation)
            now = [counting.get(part["reading"]) for part in derivation.recipe["asked"]]
            if (
                derivation.method == self._sheet.method.name
                and _plain(derivation.recipe) == _plain(self._sheet.recipe)
                and dict(derivation.input_keys) == dict(inputs)
                and [r.dimension_key if r else None for r in now] == [d.key for d in dimensions]
            ):
                return derivation
        return None

    def _keep_recipe(self, inputs: Mapping[int, int]) -> Derivation:
        recipe = dict(self._sheet.recipe)
        recipe["asked"] = [{**part, "reading": new_public_id("reading")} for part in recipe["asked"]]
        held = marks.marks_by_name(self._writer, self._photo.key)
        wanted = {name_key(name): name for name in marks_named(recipe)}
        missing = [name for key, name in wanted.items() if key not in held]
        if missing:
            near = near_names(missing[0], [m.name for m in held.values()], most=1)
            hint = f" (do you mean '{near[0]}'?)" if near else ""
            raise NotWorkedOut(
                self._name,
                (f"There is no mark '{missing[0]}' on {self._photo.file}{hint}; put it under [marks].",),
            )
        return recipes.add_derivation(
            self._writer,
            new_public_id("derivation"),
            self._photo,
            self._sheet.method.name,
            recipe,
            input_keys=inputs,
            marks=[held[key] for key in wanted],
        )

    def _find_lens(self, derivation: Derivation, moved: tuple[PhotoMark, ...]) -> Entered:
        try:
            solving.solve_lens(self._writer, derivation)
        except MarksNotUsable as refusal:
            raise NotWorkedOut(self._name, (str(refusal),)) from refusal
        solving.solve_again(self._writer, [derivation.key])
        return self._told(derivation, [], moved, is_new=True)

    def _refuse_unsolved(self, came: Sequence[solving.Came]) -> None:
        faults = dict.fromkeys(
            f"'{asked.label}' of {asked.subject}: {each.why}"
            for asked, each in zip(self._sheet.asked, came, strict=True)
            if each.why is not None
        )
        if faults:
            raise NotWorkedOut(self._name, tuple(faults))

    def _write_readings(
        self, derivation: Derivation, dimensions: Sequence[Dimension], came: Sequence[solving.Came]
    ) -> None:
        photo, rows = self._photo, []
        for part, dimension, each in zip(derivation.recipe["asked"], dimensions, came, strict=True):
            assert each.derived is not None
            rows.append(
                {
                    "public_id": part["reading"],
                    "dimension_id": dimension.key,
                    "as_written": solving.as_written(each.derived),
                    "quantity": "length",
                    "value": each.derived.value_mm,
                    "unit": "mm",
                    "value_mm": each.derived.value_mm,
                    "resolution": None,
                    "resolution_mm": None,
                    "tolerance": None,
                    "approximate": False,
                    "grade": WORKED_OUT,
                    "rests_on": self._sheet.method.rests_on,
                    "sister_tolerance": None,
                    "instrument_id": None,
                    "photo_id": photo.key,
                    "visit_id": photo.visit_key,
                    "taken_on": photo.taken[:10] if photo.taken else None,
                    "replaces_id": self._replaced(part, dimension),
                    "derived_by": derivation.id,
                    "set_aside": None,
                    "note": None,
                }
            )
        sizes.add_readings(self._writer, rows)

    def _replaced(self, part: Mapping[str, Any], dimension: Dimension) -> int | None:
        """The reading that was worked out in the same way from the same ends before, if it counts still."""
        for derivation in recipes.derivations_of_photo(self._writer, self._photo):
            if derivation.method != self._sheet.method.name:
                continue
            counting = self._counting(derivation)
            for before in derivation.recipe["asked"]:
                reading = counting.get(before["reading"])
                if reading and reading.dimension_key == dimension.key and _ends(before) == _ends(part):
                    return reading.key
        return None

    def _readings_of(self, derivation: Derivation) -> list[Reading]:
        return sizes.readings_worked_out_by(self._writer, [derivation.id])[derivation.id]

    def _counting(self, derivation: Derivation) -> dict[str, Reading]:
        """Its readings that count, by id."""
        return {r.id: r for r in self._readings_of(derivation) if r.stands}

    def _told(
        self,
        derivation: Derivation,
        dimensions: Sequence[Dimension],
        moved: tuple[PhotoMark, ...],
        *,
        is_new: bool,
    ) -> Entered:
        derivation = recipes.derivation_named(self._writer, derivation.id)
        lens = None
        if derivation.method == "lens":
            lens, _ = solving.solve_lens(self._writer, derivation)
        by_id = {r.id: r for r in self._readings_of(derivation)}
        ledgers = reading_ledgers(self._writer, [r.key for r in by_id.values()])
        estimates = sizes.estimates_of(self._writer, dimensions)
        told, tools = [], Tools(self._writer)
        for part, dimension, came in zip(
            derivation.recipe["asked"],
            dimensions,
            solving.solve_recipe(self._writer, derivation),
            strict=True,
        ):
            reading = by_id[part["reading"]]
            assert came.derived is not None
            told.append(
                SizeWorkedOut(
                    dimension,
                    reading,
                    came.derived,
                    ledgers[reading.key],
                    doubt_in_words(ledgers[reading.key], tools),
                    estimates[dimension.key],
                    reading.replaces,
                )
            )
        snapped = tuple(mark for mark in self._placed if mark.says is not None)
        return Entered(derivation, self._photo, tuple(told), lens, is_new, moved, snapped)


def _plain(recipe: Mapping[str, Any]) -> dict[str, Any]:
    """A recipe without the ids of the readings that it has in this archive."""
    asked = [{key: part[key] for key in part if key != "reading"} for part in recipe["asked"]]
    return {**recipe, "asked": asked}


def _ends(part: Mapping[str, Any]) -> frozenset[str]:
    return frozenset(name_key(part[end]) for end in ("from", "to", "what") if end in part)


def _input(look: Look, named: NamedSize) -> Dimension:
    """The one size of the archive that is meant; raises `RecordNotFound` or `NotAccepted`."""
    subject = subjects.subject_named(look, named.subject)
    found = [
        d
        for d in sizes.dimensions_labelled(look, subject, named.label)
        if named.span in (None, d.span)
        and (named.state is None or name_key(named.state) == name_key(d.state))
    ]
    if len(found) != 1:
        listed = "; ".join(f"span = '{d.span}', state = '{d.state}'" for d in found) or "none"
        raise NotAccepted(
            f"'{clean_name(named.label)}' of {subject.name} is taken in more than one way, or not in that one",
            f"Write which is meant beside it: {listed}.",
        )
    if found[0].quantity != "length":
        raise NotAccepted(f"'{found[0].label}' of {subject.name} is no length", "Start from a length.")
    return found[0]
