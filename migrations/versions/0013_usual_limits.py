"""What is usual for kinds of instrument as the person knows it, and the scale that a drawing is drawn to."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    op.add_column("instrument", sa.Column("drawn_at", sa.Text(), nullable=True))
    op.create_table(
        "usual_limit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("limit_as_written", sa.Text(), nullable=False),
        sa.Column("limit_constant_mm", sa.Float(), nullable=False),
        sa.Column("limit_per_mm", sa.Float(), nullable=False),
        sa.Column("resolution_mm", sa.Float(), nullable=True),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_usual_limit")),
        sa.UniqueConstraint("kind", name=op.f("uq_usual_limit_kind")),
    )
