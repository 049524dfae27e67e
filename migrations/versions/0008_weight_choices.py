"""choices of weights, and why a break site followed

Revision: 0008
After: 0007
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = '0008'
down_revision = '0007'
branch_labels = None
depends_on = None

INDEXED = ('entered_at', 'replaces_id')


def upgrade() -> None:
    op.create_table('weightchoice',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('replaces_id', sa.Integer(), nullable=True),
    sa.Column('source', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('counts', sa.JSON(), nullable=False),
    sa.Column('cases', sa.JSON(), nullable=False),
    sa.Column('strength_cases', sa.Float(), nullable=False),
    sa.Column('reason', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('chosen_by', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.ForeignKeyConstraint(['replaces_id'], ['weightchoice.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    with op.batch_alter_table('weightchoice', schema=None) as batch_op:
        for name in INDEXED:
            batch_op.create_index(batch_op.f(f'ix_weightchoice_{name}'), [name], unique=False)
    op.add_column('siteentry', sa.Column('why_followed', sqlmodel.sql.sqltypes.AutoString(), nullable=False, server_default=''))


def downgrade() -> None:
    with op.batch_alter_table('siteentry', schema=None) as batch_op:
        batch_op.drop_column('why_followed')
    with op.batch_alter_table('weightchoice', schema=None) as batch_op:
        for name in reversed(INDEXED):
            batch_op.drop_index(batch_op.f(f'ix_weightchoice_{name}'))

    op.drop_table('weightchoice')
