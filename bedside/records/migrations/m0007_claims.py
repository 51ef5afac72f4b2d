"""Which tablet is at which bed now, for as long as its lease runs."""

from __future__ import annotations

STEPS = (
    """CREATE TABLE "claim" (
        "visit_id" TEXT NOT NULL PRIMARY KEY,
        "tablet" TEXT NOT NULL,
        "by" TEXT,
        "at" TEXT NOT NULL,
        "until" TEXT NOT NULL,
        FOREIGN KEY ("visit_id") REFERENCES "visit" ("id"))""",
)
