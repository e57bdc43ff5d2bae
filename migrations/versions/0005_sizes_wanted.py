"""What sizes a person wants of a subject, how precisely, and which not; how far those that are known would do."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.create_table(
        "wanted_size",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("label_key", sa.Text(), nullable=False),
        sa.Column("decision", sa.Text(), nullable=False),
        sa.Column("precision_as_written", sa.Text(), nullable=True),
        sa.Column("precision_constant", sa.Float(), nullable=True),
        sa.Column("precision_share", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["subject_id"], ["subject.id"], name=op.f("fk_wanted_size_subject_id_subject")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wanted_size")),
        sa.UniqueConstraint("subject_id", "label_key", name=op.f("uq_wanted_size_subject_id_label_key")),
    )
    op.create_index(op.f("ix_wanted_size_subject_id"), "wanted_size", ["subject_id"], unique=False)
