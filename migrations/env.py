"""Hands Alembic the open connection: the program starts and ends the transaction itself."""

from alembic import context

connection = context.config.attributes["connection"]
context.configure(connection=connection, render_as_batch=True)
context.run_migrations()
