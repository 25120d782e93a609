"""The first tables."""

import sqlalchemy as sa
from alembic import op


revision = '0001'
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('part',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('name', sa.String(length=80), nullable=False),
    sa.Column('drawing_ref', sa.String(length=80), nullable=False),
    sa.Column('mould', sa.String(length=80), nullable=False),
    sa.Column('target_mass_g', sa.Double(), nullable=True),
    sa.Column('laminate_plan', sa.Text(), nullable=False),
    sa.CheckConstraint('target_mass_g IS NULL OR target_mass_g > 0', name=op.f('ck_part_mass_is_positive')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_part')),
    sa.UniqueConstraint('name', name=op.f('uq_part_name'))
    )
    op.create_table('saved_form',
    sa.Column('token', sa.String(length=64), nullable=False),
    sa.Column('target', sa.String(length=300), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.PrimaryKeyConstraint('token', name=op.f('pk_saved_form'))
    )
    op.create_table('workshop',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('name', sa.String(length=80), nullable=False),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_workshop'))
    )
    op.create_table('build',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('part_id', sa.Integer(), nullable=False),
    sa.Column('started_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('released_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('note', sa.Text(), nullable=False),
    sa.ForeignKeyConstraint(['part_id'], ['part.id'], name=op.f('fk_build_part_id_part')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_build'))
    )
    with op.batch_alter_table('build', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_build_part_id'), ['part_id'], unique=False)

    op.create_table('part_limit',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('part_id', sa.Integer(), nullable=False),
    sa.Column('kind', sa.String(length=40), nullable=False),
    sa.Column('largest_mm', sa.Double(), nullable=True),
    sa.Column('per_dm2', sa.Double(), nullable=True),
    sa.Column('area_fraction', sa.Double(), nullable=True),
    sa.ForeignKeyConstraint(['part_id'], ['part.id'], name=op.f('fk_part_limit_part_id_part'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_part_limit')),
    sa.UniqueConstraint('part_id', 'kind', name=op.f('uq_part_limit_part_id_kind'))
    )
    op.create_table('build_fact',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('build_id', sa.Integer(), nullable=False),
    sa.Column('name', sa.String(length=40), nullable=False),
    sa.Column('value', sa.JSON(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.ForeignKeyConstraint(['build_id'], ['build.id'], name=op.f('fk_build_fact_build_id_build'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_build_fact')),
    sa.UniqueConstraint('build_id', 'name', name=op.f('uq_build_fact_build_id_name'))
    )
    op.create_table('finding',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('build_id', sa.Integer(), nullable=False),
    sa.Column('kind', sa.String(length=40), nullable=False),
    sa.Column('note', sa.Text(), nullable=False),
    sa.Column('opened_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('outcome', sa.Enum('open', 'use as is under concession', 'rework', 'repair', 'regrade', 'scrap', name='outcome', native_enum=False, length=40), nullable=False),
    sa.Column('reason', sa.Text(), nullable=False),
    sa.Column('closed_at', sa.DateTime(timezone=True), nullable=True),
    sa.Column('deleted_at', sa.DateTime(timezone=True), nullable=True),
    sa.CheckConstraint("(outcome = 'open') = (closed_at IS NULL)", name=op.f('ck_finding_closed_has_a_date')),
    sa.ForeignKeyConstraint(['build_id'], ['build.id'], name=op.f('fk_finding_build_id_build')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_finding'))
    )
    with op.batch_alter_table('finding', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_finding_build_id'), ['build_id'], unique=False)
        batch_op.create_index(batch_op.f('ix_finding_kind'), ['kind'], unique=False)

    op.create_table('photo',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('build_id', sa.Integer(), nullable=False),
    sa.Column('sha256', sa.String(length=64), nullable=False),
    sa.Column('name', sa.String(length=120), nullable=False),
    sa.Column('media_type', sa.String(length=40), nullable=False),
    sa.Column('bytes', sa.Integer(), nullable=False),
    sa.Column('width_px', sa.Integer(), nullable=False),
    sa.Column('height_px', sa.Integer(), nullable=False),
    sa.Column('face', sa.Enum('tool side', 'bag side', 'edge', 'core', 'other', name='face', native_enum=False, length=40), nullable=False),
    sa.Column('stage', sa.Enum('at demould', 'after peel ply', 'after trim', 'after repair', name='photostage', native_enum=False, length=40), nullable=False),
    sa.Column('note', sa.Text(), nullable=False),
    sa.Column('taken_at', sa.String(length=40), nullable=True),
    sa.Column('received_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('deleted_at', sa.DateTime(timezone=True), nullable=True),
    sa.CheckConstraint('width_px > 0 AND height_px > 0', name=op.f('ck_photo_has_pixels')),
    sa.ForeignKeyConstraint(['build_id'], ['build.id'], name=op.f('fk_photo_build_id_build')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_photo')),
    sa.UniqueConstraint('build_id', 'sha256', name=op.f('uq_photo_build_id_sha256'))
    )
    with op.batch_alter_table('photo', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_photo_build_id'), ['build_id'], unique=False)
        batch_op.create_index(batch_op.f('ix_photo_sha256'), ['sha256'], unique=False)

    op.create_table('cause_verdict',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('finding_id', sa.Integer(), nullable=False),
    sa.Column('cause', sa.String(length=60), nullable=False),
    sa.Column('is_confirmed', sa.Boolean(), nullable=False),
    sa.Column('seen', sa.Text(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.ForeignKeyConstraint(['finding_id'], ['finding.id'], name=op.f('fk_cause_verdict_finding_id_finding'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_cause_verdict')),
    sa.UniqueConstraint('finding_id', 'cause', name=op.f('uq_cause_verdict_finding_id_cause'))
    )
    op.create_table('fix_done',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('finding_id', sa.Integer(), nullable=False),
    sa.Column('words', sa.Text(), nullable=False),
    sa.Column('minutes', sa.Double(), nullable=True),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.ForeignKeyConstraint(['finding_id'], ['finding.id'], name=op.f('fk_fix_done_finding_id_finding'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_fix_done'))
    )
    op.create_table('lesson',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('part_id', sa.Integer(), nullable=False),
    sa.Column('finding_id', sa.Integer(), nullable=False),
    sa.Column('cause', sa.String(length=60), nullable=True),
    sa.Column('words', sa.Text(), nullable=False),
    sa.Column('state', sa.Enum('on trial', 'kept', 'dropped', name='lessonstate', native_enum=False, length=40), nullable=False),
    sa.Column('reason', sa.Text(), nullable=False),
    sa.Column('written_at', sa.DateTime(timezone=True), nullable=False),
    sa.ForeignKeyConstraint(['finding_id'], ['finding.id'], name=op.f('fk_lesson_finding_id_finding')),
    sa.ForeignKeyConstraint(['part_id'], ['part.id'], name=op.f('fk_lesson_part_id_part')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_lesson'))
    )
    with op.batch_alter_table('lesson', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_lesson_finding_id'), ['finding_id'], unique=False)
        batch_op.create_index(batch_op.f('ix_lesson_part_id'), ['part_id'], unique=False)

    op.create_table('mark',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('photo_id', sa.Integer(), nullable=False),
    sa.Column('finding_id', sa.Integer(), nullable=False),
    sa.Column('shape', sa.Enum('point', 'line', 'outline', 'box', name='shape', native_enum=False, length=40), nullable=False),
    sa.Column('points', sa.JSON(), nullable=False),
    sa.Column('client_id', sa.String(length=64), nullable=True),
    sa.Column('drawn_at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('deleted_at', sa.DateTime(timezone=True), nullable=True),
    sa.ForeignKeyConstraint(['finding_id'], ['finding.id'], name=op.f('fk_mark_finding_id_finding')),
    sa.ForeignKeyConstraint(['photo_id'], ['photo.id'], name=op.f('fk_mark_photo_id_photo'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_mark')),
    sa.UniqueConstraint('client_id', name=op.f('uq_mark_client_id'))
    )
    with op.batch_alter_table('mark', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_mark_finding_id'), ['finding_id'], unique=False)
        batch_op.create_index(batch_op.f('ix_mark_photo_id'), ['photo_id'], unique=False)

    op.create_table('photo_scale',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('photo_id', sa.Integer(), nullable=False),
    sa.Column('source', sa.String(length=20), nullable=False),
    sa.Column('px_per_mm', sa.Double(), nullable=True),
    sa.Column('uncertainty_pct', sa.Double(), nullable=True),
    sa.Column('tilt_deg', sa.Double(), nullable=True),
    sa.Column('homography', sa.JSON(none_as_null=True), nullable=True),
    sa.Column('card_outlines', sa.JSON(), nullable=False),
    sa.Column('points', sa.JSON(none_as_null=True), nullable=True),
    sa.Column('length_mm', sa.Double(), nullable=True),
    sa.Column('warnings', sa.JSON(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.CheckConstraint('px_per_mm IS NULL OR px_per_mm > 0', name=op.f('ck_photo_scale_is_positive')),
    sa.ForeignKeyConstraint(['photo_id'], ['photo.id'], name=op.f('fk_photo_scale_photo_id_photo'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_photo_scale'))
    )
    with op.batch_alter_table('photo_scale', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_photo_scale_photo_id'), ['photo_id'], unique=False)

    op.create_table('lesson_use',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('lesson_id', sa.Integer(), nullable=False),
    sa.Column('build_id', sa.Integer(), nullable=False),
    sa.Column('is_applied', sa.Boolean(), nullable=False),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.ForeignKeyConstraint(['build_id'], ['build.id'], name=op.f('fk_lesson_use_build_id_build'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['lesson_id'], ['lesson.id'], name=op.f('fk_lesson_use_lesson_id_lesson'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_lesson_use')),
    sa.UniqueConstraint('lesson_id', 'build_id', name=op.f('uq_lesson_use_lesson_id_build_id'))
    )
    with op.batch_alter_table('lesson_use', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_lesson_use_build_id'), ['build_id'], unique=False)

    op.create_table('measurement',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('photo_id', sa.Integer(), nullable=False),
    sa.Column('scale_id', sa.Integer(), nullable=True),
    sa.Column('at', sa.DateTime(timezone=True), nullable=False),
    sa.Column('version', sa.String(length=40), nullable=False),
    sa.Column('region', sa.JSON(none_as_null=True), nullable=True),
    sa.Column('settings', sa.JSON(), nullable=False),
    sa.Column('look', sa.String(length=20), nullable=True),
    sa.Column('threshold', sa.Double(), nullable=True),
    sa.Column('void_fraction', sa.Double(), nullable=False),
    sa.Column('void_fraction_low', sa.Double(), nullable=False),
    sa.Column('void_fraction_high', sa.Double(), nullable=False),
    sa.Column('spread_low', sa.Double(), nullable=True),
    sa.Column('spread_high', sa.Double(), nullable=True),
    sa.Column('count', sa.Integer(), nullable=False),
    sa.Column('density_per_cm2', sa.Double(), nullable=True),
    sa.Column('largest_mm', sa.Double(), nullable=True),
    sa.Column('largest_px', sa.Double(), nullable=True),
    sa.Column('clustering', sa.Double(), nullable=True),
    sa.Column('inspected_px', sa.Integer(), nullable=False),
    sa.Column('inspected_mm2', sa.Double(), nullable=True),
    sa.Column('not_inspected_fraction', sa.Double(), nullable=False),
    sa.Column('warnings', sa.JSON(), nullable=False),
    sa.Column('seconds', sa.Double(), nullable=False),
    sa.Column('result', sa.JSON(), nullable=True),
    sa.Column('voids_png', sa.LargeBinary(), nullable=True),
    sa.Column('inspected_png', sa.LargeBinary(), nullable=True),
    sa.CheckConstraint('void_fraction >= 0 AND void_fraction <= 1', name=op.f('ck_measurement_is_a_fraction')),
    sa.CheckConstraint('void_fraction_low <= void_fraction AND void_fraction <= void_fraction_high', name=op.f('ck_measurement_lies_in_its_interval')),
    sa.ForeignKeyConstraint(['photo_id'], ['photo.id'], name=op.f('fk_measurement_photo_id_photo'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['scale_id'], ['photo_scale.id'], name=op.f('fk_measurement_scale_id_photo_scale')),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_measurement'))
    )
    with op.batch_alter_table('measurement', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_measurement_photo_id'), ['photo_id'], unique=False)



def downgrade() -> None:
    with op.batch_alter_table('measurement', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_measurement_photo_id'))

    op.drop_table('measurement')
    with op.batch_alter_table('lesson_use', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_lesson_use_build_id'))

    op.drop_table('lesson_use')
    with op.batch_alter_table('photo_scale', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_photo_scale_photo_id'))

    op.drop_table('photo_scale')
    with op.batch_alter_table('mark', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_mark_photo_id'))
        batch_op.drop_index(batch_op.f('ix_mark_finding_id'))

    op.drop_table('mark')
    with op.batch_alter_table('lesson', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_lesson_part_id'))
        batch_op.drop_index(batch_op.f('ix_lesson_finding_id'))

    op.drop_table('lesson')
    op.drop_table('fix_done')
    op.drop_table('cause_verdict')
    with op.batch_alter_table('photo', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_photo_sha256'))
        batch_op.drop_index(batch_op.f('ix_photo_build_id'))

    op.drop_table('photo')
    with op.batch_alter_table('finding', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_finding_kind'))
        batch_op.drop_index(batch_op.f('ix_finding_build_id'))

    op.drop_table('finding')
    op.drop_table('build_fact')
    op.drop_table('part_limit')
    with op.batch_alter_table('build', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_build_part_id'))

    op.drop_table('build')
    op.drop_table('workshop')
    op.drop_table('saved_form')
    op.drop_table('part')
