"""Who is this? Two identifiers of different kinds, from the patient (or someone who knows them) and from the band."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from bedside.clinical.case import Patient
from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, NOTE, STOP
from bedside.clinical.marks import Mark
from bedside.clinical.names import Likeness, compare_names, same_name
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.spaces import is_blank, trimmed
from bedside.clinical.visit import Visit

__all__ = ["marks", "same_name"]

KINDS = ("name", "birth_date", "record_number")
ACTS = ("needle_in", "tube_filled", "label_read")

Key = tuple[str, str]


@dataclass(slots=True)
class Answers:
    """What one source gave for one kind of identifier: the difference that stands, those before, how many in a row."""

    stands: Event | None = None
    earlier: list[Event] = field(default_factory=list)
    in_a_row: int = 0
    partly: list[Event] = field(default_factory=list)
    last: Event | None = None

    def differs(self, event: Event) -> None:
        self.put_right()
        self.stands = event
        self.in_a_row += 1
        self.last = event

    def agrees(self, event: Event) -> None:
        """After two differing values in a row the same source cannot settle it any more."""
        self.last = event
        if self.in_a_row <= 1:
            self.put_right()
            self.in_a_row = 0

    def is_vouched_for(self) -> None:
        if self.in_a_row > 1:
            self.put_right()
            self.in_a_row = 0

    def put_right(self) -> None:
        if self.stands is not None:
            self.earlier.append(self.stands)
        self.stands = None


@dataclass(slots=True)
class Proof:
    """What has been taken so far, and by whom; what was wrong while somebody acted on it."""

    patient: Patient
    book: Rulebook
    crossmatch: bool
    answers: dict[Key, Answers] = field(default_factory=dict)
    agreed: dict[str | None, dict[Key, Event]] = field(default_factory=dict)
    acted_on: list[Event] = field(default_factory=list)
    no_band: Event | None = None
    birth_date_given: bool = False

    def take(self, event: Event) -> None:
        """One reading: every kind of identifier it gives, from its source."""
        source = event.data["source"]
        self.agreed.setdefault(event.by, {})
        if source == "band":
            self.no_band = None
        elif "birth_date" in event.data:
            self.birth_date_given = True
        for kind in KINDS:
            if kind in event.data:
                self._take_one(event, source, kind)

    def _take_one(self, event: Event, source: str, kind: str) -> None:
        answers = self.answers.setdefault((source, kind), Answers())
        likeness = self._compare(kind, event.data[kind])
        if likeness is Likeness.OTHER:
            self.agreed[event.by].pop((source, kind), None)
            answers.differs(event)
        elif self._counts(event, source, kind):
            self.agreed[event.by][source, kind] = event
            answers.agrees(event)
            if likeness is Likeness.PART_LEFT_OUT:
                answers.partly.append(event)
            if source == "vouched":
                self._settle(kind)

    def _compare(self, kind: str, value: str) -> Likeness:
        ordered: str = getattr(self.patient, kind)
        if kind != "name":
            same = trimmed(value) == trimmed(ordered) and not is_blank(value)
            return Likeness.SAME if same else Likeness.OTHER
        likeness = compare_names(value, ordered, self.book.value("name_parts_shared_min"))
        return Likeness.OTHER if likeness is Likeness.PART_LEFT_OUT and self.crossmatch else likeness

    def _counts(self, event: Event, source: str, kind: str) -> bool:
        """Report whether an agreeing value may count: a voucher has a name; a name is heard after the birth date."""
        if source == "vouched" and is_blank(event.data.get("voucher", {}).get("name")):
            return False
        return not (kind == "name" and event.data.get("how") == "heard" and not self.birth_date_given)

    def _settle(self, kind: str) -> None:
        for (_, about), answers in self.answers.items():
            if about == kind:
                answers.is_vouched_for()

    def standing(self) -> list[Event]:
        """The differences that count now."""
        return [answers.stands for answers in self.answers.values() if answers.stands is not None]

    def act(self, event: Event) -> Mark | None:
        """Somebody needles, fills or labels: on what has been proven so far, and by this person."""
        self.acted_on += self.standing()
        if self.no_band is not None:
            self.acted_on.append(self.no_band)
        if event.by not in self.agreed:
            return Mark("identity-missing", STOP, event)
        return None if self._is_enough(event.by) else Mark("identity-too-few", STOP, event)

    def _is_enough(self, by: str | None) -> bool:
        """Two kinds, one from the patient or a voucher, one from the band. A difference is told of by itself."""
        differing = {key for key, answers in self.answers.items() if answers.stands and answers.stands.by == by}
        taken = set(self.agreed[by]) | differing
        sources = {source for source, _ in taken}
        kinds = {kind for _, kind in taken}
        return len(kinds) >= self.book.value("identity_kinds_min") and "band" in sources and sources != {"band"}


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """Identity at each needle, fill and label; differences that stand; a band that is missing."""
    proof = Proof(visit.patient, book, visit.has_crossmatch)
    bands_missing: list[Event] = []
    for event in visit.events:
        if event.kind == "identity_taken":
            proof.take(event)
        elif event.kind == "band_missing":
            proof.no_band = event
            bands_missing.append(event)
        elif event.kind in ACTS:
            mark = proof.act(event)
            if mark is not None:
                yield mark
    yield from _differences(proof)
    for event in bands_missing:
        if event is proof.no_band or event in proof.acted_on:
            yield Mark("band-missing", STOP, event)


def _differences(proof: Proof) -> Iterator[Mark]:
    """A difference that stands, or was acted on, stops; one put right before any act is a note."""
    for answers in proof.answers.values():
        if answers.stands is not None:
            yield Mark("identity-mismatch", STOP, answers.stands)
        for event in answers.earlier:
            yield Mark("identity-mismatch", STOP if event in proof.acted_on else NOTE, event)
        for event in answers.partly:
            yield Mark("identity-mismatch", ASK if event is answers.last else NOTE, event)
