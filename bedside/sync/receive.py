"""Events home. The one dangerous flow: a mistake here loses a draw or counts it twice.

1. Read the batch without trust: every item becomes an event or "no event" (`wire.py`); what is sealed is opened.
2. Take the write lock (`BEGIN IMMEDIATE`) before looking anything up: nobody writes between look and insert.
3. Look up which ids and which (tablet, number) pairs are already there, which visits and tubes are known.
4. Decide for each item: stored, known, set aside, id reused (`decide`, pure). Within a batch the earlier
item counts. 5. Keep every new event exactly as it was sent, also what is set aside: with its reason,
visibly. 6. Replay and judge again every visit an event names, and the visits that share an order with it;
write the
   projections in the same transaction.
7. Compare the tablet's own verdict, where it sent one, with ours on the same events.
8. Keep the first answer to each event, with the findings that name it.
9. Commit with `synchronous=FULL`. Only then does the tablet get its answers, one for each item.

Nothing here answers 4xx to an event for breaking a rule. An error on the way rolls everything back; the
tablet still has its events and sends them again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bedside.records import audit, event_log
from bedside.records.database import writing
from bedside.records.event_log import Answered
from bedside.records.house import a_packet_changed, house
from bedside.records.moments import as_text
from bedside.records.order_standing import COMES_BACK
from bedside.records.rounds_open import begun_of, on_several_tablets, others_waiting_for_same_patient
from bedside.records.tables import FindingNow, ReportedVerdict, SetAside
from bedside.records.tablets import Seen, enrolled, note_seen, revoked
from bedside.records.visit_facts import known_visits
from bedside.rounds.claims import Asked, heard_from
from bedside.sync.judging import Judged
from bedside.sync.meeting import differs, skew_in
from bedside.sync.placing import Aside, aside, open_body, read_told
from bedside.sync.sealing import Opener, Unopenable
from bedside.sync.standing import catch_up, rebuild_visits
from bedside.sync.wire import Batch, NoEvent, Sent

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the house already holds of a batch, looked up in one go."""

    answers: Mapping[str, Answered]
    numbers: Mapping[tuple[str, int], str]
    visits: frozenset[str]
    revoked: frozenset[str]
    enrolled: frozenset[str] = frozenset()
    signed_by: str | None = None


NO_KEYS = Opener(())


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """An event with its body read, as far as it can be; what is None could not be. `body` is what was sent, `opened`
    what was sealed in it.
    """

    id: str
    tablet: str
    seq: int
    body: str
    hash: str
    sealed: bool
    opened: str | None
    visit: str | None
    kind: str | None
    at: str | None
    by: str | None
    skew_ms: float | None
    aside: Aside | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What becomes of one item. `again`: the first answer, for an event that was here before."""

    id: str | None
    hash: str
    status: str
    event: Opened | None = None
    aside: Aside | None = None
    text: str | None = None
    again: Answered | None = None


def receive(
    batch: Batch, *, person: str | None, at: datetime, opener: Opener = NO_KEYS, signed_by: str | None = None
) -> Row:
    """Take a batch in; gives the answer to send. See the steps at the head of this file.

    person: who is signed in, None where the tablet alone vouches for the batch. opener: the house's keys. signed_by:
    the enrolled tablet whose signature the request carries.
    """
    opened = [_opened(item, opener) for item in batch.items]
    with writing():
        catch_up(at)
        known = _gather(opened, signed_by)
        decided = decide(opened, known)
        judged = _apply(decided, batch, person, at)
        answers = _answers(decided, judged, at)
        newest = house().revision
    out = signed_by in known.revoked
    return {"house": house().id, "revision": newest, "answers": answers, "head": _head(), "revoked": out}


# --- gather
# ----------------------------------------------------------------------------------------------------------


def _gather(items: Iterable[Opened | NoEvent], signed_by: str | None) -> Known:
    events = [item for item in items if isinstance(item, Opened)]
    tablets = {event.tablet for event in events} | ({signed_by} if signed_by else set())
    return Known(
        answers=event_log.answers_to([event.id for event in events]),
        numbers=event_log.numbers_taken([(event.tablet, event.seq) for event in events]),
        visits=known_visits({event.visit for event in events if event.visit}),
        revoked=revoked(tablets),
        enrolled=enrolled(tablets),
        signed_by=signed_by,
    )


def _opened(item: Sent | NoEvent, opener: Opener) -> Opened | NoEvent:
    """The event with its body read by itself; whether it fits its visit is decided by `placing.place`."""
    if isinstance(item, NoEvent):
        return item
    text = _unsealed(item, opener)
    raw: Row | Aside = text if isinstance(text, Aside) else open_body(_Told(item, text))
    fault = raw if isinstance(raw, Aside) else _fault(item, str(text))
    told: Row = {} if isinstance(raw, Aside) else raw
    return Opened(
        id=item.id,
        tablet=item.tablet,
        seq=item.seq,
        body=item.text,
        hash=item.hash,
        sealed=item.sealed,
        opened=text if item.sealed and isinstance(text, str) else None,
        visit=_text(told.get("visit")),
        kind=_text(told.get("kind")),
        at=_text(told.get("at")),
        by=_text(told.get("by")),
        skew_ms=skew_in(told),
        aside=fault,
    )


def _unsealed(item: Sent, opener: Opener) -> str | Aside:
    if not item.sealed:
        return item.text
    try:
        return opener.open(item.text, item.id, item.tablet)
    except Unopenable as error:
        return aside("sealed", f"({error})")


def _fault(item: Sent, text: str) -> Aside | None:
    found = read_told(_Told(item, text))
    return found if isinstance(found, Aside) else None


@dataclass(frozen=True, slots=True)
class _Told:
    """A sent event in the shape placing reads: `body` is what it says."""

    sent: Sent
    body: str

    @property
    def id(self) -> str:
        return self.sent.id

    @property
    def tablet(self) -> str:
        return self.sent.tablet

    @property
    def seq(self) -> int:
        return self.sent.seq


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


# --- decide
# ----------------------------------------------------------------------------------------------------------


def decide(items: Iterable[Opened | NoEvent], known: Known) -> list[Decided]:
    """What becomes of each item, in order; an earlier item of the batch counts as already there. Pure."""
    answers, numbers = dict(known.answers), dict(known.numbers)
    decided = []
    for item in items:
        one = _no_event(item) if isinstance(item, NoEvent) else _decide(item, answers, numbers, known)
        if one.event is not None and one.again is None:
            answers[one.event.id] = Answered(hash=one.hash, status=one.status, findings=[])
            numbers.setdefault((one.event.tablet, one.event.seq), one.event.id)
        decided.append(one)
    return decided


def _decide(
    event: Opened, answers: Mapping[str, Answered], numbers: Mapping[tuple[str, int], str], known: Known
) -> Decided:
    before = answers.get(event.id)
    if before is not None:
        return _seen_before(event, before)
    why = _why_aside(event, numbers, known)
    status = "set-aside" if why else "stored"
    return Decided(id=event.id, hash=event.hash, status=status, event=event, aside=why)


def _seen_before(event: Opened, before: Answered) -> Decided:
    if before.hash == event.hash:
        return Decided(id=event.id, hash=event.hash, status="known", event=event, again=before)
    return Decided(
        id=event.id,
        hash=event.hash,
        status="id-reused",
        event=event,
        again=before,
        aside=aside("id-reused"),
        text=event.body,
    )


def _why_aside(event: Opened, numbers: Mapping[tuple[str, int], str], known: Known) -> Aside | None:
    if numbers.get((event.tablet, event.seq), event.id) != event.id:
        return aside("number-taken", f"(number {event.seq})")
    if event.tablet in known.revoked or known.signed_by in known.revoked:
        return aside("revoked-tablet")
    if event.tablet in known.enrolled and event.tablet != known.signed_by:
        return aside("not-signed")
    if event.aside is not None:
        return event.aside
    return None if event.visit in known.visits else aside("unknown-visit")


def _no_event(item: NoEvent) -> Decided:
    return Decided(id=item.id, hash=item.hash, status="set-aside", aside=aside("no-event", item.says), text=item.text)


# --- apply ------------------------------------------------------------------------------------------------
# -----------


def _apply(decided: list[Decided], batch: Batch, person: str | None, at: datetime) -> dict[str, Judged]:
    now = as_text(at)
    new = [one for one in decided if one.again is None]
    _keep([one for one in new if one.event is not None], person, now)
    for one in decided:
        if one.aside is not None:
            _set_aside(one, now)
    for seen in _seen(decided):
        note_seen(seen, person, at)
    touched = known_visits({one.event.visit for one in new if one.event and one.event.visit})
    begun_before = begun_of(touched)
    judged = rebuild_visits(touched, now)
    if _note_verdicts(batch, judged, now):
        judged = rebuild_visits(touched, now)
    _hear(new, judged, at)
    begins = on_several_tablets(begun_of(touched) - begun_before)
    came_back = _came_back(judged[visit] for visit in touched if visit in judged)
    if begins or came_back or others_waiting_for_same_patient(touched):
        # Their packets say that a bed is begun, carry how much blood was drawn, or take along what came back.
        a_packet_changed()
    _audit(decided, batch, person, at)
    return judged


def _hear(new: Iterable[Decided], judged: Mapping[str, Judged], at: datetime) -> None:
    """A bed that has begun and not ended is claimed by the tablet its events come from, unless another has it."""
    stored = [one.event for one in new if one.event is not None and one.aside is None and one.event.visit]
    under_way = {visit for visit, one in judged.items() if one.row is not None and one.row["ended_at"] is None}
    heard_from(
        {
            str(event.visit): Asked(visit=str(event.visit), tablet=event.tablet, by=event.by)
            for event in stored
            if event.visit in under_way
        },
        at,
    )


def _came_back(judged: Iterable[Judged]) -> bool:
    """Report whether a visit ended so that its orders wait for the next round."""
    return any(one.row is not None and one.row["outcome"] in COMES_BACK for one in judged)


def _keep(new: Iterable[Decided], person: str | None, now: str) -> None:
    kept = {one.event.id: (one.event, one.status) for one in new if one.event is not None}
    rows = [_row(event, status, person, now) for event, status in kept.values()]
    opened = {event.id: event.opened for event, _ in kept.values() if event.opened is not None}
    event_log.add(rows, opened)


def _row(event: Opened, status: str, person: str | None, now: str) -> Row:
    return {
        "id": event.id,
        "tablet": event.tablet,
        "seq": event.seq,
        "body": event.body,
        "sealed": event.sealed,
        "hash": event.hash,
        "received_at": now,
        "received_from": person,
        "status": status,
        "visit": event.visit,
        "kind": event.kind,
        "at": event.at,
        "by": event.by,
    }


def _set_aside(one: Decided, now: str) -> None:
    """Once for each id and content: the same thing sent again is not put aside a second time."""
    assert one.aside is not None
    if (
        SetAside.select()
        .where((SetAside.event.is_null() if one.id is None else SetAside.event == one.id) & (SetAside.hash == one.hash))
        .exists()
    ):
        return
    event = one.event
    SetAside.insert(
        event=one.id,
        tablet=event.tablet if event else None,
        seq=event.seq if event else None,
        hash=one.hash,
        body=one.text,
        reason=one.aside.reason,
        says=one.aside.says,
        visit=event.visit if event else None,
        received_at=now,
    ).execute()


def _seen(decided: Iterable[Decided]) -> list[Seen]:
    """What the batch says about each tablet in it."""
    by_tablet: dict[str, list[Opened]] = {}
    for one in decided:
        if one.event is not None and one.status != "id-reused":
            by_tablet.setdefault(one.event.tablet, []).append(one.event)
    return [
        Seen(tablet=tablet, top_seq=max(event.seq for event in events), skew_ms=_skew(events))
        for tablet, events in sorted(by_tablet.items())
    ]


def _skew(events: Iterable[Opened]) -> int | None:
    latest = max(events, key=lambda event: event.seq)
    return None if latest.skew_ms is None else round(latest.skew_ms)


def _note_verdicts(batch: Batch, judged: Mapping[str, Judged], now: str) -> bool:
    """Keep what the tablet found where it is about a visit of this batch; reports whether any differs."""
    any_differs = False
    for visit, said in batch.verdicts.items():
        ours = judged.get(visit)
        if ours is None or ours.row is None or batch.tablet is None:
            continue
        is_different = differs(said, ours.verdict)
        ReportedVerdict.insert(
            tablet=batch.tablet,
            visit=visit,
            received_at=now,
            said=said,
            judged=ours.verdict,
            differs=is_different,
        ).execute()
        any_differs = any_differs or is_different
    return any_differs


def _answers(decided: Iterable[Decided], judged: Mapping[str, Judged], at: datetime) -> list[Row]:
    """The answer to each item: the findings that name it, or the first answer again. First answers are kept."""
    items = list(decided)
    new = {one.event.id: one for one in items if one.event is not None and one.again is None}
    findings = _findings(new)
    first = {
        event: Answered(hash=one.hash, status=_status(one, judged), findings=findings[event])
        for event, one in new.items()
    }
    event_log.answer(first, as_text(at))
    known = event_log.answers_to([str(one.id) for one in items if one.status == "known"])
    return [_answer(one, first, known) for one in items]


def _answer(one: Decided, first: Mapping[str, Answered], known: Mapping[str, Answered]) -> Row:
    status, findings = one.status, list[Row]()
    if one.event is not None and one.again is None:
        status, findings = first[one.event.id].status, first[one.event.id].findings
    elif one.status == "known":
        findings = known[str(one.id)].findings
    return {"id": one.id, "hash": one.hash, "status": status, "findings": findings}


def _status(one: Decided, judged: Mapping[str, Judged]) -> str:
    """An event that reads well by itself may still not fit its visit."""
    assert one.event is not None
    visit = judged.get(one.event.visit or "")
    return "set-aside" if visit is not None and one.event.id in visit.aside else one.status


def _findings(events: Iterable[str]) -> dict[str, list[Row]]:
    """The findings that name each of these events, in order."""
    names = ("code", "severity", "says", "do_next", "source", "event")
    found: dict[str, list[Row]] = {event: [] for event in events}
    for row in FindingNow.select().where(FindingNow.event << list(found)).order_by(FindingNow.id):
        found[str(row.event)].append({name: getattr(row, name) for name in names})
    return found


def _audit(decided: Iterable[Decided], batch: Batch, person: str | None, at: datetime) -> None:
    who = person or "tablet"
    counted = Counter(one.status for one in decided)
    told = ", ".join(f"{count} {status}" for status, count in sorted(counted.items()))
    audit.write(who=who, action="events received", object=batch.tablet or "-", result=told or "none", at=at)
    if batch.head is not None and not _holds(batch.head):
        audit.write(who=who, action="audit head differs", object=batch.tablet or "-", result="see verify", at=at)


def _holds(head: Mapping[str, Any]) -> bool:
    """Report whether the record still holds the entry a tablet carried away."""
    seq = head.get("n")
    if isinstance(seq, bool) or not isinstance(seq, int) or not 0 < seq < 2**63:
        return False
    return audit.hash_at(seq) == head.get("hash")


def _head() -> Row | None:
    head = audit.head()
    return {"n": head.seq, "hash": head.hash} if head else None
