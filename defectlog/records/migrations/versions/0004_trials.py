"""Trials: what is compared, the panels in their order, and the looks taken early."""

import sqlalchemy as sa
from alembic import op


revision = '0004'
down_revision = '0003'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('trial',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('part_id', sa.Integer(), nullable=False),
    sa.Column('question', sa.Text(), nullable=False),
    sa.Column('fact', sa.String(length=40), nullable=False),
    sa.Column('settings', sa.JSON(), nullable=False),
    sa.Column('result', sa.Enum('void fraction, tool side at demould', 'mass', 'working time', 'findings of one kind', name='trialresult', native_enum=False, length=40), nullable=False),
    sa.Column('kind', sa.String(length=40), nullable=True),
    sa.Column('smallest_difference', sa.Double(), nullable=False),
    sa.Column('per_setting', sa.Integer(), nullable=False),
    sa.Column('seed', sa.Integer(), nullable=False),
    sa.Column('by_day', sa.Boolean(), nullable=False),
    sa.Column('planned_words', sa.Text(), nullable=False),
    sa.Column('planned_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('state', sa.Enum('running', 'decided', 'stopped', name='trialstate', native_enum=False, length=40), nullable=False),
    sa.Column('stopped_reason', sa.Text(), nullable=False),
    sa.Column('decided_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('verdict', sa.JSON(), nullable=True),
    sa.CheckConstraint("(state = 'decided') = (decided_at IS NOT NULL)", name=op.f('ck_trial_decided_has_a_date')),
    sa.CheckConstraint('per_setting >= 2', name=op.f('ck_trial_has_a_spread')),
    sa.CheckConstraint('smallest_difference > 0', name=op.f('ck_trial_difference_is_positive')),
    sa.ForeignKeyConstraint(['part_id'], ['part.id'], name=op.f('fk_trial_part_id_part')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_trial'))
    )
    with op.batch_alter_table('trial', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_trial_part_id'), ['part_id'], unique=False)

    op.create_table('trial_look',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('trial_id', sa.Integer(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('panels_in', sa.Integer(), nullable=False),
    sa.ForeignKeyConstraint(['trial_id'], ['trial.id'], name=op.f('fk_trial_look_trial_id_trial'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_trial_look'))
    )
    with op.batch_alter_table('trial_look', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_trial_look_trial_id'), ['trial_id'], unique=False)

    op.create_table('trial_run',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('trial_id', sa.Integer(), nullable=False),
    sa.Column('number', sa.Integer(), nullable=False),
    sa.Column('setting', sa.Integer(), nullable=False),
    sa.Column('block', sa.Integer(), nullable=False),
    sa.Column('build_id', sa.Integer(), nullable=True),
    sa.Column('lost_reason', sa.Text(), nullable=False),
    sa.ForeignKeyConstraint(['build_id'], ['build.id'], name=op.f('fk_trial_run_build_id_build')),
    sa.ForeignKeyConstraint(['trial_id'], ['trial.id'], name=op.f('fk_trial_run_trial_id_trial'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_trial_run')),
    sa.UniqueConstraint('build_id', name=op.f('uq_trial_run_build_id')),
    sa.UniqueConstraint('trial_id', 'number', name=op.f('uq_trial_run_trial_id_number'))
    )


def downgrade() -> None:
    op.drop_table('trial_run')
    with op.batch_alter_table('trial_look', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_trial_look_trial_id'))

    op.drop_table('trial_look')
    with op.batch_alter_table('trial', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_trial_part_id'))

    op.drop_table('trial')
