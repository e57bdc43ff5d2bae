"""The tables. Every table has an integer key `id`, so that the change log can name any row.

`*_key` columns are casefold(NFKC(name)), written by Python (`names.name_key`); uniqueness is on them.
Times and days are ISO 8601 text: they sort, and no database disagrees about them.
"""

from __future__ import annotations

from sqlalchemy import Boolean, Column, ForeignKey, Index, MetaData, Table, UniqueConstraint, types

# One of each for all columns: SQLAlchemy then fits it to the database once, and not for every column.
Text, Integer, Float, JSON = types.Text(), types.Integer(), types.Float(), types.JSON()

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

DERIVED = {"derived": True}  # rows that are worked out from others; an undo works them out anew
IN_PASSING = {
    "kept_if_needed": True
}  # rows made with others: an undo leaves them to those that need them since


def _worked_out(*columns: str) -> dict[str, object]:
    """Columns that are worked out from other rows, in rows that are not: an undo works them out anew."""
    return {"worked_out": frozenset(columns)}


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _public_id() -> Column[str]:
    return Column("public_id", Text, nullable=False, unique=True)


def _to(table: str, name: str | None = None, *, needed: bool = True) -> Column[int]:
    return Column(name or f"{table}_id", ForeignKey(f"{table}.id"), nullable=not needed, index=True)


place = Table(
    "place",
    metadata,
    _id(),
    _public_id(),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("latitude", Float),
    Column("longitude", Float),
    Column("notes", Text),
    info=IN_PASSING,
)

visit = Table(
    "visit",
    metadata,
    _id(),
    _public_id(),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    _to("place", needed=False),
    Column("first_day", Text),
    Column("last_day", Text),
    Column("zone", Text, nullable=False),
    Column("people", Text),
    Column("access_notes", Text),
    Column("folder", Text, nullable=False),
    Column("folder_key", Text, nullable=False, unique=True),
)

visit_name = Table(
    "visit_name",
    metadata,
    _id(),
    _to("visit"),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
)

photo = Table(
    "photo",
    metadata,
    _id(),
    _public_id(),
    _to("visit"),
    Column("file", Text, nullable=False),
    Column("file_key", Text, nullable=False, index=True),
    Column("stem_key", Text, nullable=False, index=True),
    Column("width", Integer),
    Column("height", Integer),
    Column("stored_width", Integer),
    Column("stored_height", Integer),
    Column("orientation", Integer),
    Column("taken", Text, index=True),
    Column("taken_as_read", Text),
    Column("utc_offset", Text),
    Column("subsecond", Text),
    Column("make", Text),
    Column("model", Text),
    Column("lens", Text),
    Column("focal_mm", Float),
    Column("focal_35mm", Float),
    Column("latitude", Float),
    Column("longitude", Float),
    Column("altitude_m", Float),
    Column("bearing_deg", Float),
    Column("bearing_reference", Text),
    Column("caption", Text),
    Column("keywords", JSON, nullable=False),
    Column("creator", Text),
    Column("rights", Text),
    Column("readers", JSON, nullable=False),
    Column("warnings", JSON, nullable=False),
    Index("ix_photo_latitude_longitude", "latitude", "longitude"),
    Column("clock_ahead_s", Integer),  # what was taken off the time that the camera wrote
    Column("page", Integer),  # of a file with several, from 1
    _to("photo", "page_of_id", needed=False),  # the photo that holds the file, where it is not this one
    Column("paper_width_mm", Float),
    Column("paper_height_mm", Float),
    Column("position_from", Text),
    Column("position_radius_m", Float),
    Column("utc_offset_by_gps", Text),
    Column("digital_zoom", Float),
    Column("width_as_taken", Integer),
    Column("height_as_taken", Integer),
    Column("sensor_px_per_mm", Float),
    Column("ordered_at", Text),  # and name_order: where it stands among the photos of its visit
    Column("name_order", Text),
    info=_worked_out(
        "taken",
        "clock_ahead_s",
        "latitude",
        "longitude",
        "position_from",
        "position_radius_m",
        "ordered_at",
        "name_order",
    ),
)

# By how much a camera's clock was ahead on a visit: of all its photos, or of those that it wrote between two moments.
clock = Table(
    "clock",
    metadata,
    _id(),
    _to("visit"),
    Column("camera", Text, nullable=False),
    Column("ahead_s", Integer, nullable=False),
    Column("first_read", Text),
    Column("last_read", Text),
)

# What a photo looks like, for finding the same picture again; '' for an even surface. Follows from the picture.
fingerprint = Table(
    "fingerprint",
    metadata,
    _id(),
    Column("photo_id", ForeignKey("photo.id"), nullable=False, unique=True),
    Column("bits", Text, nullable=False),
    info=DERIVED,
)

original = Table(
    "original",
    metadata,
    _id(),
    _to("photo"),
    Column("role", Text, nullable=False),
    Column("stored_path", Text, nullable=False),
    Column("path_key", Text, nullable=False, unique=True),
    Column("name_as_found", Text, nullable=False),
    Column("sha256", Text, nullable=False, unique=True),
    Column("bytes", Integer, nullable=False),
)

# Films and voice notes that no photo came with: a walk round a thing holds readings.
visit_file = Table(
    "visit_file",
    metadata,
    _id(),
    _public_id(),
    _to("visit"),
    Column("role", Text, nullable=False),
    Column("stored_path", Text, nullable=False),
    Column("path_key", Text, nullable=False, unique=True),
    Column("name_as_found", Text, nullable=False),
    Column("sha256", Text, nullable=False, unique=True),
    Column("bytes", Integer, nullable=False),
)

# The points of a GPS track that is kept as a visit's file: seconds UTC since 1970, degrees north, degrees east.
track = Table(
    "track",
    metadata,
    _id(),
    Column("visit_file_id", ForeignKey("visit_file.id"), nullable=False, unique=True),
    Column("points", JSON, nullable=False),
)

removed_file = Table(
    "removed_file",
    metadata,
    _id(),
    Column("photo", Text, nullable=False),  # its public id, or the visit file's, for that itself is gone
    Column("file", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("stored_path", Text, nullable=False),
    Column("path_key", Text, nullable=False, unique=True),
    Column("sha256", Text, nullable=False, index=True),
    Column("bytes", Integer, nullable=False),
)

HELD = (original, visit_file)  # the tables whose rows are files that the archive keeps
ON_DISK = (*HELD, removed_file)  # and those that were taken out

# Which files a committed change still has to move; no part of the history.
pending_move = Table(
    "pending_move",
    metadata,
    _id(),
    Column("from_path", Text, nullable=False),
    Column("to_path", Text, nullable=False),
    Column("sha256", Text, nullable=False),
)

kind = Table(
    "kind",
    metadata,
    _id(),
    Column("slug", Text, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("broader", Text, nullable=False),
    Column("words", JSON, nullable=False),
    Column("views", JSON, nullable=False),
    Column("sizes", JSON, nullable=False),
)

subject = Table(
    "subject",
    metadata,
    _id(),
    _public_id(),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("kind", Text),
    _to("subject", "part_of_id", needed=False),
    _to("place", needed=False),
    Column("maker", Text),
    Column("numbers", Text),
    Column("era", Text),
    Column("notes", Text),
)

subject_name = Table(
    "subject_name",
    metadata,
    _id(),
    _to("subject"),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
)

sighting = Table(
    "sighting",
    metadata,
    _id(),
    _public_id(),
    _to("photo"),
    _to("subject"),
    Column("view", Text),
    Column("mirrored", Boolean, nullable=False),
    Column("region", JSON),
    UniqueConstraint("photo_id", "subject_id"),
    Index("ix_sighting_subject_id_view", "subject_id", "view"),
)

instrument = Table(
    "instrument",
    metadata,
    _id(),
    _public_id(),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("kind", Text),
    Column("resolution_mm", Float),
    Column("limit_as_written", Text),
    Column("limit_constant_mm", Float),
    Column("limit_per_mm", Float),
    Column("steady", Boolean, nullable=False),
    Column("notes", Text),
    Column("drawn_at", Text),
)

# What the person knows to be usual for a kind of instrument, in place of what the program begins with.
usual_limit = Table(
    "usual_limit",
    metadata,
    _id(),
    Column("kind", Text, nullable=False, unique=True),
    Column("limit_as_written", Text, nullable=False),
    Column("limit_constant_mm", Float, nullable=False),
    Column("limit_per_mm", Float, nullable=False),
    Column("resolution_mm", Float),
    Column("why", Text, nullable=False),
)

dimension = Table(
    "dimension",
    metadata,
    _id(),
    _public_id(),
    _to("subject"),
    Column("label", Text, nullable=False),
    Column("label_key", Text, nullable=False, index=True),
    Column("state", Text, nullable=False),
    Column("state_key", Text, nullable=False),
    Column("span", Text, nullable=False),
    Column("quantity", Text, nullable=False),
    UniqueConstraint("subject_id", "label_key", "state_key", "span"),
    info=IN_PASSING,
)

reading = Table(
    "reading",
    metadata,
    _id(),
    _public_id(),
    _to("dimension"),
    Column("as_written", Text, nullable=False),
    Column("quantity", Text, nullable=False),
    Column("value", Float, nullable=False),
    Column("unit", Text, nullable=False),
    Column("value_mm", Float),
    Column("resolution", Float),
    Column("resolution_mm", Float),
    Column("tolerance", Float),
    Column("approximate", Boolean, nullable=False),
    Column("grade", Text, nullable=False),
    Column("rests_on", Text),
    Column("sister_tolerance", Float),
    _to("instrument", needed=False),
    _to("photo", needed=False),
    _to("visit", needed=False),
    Column("taken_on", Text),
    _to("reading", "replaces_id", needed=False),
    Column("derived_by", Text),
    Column("set_aside", Text),
    Column("note", Text),
    info=_worked_out("as_written", "value", "value_mm"),  # they change only where `derived_by` is set
)

# Positions read along one hooked tape; its readings are the sizes between them, by their place.
tape_run = Table(
    "tape_run",
    metadata,
    _id(),
    _public_id(),
    _to("subject"),
    Column("title", Text, nullable=False),
    Column("title_key", Text, nullable=False),
    Column("as_written", Text, nullable=False),
    _to("tape_run", "replaces_id", needed=False),
)

run_reading = Table(
    "run_reading",
    metadata,
    _id(),
    _to("tape_run"),
    Column("reading_id", ForeignKey("reading.id"), nullable=False, unique=True),
    Column("place", Integer, nullable=False),
)

# A sum that must come out, and the sizes in it by their number in the writing (None: taken out since).
tally = Table(
    "tally",
    metadata,
    _id(),
    _public_id(),
    _to("subject"),
    Column("as_written", Text, nullable=False),
    Column("outcome", JSON, nullable=False),
    info=_worked_out("outcome"),
)

tally_size = Table(
    "tally_size",
    metadata,
    _id(),
    _to("tally"),
    Column("number", Integer, nullable=False),
    _to("dimension", needed=False),
    UniqueConstraint("tally_id", "number"),
)

mark = Table(
    "mark",
    metadata,
    _id(),
    _public_id(),
    _to("photo"),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False),
    Column("x_px", Float, nullable=False),
    Column("y_px", Float, nullable=False),
    Column("clear", Text, nullable=False),
    Column("snapped", Text),
    Column("sigma_px", Float),
    UniqueConstraint("photo_id", "name_key"),
)

derivation = Table(
    "derivation",
    metadata,
    _id(),
    _public_id(),
    _to("photo", needed=False),
    Column("method", Text, nullable=False),
    Column("recipe", JSON, nullable=False),
    Column("solved", Boolean, nullable=False),
    Column("why", Text),
    Column("results", JSON, nullable=False),
    info=_worked_out("solved", "why", "results"),
)

# What a recipe leans on: its known sizes by their number in it, and its marks.
derivation_input = Table(
    "derivation_input",
    metadata,
    _id(),
    _to("derivation"),
    Column("number", Integer, nullable=False),
    _to("dimension", needed=False),
    UniqueConstraint("derivation_id", "number"),
)

derivation_mark = Table(
    "derivation_mark",
    metadata,
    _id(),
    _to("derivation"),
    _to("mark"),
    UniqueConstraint("derivation_id", "mark_id"),
)

# `camera` is its make and model, or the id of a photo that names none; pixels and centre are those of the stored picture,
# the centre counted from the middle. `factor` times unit sources is the joint doubt of strength and centre.
lens = Table(
    "lens",
    metadata,
    _id(),
    Column("derivation_id", ForeignKey("derivation.id"), nullable=False, unique=True),
    Column("camera", Text, nullable=False, index=True),
    Column("focal_mm", Float),
    Column("width", Integer, nullable=False),
    Column("height", Integer, nullable=False),
    Column("model", Text, nullable=False),
    Column("strength", Float, nullable=False),
    Column("off_x_px", Float, nullable=False),
    Column("off_y_px", Float, nullable=False),
    Column("norm_radius_px", Float, nullable=False),
    Column("factor", JSON, nullable=False),
    info=DERIVED,
)

# What an instrument read of a length known better, on a day.
instrument_check = Table(
    "instrument_check",
    metadata,
    _id(),
    _public_id(),
    _to("instrument"),
    Column("reference_as_written", Text, nullable=False),
    Column("reference_mm", Float, nullable=False),
    Column("reference_resolution_mm", Float),
    Column("reference_tolerance_mm", Float),
    Column("reference_approximate", Boolean, nullable=False),
    Column("reading_as_written", Text, nullable=False),
    Column("reading_mm", Float, nullable=False),
    Column("reading_resolution_mm", Float),
    _to("visit", needed=False),
    Column("taken_on", Text),
)

source = Table(
    "source",
    metadata,
    _id(),
    Column("kind", Text, nullable=False),
    Column("of_record", Text, nullable=False),
    Column("component", Text, nullable=False),
    Column("degrees_of_freedom", Float),
    Column("distribution", Text, nullable=False),
    UniqueConstraint("of_record", "kind", "component"),
    info=DERIVED | IN_PASSING,
)

reading_source = Table(
    "reading_source",
    metadata,
    _id(),
    _to("reading"),
    _to("source"),
    Column("sensitivity", Float, nullable=False),
    UniqueConstraint("reading_id", "source_id"),
    info=DERIVED,
)

estimate = Table(
    "estimate",
    metadata,
    _id(),
    Column("dimension_id", ForeignKey("dimension.id"), nullable=False, unique=True),
    Column("quantity", Text, nullable=False),
    Column("value", Float, nullable=False),
    Column("unit", Text, nullable=False),
    Column("value_mm", Float),
    Column("standard_uncertainty", Float, nullable=False),
    Column("low_95", Float, nullable=False),
    Column("high_95", Float, nullable=False),
    Column("degrees_of_freedom", Float),
    Column("agree", Boolean),
    Column("grade", Text, nullable=False),
    Column("readings", Integer, nullable=False),
    Column("formulas", Integer, nullable=False),
    Column("warnings", JSON, nullable=False),
    Index("ix_estimate_value_mm", "value_mm"),
    info=DERIVED,
)

estimate_source = Table(
    "estimate_source",
    metadata,
    _id(),
    _to("estimate"),
    _to("source"),
    Column("sensitivity", Float, nullable=False),
    UniqueConstraint("estimate_id", "source_id"),
    info=DERIVED,
)

# What was decided about a size by its label: wanted (to a precision: constant + share x size), it has none, not needed.
wanted_size = Table(
    "wanted_size",
    metadata,
    _id(),
    _to("subject"),
    Column("label", Text, nullable=False),
    Column("label_key", Text, nullable=False),
    Column("decision", Text, nullable=False),
    Column("precision_as_written", Text),
    Column("precision_constant", Float),
    Column("precision_share", Float),
    UniqueConstraint("subject_id", "label_key"),
)

# How many sizes are missing, how many would do at no scale, and the half-width of the roughest other.
verdict = Table(
    "verdict",
    metadata,
    _id(),
    Column("subject_id", ForeignKey("subject.id"), nullable=False, unique=True),
    Column("missing", Integer, nullable=False),
    Column("unfit", Integer, nullable=False),
    Column("roughest_mm", Float),
    info=DERIVED,
)

# Words and conditions of a search, by what the finder calls them.
kept_search = Table(
    "kept_search",
    metadata,
    _id(),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("asked", JSON, nullable=False),
)

build = Table(
    "build",
    metadata,
    _id(),
    _public_id(),
    Column("name", Text, nullable=False),
    Column("name_key", Text, nullable=False, unique=True),
    Column("scale_as_written", Text, nullable=False),
    Column("ratio_numerator", Integer, nullable=False),
    Column("ratio_denominator", Integer, nullable=False),
    Column("process", Text),
    Column("tolerance_as_written", Text),
    Column("tolerance_mm", Float),
    Column("notes", Text),
)

build_subject = Table(
    "build_subject",
    metadata,
    _id(),
    _to("build"),
    _to("subject"),
    UniqueConstraint("build_id", "subject_id"),
)

change = Table(
    "change",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("act", Integer, nullable=False, index=True),
    Column("at_utc", Text, nullable=False),
    Column("door", Text, nullable=False),
    Column("sentence", Text, nullable=False),
    Column("undoes", Integer, index=True),
    Column("before", JSON, nullable=False),
    Column("after", JSON, nullable=False),
    Column("highest_keys", JSON, nullable=False),
)
