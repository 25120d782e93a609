"""Alembic's entry: runs the steps on the connection that ``migrate`` hands over."""

from alembic import context

from defectlog.records import Record

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Record.metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
