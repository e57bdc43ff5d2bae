"""Searches kept by name; and what finds things by where they stand, and by how well they are covered."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    op.create_table(
        "kept_search",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_search")),
        sa.UniqueConstraint("name_key", name=op.f("uq_kept_search_name_key")),
    )
    op.create_index("ix_sighting_subject_id_view", "sighting", ["subject_id", "view"])
    op.create_index("ix_photo_latitude_longitude", "photo", ["latitude", "longitude"])
