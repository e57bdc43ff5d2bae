"""Recipes solved, and solved again in the transaction that changed what they lean on, in the order in which they lean.

A recipe that no longer solves keeps the change, says why, and leaves its readings as they were.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from typing import Any
from zlib import crc32

from archive import wording
from archive.dimensions import methods, sums
from archive.dimensions.cameras import camera_for, lens_facts, size_of, upright_lens
from archive.dimensions.estimates import best_figures
from archive.dimensions.marking import placed_within_px
from archive.dimensions.sheets import METHODS, parse_lies
from archive.dimensions.verdicts import judge_touched
from archive.errors import MarksNotUsable, SizesInACircle
from archive.lengths import WrittenLength, parse_length
from archive.metrology.readings import limit_u_mm
from archive.metrology.readings import reading as read
from archive.metrology.sources import Doubtful
from archive.photogrammetry.doubt import Caution, Derived
from archive.photogrammetry.lens import LensFit
from archive.photogrammetry.marks import (
    IN_THE_PLANE,
    NOT_SURE_U_MM,
    WORN_EDGE_U_MM,
    Lies,
    Mark,
    Shot,
    not_sure,
    set_back,
    standing_out,
)
from archive.records import marks, photos, recipes, sizes, tallies
from archive.records.changes import Look, Writer
from archive.records.ledgers import estimate_ledgers, keep_ledgers
from archive.records.things import Derivation, Photo, PhotoMark, Reading

_CAMERA_KINDS = ("focal length", "principal point")


@dataclass(frozen=True, slots=True)
class Came:
    """What one asked size came to, or why it did not."""

    derived: Derived | None
    why: str | None


def solve_recipe(look: Look, derivation: Derivation) -> list[Came]:
    """Work out every asked size of a recipe from its marks and inputs as they are now; stores nothing."""
    try:
        given, cautions = _given(look, derivation)
    except MarksNotUsable as refusal:
        return [Came(None, str(refusal)) for _ in derivation.recipe["asked"]]
    return [_came(derivation, given, asked, cautions) for asked in derivation.recipe["asked"]]


def solve_lens(look: Look, derivation: Derivation) -> tuple[LensFit, Photo]:
    """Find the lens of a recipe of method 'lens'; raises MarksNotUsable."""
    given, _ = _given(look, derivation)
    assert derivation.photo_key is not None
    (photo,) = photos.photos_by_key(look, [derivation.photo_key])
    return methods.find_lens(given, derivation.id), photo


def solve_again(writer: Writer, keys: Iterable[int]) -> None:
    """Solve these recipes and all that lean on them again, in order, and the best figures with them.

    Raises
    ------
    SizesInACircle
        Where a size would be worked out from itself.
    """
    for key in _in_order(writer, keys):
        for derivation in recipes.derivations_by_key(writer, [key]):
            _solve_one_again(writer, derivation)
    judge_touched(writer)


def known_plane(
    look: Look, derivation: Derivation, diagnostics: Mapping[str, float]
) -> methods.KnownPlane | None:
    """The places of a plane that a recipe knows; None where it knows no plane, or no longer solves."""
    try:
        given, _ = _given(look, derivation)
        return methods.known_plane(derivation.method, given, diagnostics)
    except MarksNotUsable:
        return None


def store(
    writer: Writer, derivation: Derivation, came: Sequence[Came], readings: Mapping[str, Reading]
) -> None:
    """Keep what a recipe came to: its readings, what they lean on, and where it did not solve the last that did."""
    before = {result["reading"]: result for result in derivation.results}
    results, ledgers = [], {}
    for asked, each in zip(derivation.recipe["asked"], came, strict=True):
        reading = readings.get(asked["reading"])
        if each.derived is not None:
            results.append(result_of(asked["reading"], each.derived))
            if reading is not None:
                written = as_written(each.derived)
                recipes.keep_derived_value(writer, reading.key, each.derived.value_mm, written)
                ledgers[reading.key] = each.derived.size
        elif asked["reading"] in before:
            results.append({**before[asked["reading"]], "why": each.why})
    keep_ledgers(writer, readings=ledgers)
    why = next((each.why for each in came if each.why is not None), None)
    recipes.keep_results(writer, derivation, results, why=why)


def result_of(reading: str, derived: Derived) -> dict[str, Any]:
    """Return what an asked size came to as it is kept beside its recipe."""
    return {
        "reading": reading,
        "value_mm": derived.value_mm,
        "standard_uncertainty_mm": derived.standard_uncertainty_mm,
        "interval_95_mm": list(derived.interval_95_mm),
        "method": derived.method,
        "diagnostics": {name: float(value) for name, value in derived.diagnostics.items()},
        "warnings": [{"code": w.code, "message": w.message} for w in derived.warnings],
        "why": None,
    }


def as_written(derived: Derived) -> str:
    """Return a worked-out size as a person would note it."""
    return wording.size("length", derived.value_mm, derived.interval_95_mm)


def _solve_one_again(writer: Writer, derivation: Derivation) -> None:
    readings = {r.id: r for r in sizes.readings_worked_out_by(writer, [derivation.id])[derivation.id]}
    if derivation.method == "lens":
        keep_lens_found(writer, derivation)
        return
    if not readings:
        recipes.drop_derivation(writer, derivation)
        return
    if derivation.method == sums.METHOD:
        sums.solve_and_store(writer, derivation, readings)
    else:
        store(writer, derivation, solve_recipe(writer, derivation), readings)
    best_figures(writer, sizes.dimensions_by_key(writer, {r.dimension_key for r in readings.values()}))


def keep_lens_found(writer: Writer, derivation: Derivation) -> LensFit | None:
    """Find a lens and keep it; where its edges no longer tell one, the one before stays and the recipe says so."""
    try:
        fit, photo = solve_lens(writer, derivation)
    except MarksNotUsable as refusal:
        recipes.keep_results(writer, derivation, derivation.results, why=str(refusal))
        return None
    recipes.keep_lens(writer, derivation, lens_facts(fit.lens, photo))
    found = {
        "rms_before_px": fit.rms_before_px,
        "rms_after_px": fit.rms_after_px,
        "warnings": [{"code": w.code, "message": w.message} for w in fit.warnings],
    }
    recipes.keep_results(writer, derivation, [found], why=None)
    return fit


def _in_order(look: Look, keys: Iterable[int]) -> list[int]:
    """These recipes and all that lean on them, each after what it leans on.

    A tally may tie a size that a photo gave to the one it was worked out from: there is no order in that, and no
    circle either. What is but a sum of a size cannot be held against it.
    """
    direct: dict[int, set[int]] = {}  # what each leans on
    by_tallies: dict[int, set[int]] = {}
    waiting, seen = list(keys), set[int]()
    names: dict[int, Derivation] = {}
    while waiting:
        key = waiting.pop()
        if key in seen:
            continue
        seen.add(key)
        direct.setdefault(key, set())
        for derivation in recipes.derivations_by_key(look, [key]):
            names[key] = derivation
            leaning, tied = _leaning_on(look, derivation)
            for follower in leaning | tied:
                direct.setdefault(follower, set())
                (direct if follower in leaning else by_tallies).setdefault(follower, set()).add(key)
            waiting += leaning | tied
    every = {key: direct[key] | by_tallies.get(key, set()) for key in direct}
    circle = _circle_in(direct)
    if not circle:
        circle = _circle_in(every)
        if any(names[key].method != sums.METHOD for key in circle):
            circle, every = [], direct
    if circle:
        raise SizesInACircle(_path(look, [names[key] for key in circle]))
    return list(TopologicalSorter(every).static_order())


def _circle_in(leaning_on: Mapping[int, set[int]]) -> list[int]:
    """The keys on a way round, the first one again at its end; none where there is an order."""
    try:
        TopologicalSorter(leaning_on).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def _leaning_on(look: Look, derivation: Derivation) -> tuple[set[int], set[int]]:
    """The recipes that lean on what a recipe finds, and those that do so only through tallies."""
    if derivation.method == "lens":
        if derivation.photo_key is None:
            return set(), set()
        (photo,) = photos.photos_by_key(look, [derivation.photo_key])
        taken = recipes.derivations_by_key(look, recipes.keys_by_camera(look, recipes.camera_of(photo)))
        return {d.key for d in taken if d.method != "lens"}, set()
    standing = [r for r in sizes.readings_worked_out_by(look, [derivation.id])[derivation.id] if r.stands]
    found = {r.dimension_key for r in standing}
    tied, _ = tallies.tied_together(look, found)
    leaning = recipes.keys_leaning_on_dimensions(look, found)
    return leaning, recipes.keys_leaning_on_dimensions(look, tied) - leaning


def _path(look: Look, circle: Sequence[Derivation]) -> tuple[str, ...]:
    """The sizes on the way round, each worked out from the next, beginning with that of the newest recipe."""
    newest = max(range(len(circle) - 1), key=lambda n: circle[n].key)
    ring = [*circle[newest:-1], *circle[:newest], circle[newest]]
    start, *steps = [_step(look, first, then) for first, then in pairwise(ring)]
    return (start[0], *(leaned_on for _, leaned_on in reversed(steps)), start[1])


def _step(look: Look, first: Derivation, then: Derivation) -> tuple[str, str]:
    """A size that the first recipe finds, and how the next leans on it: by itself, or on one that a tally ties to it."""
    found = {r.dimension_key for r in sizes.readings_worked_out_by(look, [first.id])[first.id] if r.stands}
    inputs = [key for key in then.input_keys.values() if key is not None]
    direct = [key for key in inputs if key in found]
    if direct:
        name = _named(look, direct[0])
        return name, name
    name = _named(look, min(found))
    tied, _ = tallies.tied_together(look, found)
    leaned_on = _named(look, next(key for key in inputs if key in tied))
    return name, f"{leaned_on} (which a tally ties to {name})"


def _named(look: Look, dimension_key: int) -> str:
    (dimension,) = sizes.dimensions_by_key(look, [dimension_key])
    return f"'{dimension.label}' of {dimension.subject}"


def _given(look: Look, derivation: Derivation) -> tuple[methods.Given, tuple[Caution, ...]]:
    if derivation.photo_key is None:
        raise MarksNotUsable(
            "no-photo", "Its photo was taken out of the archive; bring it back with 'rivetbook undo'."
        )
    (photo,) = photos.photos_by_key(look, [derivation.photo_key])
    held = {name: _mark(mark) for name, mark in marks.marks_by_name(look, photo.key).items()}
    recipe = derivation.recipe
    bare = methods.Given(recipe, held, (), Shot(), size_of(photo), photo.id)
    kept = recipes.lens_for(look, photo) if derivation.method != "lens" else None
    shot = Shot(
        lens=upright_lens(kept, photo) if kept else None,
        straight_edges=bare.edges(recipe.get("straight", ())),
        seed=_seed(derivation),
    )
    camera, cautions = camera_for(photo, recipe.get("camera", {}), bare.edges, shot)
    shot = Shot(camera, shot.lens, shot.straight_edges, shot.seed)
    known = _known_sizes(look, derivation)
    return methods.Given(recipe, held, known, shot, size_of(photo), photo.id), cautions


def _came(
    derivation: Derivation, given: methods.Given, asked: Mapping[str, Any], cautions: Sequence[Caution]
) -> Came:
    try:
        lies = _lies(asked)
        derived = methods.solve(derivation.method, given, asked, lies)
    except MarksNotUsable as refusal:
        return Came(None, str(refusal))
    if any(source.kind in _CAMERA_KINDS for source in derived.size.sensitivities):
        derived = Derived(
            derived.size,
            derived.interval_95_mm,
            derived.method,
            derived.diagnostics,
            (*derived.warnings, *cautions),
        )
    return Came(derived, None)


def _mark(mark: PhotoMark) -> Mark:
    edge_u_mm = WORN_EDGE_U_MM if mark.clear == "worn" else 0.0
    return Mark(
        mark.name,
        mark.x_px,
        mark.y_px,
        placed_within_px(mark),
        given=False,
        edge_u_mm=edge_u_mm,
        record=mark.id,
    )


def _known_sizes(look: Look, derivation: Derivation) -> list[Doubtful]:
    dimension_keys = {key for key in derivation.input_keys.values() if key is not None}
    dimensions = {d.key: d for d in sizes.dimensions_by_key(look, dimension_keys)}
    estimates = sizes.estimates_of(look, list(dimensions.values()))
    ledgers = estimate_ledgers(look, [e.key for e in estimates.values()])
    form = METHODS[derivation.method].known
    known = []
    for number, part in enumerate(derivation.recipe["known"]):
        if form == "place":
            known.append(Doubtful(0.0, {}))  # places in a plane are taken as they stand
        elif form == "position":
            known.append(_written(parse_length(part["at"]), derivation.id, f"known {number + 1}"))
        elif "size" in part:
            known.append(_written(parse_length(part["size"]), derivation.id, f"known {number + 1}"))
        else:
            key = derivation.input_keys.get(part["input"])
            if key is None or key not in dimensions:
                raise MarksNotUsable(
                    "no-known-size", "A size that it starts from was taken out of the archive."
                )
            if key not in estimates:
                size = dimensions[key]
                raise MarksNotUsable(
                    "no-known-size",
                    f"'{size.label}' of {size.subject}, from which it starts, has no figure; measure it.",
                )
            known.append(ledgers[estimates[key].key])
    return known


def _written(written: WrittenLength, record: str, component: str) -> Doubtful:
    return read(
        written.value_mm,
        of_record=record,
        component=component,
        resolution_mm=written.resolution_mm,
        tolerance_mm=written.tolerance_mm,
        approximate=written.approximate,
    )


def _lies(asked: Mapping[str, Any]) -> Lies:
    if "lies" not in asked:
        return IN_THE_PLANE
    lies, record = parse_lies(asked["lies"]), asked["reading"]
    if not lies.sure:
        within = lies.length
        return not_sure(record, limit_u_mm(within.value_mm) if within else NOT_SURE_U_MM)
    if lies.length is None:
        return IN_THE_PLANE
    length = _written(lies.length, record, "where it lies")
    return standing_out(length) if lies.towards_camera > 0 else set_back(length)


def _seed(derivation: Derivation) -> int:
    """Draws that the same recipe gets in every archive, whatever ids its records have there."""
    recipe = dict(derivation.recipe)
    recipe["asked"] = [{key: part[key] for key in part if key != "reading"} for part in recipe["asked"]]
    return crc32(json.dumps([derivation.method, recipe], sort_keys=True).encode())
