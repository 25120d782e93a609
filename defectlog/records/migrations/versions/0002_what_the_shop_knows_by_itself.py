"""What the shop knows by itself: own kinds and causes, notes, checks done, counts of others."""

import sqlalchemy as sa
from alembic import op


revision = '0002'
down_revision = '0001'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('elsewhere',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('uid', sa.String(length=32), nullable=False),
    sa.Column('name', sa.String(length=80), nullable=False),
    sa.Column('exported_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('imported_at', sa.DateTime(timezone=True), nullable=False),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_elsewhere')),
    sa.UniqueConstraint('uid', name=op.f('uq_elsewhere_uid'))
    )
    op.create_table('elsewhere_count',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('elsewhere_id', sa.Integer(), nullable=False),
    sa.Column('about', sa.Enum('cause confirmed', 'fix held', name='counted', native_enum=False, length=40), nullable=False),
    sa.Column('kind', sa.String(length=40), nullable=False),
    sa.Column('key', sa.String(length=60), nullable=False),
    sa.Column('count', sa.Integer(), nullable=False),
    sa.Column('cases', sa.Integer(), nullable=False),
    sa.CheckConstraint('count >= 0 AND count <= cases AND cases > 0', name=op.f('ck_elsewhere_count_is_a_part')),
    sa.ForeignKeyConstraint(['elsewhere_id'], ['elsewhere.id'], name=op.f('fk_elsewhere_count_elsewhere_id_elsewhere'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_elsewhere_count')),
    sa.UniqueConstraint('elsewhere_id', 'about', 'kind', 'key', name=op.f('uq_elsewhere_count_elsewhere_id_about_kind_key'))
    )
    with op.batch_alter_table('elsewhere_count', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_elsewhere_count_kind'), ['kind'], unique=False)

    op.create_table('house_note',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('uid', sa.String(length=32), nullable=False),
    sa.Column('kind', sa.String(length=40), nullable=False),
    sa.Column('words', sa.Text(), nullable=False),
    sa.Column('written_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('changed_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('deleted_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('elsewhere_id', sa.Integer(), nullable=True),
    sa.ForeignKeyConstraint(['elsewhere_id'], ['elsewhere.id'], name=op.f('fk_house_note_elsewhere_id_elsewhere')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_house_note')),
    sa.UniqueConstraint('uid', name=op.f('uq_house_note_uid'))
    )
    with op.batch_alter_table('house_note', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_house_note_kind'), ['kind'], unique=False)

    op.create_table('own_cause',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('kind', sa.String(length=40), nullable=False),
    sa.Column('key', sa.String(length=60), nullable=False),
    sa.Column('title', sa.String(length=80), nullable=False),
    sa.Column('why', sa.Text(), nullable=False),
    sa.Column('check_do', sa.Text(), nullable=False),
    sa.Column('check_positive', sa.Text(), nullable=False),
    sa.Column('check_minutes', sa.Double(), nullable=True),
    sa.Column('prevention', sa.Text(), nullable=False),
    sa.Column('written_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('deleted_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('elsewhere_id', sa.Integer(), nullable=True),
    sa.ForeignKeyConstraint(['elsewhere_id'], ['elsewhere.id'], name=op.f('fk_own_cause_elsewhere_id_elsewhere')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_own_cause')),
    sa.UniqueConstraint('key', name=op.f('uq_own_cause_key'))
    )
    with op.batch_alter_table('own_cause', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_own_cause_kind'), ['kind'], unique=False)

    op.create_table('own_kind',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('key', sa.String(length=40), nullable=False),
    sa.Column('code', sa.String(length=2), nullable=False),
    sa.Column('title', sa.String(length=60), nullable=False),
    sa.Column('look', sa.Text(), nullable=False),
    sa.Column('definition', sa.Text(), nullable=False),
    sa.Column('written_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('elsewhere_id', sa.Integer(), nullable=True),
    sa.ForeignKeyConstraint(['elsewhere_id'], ['elsewhere.id'], name=op.f('fk_own_kind_elsewhere_id_elsewhere')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_own_kind')),
    sa.UniqueConstraint('code', name=op.f('uq_own_kind_code')),
    sa.UniqueConstraint('key', name=op.f('uq_own_kind_key'))
    )
    op.create_table('check_done',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('finding_id', sa.Integer(), nullable=False),
    sa.Column('check_key', sa.String(length=60), nullable=False),
    sa.Column('is_positive', sa.Boolean(), nullable=False),
    sa.Column('seen', sa.Text(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.ForeignKeyConstraint(['finding_id'], ['finding.id'], name=op.f('fk_check_done_finding_id_finding'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_check_done')),
    sa.UniqueConstraint('finding_id', 'check_key', name=op.f('uq_check_done_finding_id_check_key'))
    )
    with op.batch_alter_table('fix_done', schema=None) as batch_op:
        batch_op.add_column(sa.Column('fix_key', sa.String(length=60), nullable=True))
        batch_op.add_column(sa.Column('result', sa.Enum('held', 'did not hold', name='fixresult', native_enum=False, length=40), nullable=True))
        batch_op.add_column(sa.Column('looked_at', sa.DateTime(timezone=True), nullable=True))

    with op.batch_alter_table('workshop', schema=None) as batch_op:
        batch_op.add_column(sa.Column('uid', sa.String(length=32), nullable=True))



def downgrade() -> None:
    with op.batch_alter_table('workshop', schema=None) as batch_op:
        batch_op.drop_column('uid')

    with op.batch_alter_table('fix_done', schema=None) as batch_op:
        batch_op.drop_column('looked_at')
        batch_op.drop_column('result')
        batch_op.drop_column('fix_key')

    op.drop_table('check_done')
    op.drop_table('own_kind')
    with op.batch_alter_table('own_cause', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_own_cause_kind'))

    op.drop_table('own_cause')
    with op.batch_alter_table('house_note', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_house_note_kind'))

    op.drop_table('house_note')
    with op.batch_alter_table('elsewhere_count', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_elsewhere_count_kind'))

    op.drop_table('elsewhere_count')
    op.drop_table('elsewhere')
