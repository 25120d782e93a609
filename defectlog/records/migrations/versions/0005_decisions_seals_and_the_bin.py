"""Who decided what and when, seals on measurements, and builds that lie in the bin."""

import sqlalchemy as sa
from alembic import op


revision = '0005'
down_revision = '0004'
branch_labels = None
depends_on = None

OUTCOMES = ('open', 'use as is under concession', 'rework', 'repair', 'regrade', 'scrap')


def upgrade() -> None:
    op.create_table('decision',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('finding_id', sa.Integer(), nullable=False),
    sa.Column('outcome', sa.Enum(*OUTCOMES, name='outcome', native_enum=False, length=40), nullable=False),
    sa.Column('reason', sa.Text(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('by', sa.String(length=80), nullable=False),
    sa.ForeignKeyConstraint(['finding_id'], ['finding.id'], name=op.f('fk_decision_finding_id_finding'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_decision'))
    )
    with op.batch_alter_table('decision', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_decision_finding_id'), ['finding_id'], unique=False)

    # Nobody wrote down who decided until now.
    op.execute(
        "INSERT INTO decision (finding_id, outcome, reason, at, by)"
        " SELECT id, outcome, reason, closed_at, '' FROM finding WHERE closed_at IS NOT NULL"
        " ORDER BY closed_at, id"
    )
    with op.batch_alter_table('measurement', schema=None) as batch_op:
        batch_op.add_column(sa.Column('by', sa.String(length=80), nullable=False, server_default=''))
        batch_op.add_column(sa.Column('seal', sa.String(length=64), nullable=True))

    with op.batch_alter_table('build', schema=None) as batch_op:
        batch_op.add_column(sa.Column('deleted_at', sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table('build', schema=None) as batch_op:
        batch_op.drop_column('deleted_at')

    with op.batch_alter_table('measurement', schema=None) as batch_op:
        batch_op.drop_column('seal')
        batch_op.drop_column('by')

    op.drop_table('decision')
