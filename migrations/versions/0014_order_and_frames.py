"""What the frame of a photo was when it was taken, what satellite time says of its clock, and its place in order."""

import re

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    with op.batch_alter_table("photo") as photo:
        photo.add_column(sa.Column("utc_offset_by_gps", sa.Text(), nullable=True))
        photo.add_column(sa.Column("digital_zoom", sa.Float(), nullable=True))
        photo.add_column(sa.Column("width_as_taken", sa.Integer(), nullable=True))
        photo.add_column(sa.Column("height_as_taken", sa.Integer(), nullable=True))
        photo.add_column(sa.Column("sensor_px_per_mm", sa.Float(), nullable=True))
        photo.add_column(sa.Column("ordered_at", sa.Text(), nullable=True))
        photo.add_column(sa.Column("name_order", sa.Text(), nullable=True))
    op.execute("UPDATE photo SET ordered_at = taken")
    photo = sa.table(
        "photo", sa.column("id"), sa.column("file_key"), sa.column("page_of_id"), sa.column("name_order")
    )
    database = op.get_bind()
    names = {row.id: row for row in database.execute(sa.select(photo)).all()}
    for row in names.values():
        holder = names.get(row.page_of_id, row)
        order = re.sub("[0-9]+", _counted, holder.file_key).replace(".", "\t")
        database.execute(photo.update().where(photo.c.id == row.id).values(name_order=order))


def _counted(number: re.Match[str]) -> str:
    digits = number[0].lstrip("0")
    return f"{len(digits):03}{digits}"
