"""Checks of instruments: what one read of a length known better, on a day."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.create_table(
        "instrument_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("reference_as_written", sa.Text(), nullable=False),
        sa.Column("reference_mm", sa.Float(), nullable=False),
        sa.Column("reference_resolution_mm", sa.Float(), nullable=True),
        sa.Column("reference_tolerance_mm", sa.Float(), nullable=True),
        sa.Column("reference_approximate", sa.Boolean(), nullable=False),
        sa.Column("reading_as_written", sa.Text(), nullable=False),
        sa.Column("reading_mm", sa.Float(), nullable=False),
        sa.Column("reading_resolution_mm", sa.Float(), nullable=True),
        sa.Column("visit_id", sa.Integer(), nullable=True),
        sa.Column("taken_on", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_instrument_check_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_instrument_check_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument_check")),
        sa.UniqueConstraint("public_id", name=op.f("uq_instrument_check_public_id")),
    )
    op.create_index(
        op.f("ix_instrument_check_instrument_id"), "instrument_check", ["instrument_id"], unique=False
    )
    op.create_index(op.f("ix_instrument_check_visit_id"), "instrument_check", ["visit_id"], unique=False)
