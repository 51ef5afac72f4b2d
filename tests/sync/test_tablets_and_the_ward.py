"""Promise 2 as a state machine: three tablets, the real server on a real file, and everything that goes wrong between.

After every step:
I1 what a tablet called saved is in its queue or in the house (or both), and I2 in the house once,
I3 as the very bytes that were saved; I4 a tablet let go only of what the house holds;
I5 the house's numbers of a tablet have no gap below what the tablet let go of;
I6 every event has one answer, the audit record counts each once, and its chain holds;
I7 an event stays by whoever recorded it, whoever was signed in when it was sent.
In the end, I8: once the faults stop, everything comes home in a bounded number of rounds, and every page shows what the
events say.

The same machine must fail against two broken servers and one broken tablet, or it proves nothing.
"""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from bedside.people.roles import Role
from bedside.records import audit
from bedside.records.database import connected
from bedside.records.tables import Answer, Audit, Event
from bedside.sync.verifying import checks
from bedside.sync.wire import hash_of
from tests.a_house import AHouse

from .model_tablet import LetsGoTooEarly, ModelTablet
from .ward_server import NO_ANSWER, AnswersTooEarly, CountsAgain, Ward

KINDS = (
    ("arrived", {}),
    ("asked", {"question": "consent", "answer": "yes"}),
    ("site_touched", {}),
    ("tourniquet_on", {"side": "left"}),
    ("needle_in", {"kind": "straight"}),
    ("band_missing", {}),
    ("danced", {"with": "nobody"}),
    ("needle_in", {"kind": "spoon"}),
)
TABLETS = 3
which = st.integers(0, TABLETS - 1)
few = st.integers(1, 8)
ROUNDS_TO_COME_HOME = 12


class TabletsAndTheWard(RuleBasedStateMachine):
    """`home`, `visits` and `people` are put in by the test: a house as it is when a round has been taken out."""

    home: Path
    visits: list[str]
    people: list[str]
    """Two who draw blood, and a charge nurse, from whom the house takes no events."""
    server = Ward
    tablet = ModelTablet

    @initialize()
    def a_morning_begins(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        shutil.copytree(self.home, Path(self.folder.name) / "house")
        self.ward = self.server(Path(self.folder.name) / "house", self.people)
        self.sessions = [self.people[0], self.people[1], self.people[0]]
        self.tablets = [self.tablet(house=self.ward.id, person=who) for who in self.sessions]
        self.saved: dict[str, tuple[ModelTablet, dict[str, Any], str]] = {}
        self.letters: list[tuple[str, dict[str, Any]]] = []

    # ---- at the bedside

    @rule(which=which, visit=st.integers(0, 3), kinds=st.lists(st.sampled_from(KINDS), min_size=1, max_size=4))
    def somebody_records(self, which: int, visit: int, kinds: list[tuple[str, dict[str, Any]]]) -> None:
        for kind, data in kinds:
            self._record(which, visit, kind, data)

    @precondition(lambda self: self.saved)
    @rule(which=which, earlier=st.integers(0, 99))
    def something_is_corrected(self, which: int, earlier: int) -> None:
        event = list(self.saved)[earlier % len(self.saved)]
        at = self.visits.index(json.loads(self.saved[event][1]["body"])["visit"])
        self._record(which, at, "corrected", {"event": event, "data": None, "reason": "mis-tap"})

    @rule(which=which, who=st.integers(0, 2))
    def somebody_else_signs_in_on_it(self, which: int, who: int) -> None:
        self.sessions[which] = self.people[who]

    @rule(which=which, by_ms=st.sampled_from([-3_600_000, -40_000, 90_000, 86_400_000]))
    def its_clock_jumps(self, which: int, by_ms: int) -> None:
        self.tablets[which].ms += by_ms

    @rule(which=which, schema=st.integers(0, 2))
    def it_gets_another_release_of_the_app(self, which: int, schema: int) -> None:
        self.tablets[which].schema = schema

    # ---- on the way

    @rule(which=which, most=few)
    def it_sends(self, which: int, most: int) -> None:
        self._send(which, most, self.ward.take)

    @rule(which=which, most=few)
    def the_request_is_lost(self, which: int, most: int) -> None:
        self._send(which, most, lambda person, letter: NO_ANSWER)

    @rule(which=which, most=few)
    def half_of_the_request_arrives(self, which: int, most: int) -> None:
        def half(person: str, letter: dict[str, Any]) -> Any:
            self.ward.take_half(person, json.dumps(letter).encode())
            return NO_ANSWER

        self._send(which, most, half)

    @rule(which=which, most=few)
    def the_answer_is_lost(self, which: int, most: int) -> None:
        def unheard(person: str, letter: dict[str, Any]) -> Any:
            self.ward.take(person, letter)
            return NO_ANSWER

        self._send(which, most, unheard)

    @rule(which=which, most=few)
    def the_browser_sends_it_twice(self, which: int, most: int) -> None:
        def twice(person: str, letter: dict[str, Any]) -> Any:
            self.ward.take(person, letter)
            return self.ward.take(person, letter)

        self._send(which, most, twice)

    @rule(which=which, most=few)
    def two_copies_arrive_at_once(self, which: int, most: int) -> None:
        self._send(which, most, lambda person, letter: self.ward.take_twice_at_once(person, letter)[0])

    @precondition(lambda self: self.letters)
    @rule(earlier=st.integers(0, 99))
    def an_old_letter_arrives_late(self, earlier: int) -> None:
        self.ward.take(*self.letters[earlier % len(self.letters)])

    @rule(which=which, most=few)
    def the_session_has_ended(self, which: int, most: int) -> None:
        self._send(which, most, lambda person, letter: self.ward.take_from_a_stranger(letter))

    @precondition(lambda self: self.letters)
    @rule(earlier=st.integers(0, 99))
    def other_bytes_come_under_an_id_the_house_has(self, earlier: int) -> None:
        _, letter = self.letters[earlier % len(self.letters)]
        there = {row.id for row in Event.select(Event.id)}
        other = [{**event, "body": event["body"] + " "} for event in letter["events"] if event["id"] in there]
        reply = self.ward.take(self.people[0], {**letter, "house": self.ward.id, "events": other})
        assert {answer["status"] for answer in reply.json["answers"]} <= self.server.says_of_other_bytes

    # ---- at the server

    @rule(which=which, most=few, looks=st.integers(0, 350))
    def the_database_gives_up_midway(self, which: int, most: int, looks: int) -> None:
        with self.ward.interrupted_after(looks):
            self._send(which, most, self.ward.take)

    @rule(which=which, most=few)
    def the_disk_is_full(self, which: int, most: int) -> None:
        with self.ward.disk_full():
            self._send(which, most, self.ward.take)

    @rule(which=which, most=few)
    def somebody_else_holds_the_lock(self, which: int, most: int) -> None:
        with self.ward.locked_by_another():
            self._send(which, most, self.ward.take)

    @rule()
    def the_server_starts_again(self) -> None:
        self.ward.restart()

    @rule()
    def a_backup_is_made(self) -> None:
        self.ward.back_up()

    @precondition(lambda self: self.ward.backup)
    @rule()
    def the_backup_is_restored(self) -> None:
        self.ward.restore()

    @rule(which=which)
    def it_asks_which_house_answers(self, which: int) -> None:
        self.tablets[which].meet(self.ward.hello(self.sessions[which]))

    # ---- what must hold

    @invariant()
    def nothing_is_lost_and_nothing_is_doubled(self) -> None:
        held = {row.id: row for row in Event.select()}
        for event, (tablet, sent, by) in self.saved.items():
            must_offer_again = tablet.house != self.ward.id and event in tablet.kept
            assert event in tablet.queue or event in held or must_offer_again, f"I1: {event} is nowhere"
            if event in held:
                assert held[event].body == sent["body"], f"I3: {event} was changed"
                assert held[event].hash == hash_of(sent["body"]), f"I3: the hash of {event} was changed"
                assert held[event].by == by, f"I7: {event} stands under another name"
        counted = Counter((row.tablet, row.seq, row.hash) for row in held.values())
        assert not [one for one, times in counted.items() if times > 1], "I2: the house counts an event twice"
        assert set(held) <= set(self.saved), "I2: the house holds what nobody recorded"

    @invariant()
    def a_tablet_lets_go_only_of_what_the_house_holds(self) -> None:
        held = {row.id: (row.tablet, row.seq) for row in Event.select(Event.id, Event.tablet, Event.seq)}
        for tablet in self.tablets:
            if tablet.house != self.ward.id:
                continue
            assert tablet.let_go <= set(held), "I4: the tablet let go of what the house has not"
            for name, numbers in _numbers(tablet.let_go, held).items():
                there = {seq for other, seq in held.values() if other == name}
                assert set(range(1, max(numbers) + 1)) <= there, f"I5: a gap in the row of {name}"

    @invariant()
    def every_event_is_answered_and_counted_once(self) -> None:
        assert Answer.select().count() == Event.select().count(), "I6: an event without its answer"
        assert audit.first_fault(audit.entries()) is None, "I6"
        told = [row.result for row in Audit.select().where(Audit.action == "events received")]
        first = sum(int(n) for text in told for n in re.findall(r"(\d+) (?:stored|set-aside)", text))
        assert first == Event.select().count(), "I6: the audit record counts otherwise"

    def teardown(self) -> None:
        if not hasattr(self, "ward"):
            return
        try:
            self.everything_comes_home()
        finally:
            self.ward.close()
            self.folder.cleanup()

    def everything_comes_home(self) -> None:
        """I8."""
        for which, tablet in enumerate(self.tablets):
            for _ in range(ROUNDS_TO_COME_HOME):
                self.sessions[which] = self.people[0]
                tablet.meet(self.ward.hello(self.sessions[which]))
                tablet.held_back = {}
                if not tablet.queue:
                    break
                self._send(which, 50, self.ward.take)
            assert tablet.queue == [], "I8: the queue is stuck"
        self.nothing_is_lost_and_nothing_is_doubled()
        self.a_tablet_lets_go_only_of_what_the_house_holds()
        assert set(self.saved) == {row.id for row in Event.select(Event.id)}, "I8: not everything came home"
        assert [check for check in checks() if check.fault] == [], "I8: a page shows what no event says"

    # ---- inside

    def _record(self, which: int, visit: int, kind: str, data: dict[str, Any]) -> None:
        tablet = self.tablets[which]
        event = tablet.record(self.visits[visit % len(self.visits)], kind, data)
        self.saved[event["id"]] = (tablet, event, tablet.person)

    def _send(self, which: int, most: int, way: Any) -> None:
        tablet, person = self.tablets[which], self.sessions[which]
        if tablet.letter(most) is None:
            self._record(which, len(self.saved), "site_touched", {})
        letter = tablet.letter(most)
        if letter is None:
            return  # everything is held back
        self.letters.append((person, letter))
        tablet.sent(letter)
        tablet.hear(letter, way(person, letter))


def _numbers(let_go: set[str], held: dict[str, tuple[str, int]]) -> dict[str, set[int]]:
    numbers: dict[str, set[int]] = {}
    for event in let_go:
        numbers.setdefault(held[event][0], set()).add(held[event][1])
    return numbers


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory, built_house: Path) -> type[TabletsAndTheWard]:
    """The machine over a house whose round has been taken out once."""
    home = tmp_path_factory.mktemp("morning") / "house"
    shutil.copytree(built_house, home)
    house = AHouse.opened(home)
    with connected():
        tomas = house.add_person("tomas", "Tomas Rehn", Role.PHLEBOTOMIST)
        people = [house.people[Role.PHLEBOTOMIST], tomas, house.people[Role.CHARGE_NURSE]]
        visits = [visit["id"] for visit in house.tablet().packet()["visits"]]
    return type("Morning", (TabletsAndTheWard,), {"home": home, "visits": visits, "people": people})


def tried(examples: int, steps: int) -> settings:
    return settings(
        max_examples=examples,
        stateful_step_count=steps,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )


def test_whatever_happens_on_the_way_nothing_is_lost_and_nothing_counts_twice(machine: type[TabletsAndTheWard]) -> None:
    run_state_machine_as_test(machine, settings=tried(30, 26))


@pytest.mark.parametrize(
    ("broken", "breach"),
    [
        ({"server": CountsAgain}, "I2: the house counts an event twice|I2: the house holds what nobody recorded"),
        ({"server": AnswersTooEarly}, "I1|I4"),
        ({"tablet": LetsGoTooEarly}, "I1"),
    ],
    ids=["a-server-that-knows-no-ids", "a-server-that-answers-too-early", "a-tablet-that-lets-go-too-early"],
)
def test_the_machine_finds_what_is_broken(
    machine: type[TabletsAndTheWard], broken: dict[str, Any], breach: str
) -> None:
    with pytest.raises(AssertionError, match=breach):
        run_state_machine_as_test(type("Broken", (machine,), broken), settings=tried(30, 26))


@pytest.mark.long
def test_for_half_an_hour_nothing_is_lost_and_nothing_counts_twice(machine: type[TabletsAndTheWard]) -> None:
    run_state_machine_as_test(machine, settings=tried(1000, 50))
