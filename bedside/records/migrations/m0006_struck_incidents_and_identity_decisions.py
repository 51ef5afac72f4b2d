"""An incident that was struck stays in the register, and blood drawn while identity was unsettled waits for a decision.

Incidents are made anew from the events when the house opens next.
"""

from __future__ import annotations

STEPS = (
    'DROP TABLE "incident"',
    """CREATE TABLE "incident" (
        "id" TEXT NOT NULL PRIMARY KEY,
        "visit_id" TEXT NOT NULL,
        "kind" TEXT NOT NULL,
        "severity" TEXT NOT NULL,
        "happened_at" TEXT NOT NULL,
        "opened_event" TEXT,
        "noted_event" TEXT,
        "by" TEXT,
        "steps" TEXT NOT NULL,
        "told" TEXT,
        "note" TEXT NOT NULL,
        "complete" INTEGER NOT NULL,
        "by_itself" INTEGER NOT NULL,
        "strikes" TEXT NOT NULL,
        "struck" INTEGER NOT NULL,
        FOREIGN KEY ("visit_id") REFERENCES "visit" ("id"))""",
    """CREATE TABLE "identity_decision" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "visit_id" TEXT NOT NULL,
        "decision" TEXT NOT NULL,
        "tubes" TEXT NOT NULL,
        "who" TEXT NOT NULL,
        "note" TEXT NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("visit_id") REFERENCES "visit" ("id"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """UPDATE "house" SET "judged_by" = ''""",
    """CREATE INDEX "incident_visit_id" ON "incident" ("visit_id")""",
    """CREATE INDEX "identity_decision_visit_id" ON "identity_decision" ("visit_id")""",
    """CREATE INDEX "identity_decision_by_id" ON "identity_decision" ("by_id")""",
    """CREATE TRIGGER "identity_decision_refuses_update" BEFORE UPDATE ON "identity_decision"
    BEGIN SELECT RAISE(ABORT, 'identity_decision rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "identity_decision_refuses_delete" BEFORE DELETE ON "identity_decision"
    BEGIN SELECT RAISE(ABORT, 'identity_decision rows are written once: DELETE refused'); END""",
)
