"""What can have happened at a bedside, and how it is written. The wire format of one event."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from bedside.clinical import shapes
from bedside.clinical.bad_input import BadInput, UnknownKind
from bedside.clinical.containers import CONTAINERS
from bedside.clinical.shapes import Shape, amount, count, day, fields, flag, instant, listed, text, word
from bedside.clinical.wording import KINDS as FINDING_KINDS


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One event as the tablet wrote it.

    at_ms: the tablet's own clock, milliseconds since 1970.
    skew_ms: server minus tablet as last measured, milliseconds.
    mono_ms: a clock that only runs forward within one `page`, milliseconds; None where there was none.
    place: where it stands in the order of what happened, from 0; given by the replay.
    is_next: it has not happened yet; it is the step to come.
    """

    id: str | None
    kind: str
    at_ms: int
    tablet: str = ""
    seq: int = 0
    skew_ms: float = 0
    page: str | None = None
    mono_ms: float | None = None
    by: str | None = None
    data: Mapping[str, Any]
    place: int = -1
    is_next: bool = False

    @property
    def shared_ms(self) -> float:
        """The moment on the clock all tablets share: the server's, as last known."""
        return self.at_ms + self.skew_ms

    @property
    def after(self) -> bool:
        """Report whether the tap came later than the act, because hands were busy."""
        return self.data.get("after") is True

    def standing_at(self, place: int) -> Event:
        return replace(self, place=place)


_SIDE = word("left", "right")
_PERSON = fields(name=text, relation=text, role=text, at=text)
_ANTISEPTIC = word("isopropyl_70", "chlorhexidine_2", "povidone_iodine", "other")
_NEEDLE = word("straight", "winged", "syringe")
_INCIDENT = word(
    "faint", "haematoma", "nerve_pain", "arterial", "long_bleeding", "needlestick", "splash", "fall",
    "vomiting", "seizure", "allergic", "mislabel_caught", "wrong_patient", "other",
)  # fmt: skip
_OUTCOME = word(
    "collected", "partly", "refused", "away", "not_ready", "discharged", "already_drawn", "no_identity",
    "no_vein", "restricted", "unsafe", "handed_over", "cancelled",
)  # fmt: skip
_CARE = word("ice", "37C", "dark", "room", "other")
_FINDING = word(*(kind.code for kind in FINDING_KINDS))
_CONTAINER = word(*CONTAINERS)

# The answers each question knows.
_ANSWERS: Mapping[str, Shape] = {
    "consent": word("yes", "no", "unknown", "refused", "presumed", "by_other"),
    "fasting": word("yes", "no", "unknown"),
    "blood_thinner": word("yes", "no", "unknown"),
    "latex": word("yes", "no", "unknown"),
    "fainted_before": word("yes", "no", "unknown"),
    "arm_preference": word("left", "right", "none", "unknown"),
}


def _asked(field: str, value: object) -> dict[str, Any]:
    data: dict[str, Any] = fields(required=("question",), question=word(*_ANSWERS), who=text)(field, value)
    if "answer" in data:
        data["answer"] = _ANSWERS[data["question"]](f"{field}.answer", data["answer"])
    return data


def _skin_cleaned(field: str, value: object) -> dict[str, Any]:
    # `with` is a word of the language, so it cannot be named as the other fields are.
    data: dict[str, Any] = fields()(field, value)
    if "with" in data:
        data["with"] = _ANTISEPTIC(f"{field}.with", data["with"])
    return data


def _kept(field: str, value: object) -> tuple[str, ...]:
    """How a tube was kept on its way: one word, or several in a list (on ice and in the dark)."""
    words: tuple[str, ...] = listed(_CARE)(field, [value] if isinstance(value, str) else value)
    return words


def _about_a_tube(**more: Shape) -> Shape:
    return fields(required=("tube",), tube=text, **more)


# Every kind of event and the shape of its data.
KINDS: Mapping[str, Shape] = {
    "arrived": fields(),
    "identity_taken": fields(
        required=("source",), source=word("spoken", "band", "vouched"), name=text, birth_date=day,
        record_number=text, room=text, how=word("typed", "scanned", "heard"), voucher=_PERSON,
    ),
    "band_missing": fields(),
    "asked": _asked,
    "site_chosen": fields(
        side=_SIDE, place=word("median_cubital", "cephalic", "basilic", "forearm", "hand", "foot"), below_iv=flag
    ),
    "tourniquet_on": fields(side=_SIDE),
    "tourniquet_off": fields(side=_SIDE),
    "skin_cleaned": _skin_cleaned,
    "skin_dry": fields(),
    "site_touched": fields(),
    "needle_in": fields(kind=_NEEDLE),
    "needle_out": fields(guard_on=flag),
    "tube_added": fields(
        required=("tube", "kind"), tube=text, kind=_CONTAINER, specimen=text, nominal_ml=amount, why=text, asked_by=text
    ),
    "tube_filled": _about_a_tube(volume_ml=amount),
    "tube_mixed": _about_a_tube(inversions=count),
    "tube_discarded": _about_a_tube(reason=text),
    "pressure_on": fields(),
    "site_looked": fields(bleeding=flag, watched_s=amount),
    "taped": fields(),
    "label_printed": _about_a_tube(),
    "label_read": _about_a_tube(text=text, how=text),
    "attempt_ended": fields(outcome=word("drawn", "no_flow", "stopped")),
    "incident_opened": fields(kind=_INCIDENT),
    "incident_noted": fields(
        opened=text, kind=_INCIDENT, at=text, steps=listed(text), told=_PERSON, note=text,
        severity=word("none", "mild", "moderate", "severe", "death", "unknown"),
    ),
    "tube_bagged": _about_a_tube(bag=text),
    "tube_handed_over": _about_a_tube(bag=text, to=_PERSON, kept=_kept),
    "went_ahead": fields(required=("finding",), finding=_FINDING, event=text, tube=text, reason=text),
    "visit_ended": fields(outcome=_OUTCOME, reason=text, told=_PERSON),
    "corrected": fields(required=("event",), event=text, at=instant, reason=text),
}  # fmt: skip

_ENVELOPE = fields(
    id=text, visit=text, tablet=text, seq=shapes.whole, kind=text, at=instant, offset_min=shapes.number,
    server_skew_ms=shapes.number, page=text, mono_ms=shapes.number, by=text, rulebook=text, data=shapes.record,
)  # fmt: skip


def read_event(raw: object, field: str = "event") -> Event:
    """One event from its body's keys together with `id`, `tablet` and `seq`.

    Raises `UnknownKind` for a kind this edition does not know, `BadInput` for anything else that cannot be used.
    """
    given = shapes.record(field, raw)
    for name in ("kind", "at"):
        if given.get(name) is None:
            raise BadInput(f"{field}.{name}", None, "is missing")
    return _event(given, field)


def read_next(raw: object, now_ms: int, field: str = "next") -> Event:
    """The step to come: an event that is judged as if it happened at `now_ms`."""
    given = shapes.record(field, raw)
    if given.get("kind") is None:
        raise BadInput(f"{field}.kind", None, "is missing")
    return replace(_event({**given, "at": None}, field), at_ms=now_ms, is_next=True)


def _event(given: Mapping[str, Any], field: str) -> Event:
    known = _ENVELOPE(field, given)
    kind = known["kind"]
    if kind not in KINDS:
        raise UnknownKind(f"{field}.kind", kind, "is not a kind of event this edition knows")
    return Event(
        id=known.get("id"),
        kind=kind,
        at_ms=known.get("at", 0),
        tablet=known.get("tablet", ""),
        seq=known.get("seq", 0),
        skew_ms=known.get("server_skew_ms", 0),
        page=known.get("page"),
        mono_ms=known.get("mono_ms"),
        by=known.get("by"),
        data=read_data(kind, known.get("data", {}), f"{field}.data"),
    )


def read_data(kind: str, raw: object, field: str) -> dict[str, Any]:
    """The data of an event of this kind. A correction keeps an explicit null: the event it names did not happen."""
    data: dict[str, Any] = KINDS[kind](field, raw)
    if kind == "corrected" and isinstance(raw, Mapping) and "data" in raw:
        data["data"] = None if raw["data"] is None else dict(shapes.record(f"{field}.data", raw["data"]))
    return data


def check_correction(correction: Event, corrected: Event) -> None:
    """Raise `BadInput` when the data a correction brings does not fit the kind of the event it names."""
    data = correction.data.get("data")
    if corrected.kind != "corrected" and data is not None:
        read_data(corrected.kind, data, "corrected.data.data")
