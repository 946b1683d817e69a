"""Run migrations on the connection that the caller opened, inside its transaction."""

from alembic import context

from app.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
)
context.run_migrations()
