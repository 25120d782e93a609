"""Sets of builds that a person chose, kept under a name."""

import sqlalchemy as sa
from alembic import op


revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "kept_set",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_set")),
        sa.UniqueConstraint("name", name=op.f("uq_kept_set_name")),
    )
    op.create_table(
        "kept_set_build",
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["set_id"],
            ["kept_set.id"],
            name=op.f("fk_kept_set_build_set_id_kept_set"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["build_id"],
            ["build.id"],
            name=op.f("fk_kept_set_build_build_id_build"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("set_id", "build_id", name=op.f("pk_kept_set_build")),
    )
    with op.batch_alter_table("kept_set_build", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_kept_set_build_build_id"), ["build_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("kept_set_build", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_kept_set_build_build_id"))

    op.drop_table("kept_set_build")
    op.drop_table("kept_set")
