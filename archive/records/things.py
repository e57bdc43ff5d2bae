"""The records as plain dataclasses: what the rest of the program sees of the tables.

`key` is the internal number, `id` the public one that never changes. Unknown is None.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from archive.wording import in_brackets, is_wider


@dataclass(frozen=True, slots=True)
class Place:
    """Where visits go."""

    key: int
    id: str
    name: str
    latitude: float | None
    longitude: float | None
    notes: str | None


@dataclass(frozen=True, slots=True)
class Visit:
    """A trip to a place on one or more days; `zone` is an IANA name, days are ISO 8601."""

    key: int
    id: str
    name: str
    place: str | None
    first_day: str | None
    last_day: str | None
    zone: str
    people: str | None
    access_notes: str | None
    folder: str
    photos: int


@dataclass(frozen=True, slots=True)
class Original:
    """One file kept byte for byte; `stored_path` is relative to the archive, with forward slashes."""

    role: str
    stored_path: str
    name_as_found: str
    sha256: str
    bytes: int


@dataclass(frozen=True, slots=True)
class VisitFile:
    """A film, voice note or GPS track of a visit that no photo came with; `role` is 'film', 'sound', 'track' or 'sidecar'."""

    key: int
    id: str
    role: str
    stored_path: str
    name_as_found: str
    sha256: str
    bytes: int

    @property
    def file(self) -> str:
        """Its name in the archive."""
        return self.stored_path.rpartition("/")[2]


@dataclass(frozen=True, slots=True)
class Region:
    """A part of a photo: whole px of the upright picture at full resolution, counted from its upper left corner."""

    left_px: int
    top_px: int
    width_px: int
    height_px: int

    def __str__(self) -> str:
        right, bottom = self.left_px + self.width_px, self.top_px + self.height_px
        return f"{self.left_px},{self.top_px} to {right},{bottom} px"


@dataclass(frozen=True, slots=True)
class Sighting:
    """'This photo shows that subject', seen from `view`; `region` is the part of the photo that it fills, where that was said."""

    key: int
    id: str
    photo_id: str
    photo_file: str
    subject_id: str
    subject_name: str
    view: str | None
    mirrored: bool
    region: Region | None


@dataclass(frozen=True, slots=True)
class Warned:
    """Something the person should know of; the code is stable, the message may be bettered."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class Photo:
    """One picture of a visit, with its originals and what its metadata says.

    `width` and `height` are upright, in pixels; `taken` is local to the place, clock corrected by `clock_ahead_s`;
    `taken_as_read` is what the camera wrote. `position_from` is 'file', or how a track gave the place, within
    `position_radius_m` about 95 times in 100. `page` counts from 1, of a file with several; photos of its other pages
    have the same originals. The paper is that of a drawing's page. `utc_offset` is the one in the file's tags,
    `utc_offset_by_gps` the one that satellite time implies. `width_as_taken` and `height_as_taken` are those that the
    camera wrote, as stored; `sensor_px_per_mm` is the sensor's resolution at that size. Photos are put in order by
    `turn_key`.
    """

    key: int
    id: str
    file: str
    visit_key: int
    page_of_key: int | None
    turn_key: tuple[bool, str, str, str, int, int]
    visit: str
    width: int | None
    height: int | None
    stored_width: int | None
    stored_height: int | None
    orientation: int | None
    page: int | None
    paper_width_mm: float | None
    paper_height_mm: float | None
    taken: str | None
    taken_as_read: str | None
    clock_ahead_s: int | None
    utc_offset: str | None
    utc_offset_by_gps: str | None
    subsecond: str | None
    make: str | None
    model: str | None
    lens: str | None
    focal_mm: float | None
    focal_35mm: float | None
    digital_zoom: float | None
    width_as_taken: int | None
    height_as_taken: int | None
    sensor_px_per_mm: float | None
    latitude: float | None
    longitude: float | None
    position_from: str | None
    position_radius_m: float | None
    altitude_m: float | None
    bearing_deg: float | None
    bearing_reference: str | None
    caption: str | None
    keywords: tuple[str, ...]
    creator: str | None
    rights: str | None
    readers: Mapping[str, str]
    warnings: tuple[Warned, ...]
    originals: tuple[Original, ...]
    sightings: tuple[Sighting, ...]

    @property
    def page_index(self) -> int:
        """Its page as `pictures` counts them, from 0."""
        return (self.page or 1) - 1

    @property
    def picture(self) -> Original:
        """The original that is the picture itself."""
        return next((o for o in self.originals if o.role == "picture"), self.originals[0])


@dataclass(frozen=True, slots=True)
class Subject:
    """One thing that can be modelled. `kind` is a kind's id; `also` holds its other names."""

    key: int
    id: str
    name: str
    also: tuple[str, ...]
    kind: str | None
    part_of: str | None
    place: str | None
    maker: str | None
    numbers: str | None
    era: str | None
    notes: str | None


@dataclass(frozen=True, slots=True)
class Instrument:
    """What takes readings; `limit_per_mm` is the part of its limit that grows with the length, mm per mm."""

    key: int
    id: str
    name: str
    kind: str | None
    resolution_mm: float | None
    limit_as_written: str | None
    limit_constant_mm: float | None
    limit_per_mm: float | None
    steady: bool
    notes: str | None
    drawn_at: str | None = None  # the scale of a drawing, as written


@dataclass(frozen=True, slots=True)
class UsualLimit:
    """What the person knows to be usual for a kind of instrument (of a drawing: on the paper), and from where."""

    kind: str
    limit_as_written: str
    limit_constant_mm: float
    limit_per_mm: float
    resolution_mm: float | None
    why: str


@dataclass(frozen=True, slots=True)
class Check:
    """One comparison of an instrument with a length known better, as it was written down; lengths in mm."""

    key: int
    id: str
    instrument_key: int
    reference_as_written: str
    reference_mm: float
    reference_resolution_mm: float | None
    reference_tolerance_mm: float | None
    reference_approximate: bool
    reading_as_written: str
    reading_mm: float
    reading_resolution_mm: float | None
    visit: str | None
    taken_on: str | None


@dataclass(frozen=True, slots=True)
class Dimension:
    """One size of a subject that has one true value; identity is subject, label, state and span."""

    key: int
    id: str
    subject_key: int
    subject: str
    label: str
    state: str
    span: str
    quantity: str

    @property
    def called(self) -> str:
        """The label, with span and state where they are not the usual: 'door width (over, as built)'."""
        span = self.span if self.span != "plain" else None
        return self.label + in_brackets(span, self.state if self.state != "as found" else None)


@dataclass(frozen=True, slots=True)
class Reading:
    """One observation of a dimension, append-only; `value` is in `unit`, lengths in mm as `value_mm` too."""

    key: int
    id: str
    dimension_key: int
    dimension: str
    as_written: str
    quantity: str
    value: float
    unit: str
    value_mm: float | None
    resolution: float | None
    resolution_mm: float | None
    tolerance: float | None
    approximate: bool
    grade: str
    rests_on: str | None
    sister_tolerance: float | None
    instrument_key: int | None
    photo_key: int | None
    visit_key: int | None
    instrument: str | None
    photo: str | None
    visit: str | None
    taken_on: str | None
    replaces: str | None
    replaced: bool
    derived_by: str | None
    set_aside: str | None
    note: str | None

    @property
    def stands(self) -> bool:
        """Whether it was neither corrected nor set aside since."""
        return not self.replaced and self.set_aside is None


@dataclass(frozen=True, slots=True)
class TapeRun:
    """Positions read along one hooked tape, as they were written down."""

    key: int
    id: str
    title: str
    as_written: str


@dataclass(frozen=True, slots=True)
class Tally:
    """A sum that must come out. `dimension_keys` are its sizes in the order named; None where one was taken out.

    `outcome` has `why` where it cannot be used, else `quantity`, `left_over`, `standard_uncertainty` of that,
    `comes_out`, and the ids of `suspects`; all in the unit of its sizes.
    """

    key: int
    id: str
    subject_key: int
    subject: str
    as_written: str
    dimension_keys: tuple[int | None, ...]
    outcome: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Estimate:
    """What all readings of a dimension say together; numbers in `unit`."""

    key: int
    dimension_key: int
    quantity: str
    value: float
    unit: str
    value_mm: float | None
    standard_uncertainty: float
    low_95: float
    high_95: float
    degrees_of_freedom: float | None
    agree: bool | None
    grade: str
    readings: int
    warnings: tuple[Warned, ...]


@dataclass(frozen=True, slots=True)
class PhotoMark:
    """A named point that somebody put on a photo, px of the upright picture at full resolution.

    `clear` is 'crisp', 'plain' or 'worn'; `snapped` 'corner' or 'edge' where the picture moved it, and
    `sigma_px` what that left of doubt.
    """

    key: int
    id: str
    photo_key: int
    photo: str
    name: str
    x_px: float
    y_px: float
    clear: str
    snapped: str | None
    sigma_px: float | None


@dataclass(frozen=True, slots=True)
class Derivation:
    """How sizes are worked out from a photo: a recipe, and what came of it last.

    `input_keys` are the keys of the sizes that it starts from, by their number in the recipe; None where one
    was taken out since. `why` tells why it no longer solves. `results` has one entry for each asked size.
    """

    key: int
    id: str
    photo_key: int | None
    photo: str | None
    method: str
    recipe: Mapping[str, Any]
    input_keys: Mapping[int, int | None]
    solved: bool
    why: str | None
    results: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class KeptLens:
    """The distortion of a camera at one focal length and pixel size, as found by one derivation.

    Pixels are those of the stored picture; the centre counts from its middle. `factor` (3 x N) times N
    independent unit sources is the joint doubt of strength and centre.
    """

    derivation: str
    camera: str
    focal_mm: float | None
    width: int
    height: int
    model: str
    strength: float
    off_x_px: float
    off_y_px: float
    norm_radius_px: float
    factor: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class WantedSize:
    """What was decided about a size of a subject: 'wanted', 'it has none' or 'not needed'.

    Where a precision was given, ± (constant + share x size) will do; the constant is in the size's unit.
    """

    key: int
    label: str
    decision: str
    precision_as_written: str | None
    precision_constant: float | None
    precision_share: float | None


USUAL_TOLERANCE_MM = 0.2  # on the model, where a build says none


@dataclass(frozen=True, slots=True)
class Verdict:
    """How the sizes of a subject stand: how many are missing, how many would do at no scale (they disagree, or are
    rougher than was asked), and the half-width of the 95 % interval of the roughest of the others, mm.
    """

    missing: int
    unfit: int
    roughest_mm: float | None

    def good_for(self, ratio: float, tolerance_mm: float) -> bool:
        """Whether all sizes are known to the tolerance on a model at 1:ratio."""
        rough = is_wider(self.roughest_mm or 0.0, tolerance_mm * ratio)
        return not self.missing and not self.unfit and not rough


@dataclass(frozen=True, slots=True)
class KeptSearch:
    """A search kept by a name: its words and conditions, by what `search.find` calls them."""

    key: int
    name: str
    asked: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Build:
    """A model project; `ratio` is prototype over model, exact."""

    key: int
    id: str
    name: str
    scale_as_written: str
    ratio: Fraction
    process: str | None
    tolerance_as_written: str | None
    tolerance_mm: float | None
    notes: str | None
    subjects: tuple[Subject, ...]


def as_json(thing: Any, **more: Any) -> dict[str, Any]:
    """Return a record for a JSON document: internal keys left out, numbers unrounded."""
    fields = {name: getattr(thing, name) for name in thing.__dataclass_fields__}
    shown = {name: value for name, value in fields.items() if name != "key" and not name.endswith("_key")}
    return {**shown, **more}
