"""Run by Alembic: upgrades the connection that database.py hands over, inside its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
context.run_migrations()
