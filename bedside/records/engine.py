"""Which database a house has: a SQLite file in its folder, or a PostgreSQL server where DATABASE_URL names one."""

from __future__ import annotations

from typing import Any

import peewee

from bedside.records.database import DatabaseUnfit, database_at
from bedside.settings import Settings

POSTGRES = ("postgresql://", "postgres://")


def database_of(settings: Settings) -> Any:
    """The house's database; nothing is opened yet.

    Raises DatabaseUnfit for an address of another engine, or when PostgreSQL's driver is not installed.
    """
    url = settings.database_url
    if not url:
        return database_at(settings.database)
    if not url.startswith(POSTGRES):
        scheme = url.partition(":")[0]
        raise DatabaseUnfit(
            f"DATABASE_URL names a database of the kind {scheme!r}, which Bedside cannot use. "
            "Give postgresql://…, or leave it out for SQLite."
        )
    if peewee.psycopg is None:
        raise DatabaseUnfit(
            "DATABASE_URL names a PostgreSQL server, but its driver is not installed, so nothing can be recorded. "
            "Run: pip install 'bedside[postgres]'"
        )
    from bedside.records.postgres import postgres_at  # only where its driver is installed

    return postgres_at("postgresql://" + url.partition("://")[2])
