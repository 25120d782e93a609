"""Which surface a trial is judged by; until now it was the tool side at demould."""

import sqlalchemy as sa
from alembic import op


revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("trial", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column(
                "surface", sa.String(length=40), nullable=False, server_default="tool-demould"
            )
        )


def downgrade() -> None:
    with op.batch_alter_table("trial", schema=None) as batch_op:
        batch_op.drop_column("surface")
