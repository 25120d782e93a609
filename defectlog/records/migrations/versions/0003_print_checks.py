"""How true to size the printer prints, and which scales have been put right by it."""

import sqlalchemy as sa
from alembic import op


revision = '0003'
down_revision = '0002'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('print_check',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('across_mm', sa.Double(), nullable=True),
    sa.Column('down_mm', sa.Double(), nullable=True),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.CheckConstraint('(across_mm IS NULL) = (down_mm IS NULL)', name=op.f('ck_print_check_both_or_neither')),
    sa.CheckConstraint('across_mm IS NULL OR (across_mm > 0 AND down_mm > 0)', name=op.f('ck_print_check_is_positive')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_print_check'))
    )
    with op.batch_alter_table('photo_scale', schema=None) as batch_op:
        batch_op.add_column(sa.Column('print_pct', sa.Double(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table('photo_scale', schema=None) as batch_op:
        batch_op.drop_column('print_pct')

    op.drop_table('print_check')
