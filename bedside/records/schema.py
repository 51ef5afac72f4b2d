"""The schema as it stands today, made at one stroke. A house in use gets there by migrations; tests compare
the two.
"""

from __future__ import annotations

import re

from bedside.records.catalog import told_by_postgres
from bedside.records.database import db, on_postgres
from bedside.records.dialect import in_postgres
from bedside.records.laboratory_tables import LABORATORY_TABLES
from bedside.records.tables import TABLES, WRITTEN_ONCE


def refusals() -> dict[str, str]:
    """Triggers that refuse to change or delete what was written once: their statements by name."""
    statements = {}
    for table in (*WRITTEN_ONCE, *LABORATORY_TABLES):
        name = table._meta.table_name
        for act in ("UPDATE", "DELETE"):
            trigger = f"{name}_refuses_{act.lower()}"
            statements[trigger] = (
                f'CREATE TRIGGER "{trigger}" BEFORE {act} ON "{name}" '
                f"BEGIN SELECT RAISE(ABORT, '{name} rows are written once: {act} refused'); END"
            )
    return statements


def create_fresh() -> None:
    """Create every table, index and trigger in an empty database."""
    db.create_tables((*TABLES, *LABORATORY_TABLES), safe=False)
    for statement in refusals().values():
        for said in in_postgres(statement) if on_postgres() else (statement,):
            db.execute_sql(said)


def described() -> dict[str, str]:
    """The statement behind every table, index and trigger, by name, with runs of white space made one."""
    if on_postgres():
        return told_by_postgres()
    rows = db.execute_sql("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    return {name: re.sub(r"\(\s+", "(", " ".join(sql.split())) for name, sql in rows}
