"""What follows a morning: findings settled by a person, orders sent out again, tablets taken out of use, and what was
known of a patient when. What has become of an order is judged anew when the house opens next.
"""

from __future__ import annotations

STEPS = (
    'ALTER TABLE "order_now" RENAME TO "order_now_before"',
    """CREATE TABLE "finding_review" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "visit_id" TEXT NOT NULL,
        "code" TEXT NOT NULL,
        "event" TEXT,
        "decision" TEXT NOT NULL,
        "note" TEXT NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("visit_id") REFERENCES "visit" ("id"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "order_now" (
        "order_id" TEXT NOT NULL PRIMARY KEY,
        "state" TEXT NOT NULL,
        "may_go_out" INTEGER NOT NULL,
        "visit_id" TEXT,
        "by" TEXT,
        "at" TEXT,
        "outcome" TEXT,
        "reason" TEXT NOT NULL,
        "told" TEXT,
        "tube" TEXT,
        "specimen" TEXT,
        "collected_at" TEXT,
        "due_from" TEXT,
        "due_to" TEXT,
        "only_for" TEXT,
        FOREIGN KEY ("order_id") REFERENCES "order" ("id"),
        FOREIGN KEY ("visit_id") REFERENCES "visit" ("id"))""",
    """CREATE TABLE "patient_facts" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "patient_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        "facts" TEXT NOT NULL,
        FOREIGN KEY ("patient_id") REFERENCES "patient" ("id"))""",
    """CREATE TABLE "sent_again" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "order_id" TEXT NOT NULL,
        "visit_id" TEXT NOT NULL,
        "due_from" TEXT NOT NULL,
        "due_to" TEXT NOT NULL,
        "only_for_id" TEXT,
        "reason" TEXT NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("order_id") REFERENCES "order" ("id"),
        FOREIGN KEY ("visit_id") REFERENCES "visit" ("id"),
        FOREIGN KEY ("only_for_id") REFERENCES "person" ("id"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "tablet_use" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "tablet_id" TEXT NOT NULL,
        "act" TEXT NOT NULL,
        "reason" TEXT NOT NULL,
        "by_id" TEXT,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("tablet_id") REFERENCES "tablet" ("id"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    'INSERT INTO "order_now" SELECT *, NULL, NULL, NULL FROM "order_now_before"',
    'DROP TABLE "order_now_before"',
    """UPDATE "house" SET "judged_by" = ''""",
    """CREATE INDEX "finding_review_visit_id" ON "finding_review" ("visit_id")""",
    """CREATE INDEX "finding_review_by_id" ON "finding_review" ("by_id")""",
    """CREATE INDEX "order_now_state" ON "order_now" ("state")""",
    """CREATE INDEX "order_now_visit_id" ON "order_now" ("visit_id")""",
    """CREATE INDEX "patient_facts_patient_id" ON "patient_facts" ("patient_id")""",
    """CREATE INDEX "sent_again_order_id" ON "sent_again" ("order_id")""",
    """CREATE INDEX "sent_again_visit_id" ON "sent_again" ("visit_id")""",
    """CREATE INDEX "sent_again_only_for_id" ON "sent_again" ("only_for_id")""",
    """CREATE INDEX "sent_again_by_id" ON "sent_again" ("by_id")""",
    """CREATE INDEX "tablet_use_tablet_id" ON "tablet_use" ("tablet_id")""",
    """CREATE INDEX "tablet_use_by_id" ON "tablet_use" ("by_id")""",
    """CREATE TRIGGER "patient_facts_refuses_update" BEFORE UPDATE ON "patient_facts"
    BEGIN SELECT RAISE(ABORT, 'patient_facts rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "patient_facts_refuses_delete" BEFORE DELETE ON "patient_facts"
    BEGIN SELECT RAISE(ABORT, 'patient_facts rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "finding_review_refuses_update" BEFORE UPDATE ON "finding_review"
    BEGIN SELECT RAISE(ABORT, 'finding_review rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "finding_review_refuses_delete" BEFORE DELETE ON "finding_review"
    BEGIN SELECT RAISE(ABORT, 'finding_review rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "sent_again_refuses_update" BEFORE UPDATE ON "sent_again"
    BEGIN SELECT RAISE(ABORT, 'sent_again rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "sent_again_refuses_delete" BEFORE DELETE ON "sent_again"
    BEGIN SELECT RAISE(ABORT, 'sent_again rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "tablet_use_refuses_update" BEFORE UPDATE ON "tablet_use"
    BEGIN SELECT RAISE(ABORT, 'tablet_use rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "tablet_use_refuses_delete" BEFORE DELETE ON "tablet_use"
    BEGIN SELECT RAISE(ABORT, 'tablet_use rows are written once: DELETE refused'); END""",
)
