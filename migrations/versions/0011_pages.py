"""Pages of drawings: which page of its file a photo is, which photo holds that file, and its size on paper."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    with op.batch_alter_table("photo") as photo:
        photo.add_column(sa.Column("page", sa.Integer(), nullable=True))
        photo.add_column(sa.Column("page_of_id", sa.Integer(), nullable=True))
        photo.add_column(sa.Column("paper_width_mm", sa.Float(), nullable=True))
        photo.add_column(sa.Column("paper_height_mm", sa.Float(), nullable=True))
        photo.create_foreign_key(op.f("fk_photo_page_of_id_photo"), "photo", ["page_of_id"], ["id"])
    op.create_index(op.f("ix_photo_page_of_id"), "photo", ["page_of_id"])
