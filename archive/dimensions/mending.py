"""The one thing that would mend a size most: a photo that is there already, a reading, a check."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from archive import wording
from archive.dimensions.doubts import the
from archive.dimensions.overview import SizeLine
from archive.dimensions.trust import Tools
from archive.metrology.agreement import combine
from archive.metrology.coverage import NORMAL_95
from archive.metrology.readings import limit_u_mm, rounding_u_mm
from archive.metrology.readings import reading as read
from archive.metrology.sources import Doubtful
from archive.records.changes import Look
from archive.records.things import Dimension, Instrument, Photo, Subject

# What a size from a photo is good to beside the size it starts from, and the reference of a check (judgements).
_PHOTO_SHARE, _REFERENCE_MM = 0.005, 1.0
_ON_PAPER = ("printed drawing", "book")
# Views that look straight at what they show, the likeliest to be measured from first.
_SQUARE_VIEWS = ("front", "rear", "right side", "left side", "top")
_EASE = ("photo", "check", "reading")  # at home, with the instrument, on another visit
_NO_MEND = "Read it once more."


@dataclass(frozen=True, slots=True)
class Mend:
    """One thing to do. `half_width` is what would then be left of the doubt (95 %), None where nobody can say."""

    way: str  # 'photo', 'reading', 'check', 'another reading', 'recipe'
    sentence: str
    half_width: float | None = None
    photo: str | None = None
    instrument: str | None = None


class Workshop:
    """What there is to mend a subject's sizes with: instruments, photos, and sizes that are known well."""

    def __init__(
        self, look: Look, subject: Subject, lines: Sequence[SizeLine], shown_in: Iterable[Photo]
    ) -> None:
        self._tools = Tools(look)
        self._photos = _facing(shown_in, subject)
        self._lines = lines

    def best_for(self, line: SizeLine, allowed: float) -> Mend:
        """The one thing that would mend a size that is known too roughly, or whose readings disagree.

        Of what would make it good enough, that which needs no visit goes first; else what helps most.
        """
        best, known = line.estimate, line.ledger
        if best is None or known is None:
            return self.for_missing(line.dimension.quantity, line.dimension)
        if best.agree is False:
            return Mend(
                "another reading",
                "Its readings disagree: one more, with another instrument, would tell which is wrong.",
            )
        if best.quantity != "length":
            return Mend("another reading", _NO_MEND)
        ways = [
            *self._readings(known, line.dimension),
            *self._checks(known),
            *(
                mend
                for mend in self._from_photos(best.value, line.dimension, but=_tried(line))
                if (mend.half_width or 0.0) < 0.9 * NORMAL_95 * known.standard_uncertainty
            ),
        ]
        enough = [mend for mend in ways if (mend.half_width or 0.0) <= allowed]
        if enough:
            return min(enough, key=lambda mend: _EASE.index(mend.way))
        return min(ways, key=lambda mend: mend.half_width or 0.0, default=Mend("another reading", _NO_MEND))

    def for_missing(self, quantity: str, dimension: Dimension | None = None) -> Mend:
        """How to come to a size of which nothing is known."""
        if quantity != "length":
            return Mend(
                "reading",
                "Take it on the next visit, or from a photo that shows it."
                if self._photos
                else "Take it on the next visit.",
            )
        photo = next(iter(self._from_photos(0.0, dimension)), None)
        if photo is not None:
            return photo
        tool = self._finest(_USUAL_MM)
        with_it = f" with {the(tool.name)}" if tool else ""
        return Mend("reading", f"Read it{with_it} on the next visit.", instrument=tool.name if tool else None)

    def _readings(self, known: Doubtful, dimension: Dimension) -> list[Mend]:
        found = []
        for tool in self._tools.all():
            new = self._as_read(tool, known.value, dimension.id)
            if new is None:
                continue
            left = NORMAL_95 * combine([known, new], of_record=dimension.id).u_internal
            if left < 0.9 * NORMAL_95 * known.standard_uncertainty:
                step = wording.size("length", self._step(tool))
                said = f"Read it with {the(tool.name)}, to {step}: that leaves about {_about(left)}."
                found.append(Mend("reading", said, left, instrument=tool.name))
        return found

    def _checks(self, known: Doubtful) -> list[Mend]:
        """Instruments that carry much of the doubt and keep their error: a check tells it."""
        found = []
        for tool in self._tools.all():
            own = sum(s * s for source, s in known.sensitivities.items() if source.of_record == tool.id)
            if not tool.steady or not own or self._tools.checks_of(tool):
                continue
            step = tool.resolution_mm or 0.0
            after = limit_u_mm(_REFERENCE_MM) ** 2 + rounding_u_mm(step) ** 2
            left = NORMAL_95 * sqrt(max(known.standard_uncertainty**2 - own, 0.0) + after)
            if left < 0.9 * NORMAL_95 * known.standard_uncertainty:
                said = (
                    f"Check {the(tool.name)} against a length of about this size that is known to 1 mm: "
                    f"that leaves about {_about(left)}."
                )
                found.append(Mend("check", said, left, instrument=tool.name))
        return found

    def _from_photos(
        self, value: float, dimension: Dimension | None, but: Collection[int | None] = ()
    ) -> list[Mend]:
        reference = self._reference(dimension)
        untried = [(photo, view) for photo, view in self._photos if photo.key not in but]
        if not untried or reference is None or reference.estimate is None:
            return []
        photo, view = untried[0]
        best = reference.estimate
        share = hypot(_PHOTO_SHARE, best.standard_uncertainty / best.value)
        left = NORMAL_95 * share * value if value else None
        beside = wording.size("length", best.value, (best.low_95, best.high_95))
        leaves = f": that leaves about {_about(left)}" if left else ""
        said = f"{photo.file} ({view}) may show it already, beside '{reference.dimension.label}' ({beside}); work it out from there{leaves}."
        return [Mend("photo", said, left, photo=photo.file)]

    def _reference(self, dimension: Dimension | None) -> SizeLine | None:
        """The size of the subject that is known best for its length, other than this one."""
        usable = [
            line
            for line in self._lines
            if line.estimate is not None
            and line.estimate.quantity == "length"
            and line.estimate.value > 0
            and line.estimate.agree is not False
            and line.estimate.grade in ("measured", "published")
            and (dimension is None or line.dimension.key != dimension.key)
        ]
        return min(usable, key=_relative_doubt, default=None)

    def _finest(self, length_mm: float) -> Instrument | None:
        """The instrument that would read such a length most surely."""
        sure = [(self._as_read(tool, length_mm, ""), tool) for tool in self._tools.all()]
        known = [(new.standard_uncertainty, tool.name, tool) for new, tool in sure if new is not None]
        return min(known)[2] if known else None

    def _as_read(self, tool: Instrument, length_mm: float, record: str) -> Doubtful | None:
        """What one more reading with an instrument would be, as far as its doubt goes; None where nobody knows."""
        kind = self._tools.kind_of(tool)
        error = self._tools.error_of(tool, _ANOTHER_DAY)
        if error is None or (kind is not None and kind.id in _ON_PAPER):
            return None
        exact = error.at_mm(length_mm).value
        return read(
            length_mm + exact,
            of_record=record or tool.id,
            component="next",
            resolution_mm=self._step(tool),
            instrument=error,
        )

    def _step(self, tool: Instrument) -> float:
        """The step that an instrument is read to with care, mm."""
        kind = self._tools.kind_of(tool)
        return tool.resolution_mm or (kind.resolution_mm if kind else None) or _CAREFUL_STEP_MM


_ANOTHER_DAY, _USUAL_MM, _CAREFUL_STEP_MM = "another day", 1000.0, 1.0


def _facing(photos: Iterable[Photo], subject: Subject) -> list[tuple[Photo, str]]:
    """The photos that look straight at a subject, the likeliest to measure from first."""
    seen = [
        (_SQUARE_VIEWS.index(s.view), -(p.width or 0) * (p.height or 0), p, s.view)
        for p in photos
        for s in p.sightings
        if s.subject_id == subject.id and s.view in _SQUARE_VIEWS
    ]
    return [
        (photo, view) for _, _, photo, view in sorted(seen, key=lambda each: (each[0], each[1], each[2].key))
    ]


def _tried(line: SizeLine) -> set[int | None]:
    """The photos that the size was worked out from already."""
    return {reading.photo_key for reading in line.readings if reading.derived_by is not None}


def _relative_doubt(line: SizeLine) -> float:
    assert line.estimate is not None
    return line.estimate.standard_uncertainty / line.estimate.value


def _about(half_width: float) -> str:
    return wording.doubt("length", half_width)
