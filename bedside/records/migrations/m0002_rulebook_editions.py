"""Proposals to change the rulebook, their signatures, and the editions that came of them."""

from __future__ import annotations

STEPS = (
    """CREATE TABLE "rulebook_proposal" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "changes" TEXT NOT NULL,
        "reason" TEXT NOT NULL,
        "edition" INTEGER NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "rulebook_signature" (
        "id" INTEGER NOT NULL PRIMARY KEY,
        "proposal_id" INTEGER NOT NULL,
        "act" TEXT NOT NULL,
        "by_id" TEXT NOT NULL,
        "at" TEXT NOT NULL,
        FOREIGN KEY ("proposal_id") REFERENCES "rulebook_proposal" ("id"),
        FOREIGN KEY ("by_id") REFERENCES "person" ("id"))""",
    """CREATE TABLE "rulebook_edition" (
        "number" INTEGER NOT NULL PRIMARY KEY,
        "rulebook_id" TEXT NOT NULL,
        "proposal_id" INTEGER NOT NULL,
        "signed_by_id" TEXT NOT NULL,
        "second_by_id" TEXT,
        "reason" TEXT NOT NULL,
        "published_at" TEXT NOT NULL,
        FOREIGN KEY ("rulebook_id") REFERENCES "rulebook" ("hash"),
        FOREIGN KEY ("proposal_id") REFERENCES "rulebook_proposal" ("id"),
        FOREIGN KEY ("signed_by_id") REFERENCES "person" ("id"),
        FOREIGN KEY ("second_by_id") REFERENCES "person" ("id"))""",
    """CREATE INDEX "rulebook_proposal_by_id" ON "rulebook_proposal" ("by_id")""",
    """CREATE INDEX "rulebook_edition_rulebook_id" ON "rulebook_edition" ("rulebook_id")""",
    """CREATE INDEX "rulebook_edition_proposal_id" ON "rulebook_edition" ("proposal_id")""",
    """CREATE INDEX "rulebook_edition_signed_by_id" ON "rulebook_edition" ("signed_by_id")""",
    """CREATE INDEX "rulebook_edition_second_by_id" ON "rulebook_edition" ("second_by_id")""",
    """CREATE INDEX "rulebook_signature_proposal_id" ON "rulebook_signature" ("proposal_id")""",
    """CREATE INDEX "rulebook_signature_by_id" ON "rulebook_signature" ("by_id")""",
    """CREATE TRIGGER "rulebook_refuses_update" BEFORE UPDATE ON "rulebook"
    BEGIN SELECT RAISE(ABORT, 'rulebook rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "rulebook_refuses_delete" BEFORE DELETE ON "rulebook"
    BEGIN SELECT RAISE(ABORT, 'rulebook rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "rulebook_proposal_refuses_update" BEFORE UPDATE ON "rulebook_proposal"
    BEGIN SELECT RAISE(ABORT, 'rulebook_proposal rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "rulebook_proposal_refuses_delete" BEFORE DELETE ON "rulebook_proposal"
    BEGIN SELECT RAISE(ABORT, 'rulebook_proposal rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "rulebook_signature_refuses_update" BEFORE UPDATE ON "rulebook_signature"
    BEGIN SELECT RAISE(ABORT, 'rulebook_signature rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "rulebook_signature_refuses_delete" BEFORE DELETE ON "rulebook_signature"
    BEGIN SELECT RAISE(ABORT, 'rulebook_signature rows are written once: DELETE refused'); END""",
    """CREATE TRIGGER "rulebook_edition_refuses_update" BEFORE UPDATE ON "rulebook_edition"
    BEGIN SELECT RAISE(ABORT, 'rulebook_edition rows are written once: UPDATE refused'); END""",
    """CREATE TRIGGER "rulebook_edition_refuses_delete" BEFORE DELETE ON "rulebook_edition"
    BEGIN SELECT RAISE(ABORT, 'rulebook_edition rows are written once: DELETE refused'); END""",
)
