"""What a reference pack says, before any of it is drawn or written.

The numbers are unrounded; every `..._text` was rounded to its doubt and phrased by `archive.wording`,
so that the PDF, the page and the command line say the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path

from archive.kinds.parts import part_of
from archive.records.things import Region, Warned

USUAL_STATE = "as found"
PLAIN_SPAN = "plain"


@dataclass(frozen=True, slots=True)
class PackSubject:
    """A real thing that the build models."""

    name: str
    kind: str
    maker: str | None = None
    era: str | None = None
    notes: str | None = None
    place: str | None = None
    visits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ModelSize:
    """A length at the build's scale; its doubt is the real one's, scaled."""

    text: str  # '31.5 ± 0.1 mm'
    value_mm: float  # on the model
    u_mm: float | None = None  # one standard uncertainty
    interval_95_mm: tuple[float, float] | None = None

    def surely_within(self, tolerance_mm: float) -> bool:
        """Return whether the 95 % interval stays within the tolerance of the figure; unknown doubt does not."""
        if self.interval_95_mm is None:
            return False
        low, high = self.interval_95_mm
        return max(high - self.value_mm, self.value_mm - low) <= tolerance_mm


@dataclass(frozen=True, slots=True)
class PackSize:
    """The best figure for one size of a subject, real and model."""

    subject: str
    label: str  # 'door height': the part, then what is measured of it
    real_text: str  # '1372 ± 6 mm'
    value: float  # in `unit`, unrounded; mm of the real thing for a length
    source_text: str  # 'long tape, 17 June 2023'
    grade: str  # 'measured', 'worked out', 'published', 'guessed', 'from a sister'
    as_written: tuple[str, ...] = ()  # of every reading that counts, character for character
    imperial_text: str = ""  # '4 ft 6 in, good to 1/4 in'; empty for what is no length
    model: ModelSize | None = None  # None for what does not scale
    quantity: str = "length"
    unit: str = "mm"
    u: float | None = None  # one standard uncertainty, in `unit`
    interval_95: tuple[float, float] | None = None
    span: str = PLAIN_SPAN
    state: str = USUAL_STATE
    warnings: tuple[Warned, ...] = ()

    @property
    def part(self) -> str:
        """The part that it is of: 'door' of 'door height'; a size of the whole stands for itself."""
        return part_of(self.label) or self.label

    @property
    def full_label(self) -> str:
        """The label with the span and the state, where they are not the usual ones."""
        span = "" if self.span == PLAIN_SPAN else f", {self.span}"
        state = "" if self.state == USUAL_STATE else f" ({self.state})"
        return f"{self.label}{span}{state}"


@dataclass(frozen=True, slots=True)
class PackSighting:
    """What a photo shows of a subject."""

    subject: str
    view: str | None
    mirrored: bool = False
    region: Region | None = None


@dataclass(frozen=True, slots=True)
class PackPhoto:
    """A photo chosen for the pack; `width` and `height` are upright pixels, what is not known is None."""

    id: str
    name: str  # of the file as it lies in the archive: 'HC20_0412.JPG'
    original: Path  # where it can be read
    width: int | None
    height: int | None
    sightings: tuple[PackSighting, ...]  # of the build's subjects only; at least one
    caption: str | None = None
    taken: datetime | None = None  # local to the place
    visit: str | None = None
    creator: str | None = None
    rights: str | None = None
    page: int = 0  # of a file with several, from 0

    @property
    def main(self) -> PackSighting:
        """The sighting that the photo is filed under."""
        return self.sightings[0]


@dataclass(frozen=True, slots=True)
class PackContent:
    """Everything that one build's pack holds."""

    build: str
    scale_text: str  # '7 mm to the foot (1:43.5)'
    ratio: Fraction  # real / model, exact
    subjects: tuple[PackSubject, ...]
    sizes: tuple[PackSize, ...]
    photos: tuple[PackPhoto, ...]  # in the order of the pack
    made_on: date
    program_version: str
    process: str | None = None
    tolerance_mm: float | None = None
    tolerance_text: str = ""  # '0.1 mm'
    photos_not_chosen: int = 0  # because there were very many

    def sizes_of(self, subject: str) -> tuple[PackSize, ...]:
        """Return the subject's sizes, part by part, each part where its first size stands."""
        own = [size for size in self.sizes if size.subject == subject]
        parts = list(dict.fromkeys(size.part for size in own))
        return tuple(sorted(own, key=lambda size: parts.index(size.part)))

    def photos_of(self, subject: str) -> tuple[PackPhoto, ...]:
        """Return the photos filed under the subject, in the order of the pack."""
        return tuple(photo for photo in self.photos if photo.main.subject == subject)

    def exceeds_tolerance(self, size: PackSize) -> bool:
        """Return whether the size's doubt on the model is larger than the build's tolerance."""
        if self.tolerance_mm is None or size.model is None:
            return False
        return not size.model.surely_within(self.tolerance_mm)


def day_text(day: date) -> str:
    """Return a day the way that people write it: '17 June 2023', whatever the machine's language."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
