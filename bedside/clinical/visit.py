"""What is true of a visit, replayed from its events. The order in which they arrived does not matter."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from bedside.clinical.case import Case, Patient, Tube, added_tubes
from bedside.clinical.containers import CROSSMATCH, DISCARD
from bedside.clinical.events import Event
from bedside.clinical.order import in_order
from bedside.clinical.spaces import is_blank, trimmed


@dataclass(slots=True)
class Tourniquet:
    """One time a tourniquet was on: the side, since when, and until when (None while it is on)."""

    side: str | None
    on: Event
    off: Event | None = None


@dataclass(slots=True)
class Needle:
    """One needle: what came before it, and what followed it until the next one. `came_in` is None before the first."""

    came_in: Event | None
    kind: str
    site: Event | None = None
    consent: Event | None = None
    cleaned: list[Event] = field(default_factory=list)
    waiting: list[TubeState] = field(default_factory=list)
    fills: list[TubeState] = field(default_factory=list)
    out: Event | None = None
    pressure_on: Event | None = None
    taped: Event | None = None
    pressed: Event | None = None
    looks: list[Event] = field(default_factory=list)

    @property
    def is_in(self) -> bool:
        return self.came_in is not None and self.out is None


@dataclass(slots=True)
class Withdrawal:
    """A needle coming out, and the tourniquets that were still on."""

    event: Event
    left_on: list[Tourniquet]


@dataclass(slots=True)
class TubeState:
    """One container and what became of it. `inversions` counts those since it was filled."""

    tube: Tube
    filled: Event | None = None
    last_fill: Event | None = None
    volume_ml: float = 0
    inversions: int = 0
    mixing_checks: list[tuple[Event, int]] = field(default_factory=list)
    early: list[Event] = field(default_factory=list)
    reads: list[Event] = field(default_factory=list)
    bagged: Event | None = None
    discarded: Event | None = None
    handed_over: Event | None = None

    @property
    def kept(self) -> bool:
        """Report whether it holds blood for the lab: filled, not discarded, not itself a discard tube."""
        return self.filled is not None and self.discarded is None and self.tube.kind != DISCARD

    def reads_right(self, read: Event) -> bool:
        """Report whether this reading of its label gave its specimen number."""
        text: str = read.data.get("text", "")
        return not is_blank(text) and trimmed(text) == self.tube.specimen


@dataclass(slots=True)
class Visit:
    """Everything a rule may ask about one visit."""

    patient: Patient
    now_ms: int
    cancelled: bool
    max_draw_ml: float | None
    planned_needle: str
    events: list[Event]
    tubes: dict[str, TubeState]
    tourniquets: list[Tourniquet] = field(default_factory=list)
    needles: list[Needle] = field(default_factory=list)
    withdrawals: list[Withdrawal] = field(default_factory=list)
    site: Event | None = None
    cleaned: list[Event] = field(default_factory=list)
    answers: dict[str, Event] = field(default_factory=dict)
    pressure_on: Event | None = None
    taped: Event | None = None
    ended: Event | None = None

    @property
    def tourniquets_on(self) -> list[Tourniquet]:
        return [one for one in self.tourniquets if one.off is None]

    @property
    def needle(self) -> Needle:
        """The latest needle, in or out; before the first, one that never came in."""
        if not self.needles:
            self.needles.append(Needle(None, self.planned_needle))
        return self.needles[-1]

    @property
    def kept_tubes(self) -> list[TubeState]:
        return [state for state in self.tubes.values() if state.kept]

    @property
    def has_crossmatch(self) -> bool:
        return any(state.tube.kind == CROSSMATCH for state in self.tubes.values())

    def of_kind(self, *kinds: str) -> list[Event]:
        """The events of these kinds, in order."""
        return [event for event in self.events if event.kind in kinds]

    def answer(self, question: str) -> str | None:
        """The last answer to a question, "unknown" when it was asked without one, None when it was not asked."""
        asked = self.answers.get(question)
        return asked.data.get("answer", "unknown") if asked else None


def replay(case: Case) -> Visit:
    """What is true once everything in the case has happened, the steps to come included."""
    happened = in_order(case.events, case.steps)
    visit = Visit(
        patient=case.patient,
        now_ms=case.now_ms,
        cancelled=case.cancelled,
        max_draw_ml=case.max_draw_ml,
        planned_needle=case.needle,
        events=happened,
        tubes={tube.id: TubeState(tube) for tube in _containers(case.tubes, added_tubes(happened))},
    )
    for event in happened:
        happens = _HAPPENS.get(event.kind)
        if happens is not None:
            happens(visit, event)
    return visit


def _containers(planned: Iterable[Tube], added: Iterable[Tube]) -> Iterable[Tube]:
    """Every container once; what the plan says of a tube stands before what was said at the bedside."""
    known: dict[str, Tube] = {}
    for tube in (*planned, *added):
        known.setdefault(tube.id, tube)
    return known.values()


def _asked(visit: Visit, event: Event) -> None:
    visit.answers[event.data["question"]] = event


def _site_chosen(visit: Visit, event: Event) -> None:
    visit.site = event


def _tourniquet_on(visit: Visit, event: Event) -> None:
    side = event.data.get("side")
    if all(one.side != side for one in visit.tourniquets_on):
        visit.tourniquets.append(Tourniquet(side, event))


def _tourniquet_off(visit: Visit, event: Event) -> None:
    side = event.data.get("side")
    for one in visit.tourniquets_on:
        if side is None or one.side == side:
            one.off = event
            if event.after and visit.withdrawals:
                visit.withdrawals[-1].left_on = [left for left in visit.withdrawals[-1].left_on if left is not one]


def _skin_cleaned(visit: Visit, event: Event) -> None:
    visit.cleaned.append(event)


def _site_touched(visit: Visit, event: Event) -> None:
    visit.cleaned = []


def _needle_in(visit: Visit, event: Event) -> None:
    visit.needles.append(
        Needle(
            event,
            event.data.get("kind", visit.planned_needle),
            site=visit.site,
            consent=visit.answers.get("consent"),
            cleaned=list(visit.cleaned),
            waiting=[state for state in visit.tubes.values() if state.filled is None and state.discarded is None],
        )
    )


def _needle_out(visit: Visit, event: Event) -> None:
    visit.cleaned = []
    visit.withdrawals.append(Withdrawal(event, visit.tourniquets_on))
    if visit.needle.out is None:
        visit.needle.out = event


def _tube_filled(visit: Visit, event: Event, state: TubeState) -> None:
    volume = event.data.get("volume_ml")
    state.volume_ml = state.tube.nominal_ml if volume is None else volume
    state.last_fill = event
    if state.filled is None:
        state.filled = event
        visit.needle.fills.append(state)


def _tube_mixed(visit: Visit, event: Event, state: TubeState) -> None:
    if state.filled is not None:
        state.inversions += event.data.get("inversions", 0)


def _tube_discarded(visit: Visit, event: Event, state: TubeState) -> None:
    state.discarded = event


def _label_printed(visit: Visit, event: Event, state: TubeState) -> None:
    if state.filled is None:
        state.early.append(event)


def _label_read(visit: Visit, event: Event, state: TubeState) -> None:
    state.reads.append(event)
    if state.filled is None:
        state.early.append(event)
    _mixing_is_checked(event, state)


def _tube_bagged(visit: Visit, event: Event, state: TubeState) -> None:
    state.bagged = event
    _mixing_is_checked(event, state)


def _tube_handed_over(visit: Visit, event: Event, state: TubeState) -> None:
    state.handed_over = event


def _mixing_is_checked(event: Event, state: TubeState) -> None:
    if state.kept:
        state.mixing_checks.append((event, state.inversions))


def _pressure_on(visit: Visit, event: Event) -> None:
    visit.pressure_on = visit.needle.pressure_on = event
    visit.taped = None


def _site_looked(visit: Visit, event: Event) -> None:
    visit.needle.looks.append(event)


def _taped(visit: Visit, event: Event) -> None:
    visit.taped = visit.taped or event
    visit.needle.taped = event
    visit.needle.pressed = visit.needle.pressure_on


def _visit_ended(visit: Visit, event: Event) -> None:
    visit.ended = event


def _to_a_tube(happens: Callable[[Visit, Event, TubeState], None]) -> Callable[[Visit, Event], None]:
    """What happens to the tube an event names; nothing when the tube's own announcement was struck."""

    def to_its_tube(visit: Visit, event: Event) -> None:
        state = visit.tubes.get(event.data["tube"])
        if state is not None:
            happens(visit, event, state)

    return to_its_tube


# The kinds that change what is true. The others are read by their rules from `visit.events`.
_HAPPENS: Mapping[str, Callable[[Visit, Event], None]] = {
    "asked": _asked,
    "site_chosen": _site_chosen,
    "tourniquet_on": _tourniquet_on,
    "tourniquet_off": _tourniquet_off,
    "skin_cleaned": _skin_cleaned,
    "site_touched": _site_touched,
    "needle_in": _needle_in,
    "needle_out": _needle_out,
    "tube_filled": _to_a_tube(_tube_filled),
    "tube_mixed": _to_a_tube(_tube_mixed),
    "tube_discarded": _to_a_tube(_tube_discarded),
    "label_printed": _to_a_tube(_label_printed),
    "label_read": _to_a_tube(_label_read),
    "tube_bagged": _to_a_tube(_tube_bagged),
    "tube_handed_over": _to_a_tube(_tube_handed_over),
    "pressure_on": _pressure_on,
    "site_looked": _site_looked,
    "taped": _taped,
    "visit_ended": _visit_ended,
}
