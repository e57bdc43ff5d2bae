"""How far the sizes of a subject would do for a model, kept up to date, so that things can be found by it."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    op.create_table(
        "verdict",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("missing", sa.Integer(), nullable=False),
        sa.Column("unfit", sa.Integer(), nullable=False),
        sa.Column("roughest_mm", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["subject_id"], ["subject.id"], name=op.f("fk_verdict_subject_id_subject")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_verdict")),
        sa.UniqueConstraint("subject_id", name=op.f("uq_verdict_subject_id")),
    )
