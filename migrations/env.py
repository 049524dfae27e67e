"""Alembic's door: runs the migrations on the connection that the server hands over."""

from alembic import context
from sqlmodel import SQLModel

import server.records  # noqa: F401 - the tables register themselves

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=SQLModel.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
