"""pictures made of several photos of a face

Revision: 0010
After: 0009
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = '0010'
down_revision = '0009'
branch_labels = None
depends_on = None

INDEXED = ('entered_at', 'face_id', 'job_id', 'photo_id')


def upgrade() -> None:
    op.create_table('joining',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('face_id', sa.Integer(), nullable=False),
    sa.Column('job_id', sa.Integer(), nullable=True),
    sa.Column('photo_id', sa.Integer(), nullable=True),
    sa.Column('kind', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('photo_ids', sa.JSON(), nullable=False),
    sa.Column('um_per_px', sa.Float(), nullable=True),
    sa.Column('scale_relative_sd', sa.Float(), nullable=True),
    sa.Column('scale_from', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('step_um', sa.Float(), nullable=True),
    sa.Column('first_is_highest', sa.Boolean(), nullable=False),
    sa.Column('placements', sa.JSON(), nullable=False),
    sa.Column('residuals', sa.JSON(), nullable=False),
    sa.Column('facts', sa.JSON(), nullable=False),
    sa.Column('map_sha256', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('program_version', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('withdrawn_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=True),
    sa.Column('withdrawn_why', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.ForeignKeyConstraint(['face_id'], ['face.id'], ),
    sa.ForeignKeyConstraint(['job_id'], ['job.id'], ),
    sa.ForeignKeyConstraint(['photo_id'], ['photo.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    with op.batch_alter_table('joining', schema=None) as batch_op:
        for name in INDEXED:
            batch_op.create_index(batch_op.f(f'ix_joining_{name}'), [name], unique=False)


def downgrade() -> None:
    with op.batch_alter_table('joining', schema=None) as batch_op:
        for name in reversed(INDEXED):
            batch_op.drop_index(batch_op.f(f'ix_joining_{name}'))

    op.drop_table('joining')
