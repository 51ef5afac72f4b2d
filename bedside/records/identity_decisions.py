"""Blood drawn while identity was not settled: which containers wait for a decision, and what was decided.

Until somebody decides, that blood counts for no order. Rows are added, never changed; what was discarded once stays so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from bedside.records import audit
from bedside.records.database import writing
from bedside.records.house import a_packet_changed
from bedside.records.moments import as_text
from bedside.records.tables import FindingNow, FindingReview, IdentityDecision, VisitNow

CODES = frozenset({"identity-missing", "identity-too-few", "identity-mismatch"})
"""Findings that say it was not settled who the patient was."""

KEPT, DISCARDED = "kept", "discarded"

WORDS = {
    DISCARDED: "discarded: draw again",
    KEPT: "kept, because a licensed person who is named here knows whose blood it is",
}
"""The two decisions there are."""

SHORTEST_NAME = 3
"""Characters of the name of whoever decided: initials name nobody (common practice, no source)."""

Key = tuple[str, str, str | None]
Blood = dict[str, Any]


class DecisionRefused(ValueError):
    """The decision cannot be kept as written; the sentence says why and what to do."""


def in_question(visits: Collection[str]) -> dict[str, tuple[Blood, ...]]:
    """The containers of these visits that wait for a decision, as `VisitNow.tubes` has them, by visit.

    All of a visit's blood waits while one of its questions is open, and what came in after a decision waits, too.
    """
    stops = _stops(visits)
    if not stops:
        return {}
    decided = _decided(stops)
    settled = _settled(stops)
    found = {}
    for row in VisitNow.select().where(VisitNow.visit << list(stops)):
        is_open = any(key not in settled for key in stops[row.visit_id])
        blood = [tube for tube in row.tubes or () if _is_blood(tube) and decided.get(tube["tube"]) != DISCARDED]
        waits = tuple(tube for tube in blood if is_open or tube["tube"] not in decided)
        if waits:
            found[row.visit_id] = waits
    return found


def discarded(visits: Collection[str]) -> frozenset[str]:
    """The containers of these visits of which somebody decided that they are discarded."""
    return frozenset(tube for tube, decision in _decided(visits).items() if decision == DISCARDED)


def open_stops(visit: str) -> list[Key]:
    """The questions about identity of this visit that the next decision answers: all of them while blood waits."""
    return _stops([visit]).get(visit, []) if visit in in_question([visit]) else []


def decide(visit: str, decision: str, who: str, note: str, *, by: str, at: datetime) -> None:
    """Decide what becomes of the blood of a visit, and settle its open questions about identity with it.

    Call inside `writing()` together with judging the visit anew. Raises DecisionRefused: no decision, no reason,
    nobody named for blood that is kept, or nothing that waits.
    """
    if decision not in WORDS:
        raise DecisionRefused(f"Choose what becomes of the blood first: {', or '.join(WORDS.values())}.")
    if not note.strip():
        raise DecisionRefused("Say why: whoever looks next cannot see it otherwise.")
    if decision == KEPT and len(who.strip()) < SHORTEST_NAME:
        raise DecisionRefused(
            "Name the licensed person who decided that the blood is kept. "
            "Without a name it is discarded, and drawn again."
        )
    with writing():
        blood = in_question([visit]).get(visit)
        if not blood:
            raise DecisionRefused("No blood of this visit waits for a decision any more. Load the page again.")
        _settle_all(open_stops(visit), decision, who.strip(), note.strip(), by, at)
        tubes = [tube["tube"] for tube in blood]
        values = {"visit": visit, "decision": decision, "tubes": tubes, "who": who.strip(), "note": note.strip()}
        IdentityDecision.create(**values, by=by, at=as_text(at))
        audit.write(who=by, action="blood with identity unsettled", object=visit, result=decision, at=at)
        if decision == DISCARDED:
            a_packet_changed()


def _settle_all(keys: Collection[Key], decision: str, who: str, note: str, by: str, at: datetime) -> None:
    settled = _settled({key[0]: [key] for key in keys})
    told = f"{who}: {note}" if who else note
    for visit, code, event in keys:
        if (visit, code, event) not in settled:
            FindingReview.create(
                visit=visit, code=code, event=event, decision=decision, note=told, by=by, at=as_text(at)
            )
            audit.write(who=by, action=f"finding settled: {code}", object=visit, result=decision, at=at)


def _stops(visits: Collection[str]) -> dict[str, list[Key]]:
    rows = FindingNow.select().where(
        (FindingNow.visit << list(visits)) & (FindingNow.code << list(CODES)) & (FindingNow.severity == "stop")
    )
    found: dict[str, list[Key]] = defaultdict(list)
    for row in rows.order_by(FindingNow.id):
        found[row.visit_id].append((row.visit_id, row.code, row.event))
    return dict(found)


def _settled(stops: Mapping[str, Collection[Key]]) -> set[Key]:
    """Those that were settled by a decision; a note alone decides nothing about blood."""
    rows = FindingReview.select().where((FindingReview.visit << list(stops)) & (FindingReview.code << list(CODES)))
    return {(row.visit_id, row.code, row.event) for row in rows if row.decision in WORDS}


def _decided(visits: Collection[str]) -> dict[str, str]:
    """What was decided about each container; once discarded, discarded."""
    rows = IdentityDecision.select().where(IdentityDecision.visit << list(visits)).order_by(IdentityDecision.id)
    decided: dict[str, str] = {}
    for row in rows:
        for tube in row.tubes:
            if decided.get(tube) != DISCARDED:
                decided[tube] = row.decision
    return decided


def _is_blood(tube: Blood) -> bool:
    return bool(tube.get("filled_at")) and not tube.get("discarded") and tube.get("kind") != "discard"
