"""The migrations are written once, in SQLite's words; this says them in PostgreSQL's.

Whole numbers are 8 bytes long on both, and text is compared byte by byte on both. `"id" INTEGER PRIMARY KEY` counts by
itself in SQLite, and so does what is said instead.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from peewee import BooleanField

from bedside.records.laboratory_tables import LABORATORY_TABLES
from bedside.records.tables import TABLES

COUNTS_BY_ITSELF = re.compile(r'"(id|row)" INTEGER NOT NULL PRIMARY KEY')
TRIGGER = re.compile(
    r"""CREATE TRIGGER "(?P<name>\w+)" BEFORE (?P<act>UPDATE|DELETE) ON "(?P<table>\w+)"\s+"""
    r"""BEGIN SELECT RAISE\(ABORT, '(?P<says>[^']+)'\); END"""
)
TABLE = re.compile(r'CREATE TABLE "(?P<table>\w+)"')

REFUSE = """CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION USING MESSAGE = TG_ARGV[0], ERRCODE = 'integrity_constraint_violation'; END $$"""
"""What the triggers of tables written once call."""


def in_postgres(statement: str) -> tuple[str, ...]:
    """The same statement for PostgreSQL, in one or more parts.

    Raises ValueError for a trigger it does not know how to say.
    """
    if statement.startswith("CREATE TRIGGER"):
        return _trigger(statement)
    if table := TABLE.match(statement):
        return (_columns(statement, booleans_of(table["table"])),)
    return (statement,)


def booleans_of(table: str) -> frozenset[str]:
    """The columns of a table that hold yes or no: SQLite keeps them as whole numbers."""
    model = next((one for one in (*TABLES, *LABORATORY_TABLES) if one._meta.table_name == table), None)
    fields = model._meta.sorted_fields if model else ()
    return frozenset(field.column_name for field in fields if isinstance(field, BooleanField))


def _columns(statement: str, booleans: Collection[str]) -> str:
    def whole_number(found: re.Match[str]) -> str:
        return f'"{found[1]}" {"BOOLEAN" if found[1] in booleans else "BIGINT"}'

    statement = COUNTS_BY_ITSELF.sub(r'"\1" BIGSERIAL NOT NULL PRIMARY KEY', statement)
    statement = re.sub(r'"(\w+)" INTEGER', whole_number, statement)
    statement = re.sub(r'("\w+") REAL', r"\1 DOUBLE PRECISION", statement)
    return re.sub(r'("\w+") TEXT', r'\1 TEXT COLLATE "C"', statement)


def _trigger(statement: str) -> tuple[str, ...]:
    """A row can be refused as it changes; emptying a table at one stroke is no DELETE in PostgreSQL."""
    told = TRIGGER.fullmatch(statement)
    if told is None:
        raise ValueError(f"This trigger is not known in PostgreSQL: {statement}. Teach bedside/records/dialect.py.")
    calls = f"EXECUTE FUNCTION refuse_change('{told['says']}')"
    name, act, table = told["name"], told["act"], told["table"]
    said = [REFUSE, f'CREATE TRIGGER "{name}" BEFORE {act} ON "{table}" FOR EACH ROW {calls}']
    if act == "DELETE":
        emptied = f"{table}_refuses_truncate"
        said.append(f'CREATE TRIGGER "{emptied}" BEFORE TRUNCATE ON "{table}" FOR EACH STATEMENT {calls}')
    return tuple(said)
