"""loads and weld strength of a break site

Revision: 0004
After: 0003
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = '0004'
down_revision = '0003'
branch_labels = None
depends_on = None

TEXT = sqlmodel.sql.sqltypes.AutoString()
INDEXED = {
    'loadcase': ('entered_at', 'face_id', 'failure_id', 'replaces_id', 'site_id'),
    'weldstrength': ('entered_at', 'failure_id', 'replaces_id', 'site_id'),
}


def upgrade() -> None:
    op.create_table('loadcase',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('failure_id', sa.Integer(), nullable=False),
    sa.Column('site_id', sa.Integer(), nullable=True),
    sa.Column('face_id', sa.Integer(), nullable=True),
    sa.Column('replaces_id', sa.Integer(), nullable=True),
    sa.Column('name', TEXT, nullable=False),
    sa.Column('preset', TEXT, nullable=False),
    sa.Column('force_low_n', sa.Float(), nullable=False),
    sa.Column('force_high_n', sa.Float(), nullable=False),
    sa.Column('force_typed', TEXT, nullable=False),
    sa.Column('action', TEXT, nullable=False),
    sa.Column('tilt_deg', sa.Float(), nullable=False),
    sa.Column('azimuth_deg', sa.Float(), nullable=True),
    sa.Column('azimuth_typed', TEXT, nullable=False),
    sa.Column('reach_low_mm', sa.Float(), nullable=False),
    sa.Column('reach_high_mm', sa.Float(), nullable=False),
    sa.Column('offset_right_mm', sa.Float(), nullable=False),
    sa.Column('offset_down_mm', sa.Float(), nullable=False),
    sa.Column('how_known', TEXT, nullable=False),
    sa.Column('source', TEXT, nullable=False),
    sa.Column('is_withdrawn', sa.Boolean(), nullable=False),
    sa.Column('entered_by', TEXT, nullable=False),
    sa.Column('correction_reason', TEXT, nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.ForeignKeyConstraint(['failure_id'], ['failure.id'], ),
    sa.ForeignKeyConstraint(['site_id'], ['breaksite.id'], ),
    sa.ForeignKeyConstraint(['face_id'], ['face.id'], ),
    sa.ForeignKeyConstraint(['replaces_id'], ['loadcase.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    op.create_table('weldstrength',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('failure_id', sa.Integer(), nullable=False),
    sa.Column('site_id', sa.Integer(), nullable=True),
    sa.Column('replaces_id', sa.Integer(), nullable=True),
    sa.Column('low_mpa', sa.Float(), nullable=False),
    sa.Column('high_mpa', sa.Float(), nullable=False),
    sa.Column('typed', TEXT, nullable=False),
    sa.Column('origin', TEXT, nullable=False),
    sa.Column('material', TEXT, nullable=False),
    sa.Column('service_c', sa.Float(), nullable=True),
    sa.Column('notch_low', sa.Float(), nullable=False),
    sa.Column('notch_high', sa.Float(), nullable=False),
    sa.Column('how_known', TEXT, nullable=False),
    sa.Column('entered_by', TEXT, nullable=False),
    sa.Column('correction_reason', TEXT, nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.ForeignKeyConstraint(['failure_id'], ['failure.id'], ),
    sa.ForeignKeyConstraint(['site_id'], ['breaksite.id'], ),
    sa.ForeignKeyConstraint(['replaces_id'], ['weldstrength.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    for table, names in INDEXED.items():
        with op.batch_alter_table(table, schema=None) as batch_op:
            for name in names:
                batch_op.create_index(batch_op.f(f'ix_{table}_{name}'), [name], unique=False)


def downgrade() -> None:
    for table, names in reversed(INDEXED.items()):
        with op.batch_alter_table(table, schema=None) as batch_op:
            for name in reversed(names):
                batch_op.drop_index(batch_op.f(f'ix_{table}_{name}'))
        op.drop_table(table)
