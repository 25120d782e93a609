"""Fixes of the shop's own, and the answers by which its kinds enter the key."""

import sqlalchemy as sa
from alembic import op


revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "own_fix",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("key", sa.String(length=60), nullable=False),
        sa.Column("title", sa.String(length=80), nullable=False),
        sa.Column("outcome", sa.String(length=10), nullable=False),
        sa.Column("steps", sa.JSON(), nullable=False),
        sa.Column("not_when", sa.Text(), nullable=False),
        sa.Column("reinspect", sa.Text(), nullable=False),
        sa.Column("time", sa.String(length=80), nullable=False),
        sa.Column("written_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("elsewhere_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["elsewhere_id"], ["elsewhere.id"], name=op.f("fk_own_fix_elsewhere_id_elsewhere")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_own_fix")),
        sa.UniqueConstraint("key", name=op.f("uq_own_fix_key")),
    )
    with op.batch_alter_table("own_fix", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_own_fix_kind"), ["kind"], unique=False)

    with op.batch_alter_table("own_kind", schema=None) as batch_op:
        batch_op.add_column(sa.Column("answers", sa.JSON(none_as_null=True), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("own_kind", schema=None) as batch_op:
        batch_op.drop_column("answers")

    with op.batch_alter_table("own_fix", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_own_fix_kind"))

    op.drop_table("own_fix")
