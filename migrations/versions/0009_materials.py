"""own materials, tests of spools, places of use

Revision: 0009
After: 0008
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = '0009'
down_revision = '0008'
branch_labels = None
depends_on = None

TEXT = sqlmodel.sql.sqltypes.AutoString()
INDEXED = {
    'ownmaterial': ('entered_at', 'name'),
    'coupontest': ('entered_at', 'replaces_id', 'spool_id'),
    'useplace': ('entered_at', 'part_id', 'revision_id'),
}


def upgrade() -> None:
    op.create_table('ownmaterial',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('name', TEXT, nullable=False),
    sa.Column('designation', TEXT, nullable=False),
    sa.Column('kind', TEXT, nullable=False),
    sa.Column('figures', sa.JSON(), nullable=False),
    sa.Column('ratings', sa.JSON(), nullable=False),
    sa.Column('source', TEXT, nullable=False),
    sa.Column('note', TEXT, nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.PrimaryKeyConstraint('id')
    )
    op.create_table('supply',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('material', TEXT, nullable=False),
    sa.Column('days_to_get', sa.Integer(), nullable=True),
    sa.Column('price_eur_kg', sa.Float(), nullable=True),
    sa.Column('note', TEXT, nullable=False),
    sa.PrimaryKeyConstraint('id')
    )
    op.create_table('coupontest',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('spool_id', sa.Integer(), nullable=False),
    sa.Column('replaces_id', sa.Integer(), nullable=True),
    sa.Column('geometry', TEXT, nullable=False),
    sa.Column('orientation', TEXT, nullable=False),
    sa.Column('tested_on', sa.Date(), nullable=False),
    sa.Column('bars', sa.JSON(), nullable=False),
    sa.Column('typed', TEXT, nullable=False),
    sa.Column('bonded_low', sa.Float(), nullable=True),
    sa.Column('bonded_high', sa.Float(), nullable=True),
    sa.Column('temperature_c', sa.Float(), nullable=True),
    sa.Column('printed_how', TEXT, nullable=False),
    sa.Column('note', TEXT, nullable=False),
    sa.Column('tested_by', TEXT, nullable=False),
    sa.Column('is_withdrawn', sa.Boolean(), nullable=False),
    sa.Column('correction_reason', TEXT, nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.ForeignKeyConstraint(['spool_id'], ['spool.id'], ),
    sa.ForeignKeyConstraint(['replaces_id'], ['coupontest.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    op.create_table('useplace',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('part_id', sa.Integer(), nullable=False),
    sa.Column('revision_id', sa.Integer(), nullable=True),
    sa.Column('preset', TEXT, nullable=False),
    sa.Column('highest_c', sa.Float(), nullable=True),
    sa.Column('highest_typed', TEXT, nullable=False),
    sa.Column('agents', sa.JSON(), nullable=False),
    sa.Column('water', TEXT, nullable=False),
    sa.Column('how_known', TEXT, nullable=False),
    sa.Column('entered_by', TEXT, nullable=False),
    sa.Column('entered_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.ForeignKeyConstraint(['part_id'], ['part.id'], ),
    sa.ForeignKeyConstraint(['revision_id'], ['revision.id'], ),
    sa.PrimaryKeyConstraint('id')
    )
    for table, names in INDEXED.items():
        with op.batch_alter_table(table, schema=None) as batch_op:
            for name in names:
                batch_op.create_index(batch_op.f(f'ix_{table}_{name}'), [name], unique=False)
    with op.batch_alter_table('supply', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_supply_material'), ['material'], unique=True)
    # Added in place: SQLite would empty the table of builds' spools first if it had to make it anew.
    op.execute('ALTER TABLE spool ADD COLUMN own_material_id INTEGER REFERENCES ownmaterial (id)')
    op.add_column('spool', sa.Column('left_g', sa.Float(), nullable=True))
    op.add_column('spool', sa.Column('price_eur_kg', sa.Float(), nullable=True))
    op.create_index('ix_spool_own_material_id', 'spool', ['own_material_id'], unique=False)


def downgrade() -> None:
    with op.batch_alter_table('spool', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_spool_own_material_id'))
        batch_op.drop_column('price_eur_kg')
        batch_op.drop_column('left_g')
        batch_op.drop_column('own_material_id')
    with op.batch_alter_table('supply', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_supply_material'))
    for table, names in reversed(INDEXED.items()):
        with op.batch_alter_table(table, schema=None) as batch_op:
            for name in reversed(names):
                batch_op.drop_index(batch_op.f(f'ix_{table}_{name}'))
    for table in ('useplace', 'coupontest', 'supply', 'ownmaterial'):
        op.drop_table(table)
