"""Tablets enrolled with a code and a signing key of their own, and the text of events that came sealed."""

from __future__ import annotations

STEPS = (
    """CREATE TABLE "enrolment" (
        "tablet_id" TEXT NOT NULL PRIMARY KEY,
        "public_key" TEXT NOT NULL,
        "enrolled_at" TEXT NOT NULL,
        "code_by_id" TEXT,
        "carries_until" TEXT,
        "handed_back_at" TEXT,
        "unsent_then" INTEGER,
        FOREIGN KEY ("tablet_id") REFERENCES "tablet" ("id"),
        FOREIGN KEY ("code_by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "enrolment_code" (
        "code_hash" TEXT NOT NULL PRIMARY KEY,
        "name" TEXT NOT NULL,
        "made_at" TEXT NOT NULL,
        "ends_at" TEXT NOT NULL,
        "uses_left" INTEGER NOT NULL,
        "made_by_id" TEXT,
        FOREIGN KEY ("made_by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "opened_body" (
        "event_id" TEXT NOT NULL PRIMARY KEY,
        "body" TEXT NOT NULL,
        FOREIGN KEY ("event_id") REFERENCES "event" ("id"))""",
    """CREATE INDEX "enrolment_code_by_id" ON "enrolment" ("code_by_id")""",
    """CREATE INDEX "enrolment_code_made_by_id" ON "enrolment_code" ("made_by_id")""",
    """CREATE TRIGGER "opened_body_refuses_update" BEFORE UPDATE ON "opened_body"
    BEGIN SELECT RAISE(ABORT, 'opened_body rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "opened_body_refuses_delete" BEFORE DELETE ON "opened_body"
    BEGIN SELECT RAISE(ABORT, 'opened_body rows are written once: DELETE refused'); END""",
)
