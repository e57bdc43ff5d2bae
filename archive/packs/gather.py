"""Gather from the records what a build's pack says."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import PurePath

from archive import wording
from archive.dimensions.observations import usable
from archive.dimensions.overview import SizeLine, sizes_of_subject
from archive.kinds import Thesaurus, thesaurus
from archive.packs.choosing import choose_photos
from archive.packs.content import (
    ModelSize,
    PackContent,
    PackPhoto,
    PackSighting,
    PackSize,
    PackSubject,
    day_text,
)
from archive.records import builds, kinds, originals, photos
from archive.records.archive import Archive
from archive.records.changes import Look
from archive.records.things import Build, Photo, Reading, Subject
from archive.scales import Scale, parse_scale


def content_of(archive: Archive, build: str, *, made_on: date) -> PackContent:
    """Return what the pack of the build of this name or id says; raises `RecordNotFound`.

    Everything is read in one transaction, so that sizes and photos belong together.
    """
    with archive.look() as look:
        of = builds.build_named(look, build)
        scale = parse_scale(of.scale_as_written)
        words = thesaurus(kinds.own_kinds(look))
        shown = {s.id: photos.photos_showing(look, s) for s in of.subjects}
        sizes = [size for s in of.subjects for size in _sizes(look, s, scale)]
    every = _pack_photos(archive, of, shown.values())
    chosen = choose_photos(every, [s.name for s in of.subjects])
    return PackContent(
        build=of.name,
        scale_text=wording.scale(scale),
        ratio=of.ratio,
        subjects=tuple(_subject(s, shown[s.id], words) for s in of.subjects),
        sizes=tuple(sizes),
        photos=chosen,
        made_on=made_on,
        program_version=_program_version(),
        process=of.process,
        tolerance_mm=of.tolerance_mm,
        tolerance_text=wording.size("length", of.tolerance_mm) if of.tolerance_mm is not None else "",
        photos_not_chosen=len(every) - len(chosen),
    )


def _program_version() -> str:
    try:
        return version("rivetbook")
    except PackageNotFoundError:  # run from a checkout
        return "(not installed)"


def _subject(subject: Subject, shown: Sequence[Photo], words: Thesaurus) -> PackSubject:
    return PackSubject(
        name=subject.name,
        kind=words.find(subject.kind).name if subject.kind else "",
        maker=subject.maker,
        era=subject.era,
        notes=subject.notes,
        place=subject.place,
        visits=tuple(dict.fromkeys(photo.visit for photo in shown)),
    )


def _sizes(look: Look, subject: Subject, scale: Scale) -> list[PackSize]:
    known = sizes_of_subject(look, subject, scale=scale)
    return [_size(line, scale) for line in known.lines if line.estimate is not None]


def _size(line: SizeLine, scale: Scale) -> PackSize:
    dimension, estimate = line.dimension, line.estimate
    assert estimate is not None
    interval = (estimate.low_95, estimate.high_95)
    counted = usable(line.readings)
    return PackSize(
        subject=dimension.subject,
        label=dimension.label,
        real_text=wording.size(estimate.quantity, estimate.value, interval),
        value=estimate.value,
        source_text=source_text(counted),
        grade=estimate.grade,
        as_written=tuple(dict.fromkeys(reading.as_written for reading in counted if not reading.derived_by)),
        imperial_text=wording.other_system(estimate.quantity, estimate.value, interval),
        model=_model(line, scale),
        quantity=estimate.quantity,
        unit=estimate.unit,
        u=estimate.standard_uncertainty,
        interval_95=interval,
        span=dimension.span,
        state=dimension.state,
        warnings=estimate.warnings,
    )


def _model(line: SizeLine, scale: Scale) -> ModelSize | None:
    if line.model_mm is None or line.model_interval_95_mm is None or line.estimate is None:
        return None
    return ModelSize(
        text=wording.size("length", line.model_mm, line.model_interval_95_mm),
        value_mm=line.model_mm,
        u_mm=scale.model_mm(line.estimate.standard_uncertainty),
        interval_95_mm=line.model_interval_95_mm,
    )


def source_text(readings: Iterable[Reading]) -> str:
    """Return what the readings of a size rest on, each once: 'long tape, 17 June 2023; folding rule'."""
    return "; ".join(dict.fromkeys(_source(reading) for reading in readings))


def _source(reading: Reading) -> str:
    day = day_text(date.fromisoformat(reading.taken_on)) if reading.taken_on else reading.visit
    if reading.derived_by and not reading.photo:
        return f"from other sizes: {reading.as_written}"
    photo = f"photo {PurePath(reading.photo).stem}" if reading.photo else None
    if photo and reading.rests_on and reading.rests_on.endswith("in the photo"):
        return ", ".join(filter(None, (f"{reading.rests_on.removesuffix('the photo')}{photo}", day)))
    known = [fact for fact in (reading.instrument, reading.rests_on, photo, day) if fact]
    return ", ".join(known) or "no source noted"


def _pack_photos(archive: Archive, build: Build, shown: Iterable[Sequence[Photo]]) -> list[PackPhoto]:
    different = {photo.id: photo for group in shown for photo in group}
    order = [subject.id for subject in build.subjects]
    return [_pack_photo(archive, photo, order) for photo in different.values()]


def _pack_photo(archive: Archive, photo: Photo, order: list[str]) -> PackPhoto:
    ours = sorted(
        (s for s in photo.sightings if s.subject_id in order), key=lambda s: order.index(s.subject_id)
    )
    return PackPhoto(
        id=photo.id,
        name=photo.file,
        original=originals.picture_path(archive, photo),
        width=photo.width,
        height=photo.height,
        sightings=tuple(PackSighting(s.subject_name, s.view, s.mirrored, s.region) for s in ours),
        caption=photo.caption,
        taken=datetime.fromisoformat(photo.taken) if photo.taken else None,
        visit=photo.visit,
        creator=photo.creator,
        rights=photo.rights,
        page=photo.page_index,
    )
