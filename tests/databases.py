"""Which database a test's house has: a file in its folder, or one on the session's PostgreSQL server.

A copy of a database costs a tenth of a second there, so a worker keeps two and empties them between tests: one as a
house is made for most tests, and one with the tables alone. A test that changed the tables themselves gets a new copy.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg

from bedside.records.database import connected, let_go, use
from bedside.records.engine import database_of
from bedside.records.laboratory_tables import LABORATORY_TABLES
from bedside.records.migrations import migrate
from bedside.records.moments import now
from bedside.records.tables import TABLES, Table
from bedside.settings import Settings
from tests.throwaway_cluster import Cluster, name_of

SQLITE, POSTGRES = "sqlite", "postgresql"

EVERY_TABLE: tuple[type[Table], ...] = (*TABLES, *LABORATORY_TABLES)

MARKS = """SELECT md5(string_agg(xmin::text || oid::text, ',' ORDER BY oid)) FROM pg_class
    WHERE relnamespace = 'public'::regnamespace UNION ALL
    SELECT md5(string_agg(xmin::text || oid::text || tgenabled::text, ',' ORDER BY oid)) FROM pg_trigger"""
"""Other than before as soon as a table or a trigger was made, changed or dropped."""


@dataclass
class Kept:
    """A database used again and again; `cluster` holds what it is copied from."""

    cluster: Cluster
    template: str
    url: str = ""
    marks: list[Any] = field(default_factory=list)

    def ready(self) -> str:
        """Its address, with the rows it had when it was made."""
        if not self.url:
            self._copy()
            return self.url
        with psycopg.connect(self.url, autocommit=True) as connection:
            if connection.execute(MARKS).fetchall() == self.marks:
                connection.execute(as_before())
                return self.url
        let_go()
        self.cluster.run(f"DROP DATABASE {name_of(self.url)} WITH (FORCE)")
        self._copy()
        return self.url

    def _copy(self) -> None:
        self.url = self.cluster.make(self.template)
        with psycopg.connect(self.url, autocommit=True) as connection:
            self.marks = connection.execute(MARKS).fetchall()


@dataclass
class Databases:
    """The databases of one worker. While a test runs on SQLite, `is_on` is false and no house has an address."""

    cluster: Cluster | None = None
    is_on: bool = False
    built: Kept | None = None
    empty: Kept | None = None
    homes: dict[Path, str] = field(default_factory=dict)
    extra: list[str] = field(default_factory=list)

    def begin(self, cluster: Cluster) -> None:
        """From here on houses are on this server."""
        self.cluster, self.is_on = cluster, True

    def end(self) -> None:
        """The test is over: what was made for it alone goes."""
        let_go()
        if self.cluster is not None:
            for url in self.extra:
                self.cluster.run(f"DROP DATABASE {name_of(url)} WITH (FORCE)")
        self.is_on = False
        self.homes.clear()
        self.extra.clear()

    def address_of(self, home: Path) -> str | None:
        """Where the house of this folder keeps its records; the first that asks gets the kept one with empty tables."""
        if not self.is_on:
            return None
        if home not in self.homes:
            is_first = self.empty is None or self.empty.url not in self.homes.values()
            self.homes[home] = self._empty().ready() if is_first else self.new()
        return self.homes[home]

    def new(self) -> str:
        """A database without a table, for this test alone."""
        assert self.cluster is not None
        self.extra.append(self.cluster.make())
        return self.extra[-1]

    def is_built(self, home: Path) -> str:
        """Give this folder the house that most tests begin with; gives its address."""
        assert self.built is not None
        self.homes[home] = self.built.ready()
        return self.homes[home]

    def build(self, url: str) -> None:
        """Keep what is in this database now as the beginning of tests."""
        assert self.cluster is not None
        let_go()
        keep_rows(url)
        self.built = Kept(self.cluster, name_of(url))

    def _empty(self) -> Kept:
        assert self.cluster is not None
        if self.empty is None:
            url = self.cluster.make()
            use(database_of(Settings(home=Path(), database_url=url)))
            with connected():
                migrate(now())
            let_go()
            keep_rows(url)
            self.empty = Kept(self.cluster, name_of(url))
        return self.empty


DATABASES = Databases()


def names() -> list[str]:
    return [f'"{table._meta.table_name}"' for table in EVERY_TABLE]


def keep_rows(url: str) -> None:
    """Put the rows of every table beside them, to be taken back."""
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute("CREATE SCHEMA kept")
        for name in names():
            connection.execute(f"CREATE TABLE kept.{name} AS SELECT * FROM {name}".encode())


def as_before() -> bytes:
    """The statement that gives every table its kept rows and every number its kept place, in one go."""
    rows = "".join(f"DELETE FROM {name}; INSERT INTO {name} SELECT * FROM kept.{name};" for name in names())
    numbers = "".join(
        f"PERFORM setval(pg_get_serial_sequence('{name}', '{key}'), "
        f'(SELECT coalesce(max("{key}"), 0) + 1 FROM {name}), false);'
        for name, key in numbered()
    )
    return f"BEGIN; SET LOCAL session_replication_role = replica; {rows} DO $$ BEGIN {numbers} END $$; COMMIT".encode()


def numbered() -> list[tuple[str, str]]:
    """Every table whose rows are numbered by the server, with the column."""
    return [
        (f'"{table._meta.table_name}"', table._meta.primary_key.column_name)
        for table in EVERY_TABLE
        if table._meta.auto_increment
    ]
