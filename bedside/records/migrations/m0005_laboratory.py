"""Blood allowed above a limit, specimens of a series, what the laboratory refused, stock, signed directories."""

from __future__ import annotations

STEPS = (
    """CREATE TABLE "volume_allowed" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "patient_id" TEXT NOT NULL,
        "ml" REAL NOT NULL,
        "allowed_by" TEXT NOT NULL,
        "reason" TEXT NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("patient_id") REFERENCES "patient" ("id"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "order_series" (
        "order_id" TEXT NOT NULL PRIMARY KEY,
        "after_order" TEXT NOT NULL,
        "after_at" TEXT,
        "after_min" INTEGER NOT NULL,
        FOREIGN KEY ("order_id") REFERENCES "order" ("id"))""",
    """CREATE TABLE "specimen_refused" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "order_id" TEXT NOT NULL,
        "again_id" TEXT,
        "visit_id" TEXT NOT NULL,
        "tube" TEXT NOT NULL,
        "specimen" TEXT NOT NULL,
        "reason" TEXT NOT NULL,
        "note" TEXT NOT NULL,
        "said_by" TEXT NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("order_id") REFERENCES "order" ("id"),
        FOREIGN KEY ("again_id") REFERENCES "order" ("id"),
        FOREIGN KEY ("visit_id") REFERENCES "visit" ("id"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "stock_count" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "item" TEXT NOT NULL,
        "count" INTEGER NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "directory_signed" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "directory_id" TEXT NOT NULL,
        "signer" TEXT NOT NULL,
        "note" TEXT NOT NULL,
        "by_id" TEXT,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("directory_id") REFERENCES "directory_version" ("hash"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    'CREATE INDEX "volume_allowed_patient_id" ON "volume_allowed" ("patient_id")',
    'CREATE INDEX "volume_allowed_by_id" ON "volume_allowed" ("by_id")',
    'CREATE INDEX "specimen_refused_order_id" ON "specimen_refused" ("order_id")',
    'CREATE INDEX "specimen_refused_again_id" ON "specimen_refused" ("again_id")',
    'CREATE INDEX "specimen_refused_visit_id" ON "specimen_refused" ("visit_id")',
    'CREATE INDEX "specimen_refused_tube" ON "specimen_refused" ("tube")',
    'CREATE INDEX "specimen_refused_by_id" ON "specimen_refused" ("by_id")',
    'CREATE INDEX "stock_count_item" ON "stock_count" ("item")',
    'CREATE INDEX "stock_count_by_id" ON "stock_count" ("by_id")',
    'CREATE INDEX "directory_signed_directory_id" ON "directory_signed" ("directory_id")',
    'CREATE INDEX "directory_signed_by_id" ON "directory_signed" ("by_id")',
    """CREATE TRIGGER "volume_allowed_refuses_update" BEFORE UPDATE ON "volume_allowed"
    BEGIN SELECT RAISE(ABORT, 'volume_allowed rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "volume_allowed_refuses_delete" BEFORE DELETE ON "volume_allowed"
    BEGIN SELECT RAISE(ABORT, 'volume_allowed rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "order_series_refuses_update" BEFORE UPDATE ON "order_series"
    BEGIN SELECT RAISE(ABORT, 'order_series rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "order_series_refuses_delete" BEFORE DELETE ON "order_series"
    BEGIN SELECT RAISE(ABORT, 'order_series rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "specimen_refused_refuses_update" BEFORE UPDATE ON "specimen_refused"
    BEGIN SELECT RAISE(ABORT, 'specimen_refused rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "specimen_refused_refuses_delete" BEFORE DELETE ON "specimen_refused"
    BEGIN SELECT RAISE(ABORT, 'specimen_refused rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "stock_count_refuses_update" BEFORE UPDATE ON "stock_count"
    BEGIN SELECT RAISE(ABORT, 'stock_count rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "stock_count_refuses_delete" BEFORE DELETE ON "stock_count"
    BEGIN SELECT RAISE(ABORT, 'stock_count rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "directory_signed_refuses_update" BEFORE UPDATE ON "directory_signed"
    BEGIN SELECT RAISE(ABORT, 'directory_signed rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "directory_signed_refuses_delete" BEFORE DELETE ON "directory_signed"
    BEGIN SELECT RAISE(ABORT, 'directory_signed rows are written once: DELETE refused'); END""",
)
