"""Alembic environment: runs the steps on the connection that migrate.py hands over."""

from alembic import context
from sqlmodel import SQLModel

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=SQLModel.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
connection.commit()
