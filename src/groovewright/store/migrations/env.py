"""How Alembic runs the migrations: on the connection that it is given, in that transaction."""

from alembic import context

from groovewright.store.tables import VERSION_TABLE, metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    version_table=VERSION_TABLE,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
