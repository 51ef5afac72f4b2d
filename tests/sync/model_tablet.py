"""A tablet as the state machine holds it: the same decisions as `static/js/tablet/{outbox,delivery,sending,moving}.js`.

Everything here is what the tablet has on its disk. It lets go of an event only on the server's word about its own
bytes.
"""

from __future__ import annotations

import json
import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from bedside.records.moments import as_text
from bedside.sync.wire import hash_of

from .ward_server import Letter, Reply

BATCH = 50
TAKEN = {"stored", "known", "set-aside"}
HALVED = {400, 409, 413, 422}


@dataclass
class ModelTablet:
    """One local store. `kept` is every event it wrote, `queue` the ids not yet let go of, in order."""

    house: str
    person: str
    name: str = field(default_factory=lambda: f"tablet-{uuid.uuid4()}")
    seq: int = 0
    ms: int = 1_795_590_000_000  # 2026-11-25T07:00Z
    schema: int = 1
    most: int = BATCH
    kept: dict[str, dict[str, Any]] = field(default_factory=dict)
    queue: list[str] = field(default_factory=list)
    held_back: dict[str, str] = field(default_factory=dict)
    let_go: set[str] = field(default_factory=set)

    # ---- saving

    def record(self, visit: str, kind: str, data: dict[str, Any]) -> dict[str, Any]:
        """Save one event: the event, its place in the queue and the number, in one."""
        self.seq += 1
        self.ms += 1000
        told = {"visit": visit, "kind": kind, "at": as_text(datetime.fromtimestamp(self.ms / 1000, UTC)), "data": data}
        told |= {"by": self.person, "schema": self.schema}
        if self.schema > 0:
            told |= {"offset_min": 0, "server_skew_ms": 0, "page": self.name, "mono_ms": self.seq * 1000}
        if self.schema > 1:
            told |= {"added_later": {"nobody": "knows"}}
        event = {"id": str(uuid.uuid4()), "tablet": self.name, "seq": self.seq, "body": json.dumps(told)}
        self.kept[event["id"]] = event
        self.queue.append(event["id"])
        return event

    # ---- sending

    def letter(self, most: int = BATCH) -> Letter | None:
        """The next letter: events of one tablet's name, in order; None when nothing waits."""
        waiting = [self.kept[event] for event in self.queue if event not in self.held_back]
        if not waiting:
            return None
        batch = [event for event in waiting if event["tablet"] == waiting[0]["tablet"]][: min(most, self.most)]
        return {"house": self.house, "tablet": batch[0]["tablet"], "schema": 1, "events": batch, "head": None}

    def sent(self, letter: Letter) -> None:
        """The letter is on its way. Nothing is let go of yet."""

    def hear(self, letter: Letter, reply: Reply) -> None:
        """What came back, if anything did; an answer of another house says nothing about our events."""
        if reply.house != self.house or reply.status in (None, 401, 403):
            return
        answers = reply.json.get("answers") if isinstance(reply.json, dict) else None
        if reply.status == 200 and isinstance(answers, list):
            self._settle(letter["events"], answers)
        elif reply.status in HALVED:
            self._halve(letter["events"])

    def _settle(self, sent: list[dict[str, Any]], answers: list[dict[str, Any]]) -> None:
        by_id = {answer["id"]: answer for answer in answers}
        for event in sent:
            answer = by_id.get(event["id"])
            if answer is None or event["id"] not in self.queue:
                continue
            if answer["status"] in TAKEN and answer["hash"] == hash_of(event["body"]):
                self.queue.remove(event["id"])
                self.let_go.add(event["id"])
            else:
                self.held_back[event["id"]] = answer["status"]
        self.most = min(BATCH, self.most * 2)

    def _halve(self, sent: list[dict[str, Any]]) -> None:
        if len(sent) == 1:
            self.held_back[sent[0]["id"]] = "refused"
        self.most = max(1, len(sent) // 2)

    # ---- another house

    def meet(self, hello: dict[str, Any]) -> None:
        """Follow a restored house: a store of a new name, and everything this tablet still holds in the queue again."""
        if hello["house"] == self.house or self.house not in hello["formerly"]:
            return
        self.house = hello["house"]
        self.name, self.seq = f"tablet-{uuid.uuid4()}", 0
        self.queue = list(self.kept)
        self.held_back, self.let_go = {}, set()


class LetsGoTooEarly(ModelTablet):
    """Broken: takes its events off the queue when it sends them."""

    def sent(self, letter: Letter) -> None:
        self.queue = [event for event in self.queue if self.kept[event] not in letter["events"]]
