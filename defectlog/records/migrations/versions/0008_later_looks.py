"""What a later photo shows of a mark: gone, smaller or still there."""

import sqlalchemy as sa
from alembic import op


revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

SAID = ("gone", "smaller", "still there")


def upgrade() -> None:
    op.create_table(
        "later_look",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("mark_id", sa.Integer(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column(
            "said", sa.Enum(*SAID, name="said", native_enum=False, length=40), nullable=False
        ),
        sa.Column("carried_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(
            ["mark_id"], ["mark.id"], name=op.f("fk_later_look_mark_id_mark"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["photo_id"],
            ["photo.id"],
            name=op.f("fk_later_look_photo_id_photo"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["carried_id"],
            ["mark.id"],
            name=op.f("fk_later_look_carried_id_mark"),
            ondelete="SET NULL",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_later_look")),
        sa.UniqueConstraint("mark_id", "photo_id", name=op.f("uq_later_look_mark_id_photo_id")),
    )
    with op.batch_alter_table("later_look", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_later_look_photo_id"), ["photo_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("later_look", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_later_look_photo_id"))

    op.drop_table("later_look")
