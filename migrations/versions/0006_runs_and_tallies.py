"""Runs along a tape with the readings that stand between their positions; tallies, and the sizes in them."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    op.create_table(
        "tape_run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("title_key", sa.Text(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["replaces_id"], ["tape_run.id"], name=op.f("fk_tape_run_replaces_id_tape_run")
        ),
        sa.ForeignKeyConstraint(["subject_id"], ["subject.id"], name=op.f("fk_tape_run_subject_id_subject")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tape_run")),
        sa.UniqueConstraint("public_id", name=op.f("uq_tape_run_public_id")),
    )
    op.create_index(op.f("ix_tape_run_replaces_id"), "tape_run", ["replaces_id"], unique=False)
    op.create_index(op.f("ix_tape_run_subject_id"), "tape_run", ["subject_id"], unique=False)
    op.create_table(
        "run_reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tape_run_id", sa.Integer(), nullable=False),
        sa.Column("reading_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name=op.f("fk_run_reading_reading_id_reading")
        ),
        sa.ForeignKeyConstraint(
            ["tape_run_id"], ["tape_run.id"], name=op.f("fk_run_reading_tape_run_id_tape_run")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_reading")),
        sa.UniqueConstraint("reading_id", name=op.f("uq_run_reading_reading_id")),
    )
    op.create_index(op.f("ix_run_reading_tape_run_id"), "run_reading", ["tape_run_id"], unique=False)
    op.create_table(
        "tally",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("as_written", sa.Text(), nullable=False),
        sa.Column("outcome", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["subject_id"], ["subject.id"], name=op.f("fk_tally_subject_id_subject")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tally")),
        sa.UniqueConstraint("public_id", name=op.f("uq_tally_public_id")),
    )
    op.create_index(op.f("ix_tally_subject_id"), "tally", ["subject_id"], unique=False)
    op.create_table(
        "tally_size",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tally_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("dimension_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["dimension_id"], ["dimension.id"], name=op.f("fk_tally_size_dimension_id_dimension")
        ),
        sa.ForeignKeyConstraint(["tally_id"], ["tally.id"], name=op.f("fk_tally_size_tally_id_tally")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tally_size")),
        sa.UniqueConstraint("tally_id", "number", name=op.f("uq_tally_size_tally_id_number")),
    )
    op.create_index(op.f("ix_tally_size_dimension_id"), "tally_size", ["dimension_id"], unique=False)
    op.create_index(op.f("ix_tally_size_tally_id"), "tally_size", ["tally_id"], unique=False)
