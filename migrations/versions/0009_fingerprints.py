"""What each photo looks like, so that the same picture is found again however it was saved."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    op.create_table(
        "fingerprint",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column("bits", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_fingerprint_photo_id_photo")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fingerprint")),
        sa.UniqueConstraint("photo_id", name=op.f("uq_fingerprint_photo_id")),
    )
