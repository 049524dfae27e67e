"""the next build: room of regions, terms, chosen plans, opinions

Revision: 0007
After: 0004
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = '0007'
down_revision = '0004'
branch_labels = None
depends_on = None

TEXT = sqlmodel.sql.sqltypes.AutoString
STAMP = sqlmodel.sql.sqltypes.UTCDateTime
INDEXED = {
    'planterms': ('entered_at', 'failure_id'),
    'chosenplan': ('build_id', 'entered_at', 'failure_id'),
    'opinionlink': ('entered_at', 'failure_id'),
    'opinion': ('entered_at', 'failure_id', 'link_id'),
}


def upgrade() -> None:
    with op.batch_alter_table('lockedfeature', schema=None) as batch_op:
        batch_op.add_column(sa.Column('kind', TEXT(), nullable=False, server_default='dimension'))
        batch_op.add_column(sa.Column('is_free', sa.Boolean(), nullable=False, server_default=sa.false()))
        batch_op.add_column(sa.Column('room_mm', sa.Float(), nullable=True))
    op.create_table('planterms',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('failure_id', sa.Integer(), nullable=False),
    sa.Column('regions_at_break', sa.JSON(), nullable=False),
    sa.Column('wanted', sa.Float(), nullable=False),
    sa.Column('needed_on', sa.Date(), nullable=True),
    sa.Column('thickness_mm', sa.Float(), nullable=True),
    sa.Column('bends', sa.Boolean(), nullable=True),
    sa.Column('mass_g', sa.Float(), nullable=True),
    sa.Column('printing_h', sa.Float(), nullable=True),
    sa.Column('printer_per_h', sa.Float(), nullable=True),
    sa.Column('bench_h', sa.Float(), nullable=True),
    sa.Column('bench_per_h', sa.Float(), nullable=True),
    sa.Column('entered_by', TEXT(), nullable=False),
    sa.Column('entered_at', STAMP(), nullable=False),
    sa.ForeignKeyConstraint(['failure_id'], ['failure.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    op.create_table('chosenplan',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('failure_id', sa.Integer(), nullable=False),
    sa.Column('build_id', sa.Integer(), nullable=False),
    sa.Column('plan_key', TEXT(), nullable=False),
    sa.Column('said', sa.JSON(), nullable=False),
    sa.Column('reason', TEXT(), nullable=False),
    sa.Column('chosen_by', TEXT(), nullable=False),
    sa.Column('first_look_on', sa.Date(), nullable=False),
    sa.Column('program_version', TEXT(), nullable=False),
    sa.Column('entered_at', STAMP(), nullable=False),
    sa.ForeignKeyConstraint(['build_id'], ['build.id'], ),
    sa.ForeignKeyConstraint(['failure_id'], ['failure.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    op.create_table('opinionlink',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('failure_id', sa.Integer(), nullable=False),
    sa.Column('token_sha256', TEXT(), nullable=False),
    sa.Column('for_whom', TEXT(), nullable=False),
    sa.Column('question', TEXT(), nullable=False),
    sa.Column('expires_on', sa.Date(), nullable=False),
    sa.Column('answer_by', sa.Date(), nullable=True),
    sa.Column('revoked_at', STAMP(), nullable=True),
    sa.Column('shows_model', sa.Boolean(), nullable=False),
    sa.Column('shows_customer', sa.Boolean(), nullable=False),
    sa.Column('shows_place', sa.Boolean(), nullable=False),
    sa.Column('shows_photo_facts', sa.Boolean(), nullable=False),
    sa.Column('entered_at', STAMP(), nullable=False),
    sa.ForeignKeyConstraint(['failure_id'], ['failure.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    op.create_table('opinion',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('link_id', sa.Integer(), nullable=False),
    sa.Column('failure_id', sa.Integer(), nullable=False),
    sa.Column('who', TEXT(), nullable=False),
    sa.Column('plan_key', TEXT(), nullable=False),
    sa.Column('plan_words', TEXT(), nullable=False),
    sa.Column('proposal', TEXT(), nullable=False),
    sa.Column('comment', TEXT(), nullable=False),
    sa.Column('entered_at', STAMP(), nullable=False),
    sa.ForeignKeyConstraint(['failure_id'], ['failure.id'], ),
    sa.ForeignKeyConstraint(['link_id'], ['opinionlink.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    for table, names in INDEXED.items():
        with op.batch_alter_table(table, schema=None) as batch_op:
            for name in names:
                batch_op.create_index(batch_op.f(f'ix_{table}_{name}'), [name], unique=False)
    with op.batch_alter_table('opinionlink', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_opinionlink_token_sha256'), ['token_sha256'], unique=True)


def downgrade() -> None:
    for table in ('opinion', 'opinionlink', 'chosenplan', 'planterms'):
        op.drop_table(table)
    with op.batch_alter_table('lockedfeature', schema=None) as batch_op:
        for name in ('room_mm', 'is_free', 'kind'):
            batch_op.drop_column(name)
