"""The house's database on a PostgreSQL server: the same promises as `database.py` makes of a SQLite file.

One writer at a time, by an advisory lock taken first in each transaction, not by serializable transactions: the audit
record and the numbers of specimens have an order, so writers would only undo each other and try again; a ward writes
fewer than five times a second. READ COMMITTED is right under the lock: every statement after it sees all that the
writer before committed, where a snapshot taken while waiting for the lock would not.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import peewee
import psycopg
from playhouse.pool import PooledPostgresqlDatabase
from psycopg import ClientCursor
from psycopg.adapt import Buffer, Loader
from psycopg.types.string import StrDumper

from bedside.records.database import BUSY_TIMEOUT_MS, DatabaseUnfit

CONNECT_WITHIN_S = 5

KEPT_FOR_S = 300
"""A connection older than that is closed: what a server gathers for it is let go of. Our own choice, no source."""

AS_MANY_AS_THREADS = 0
"""No limit of its own on connections: a process has as many as it has threads."""

FORGOTTEN_AFTER_MS = 60_000
"""A server that stands still in the middle of a write, lock in hand, is let go of: the others must go on."""

DEMANDED: Mapping[str, frozenset[str]] = {
    "synchronous_commit": frozenset({"on", "remote_apply"}),
    "fsync": frozenset({"on"}),
    "full_page_writes": frozenset({"on"}),
    "transaction_isolation": frozenset({"read committed"}),
    "server_encoding": frozenset({"UTF8"}),
    "session_replication_role": frozenset({"origin"}),
}
"""What the server must report on every connection. The last one: triggers and references are obeyed."""

SET = {
    "synchronous_commit": "on",
    "lock_timeout": BUSY_TIMEOUT_MS,
    "idle_in_transaction_session_timeout": FORGOTTEN_AFTER_MS,
    "default_transaction_isolation": "read\\ committed",
}
"""What every connection asks for."""

ESCAPE, NUL = "\ue000", "\x00"
"""PostgreSQL holds no NUL in a text, and what a tablet sent is kept as it was: NUL is written as U+E000 and `0`,
U+E000 itself twice.
"""


class Checked(peewee.PostgresqlDatabase):  # type: ignore[misc]
    """A database of a PostgreSQL server; every new connection is asked what it promises.

    Text is compared byte by byte, as SQLite does, whatever the server's language is.
    """

    field_types = {  # noqa: RUF012 - peewee reads it from the class
        **peewee.PostgresqlDatabase.field_types,
        "AUTO": "BIGSERIAL",
        "FLOAT": "DOUBLE PRECISION",
        "INT": "BIGINT",
        "TEXT": 'TEXT COLLATE "C"',
    }

    def _connect(self) -> Any:
        connection = super()._connect()
        try:
            connection.adapters.register_dumper(str, TextDumper)
            connection.adapters.register_loader("text", TextLoader)
            refuse_weaker(connection)
        except BaseException:
            connection.close()
            raise
        return connection


class HousePostgres(PooledPostgresqlDatabase, Checked):  # type: ignore[misc]
    """Connections are kept for the next request: one to a PostgreSQL server costs a process there."""

    def _is_closed(self, conn: Any) -> bool:
        """Asked before a kept connection is used again: the server may have gone, come back, or changed its ways."""
        try:
            refuse_weaker(conn)
        except psycopg.Error:
            conn.close()
            return True
        except DatabaseUnfit:
            conn.close()
            raise
        return bool(super()._is_closed(conn))


class TextDumper(StrDumper):
    """Writes NUL as something PostgreSQL holds."""

    def dump(self, obj: str) -> Buffer | None:
        return super().dump(escaped(obj))


class TextLoader(Loader):
    """Reads back what `TextDumper` wrote."""

    def load(self, data: Buffer) -> str:
        return unescaped(bytes(data).decode())


def escaped(text: str) -> str:
    """A text without NUL."""
    if NUL not in text and ESCAPE not in text:
        return text
    return text.replace(ESCAPE, ESCAPE + ESCAPE).replace(NUL, ESCAPE + "0")


def unescaped(text: str) -> str:
    """The text that was escaped."""
    if ESCAPE not in text:
        return text
    return ESCAPE.join(part.replace(ESCAPE + "0", NUL) for part in text.split(ESCAPE + ESCAPE))


def postgres_at(url: str) -> HousePostgres:
    """The database this address names; nothing is opened yet. Each thread gets its own connection."""
    return HousePostgres(
        url,
        max_connections=AS_MANY_AS_THREADS,
        stale_timeout=KEPT_FOR_S,
        prefer_psycopg3=True,
        thread_safe=True,
        autoconnect=False,
        cursor_factory=ClientCursor,
        connect_timeout=CONNECT_WITHIN_S,
        client_encoding="UTF8",
        application_name="bedside",
        options=" ".join(f"-c {name}={value}" for name, value in SET.items()),
    )


def refuse_weaker(connection: Any) -> None:
    """Raises DatabaseUnfit naming the first setting of the server under which something could be lost."""
    asked = ", ".join(f"current_setting('{name}')" for name in DEMANDED)
    told = connection.execute(f"SELECT {asked}").fetchone()
    for (name, fit), value in zip(DEMANDED.items(), told, strict=True):
        if value not in fit:
            raise DatabaseUnfit(
                f"The PostgreSQL server reports {name} = {value}; {' or '.join(sorted(fit))} is needed so that nothing "
                "recorded is lost. Change it on the server and start again."
            )
