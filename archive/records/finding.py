"""What a finder asks of the records: the words of things, and the things that keep to a condition.

The words come in bulk, for an index; conditions give keys, for it to keep to.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from sqlalchemy import BindParameter, Column, ColumnElement, Select, Table, bindparam, exists, func, select

from archive.records import tables as t
from archive.records.changes import Look, Touched, in_chunks
from archive.records.periods import Period
from archive.records.photos import IN_TURN


@dataclass(slots=True)
class SubjectWords:
    """Everything that is written about a subject, and how well it is covered."""

    key: int
    name: str
    kind: str | None
    also: list[str] = field(default_factory=list)
    part_of: str | None = None
    place: str | None = None
    maker: str | None = None
    numbers: str | None = None
    era: str | None = None
    notes: str | None = None
    parts: list[str] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    captions: list[str] = field(default_factory=list)
    keywords: list[str] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    visits: list[str] = field(default_factory=list)
    views: set[str] = field(default_factory=set)
    known_sizes: int = 0


@dataclass(frozen=True, slots=True)
class PhotoWords:
    """Everything that is written about a photo that shows no subject yet."""

    key: int
    file: str
    caption: str | None
    keywords: tuple[str, ...]
    visit: str
    place: str | None
    camera: str | None
    creator: str | None


@dataclass(frozen=True, slots=True)
class VisitWords:
    """Everything that is written about a visit."""

    key: int
    name: str
    place: str | None
    people: str | None
    access_notes: str | None
    place_notes: str | None
    days: tuple[str, ...]
    also: tuple[str, ...] = ()


def subject_words(look: Look, keys: Collection[int] | None = None) -> Iterator[SubjectWords]:
    """Yield the words of these subjects, or of all."""
    whole = t.subject.alias("whole")
    statement = (
        select(t.subject, whole.c.name.label("part_of"), t.place.c.name.label("place"))
        .outerjoin(whole, whole.c.id == t.subject.c.part_of_id)
        .outerjoin(t.place, t.place.c.id == t.subject.c.place_id)
        .order_by(t.subject.c.id)
    )
    for chunk in _chunks(look, t.subject, keys):
        found = {
            r.id: SubjectWords(
                key=r.id,
                name=r.name,
                kind=r.kind,
                part_of=r.part_of,
                place=r.place,
                maker=r.maker,
                numbers=r.numbers,
                era=r.era,
                notes=r.notes,
            )
            for r in look.all(statement.where(t.subject.c.id.in_(chunk)))
        }
        _add_names(look, found)
        _add_sizes(look, found)
        _add_photos(look, found)
        yield from found.values()


def _add_names(look: Look, found: Mapping[int, SubjectWords]) -> None:
    names = select(t.subject_name).where(t.subject_name.c.subject_id.in_(list(found)))
    for row in look.all(names.order_by(t.subject_name.c.id)):
        found[row.subject_id].also.append(row.name)
    parts = select(t.subject.c.part_of_id, t.subject.c.name).where(t.subject.c.part_of_id.in_(list(found)))
    for row in look.all(parts.order_by(t.subject.c.id)):
        found[row.part_of_id].parts.append(row.name)


def _add_sizes(look: Look, found: Mapping[int, SubjectWords]) -> None:
    sizes = (
        select(t.dimension.c.subject_id, t.dimension.c.label, t.estimate.c.grade)
        .outerjoin(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
        .where(t.dimension.c.subject_id.in_(list(found)))
        .order_by(t.dimension.c.id)
    )
    for row in look.all(sizes):
        words = found[row.subject_id]
        if row.label not in words.labels:
            words.labels.append(row.label)
        if row.grade in KNOWN_GRADES:
            words.known_sizes += 1


def _add_photos(look: Look, found: Mapping[int, SubjectWords]) -> None:
    shown = (
        select(
            t.sighting.c.subject_id,
            t.sighting.c.view,
            t.photo.c.file,
            t.photo.c.caption,
            t.photo.c.keywords,
            t.visit.c.name.label("visit"),
            t.place.c.name.label("place"),
        )
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .outerjoin(t.place, t.place.c.id == t.visit.c.place_id)
        .where(t.sighting.c.subject_id.in_(list(found)))
        .order_by(t.sighting.c.id)
    )
    for row in look.all(shown):
        words = found[row.subject_id]
        words.files.append(row.file)
        words.keywords.extend(row.keywords)
        if row.caption:
            words.captions.append(row.caption)
        if row.view:
            words.views.add(row.view)
        for name in (row.visit, row.place):
            if name and name not in words.visits:
                words.visits.append(name)


KNOWN_GRADES = ("measured", "worked out")


def loose_photo_words(look: Look, keys: Collection[int] | None = None) -> Iterator[PhotoWords]:
    """Yield the words of those of these photos, or of all, that show no subject yet."""
    statement = (
        select(t.photo, t.visit.c.name.label("visit"), t.place.c.name.label("place"))
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .outerjoin(t.place, t.place.c.id == t.visit.c.place_id)
        .where(t.photo.c.id.not_in(select(t.sighting.c.photo_id)))
        .order_by(t.photo.c.id)
    )
    for chunk in _chunks(look, t.photo, keys):
        for r in look.all(statement.where(t.photo.c.id.in_(chunk))):
            camera = " ".join(name for name in (r.make, r.model) if name) or None
            yield PhotoWords(r.id, r.file, r.caption, tuple(r.keywords), r.visit, r.place, camera, r.creator)


def visit_words(look: Look, keys: Collection[int] | None = None) -> Iterator[VisitWords]:
    """Yield the words of these visits, or of all."""
    statement = (
        select(t.visit, t.place.c.name.label("place"), t.place.c.notes.label("place_notes"))
        .outerjoin(t.place, t.place.c.id == t.visit.c.place_id)
        .order_by(t.visit.c.id)
    )
    for chunk in _chunks(look, t.visit, keys):
        also: dict[int, list[str]] = defaultdict(list)
        for r in look.all(select(t.visit_name).where(t.visit_name.c.visit_id.in_(chunk))):
            also[r.visit_id].append(r.name)
        for r in look.all(statement.where(t.visit.c.id.in_(chunk))):
            days = tuple(day for day in (r.first_day, r.last_day) if day)
            yield VisitWords(
                r.id, r.name, r.place, r.people, r.access_notes, r.place_notes, days, tuple(also[r.id])
            )


def _chunks(look: Look, table: Table, keys: Collection[int] | None) -> Iterator[list[int]]:
    if keys is None:
        keys = [row.id for row in look.all(select(table.c.id).order_by(table.c.id))]
    return in_chunks(sorted(keys))


@dataclass(slots=True)
class Stale:
    """The things whose words may have changed, by key."""

    subjects: set[int] = field(default_factory=set)
    photos: set[int] = field(default_factory=set)
    visits: set[int] = field(default_factory=set)

    def __len__(self) -> int:
        return len(self.subjects) + len(self.photos) + len(self.visits)


def stale_after(look: Look, touched: Iterable[Touched]) -> Stale:
    """Return whose words lean on the rows that were touched, as they were before and as they are after."""
    rows: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for row in touched:
        rows[row.table] += [{"id": row.row_id, **side} for side in (row.before, row.after) if side]
    stale = Stale()
    photos = {row["id"] for row in rows["photo"]}
    subjects = {row["id"] for row in rows["subject"]}
    visits = {row["id"] for row in rows["visit"]} | {row["visit_id"] for row in rows["visit_name"]}
    places = {row["id"] for row in rows["place"]}
    visits |= _keys(look, select(t.visit.c.id), t.visit.c.place_id, places)
    photos |= _keys(look, select(t.photo.c.id), t.photo.c.visit_id, visits)
    subjects |= {row["part_of_id"] for row in rows["subject"] if row["part_of_id"]}
    subjects |= _keys(
        look, select(t.subject.c.id), t.subject.c.part_of_id, {r["id"] for r in rows["subject"]}
    )
    subjects |= _keys(look, select(t.subject.c.id), t.subject.c.place_id, places)
    subjects |= _keys(look, select(t.sighting.c.subject_id), t.sighting.c.photo_id, photos)
    for table in ("subject_name", "dimension", "sighting"):
        subjects |= {row["subject_id"] for row in rows[table]}
    measured = {row["dimension_id"] for row in rows["estimate"]}
    subjects |= _keys(look, select(t.dimension.c.subject_id), t.dimension.c.id, measured)
    photos |= {row["photo_id"] for row in rows["sighting"]}
    if rows["kind"]:
        # What a kind is called may say something of every narrower one.
        subjects |= {row.id for row in look.all(select(t.subject.c.id).where(t.subject.c.kind.is_not(None)))}
    stale.subjects, stale.photos, stale.visits = subjects, photos, visits
    return stale


def _keys(look: Look, keys: Select[Any], column: ColumnElement[Any], among: Collection[int]) -> set[int]:
    return {row[0] for chunk in in_chunks(among) for row in look.all(keys.where(column.in_(chunk)))}


def count_of_words(look: Look) -> int:
    """Return how many things have words: subjects, photos and visits."""
    return sum(
        look.value(select(func.count()).select_from(table)) or 0 for table in (t.subject, t.photo, t.visit)
    )


_STAMPS = select(t.change.c.number, t.change.c.at_utc)
_NEWEST_STAMP = _STAMPS.order_by(t.change.c.number.desc()).limit(1)


def change_stamp(look: Look, number: int | None = None) -> tuple[int, str]:
    """Return the number and time of the newest change, or of this one; (0, '') where there is none."""
    row = look.first(_NEWEST_STAMP if number is None else _STAMPS.where(t.change.c.number == number))
    return (row.number, row.at_utc) if row is not None else (0, "")


@dataclass(frozen=True, slots=True)
class SizeRow:
    """A size with its best figure, as a search by size looks at it; numbers in `unit`."""

    subject_key: int
    dimension_key: int
    estimate_key: int
    label: str
    state: str
    span: str
    quantity: str
    value: float
    unit: str
    standard_uncertainty: float
    low_95: float
    high_95: float
    grade: str
    readings: int


def labels_in_use(look: Look) -> dict[str, str]:
    """Return every label that a size has, by its key."""
    rows = look.all(
        select(t.dimension.c.label_key, func.min(t.dimension.c.label).label("label")).group_by(
            t.dimension.c.label_key
        )
    )
    return {row.label_key: row.label for row in rows}


_MANY = 2000  # keys from which reading every row is faster than asking for each
_AMONG: BindParameter[Any] = bindparam("among", expanding=True)


def _of_few(
    look: Look,
    statement: Select[Any],
    column: ColumnElement[Any],
    among: Collection[int] | None,
    values: Mapping[str, object] | None = None,
) -> Iterable[Any]:
    """Yield a statement's rows whose first column, `column`, is among these keys (None: is any)."""
    if among is None:
        return look.all(statement, values)
    if len(among) > _MANY:
        wanted = among if isinstance(among, (set, frozenset)) else set(among)
        return (row for row in look.all(statement, values) if row[0] in wanted)
    of_these = statement.where(column.in_(_AMONG))
    chunks = (look.all(of_these, {**(values or {}), "among": chunk}) for chunk in in_chunks(among))
    return (row for rows in chunks for row in rows)


def _not_first(column: Column[Any]) -> ColumnElement[Any]:
    """Return the column so that no database begins with its index, where a few keys leave less to read."""
    return func.coalesce(column, None)


def _keys_of_few(
    look: Look, statement: Select[Any], column: ColumnElement[Any], among: Collection[int] | None
) -> set[int]:
    return {row[0] for row in _of_few(look, statement, column, among)}


# What runs at each search is put together once, with its values left open.
_SIZES = select(
    t.dimension.c.subject_id,
    t.dimension.c.id,
    t.estimate.c.value,
    t.estimate.c.low_95,
    t.estimate.c.high_95,
).join(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
_SIZES_MEETING = _SIZES.where(
    t.estimate.c.quantity == "length",
    t.estimate.c.low_95 <= bindparam("high"),
    t.estimate.c.high_95 >= bindparam("low"),
)
_KEYS: BindParameter[Any] = bindparam("keys", expanding=True)
_SIZES_MEETING_OF_LABELS = _SIZES_MEETING.where(t.dimension.c.label_key.in_(_KEYS))
_SIZES_MEETING_OF_FEW = _SIZES_MEETING.where(_not_first(t.dimension.c.label_key).in_(_KEYS))
_EVERY_SIZE = select(
    t.dimension.c.subject_id,
    t.dimension.c.id,
    t.estimate.c.id,
    t.dimension.c.label,
    t.dimension.c.state,
    t.dimension.c.span,
    t.estimate.c.quantity,
    t.estimate.c.value,
    t.estimate.c.unit,
    t.estimate.c.standard_uncertainty,
    t.estimate.c.low_95,
    t.estimate.c.high_95,
    t.estimate.c.grade,
    t.estimate.c.readings,
).join(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
_SIZE_ROWS = _EVERY_SIZE.where(t.dimension.c.id.in_(_KEYS))


def sizes_meeting(
    look: Look,
    label_keys: Collection[str] | None,
    low_mm: float,
    high_mm: float,
    among: Collection[int] | None = None,
) -> Iterable[tuple[int, int, float, float, float]]:
    """Return the lengths of these labels (None: of any) whose 95 % interval meets the range, of these subjects or all.

    Each is a row: subject key, dimension key, value, low and high end, mm.
    """
    values: dict[str, object] = {"low": low_mm, "high": high_mm}
    statement = _SIZES_MEETING
    if label_keys is not None:
        statement = _SIZES_MEETING_OF_LABELS if among is None else _SIZES_MEETING_OF_FEW
        values["keys"] = list(label_keys)
    return _of_few(look, statement, t.dimension.c.subject_id, among, values)


def lengths_called(
    look: Look, label_keys: Collection[str] | None, among: Collection[int] | None = None
) -> list[SizeRow]:
    """Return the lengths of these labels, or of any, with their best figures; of these subjects, or of all."""
    statement = _EVERY_SIZE.where(t.estimate.c.quantity == "length").order_by(t.dimension.c.id)
    if label_keys is not None:
        statement = statement.where(t.dimension.c.label_key.in_(list(label_keys)))
    return [SizeRow(*tuple(row)) for row in _of_few(look, statement, t.dimension.c.subject_id, among)]


def size_rows(look: Look, dimension_keys: Iterable[int]) -> dict[int, SizeRow]:
    """Return these sizes with their best figures, by dimension key."""
    return {row[1]: SizeRow(*row) for row in _rows_of(look, _SIZE_ROWS, dimension_keys)}


class PhotoCard(NamedTuple):
    """A photo as a finder lists it; `subject_key`, `view` and `mirrored` are of the subject that it is listed for."""

    key: int
    id: str
    file: str
    caption: str | None
    taken: str | None
    visit_key: int
    visit: str
    subject_key: int | None = None
    view: str | None = None
    mirrored: bool = False


class SubjectCard(NamedTuple):
    """A subject as a finder lists it; `kind` is a kind's id."""

    key: int
    id: str
    name: str
    kind: str | None
    place: str | None


_SUBJECT_CARDS = (
    select(t.subject.c.id, t.subject.c.public_id, t.subject.c.name, t.subject.c.kind, t.place.c.name)
    .outerjoin(t.place, t.place.c.id == t.subject.c.place_id)
    .where(t.subject.c.id.in_(_KEYS))
)
_CARD = (
    t.photo.c.id,
    t.photo.c.public_id,
    t.photo.c.file,
    t.photo.c.caption,
    t.photo.c.taken,
    t.photo.c.visit_id,
    t.visit.c.name,
)
_PHOTO_CARDS = select(*_CARD).join(t.visit, t.visit.c.id == t.photo.c.visit_id).where(t.photo.c.id.in_(_KEYS))
_SHOWN_CARDS = (
    select(*_CARD, t.sighting.c.subject_id, t.sighting.c.view, t.sighting.c.mirrored)
    .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
    .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
    .where(t.sighting.c.subject_id.in_(_KEYS))
    .order_by(*IN_TURN)
)


def subject_cards(look: Look, keys: Iterable[int]) -> dict[int, SubjectCard]:
    """Return these subjects by key."""
    return {row[0]: SubjectCard._make(row) for row in _rows_of(look, _SUBJECT_CARDS, keys)}


def photo_cards(look: Look, keys: Iterable[int]) -> dict[int, PhotoCard]:
    """Return these photos by key."""
    return {row[0]: PhotoCard(*row) for row in _rows_of(look, _PHOTO_CARDS, keys)}


def photos_of_subjects(
    look: Look, subject_keys: Iterable[int], shot: Shot | None = None
) -> dict[int, list[PhotoCard]]:
    """Return the photos of this sort that show these subjects, by subject key, in order of time taken."""
    found: dict[int, list[PhotoCard]] = defaultdict(list)
    statement = _SHOWN_CARDS.where(*_conditions(shot)) if shot else _SHOWN_CARDS
    for row in _rows_of(look, statement, subject_keys):
        card = PhotoCard._make(row)
        found[row.subject_id].append(card)
    return found


def _rows_of(look: Look, statement: Select[Any], keys: Iterable[int]) -> Iterator[Any]:
    for chunk in in_chunks(keys):
        yield from look.all(statement, {"keys": chunk})


def subjects_of_kinds(look: Look, kinds: Collection[str], among: Collection[int] | None = None) -> set[int]:
    """Return the subjects of these kinds; among these, or among all."""
    statement = select(t.subject.c.id).where(t.subject.c.kind.in_(sorted(kinds)))
    return _keys_of_few(look, statement, t.subject.c.id, among)


@dataclass(frozen=True, slots=True)
class Shot:
    """What a photo must be to count: of a view, of a visit, of a time; None: any."""

    view: str | None = None
    visit_key: int | None = None
    taken: Period | None = None

    def __bool__(self) -> bool:
        return (self.view, self.visit_key, self.taken) != (None, None, None)


# Where a photo does not know its time, that of its visit says when.
_WHEN = func.coalesce(t.photo.c.taken, t.visit.c.first_day)


def _conditions(shot: Shot) -> list[ColumnElement[bool]]:
    """Return the conditions on photos, visits and sightings that joined rows must keep to."""
    asked: list[ColumnElement[bool]] = []
    if shot.view is not None:
        asked.append(t.sighting.c.view == shot.view)
    if shot.visit_key is not None:
        asked.append(t.photo.c.visit_id == shot.visit_key)
    if shot.taken is not None:
        if shot.taken.first is not None:
            asked.append(shot.taken.first <= _WHEN)
        if shot.taken.beyond is not None:
            asked.append(shot.taken.beyond > _WHEN)
        if shot.taken.months:
            asked.append(
                func.substr(_WHEN, 6, 2).in_([f"{month:02d}" for month in sorted(shot.taken.months)])
            )
    return asked


def subjects_shown(look: Look, shot: Shot, among: Collection[int] | None = None) -> set[int]:
    """Return the subjects that some photo of this sort shows; among these, or among all."""
    statement = select(t.sighting.c.subject_id).distinct().where(*_conditions(shot))
    if shot.visit_key is not None or shot.taken is not None:
        statement = statement.join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        statement = statement.join(t.visit, t.visit.c.id == t.photo.c.visit_id)
    return _keys_of_few(look, statement, t.sighting.c.subject_id, among)


def subjects_on(look: Look, photo_keys: Collection[int]) -> set[int]:
    """Return the subjects that these photos show."""
    return _keys(look, select(t.sighting.c.subject_id), t.sighting.c.photo_id, photo_keys)


_SHOWS_NOTHING = ~exists().where(t.sighting.c.photo_id == t.photo.c.id)


def loose_photos(look: Look, shot: Shot, among: Collection[int] | None = None) -> set[int]:
    """Return the photos of this sort that show no subject yet, among these or all; one that must be of a view shows one."""
    if shot.view is not None:
        return set()
    statement = select(t.photo.c.id).where(_SHOWS_NOTHING, *_conditions(shot))
    return _keys_of_few(
        look, statement.join(t.visit, t.visit.c.id == t.photo.c.visit_id), t.photo.c.id, among
    )


def subjects_with_sizes(
    look: Look, label_keys: Collection[str] | None, among: Collection[int] | None = None
) -> set[int]:
    """Return the subjects, among these or all, that have a best figure for a size of these labels, or for any."""
    statement = select(t.dimension.c.subject_id).join(
        t.estimate, t.estimate.c.dimension_id == t.dimension.c.id
    )
    if label_keys is not None:
        statement = statement.where(t.dimension.c.label_key.in_(list(label_keys)))
    return _keys_of_few(look, statement, t.dimension.c.subject_id, among)


@dataclass(frozen=True, slots=True)
class Spot:
    """A place and where it is, degrees; None where nobody wrote that down."""

    key: int
    name: str
    latitude: float | None
    longitude: float | None


def all_spots(look: Look) -> list[Spot]:
    """Return every place."""
    rows = look.all(select(t.place.c.id, t.place.c.name, t.place.c.latitude, t.place.c.longitude))
    return [Spot(*tuple(row)) for row in rows]


def positions_at(look: Look, place_key: int) -> list[tuple[float, float]]:
    """Return the latitudes and longitudes that the photos of visits to a place were taken at."""
    statement = (
        select(t.photo.c.latitude, t.photo.c.longitude)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .where(
            t.visit.c.place_id == place_key, t.photo.c.latitude.is_not(None), t.photo.c.longitude.is_not(None)
        )
    )
    return [(row.latitude, row.longitude) for row in look.all(statement)]


class Standing(NamedTuple):
    """A subject, or a photo that shows none, and a position that it was photographed from, degrees."""

    key: int
    latitude: float
    longitude: float


Box = tuple[float, float, float, float]  # its south, north, west and east ends, degrees


def _taken_within(box: Box, among: Collection[int] | None) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    south, north, west, east = box
    latitude = t.photo.c.latitude if among is None else _not_first(t.photo.c.latitude)
    return latitude.between(south, north), t.photo.c.longitude.between(west, east)


def subjects_seen_within(look: Look, box: Box, among: Collection[int] | None = None) -> list[Standing]:
    """Return the subjects that were photographed from within a box, among these or all, with where from."""
    statement = (
        select(t.sighting.c.subject_id, t.photo.c.latitude, t.photo.c.longitude)
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .where(*_taken_within(box, among))
    )
    return [Standing(*row) for row in _of_few(look, statement, t.sighting.c.subject_id, among)]


def loose_photos_within(look: Look, box: Box, among: Collection[int] | None = None) -> list[Standing]:
    """Return the photos that show no subject and were taken within a box, among these or all."""
    statement = select(t.photo.c.id, t.photo.c.latitude, t.photo.c.longitude).where(
        _SHOWS_NOTHING, *_taken_within(box, among)
    )
    return [Standing(*row) for row in _of_few(look, statement, t.photo.c.id, among)]


def subjects_at(look: Look, place_keys: Collection[int], among: Collection[int] | None = None) -> set[int]:
    """Return the subjects of these places, among these or all.

    A subject belongs to its own place, and with every photo that does not know its own position to that
    of the photo's visit.
    """
    own = select(t.subject.c.id).where(t.subject.c.place_id.in_(list(place_keys)))
    place = t.visit.c.place_id if among is None else _not_first(t.visit.c.place_id)
    nowhere = _not_first(t.photo.c.latitude).is_(None)  # as most photos of many people are
    shown = (
        select(t.sighting.c.subject_id)
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .where(place.in_(list(place_keys)), nowhere)
    )
    return _keys_of_few(look, own, t.subject.c.id, among) | _keys_of_few(
        look, shown, t.sighting.c.subject_id, among
    )


def loose_photos_at(
    look: Look, place_keys: Collection[int], among: Collection[int] | None = None
) -> set[int]:
    """Return the photos, among these or all, that show no subject, know no position, and are of visits to these places."""
    place = t.visit.c.place_id if among is None else _not_first(t.visit.c.place_id)
    nowhere = _not_first(t.photo.c.latitude).is_(None)  # as most photos of many people are
    statement = (
        select(t.photo.c.id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .where(place.in_(list(place_keys)), nowhere, _SHOWS_NOTHING)
    )
    return _keys_of_few(look, statement, t.photo.c.id, among)


@dataclass(frozen=True, slots=True)
class Tally:
    """How many subjects are of each kind (its id), at each place, and were photographed in each year.

    Photos that show no subject are counted in the years that they were taken in.
    """

    kinds: Mapping[str, int]
    places: Mapping[str, int]
    years: Mapping[str, int]


_YEAR = func.substr(_WHEN, 1, 4)


def tally(look: Look, subject_keys: Collection[int], photo_keys: Collection[int]) -> Tally:
    """Return the counts over these subjects and these photos, which show none."""
    about = select(t.subject.c.id, t.subject.c.kind, t.place.c.name).outerjoin(
        t.place, t.place.c.id == t.subject.c.place_id
    )
    seen = (
        select(t.sighting.c.subject_id, _YEAR.label("year"))
        .join(t.photo, t.photo.c.id == t.sighting.c.photo_id)
        .join(t.visit, t.visit.c.id == t.photo.c.visit_id)
        .distinct()
    )
    alone = select(t.photo.c.id, _YEAR.label("year")).join(t.visit, t.visit.c.id == t.photo.c.visit_id)
    kinds: Counter[str] = Counter()
    places: Counter[str] = Counter()
    for row in _of_few(look, about, t.subject.c.id, subject_keys):
        kinds.update([row.kind] if row.kind else [])
        places.update([row.name] if row.name else [])
    years = Counter(r.year for r in _of_few(look, seen, t.sighting.c.subject_id, subject_keys) if r.year)
    years.update(r.year for r in _of_few(look, alone, t.photo.c.id, photo_keys) if r.year)
    return Tally(kinds, places, years)


def coverage_of(look: Look, subject_keys: Iterable[int]) -> dict[int, tuple[int, int]]:
    """Return how many views of a subject there are and how many of its sizes are known by measuring."""
    views = select(t.sighting.c.subject_id, func.count(t.sighting.c.view.distinct()).label("many")).group_by(
        t.sighting.c.subject_id
    )
    known = (
        select(t.dimension.c.subject_id, func.count().label("many"))
        .join(t.estimate, t.estimate.c.dimension_id == t.dimension.c.id)
        .where(t.estimate.c.grade.in_(KNOWN_GRADES))
        .group_by(t.dimension.c.subject_id)
    )
    found: dict[int, tuple[int, int]] = {}
    for chunk in in_chunks(subject_keys):
        seen = {r.subject_id: r.many for r in look.all(views.where(t.sighting.c.subject_id.in_(chunk)))}
        sizes = {r.subject_id: r.many for r in look.all(known.where(t.dimension.c.subject_id.in_(chunk)))}
        found.update({key: (seen.get(key, 0), sizes.get(key, 0)) for key in chunk})
    return found
