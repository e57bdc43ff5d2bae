"""Marks on photos, the recipes that work sizes out from them, and the lenses of cameras."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.create_table(
        "mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("x_px", sa.Float(), nullable=False),
        sa.Column("y_px", sa.Float(), nullable=False),
        sa.Column("clear", sa.Text(), nullable=False),
        sa.Column("snapped", sa.Text(), nullable=True),
        sa.Column("sigma_px", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_mark_photo_id_photo")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mark")),
        sa.UniqueConstraint("photo_id", "name_key", name=op.f("uq_mark_photo_id_name_key")),
        sa.UniqueConstraint("public_id", name=op.f("uq_mark_public_id")),
    )
    op.create_index(op.f("ix_mark_photo_id"), "mark", ["photo_id"], unique=False)
    op.create_table(
        "derivation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=True),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("recipe", sa.JSON(), nullable=False),
        sa.Column("solved", sa.Boolean(), nullable=False),
        sa.Column("why", sa.Text(), nullable=True),
        sa.Column("results", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_derivation_photo_id_photo")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_derivation")),
        sa.UniqueConstraint("public_id", name=op.f("uq_derivation_public_id")),
    )
    op.create_index(op.f("ix_derivation_photo_id"), "derivation", ["photo_id"], unique=False)
    op.create_table(
        "derivation_input",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("derivation_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("dimension_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["derivation_id"], ["derivation.id"], name=op.f("fk_derivation_input_derivation_id_derivation")
        ),
        sa.ForeignKeyConstraint(
            ["dimension_id"], ["dimension.id"], name=op.f("fk_derivation_input_dimension_id_dimension")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_derivation_input")),
        sa.UniqueConstraint("derivation_id", "number", name=op.f("uq_derivation_input_derivation_id_number")),
    )
    op.create_index(
        op.f("ix_derivation_input_derivation_id"), "derivation_input", ["derivation_id"], unique=False
    )
    op.create_index(
        op.f("ix_derivation_input_dimension_id"), "derivation_input", ["dimension_id"], unique=False
    )
    op.create_table(
        "derivation_mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("derivation_id", sa.Integer(), nullable=False),
        sa.Column("mark_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["derivation_id"], ["derivation.id"], name=op.f("fk_derivation_mark_derivation_id_derivation")
        ),
        sa.ForeignKeyConstraint(["mark_id"], ["mark.id"], name=op.f("fk_derivation_mark_mark_id_mark")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_derivation_mark")),
        sa.UniqueConstraint(
            "derivation_id", "mark_id", name=op.f("uq_derivation_mark_derivation_id_mark_id")
        ),
    )
    op.create_index(
        op.f("ix_derivation_mark_derivation_id"), "derivation_mark", ["derivation_id"], unique=False
    )
    op.create_index(op.f("ix_derivation_mark_mark_id"), "derivation_mark", ["mark_id"], unique=False)
    op.create_table(
        "lens",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("derivation_id", sa.Integer(), nullable=False),
        sa.Column("camera", sa.Text(), nullable=False),
        sa.Column("focal_mm", sa.Float(), nullable=True),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("model", sa.Text(), nullable=False),
        sa.Column("strength", sa.Float(), nullable=False),
        sa.Column("off_x_px", sa.Float(), nullable=False),
        sa.Column("off_y_px", sa.Float(), nullable=False),
        sa.Column("norm_radius_px", sa.Float(), nullable=False),
        sa.Column("factor", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["derivation_id"], ["derivation.id"], name=op.f("fk_lens_derivation_id_derivation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lens")),
        sa.UniqueConstraint("derivation_id", name=op.f("uq_lens_derivation_id")),
    )
    op.create_index(op.f("ix_lens_camera"), "lens", ["camera"], unique=False)
