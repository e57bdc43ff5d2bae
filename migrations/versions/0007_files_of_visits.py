"""Films and voice notes of a visit, kept beside its photos."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    op.create_table(
        "visit_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("public_id", sa.Text(), nullable=False),
        sa.Column("visit_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("stored_path", sa.Text(), nullable=False),
        sa.Column("path_key", sa.Text(), nullable=False),
        sa.Column("name_as_found", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["visit_id"], ["visit.id"], name=op.f("fk_visit_file_visit_id_visit")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit_file")),
        sa.UniqueConstraint("path_key", name=op.f("uq_visit_file_path_key")),
        sa.UniqueConstraint("public_id", name=op.f("uq_visit_file_public_id")),
        sa.UniqueConstraint("sha256", name=op.f("uq_visit_file_sha256")),
    )
    op.create_index(op.f("ix_visit_file_visit_id"), "visit_file", ["visit_id"], unique=False)
