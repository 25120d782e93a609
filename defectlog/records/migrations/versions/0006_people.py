"""Who may come in: passphrase, devices, codes to pair one, failed tries."""

import sqlalchemy as sa
from alembic import op


revision = '0006'
down_revision = '0005'
branch_labels = None
depends_on = None

ROLE = ('maker', 'reader')
CAME_BY = ('at the PC', 'by the passphrase', 'by pairing')


def upgrade() -> None:
    op.create_table('passphrase',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('scrypt', sa.String(length=250), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_passphrase'))
    )
    op.create_table('device',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('name', sa.String(length=60), nullable=False),
    sa.Column('role', sa.Enum(*ROLE, name='role', native_enum=False, length=40), nullable=False),
    sa.Column('came_by', sa.Enum(*CAME_BY, name='cameby', native_enum=False, length=40), nullable=False),
    sa.Column('key_sha256', sa.String(length=64), nullable=False),
    sa.Column('came_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('last_seen_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('until', sa.DateTime(timezone=True), nullable=False),
    sa.Column('cut_off_at', sa.DateTime(timezone=True), nullable=True),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_device')),
    sa.UniqueConstraint('key_sha256', name=op.f('uq_device_key_sha256'))
    )
    op.create_table('pairing_code',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('picture_sha256', sa.String(length=64), nullable=False),
    sa.Column('typed_sha256', sa.String(length=64), nullable=False),
    sa.Column('role', sa.Enum(*ROLE, name='role', native_enum=False, length=40), nullable=False),
    sa.Column('made_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('until', sa.DateTime(timezone=True), nullable=False),
    sa.Column('used_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('device_id', sa.Integer(), nullable=True),
    sa.CheckConstraint('until > made_at', name=op.f('ck_pairing_code_is_short_lived')),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_pairing_code_device_id_device')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_pairing_code')),
    sa.UniqueConstraint('picture_sha256', name=op.f('uq_pairing_code_picture_sha256')),
    sa.UniqueConstraint('typed_sha256', name=op.f('uq_pairing_code_typed_sha256'))
    )
    op.create_table('failed_try',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('zone', sa.String(length=64), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_failed_try'))
    )
    with op.batch_alter_table('failed_try', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_failed_try_at'), ['at'], unique=False)
        batch_op.create_index(batch_op.f('ix_failed_try_zone'), ['zone'], unique=False)


def downgrade() -> None:
    op.drop_table('failed_try')
    op.drop_table('pairing_code')
    op.drop_table('device')
    op.drop_table('passphrase')
