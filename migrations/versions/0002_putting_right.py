"""Putting right: other names of visits, what was removed, files still to be moved; how far sisters may differ."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.add_column("reading", sa.Column("sister_tolerance", sa.Float(), nullable=True))
    op.create_table(
        "visit_name",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("name_key", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_visit_name_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit_name")),
        sa.UniqueConstraint("name_key", name=op.f("uq_visit_name_name_key")),
    )
    op.create_index(op.f("ix_visit_name_visit_id"), "visit_name", ["visit_id"], unique=False)
    op.create_table(
        "removed_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("photo", sa.Text(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("stored_path", sa.Text(), nullable=False),
        sa.Column("path_key", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_removed_file")),
        sa.UniqueConstraint("path_key", name=op.f("uq_removed_file_path_key")),
    )
    op.create_index(op.f("ix_removed_file_sha256"), "removed_file", ["sha256"], unique=False)
    op.create_table(
        "pending_move",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("from_path", sa.Text(), nullable=False),
        sa.Column("to_path", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pending_move")),
    )
