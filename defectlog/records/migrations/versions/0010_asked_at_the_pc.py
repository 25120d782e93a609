"""What a phone that brought a code is called, until somebody at the PC lets it in."""

import sqlalchemy as sa
from alembic import op


revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

COLUMNS = (
    ("name", sa.String(length=60)),
    ("address", sa.String(length=64)),
    ("shown", sa.String(length=4)),
    ("waiting_sha256", sa.String(length=64)),
    ("allowed_at", sa.DateTime(timezone=True)),
)


def upgrade() -> None:
    for name, kind in COLUMNS:
        op.add_column("pairing_code", sa.Column(name, kind, nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("pairing_code", schema=None) as batch_op:
        for name, _ in reversed(COLUMNS):
            batch_op.drop_column(name)
