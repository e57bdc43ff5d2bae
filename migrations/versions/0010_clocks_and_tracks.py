"""Clocks that were wrong, tracks that tell places, and what of a photo's time and place follows from them."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    op.create_table(
        "clock",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("camera", sa.Text(), nullable=False),
        sa.Column("ahead_s", sa.Integer(), nullable=False),
        sa.Column("first_read", sa.Text(), nullable=True),
        sa.Column("last_read", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_clock_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clock")),
    )
    op.create_index(op.f("ix_clock_visit_id"), "clock", ["visit_id"])
    op.create_table(
        "track",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("visit_file_id", sa.Integer(), nullable=False),
        sa.Column("points", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["visit_file_id"], ["visit_file.id"], name=op.f("fk_track_visit_file_id_visit_file")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_track")),
        sa.UniqueConstraint("visit_file_id", name=op.f("uq_track_visit_file_id")),
    )
    op.add_column("photo", sa.Column("clock_ahead_s", sa.Integer(), nullable=True))
    op.add_column("photo", sa.Column("position_from", sa.Text(), nullable=True))
    op.add_column("photo", sa.Column("position_radius_m", sa.Float(), nullable=True))
    op.execute("UPDATE photo SET position_from = 'file' WHERE latitude IS NOT NULL")
