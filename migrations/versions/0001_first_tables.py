"""The first tables: visits, photos, subjects, sizes with their error sources, builds, the history."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "build",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("scale_as_written", sa.Text(), nullable=False),
        sa.Column("ratio_numerator", sa.Integer(), nullable=False),
        sa.Column("ratio_denominator", sa.Integer(), nullable=False),
        sa.Column("process", sa.Text(), nullable=True),
        sa.Column("tolerance_as_written", sa.Text(), nullable=True),
        sa.Column("tolerance_mm", sa.Float(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_build")),
        sa.UniqueConstraint("name_key", name=op.f("uq_build_name_key")),
        sa.UniqueConstraint("public_id", name=op.f("uq_build_public_id")),
    )
    op.create_table(
        "change",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("act", sa.Integer(), nullable=False),
        sa.Column("at_utc", sa.Text(), nullable=False),
        sa.Column("door", sa.Text(), nullable=False),
        sa.Column("sentence", sa.Text(), nullable=False),
        sa.Column("undoes", sa.Integer(), nullable=True),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("after", sa.JSON(), nullable=False),
        sa.Column("highest_keys", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_change")),
    )
    op.create_index(op.f("ix_change_act"), "change", ["act"], unique=False)
    op.create_index(op.f("ix_change_undoes"), "change", ["undoes"], unique=False)
    op.create_table(
        "instrument",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=True),
        sa.Column("resolution_mm", sa.Float(), nullable=True),
        sa.Column("limit_as_written", sa.Text(), nullable=True),
        sa.Column("limit_constant_mm", sa.Float(), nullable=True),
        sa.Column("limit_per_mm", sa.Float(), nullable=True),
        sa.Column("steady", sa.Boolean(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
        sa.UniqueConstraint("name_key", name=op.f("uq_instrument_name_key")),
        sa.UniqueConstraint("public_id", name=op.f("uq_instrument_public_id")),
    )
    op.create_table(
        "kind",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("broader", sa.Text(), nullable=False),
        sa.Column("words", sa.JSON(), nullable=False),
        sa.Column("views", sa.JSON(), nullable=False),
        sa.Column("sizes", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kind")),
        sa.UniqueConstraint("name_key", name=op.f("uq_kind_name_key")),
        sa.UniqueConstraint("slug", name=op.f("uq_kind_slug")),
    )
    op.create_table(
        "place",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("latitude", sa.Float(), nullable=True),
        sa.Column("longitude", sa.Float(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("name_key", name=op.f("uq_place_name_key")),
        sa.UniqueConstraint("public_id", name=op.f("uq_place_public_id")),
    )
    op.create_table(
        "source",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("of_record", sa.Text(), nullable=False),
        sa.Column("component", sa.Text(), nullable=False),
        sa.Column("degrees_of_freedom", sa.Float(), nullable=True),
        sa.Column("distribution", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_source")),
        sa.UniqueConstraint(
            "of_record", "kind", "component", name=op.f("uq_source_of_record_kind_component")
        ),
    )
    op.create_table(
        "subject",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=True),
        sa.Column("part_of_id", sa.Integer(), nullable=True),
        sa.Column("place_id", sa.Integer(), nullable=True),
        sa.Column("maker", sa.Text(), nullable=True),
        sa.Column("numbers", sa.Text(), nullable=True),
        sa.Column("era", sa.Text(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["part_of_id"], ["subject.id"], name=op.f("fk_subject_part_of_id_subject")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_subject_place_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_subject")),
        sa.UniqueConstraint("name_key", name=op.f("uq_subject_name_key")),
        sa.UniqueConstraint("public_id", name=op.f("uq_subject_public_id")),
    )
    op.create_index(op.f("ix_subject_part_of_id"), "subject", ["part_of_id"], unique=False)
    op.create_index(op.f("ix_subject_place_id"), "subject", ["place_id"], unique=False)
    op.create_table(
        "visit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=True),
        sa.Column("first_day", sa.Text(), nullable=True),
        sa.Column("last_day", sa.Text(), nullable=True),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("people", sa.Text(), nullable=True),
        sa.Column("access_notes", sa.Text(), nullable=True),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("folder_key", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_visit_place_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
        sa.UniqueConstraint("folder_key", name=op.f("uq_visit_folder_key")),
        sa.UniqueConstraint("name_key", name=op.f("uq_visit_name_key")),
        sa.UniqueConstraint("public_id", name=op.f("uq_visit_public_id")),
    )
    op.create_index(op.f("ix_visit_place_id"), "visit", ["place_id"], unique=False)
    op.create_table(
        "build_subject",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_build_subject_build_id_build")),
        sa.ForeignKeyConstraint(
            ["subject_id"], ["subject.id"], name=op.f("fk_build_subject_subject_id_subject")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_build_subject")),
        sa.UniqueConstraint("build_id", "subject_id", name=op.f("uq_build_subject_build_id_subject_id")),
    )
    op.create_index(op.f("ix_build_subject_build_id"), "build_subject", ["build_id"], unique=False)
    op.create_index(op.f("ix_build_subject_subject_id"), "build_subject", ["subject_id"], unique=False)
    op.create_table(
        "dimension",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("label_key", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("state_key", sa.Text(), nullable=False),
        sa.Column("span", sa.Text(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["subject_id"], ["subject.id"], name=op.f("fk_dimension_subject_id_subject")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dimension")),
        sa.UniqueConstraint("public_id", name=op.f("uq_dimension_public_id")),
        sa.UniqueConstraint(
            "subject_id",
            "label_key",
            "state_key",
            "span",
            name=op.f("uq_dimension_subject_id_label_key_state_key_span"),
        ),
    )
    op.create_index(op.f("ix_dimension_label_key"), "dimension", ["label_key"], unique=False)
    op.create_index(op.f("ix_dimension_subject_id"), "dimension", ["subject_id"], unique=False)
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("file_key", sa.Text(), nullable=False),
        sa.Column("stem_key", sa.Text(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=True),
        sa.Column("height", sa.Integer(), nullable=True),
        sa.Column("stored_width", sa.Integer(), nullable=True),
        sa.Column("stored_height", sa.Integer(), nullable=True),
        sa.Column("orientation", sa.Integer(), nullable=True),
        sa.Column("taken", sa.Text(), nullable=True),
        sa.Column("taken_as_read", sa.Text(), nullable=True),
        sa.Column("utc_offset", sa.Text(), nullable=True),
        sa.Column("subsecond", sa.Text(), nullable=True),
        sa.Column("make", sa.Text(), nullable=True),
        sa.Column("model", sa.Text(), nullable=True),
        sa.Column("lens", sa.Text(), nullable=True),
        sa.Column("focal_mm", sa.Float(), nullable=True),
        sa.Column("focal_35mm", sa.Float(), nullable=True),
        sa.Column("latitude", sa.Float(), nullable=True),
        sa.Column("longitude", sa.Float(), nullable=True),
        sa.Column("altitude_m", sa.Float(), nullable=True),
        sa.Column("bearing_deg", sa.Float(), nullable=True),
        sa.Column("bearing_reference", sa.Text(), nullable=True),
        sa.Column("caption", sa.Text(), nullable=True),
        sa.Column("keywords", sa.JSON(), nullable=False),
        sa.Column("creator", sa.Text(), nullable=True),
        sa.Column("rights", sa.Text(), nullable=True),
        sa.Column("readers", sa.JSON(), nullable=False),
        sa.Column("warnings", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_photo_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
        sa.UniqueConstraint("public_id", name=op.f("uq_photo_public_id")),
    )
    op.create_index(op.f("ix_photo_file_key"), "photo", ["file_key"], unique=False)
    op.create_index(op.f("ix_photo_stem_key"), "photo", ["stem_key"], unique=False)
    op.create_index(op.f("ix_photo_taken"), "photo", ["taken"], unique=False)
    op.create_index(op.f("ix_photo_visit_id"), "photo", ["visit_id"], unique=False)
    op.create_table(
        "subject_name",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["subject_id"], ["subject.id"], name=op.f("fk_subject_name_subject_id_subject")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_subject_name")),
        sa.UniqueConstraint("name_key", name=op.f("uq_subject_name_name_key")),
    )
    op.create_index(op.f("ix_subject_name_subject_id"), "subject_name", ["subject_id"], unique=False)
    op.create_table(
        "estimate",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dimension_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("value", sa.Float(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("value_mm", sa.Float(), nullable=True),
        sa.Column("standard_uncertainty", sa.Float(), nullable=False),
        sa.Column("low_95", sa.Float(), nullable=False),
        sa.Column("high_95", sa.Float(), nullable=False),
        sa.Column("degrees_of_freedom", sa.Float(), nullable=True),
        sa.Column("agree", sa.Boolean(), nullable=True),
        sa.Column("grade", sa.Text(), nullable=False),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("formulas", sa.Integer(), nullable=False),
        sa.Column("warnings", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dimension_id"], ["dimension.id"], name=op.f("fk_estimate_dimension_id_dimension")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_estimate")),
        sa.UniqueConstraint("dimension_id", name=op.f("uq_estimate_dimension_id")),
    )
    op.create_index("ix_estimate_value_mm", "estimate", ["value_mm"], unique=False)
    op.create_table(
        "original",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("stored_path", sa.Text(), nullable=False),
        sa.Column("path_key", sa.Text(), nullable=False),
        sa.Column("name_as_found", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_original_photo_id_photo")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_original")),
        sa.UniqueConstraint("path_key", name=op.f("uq_original_path_key")),
        sa.UniqueConstraint("sha256", name=op.f("uq_original_sha256")),
    )
    op.create_index(op.f("ix_original_photo_id"), "original", ["photo_id"], unique=False)
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("dimension_id", sa.Integer(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("value", sa.Float(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("value_mm", sa.Float(), nullable=True),
        sa.Column("resolution", sa.Float(), nullable=True),
        sa.Column("resolution_mm", sa.Float(), nullable=True),
        sa.Column("tolerance", sa.Float(), nullable=True),
        sa.Column("approximate", sa.Boolean(), nullable=False),
        sa.Column("grade", sa.Text(), nullable=False),
        sa.Column("rests_on", sa.Text(), nullable=True),
        sa.Column("instrument_id", sa.Integer(), nullable=True),
        sa.Column("photo_id", sa.Integer(), nullable=True),
        sa.Column("visit_id", sa.Integer(), nullable=True),
        sa.Column("taken_on", sa.Text(), nullable=True),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.Column("derived_by", sa.Text(), nullable=True),
        sa.Column("set_aside", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["dimension_id"], ["dimension.id"], name=op.f("fk_reading_dimension_id_dimension")
        ),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_reading_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_reading_photo_id_photo")),
        sa.ForeignKeyConstraint(["replaces_id"], ["reading.id"], name=op.f("fk_reading_replaces_id_reading")),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_reading_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint("public_id", name=op.f("uq_reading_public_id")),
    )
    op.create_index(op.f("ix_reading_dimension_id"), "reading", ["dimension_id"], unique=False)
    op.create_index(op.f("ix_reading_instrument_id"), "reading", ["instrument_id"], unique=False)
    op.create_index(op.f("ix_reading_photo_id"), "reading", ["photo_id"], unique=False)
    op.create_index(op.f("ix_reading_replaces_id"), "reading", ["replaces_id"], unique=False)
    op.create_index(op.f("ix_reading_visit_id"), "reading", ["visit_id"], unique=False)
    op.create_table(
        "sighting",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("view", sa.Text(), nullable=True),
        sa.Column("mirrored", sa.Boolean(), nullable=False),
        sa.Column("region", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_sighting_photo_id_photo")),
        sa.ForeignKeyConstraint(["subject_id"], ["subject.id"], name=op.f("fk_sighting_subject_id_subject")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sighting")),
        sa.UniqueConstraint("photo_id", "subject_id", name=op.f("uq_sighting_photo_id_subject_id")),
        sa.UniqueConstraint("public_id", name=op.f("uq_sighting_public_id")),
    )
    op.create_index(op.f("ix_sighting_photo_id"), "sighting", ["photo_id"], unique=False)
    op.create_index(op.f("ix_sighting_subject_id"), "sighting", ["subject_id"], unique=False)
    op.create_table(
        "estimate_source",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("estimate_id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("sensitivity", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(
            ["estimate_id"], ["estimate.id"], name=op.f("fk_estimate_source_estimate_id_estimate")
        ),
        sa.ForeignKeyConstraint(
            ["source_id"], ["source.id"], name=op.f("fk_estimate_source_source_id_source")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_estimate_source")),
        sa.UniqueConstraint(
            "estimate_id", "source_id", name=op.f("uq_estimate_source_estimate_id_source_id")
        ),
    )
    op.create_index(op.f("ix_estimate_source_estimate_id"), "estimate_source", ["estimate_id"], unique=False)
    op.create_index(op.f("ix_estimate_source_source_id"), "estimate_source", ["source_id"], unique=False)
    op.create_table(
        "reading_source",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("reading_id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("sensitivity", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name=op.f("fk_reading_source_reading_id_reading")
        ),
        sa.ForeignKeyConstraint(
            ["source_id"], ["source.id"], name=op.f("fk_reading_source_source_id_source")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading_source")),
        sa.UniqueConstraint("reading_id", "source_id", name=op.f("uq_reading_source_reading_id_source_id")),
    )
    op.create_index(op.f("ix_reading_source_reading_id"), "reading_source", ["reading_id"], unique=False)
    op.create_index(op.f("ix_reading_source_source_id"), "reading_source", ["source_id"], unique=False)
