"""What a PostgreSQL server says about a house's tables: for comparing two schemas, and for looking at references."""

from __future__ import annotations

from dataclasses import dataclass

from bedside.records.database import db

COLUMNS = """SELECT table_name || '.' || column_name,
    concat_ws(' ', data_type, collation_name, is_nullable, column_default)
    FROM information_schema.columns WHERE table_schema = current_schema()"""
INDEXES = """SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = current_schema()
    AND indexname NOT IN (SELECT conname FROM pg_constraint WHERE connamespace = current_schema()::regnamespace)"""
KEYS = """SELECT conrelid::regclass || ' ' || pg_get_constraintdef(oid), 'key' FROM pg_constraint
    WHERE connamespace = current_schema()::regnamespace"""
TRIGGERS = """SELECT tgname, pg_get_triggerdef(oid) FROM pg_trigger
    WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')
    AND tgrelid IN (SELECT oid FROM pg_class WHERE relnamespace = current_schema()::regnamespace)"""
REFERENCES = """SELECT conrelid::regclass::text, a.attname, confrelid::regclass::text, b.attname
    FROM pg_constraint AS c
    JOIN pg_attribute AS a ON a.attrelid = conrelid AND a.attnum = conkey[1]
    JOIN pg_attribute AS b ON b.attrelid = confrelid AND b.attnum = confkey[1]
    WHERE contype = 'f' AND connamespace = current_schema()::regnamespace ORDER BY 1, 2"""


@dataclass(frozen=True, slots=True)
class Reference:
    """A column that points to another table's. Tables are named as SQL wants them, quoted where need be."""

    table: str
    column: str
    to_table: str
    to_column: str


def told_by_postgres() -> dict[str, str]:
    """Every column, index, key and trigger of the house, by name; a trigger that was switched off is none."""
    asked = (COLUMNS, INDEXES, KEYS, TRIGGERS)
    return {name: what for sql in asked for name, what in db.execute_sql(sql).fetchall()}


def references() -> list[Reference]:
    """Every reference between the house's tables."""
    return [Reference(*row) for row in db.execute_sql(REFERENCES).fetchall()]


def loose_reference() -> Reference | None:
    """The first reference with a row that points to nothing. The server keeps them, unless somebody told it not to."""
    for one in references():
        found = (
            f'SELECT 1 FROM {one.table} AS f LEFT JOIN {one.to_table} AS t ON t."{one.to_column}" = f."{one.column}" '
            f'WHERE f."{one.column}" IS NOT NULL AND t."{one.to_column}" IS NULL LIMIT 1'
        )
        if db.execute_sql(found).fetchone():
            return one
    return None
