"""causes of gaps

Revision: 0003
After: 0002
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = '0003'
down_revision = '0002'
branch_labels = None
depends_on = None

INDEXED = ('cause', 'entered_at', 'measurement_id', 'replaces_id')


def upgrade() -> None:
    op.create_table('gapcause',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('measurement_id', sa.Integer(), nullable=False),
    sa.Column('replaces_id', sa.Integer(), nullable=True),
    sa.Column('outline', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('wall_index', sa.Integer(), nullable=False),
    sa.Column('start_mm', sa.Float(), nullable=False),
    sa.Column('end_mm', sa.Float(), nullable=False),
    sa.Column('cause', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('answers', sa.JSON(), nullable=False),
    sa.Column('note', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('who', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.ForeignKeyConstraint(['measurement_id'], ['measurement.id'], ),
    sa.ForeignKeyConstraint(['replaces_id'], ['gapcause.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    with op.batch_alter_table('gapcause', schema=None) as batch_op:
        for name in INDEXED:
            batch_op.create_index(batch_op.f(f'ix_gapcause_{name}'), [name], unique=False)


def downgrade() -> None:
    with op.batch_alter_table('gapcause', schema=None) as batch_op:
        for name in reversed(INDEXED):
            batch_op.drop_index(batch_op.f(f'ix_gapcause_{name}'))

    op.drop_table('gapcause')
