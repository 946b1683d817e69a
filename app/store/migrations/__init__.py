"""Migrations of the database, run by ``app.store.migrate``."""
