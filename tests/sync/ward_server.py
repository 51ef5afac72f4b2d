"""The real server over a real database file, as the state machine meets it; and three that break a promise each.

A server here takes letters (the JSON of `POST /tablet/events`) and gives what came back. Its troubles are real ones: a
statement interrupted in the middle of a transaction, a full file, a write lock held by somebody else.
"""

from __future__ import annotations

import threading
import uuid
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bedside.records.backups import back_up, restore
from bedside.records.database import db
from bedside.records.house import house as house_row
from bedside.records.moments import now
from bedside.records.tables import Event
from bedside.sync.wire import hash_of
from tests import troubles
from tests.a_house import BASE, MARK, AHouse, settings_at

Letter = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Reply:
    """What a tablet gets to see: `status` None when no answer came."""

    status: int | None
    house: str | None = None
    json: Any = None


NO_ANSWER = Reply(None)


class Ward:
    """The app as it is, opened on one home folder; this thread's connection stays open between letters."""

    says_of_other_bytes = frozenset({"id-reused"})

    def __init__(self, home: Path, people: list[str]) -> None:
        self.home = home
        self.people = people
        self.backup: Path | None = None
        self.open()

    def open(self) -> None:
        self.house = AHouse.opened(self.home)
        # Signed in before any trouble begins: a session is a write too.
        self.browsers = {person: self.house.signed_in(person) for person in self.people}
        db.connect(reuse_if_open=True)
        self.id = str(house_row().id)

    def close(self) -> None:
        db.close()

    def restart(self) -> None:
        """The process is gone and another one opens the same file."""
        self.close()
        self.open()

    # ---- letters

    def take(self, person: str, letter: Letter) -> Reply:
        """A letter arrives whole, under the session of `person`."""
        return reply_of(self.browsers[person].client.post("/tablet/events", base_url=BASE, json=letter, headers=MARK))

    def take_half(self, person: str, raw: bytes) -> None:
        """The line breaks while the letter is sent: half of its bytes arrive, and nobody waits for an answer."""
        headers = {**MARK, "Content-Type": "application/json"}
        client = self.browsers[person].client
        client.post("/tablet/events", base_url=BASE, data=raw[: len(raw) // 2], headers=headers)

    def take_from_a_stranger(self, letter: Letter) -> Reply:
        """The same letter without a session."""
        client = self.house.browser().client
        return reply_of(client.post("/tablet/events", base_url=BASE, json=letter, headers=MARK))

    def take_twice_at_once(self, person: str, letter: Letter) -> list[Reply]:
        """Two copies in two threads, begun together."""
        began, replies = threading.Barrier(2), []
        token = self.browsers[person].client

        def deliver() -> None:
            began.wait()
            replies.append(self._through(token, letter))

        threads = [threading.Thread(target=deliver) for _ in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return replies

    def hello(self, person: str) -> dict[str, Any]:
        return dict(self.browsers[person].get("/tablet/hello", headers=MARK).get_json())

    # ---- troubles

    def interrupted_after(self, looks: int) -> AbstractContextManager[None]:
        return troubles.gives_up_after(looks)

    def disk_full(self) -> AbstractContextManager[None]:
        return troubles.disk_full()

    def locked_by_another(self) -> AbstractContextManager[None]:
        return troubles.locked_by_another()

    def back_up(self) -> None:
        self.backup = self.home / f"backup-{uuid.uuid4().hex}"
        back_up(self.backup)

    def restore(self) -> None:
        assert self.backup is not None
        self.close()
        restore(self.backup, settings_at(self.home), now())
        self.open()

    # ---- inside

    def _through(self, client: Any, letter: Letter) -> Reply:
        """One letter over a client of its own: a test client is not made for two threads."""
        own = self.house.app.test_client()
        own._cookies = dict(client._cookies)
        return reply_of(own.post("/tablet/events", base_url=BASE, json=letter, headers=MARK))


def reply_of(answer: Any) -> Reply:
    return Reply(answer.status_code, answer.headers.get("X-Bedside-House"), answer.get_json(silent=True))


class CountsAgain(Ward):
    """Broken: does not look whether it has an event, and keeps whatever comes as something new."""

    says_of_other_bytes = frozenset({"stored", "set-aside"})

    def take(self, person: str, letter: Letter) -> Reply:
        events = letter["events"]
        there = {row.id for row in Event.select(Event.id)}
        own = {event["id"]: str(uuid.uuid4()) if event["id"] in there else event["id"] for event in events}
        reply = super().take(person, {**letter, "events": [{**event, "id": own[event["id"]]} for event in events]})
        answers = (reply.json or {}).get("answers", [])
        for answer, event in zip(answers, events, strict=False):
            answer["id"] = event["id"]
        return reply


class AnswersTooEarly(Ward):
    """Broken: says stored, and writes it down when the next letter comes."""

    says_of_other_bytes = frozenset({"stored"})

    def open(self) -> None:
        super().open()
        self.in_memory: list[tuple[str, Letter]] = []

    def take(self, person: str, letter: Letter) -> Reply:
        for earlier in self.in_memory:
            super().take(*earlier)
        self.in_memory = [(person, letter)]
        return Reply(200, self.id, {"house": self.id, "answers": [stored(event) for event in letter["events"]]})


def stored(event: dict[str, Any]) -> dict[str, Any]:
    return {"id": event["id"], "hash": hash_of(event["body"]), "status": "stored", "findings": []}
