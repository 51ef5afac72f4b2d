"""Whole visits made by chance, all well formed, aimed at the places where a rule changes its mind.

`a_visit(chance)` takes any `random.Random`. With a seeded one a visit can be made again from its seed; with
Hypothesis' own (`visits()`) a failing visit is made smaller until little is left of it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from random import Random
from typing import Any

from hypothesis import strategies as st

from bedside.clinical.containers import CONTAINERS
from bedside.clinical.wording import KINDS as FINDING_KINDS

Json = dict[str, Any]

START_MS = 1795583700000  # 2026-11-25T05:15:00Z
SIDES = ("left", "right")
ANSWERS = ("yes", "no", "unknown")
PEOPLE = ("p-ines", "p-tomas", None)
CODES = tuple(kind.code for kind in FINDING_KINDS)
OFTEN_GONE_AHEAD_WITH = (
    "tube-not-mixed", "label-missing", "bleeding-not-checked", "still-bleeding", "consent-missing", "volume-over-limit",
    "pressure-short", "tourniquet-left-on", "site-restricted", "identity-mismatch", "label-mismatch",
)  # fmt: skip
INCIDENTS = (
    "faint", "haematoma", "nerve_pain", "arterial", "arterial", "long_bleeding", "needlestick", "splash", "fall",
    "vomiting", "seizure", "allergic", "mislabel_caught", "wrong_patient", "other",
)  # fmt: skip
OUTCOMES = (
    "collected", "partly", "refused", "away", "not_ready", "discharged", "already_drawn", "no_identity",
    "no_vein", "restricted", "unsafe", "handed_over", "cancelled",
)  # fmt: skip

# Invented patients, in ten scripts and more; the letters are what matters: strokes, dots, vowel signs, joined parts.
NAMES = (
    "Ojala, Kaarina", "O'Brien-Łęski, Zoë", "Müller-Strauß, Jörg", "Đặng, Thị Ánh", "İnce, Işıl", "Ødegård, Bjørn",
    "Παπαδόπουλος, Άννα Μαρία", "Ковалёва, Юлия", "كريم, ليلى", "לוי, נועה", "王, 小明", "김, 서연",
    "शर्मा, अनीता", "สุขใจ, มาลี", "やまだ, はなこ", "ヤマダ, ハナコ", "Հակոբյան, Անի", "ბერიძე, ნინო", "ఆనంద్, రవి",
    "de la Cruz, María José", "D’Angelo, Nicolò", "van 't Hof, Jan-Willem", "Ƶarić, Đorđe", "ΟΔΥΣΣΕΥΣ, ΝΙΚΟΣ", "Å, Ø",
    "Ǆindo, Ĳsbrand", "ﬁsher, 𝒜nna", "Doe", "𐐀𐐁, 𐐂",
)  # fmt: skip
BIRTH_DATES = (
    "1951-03-09", "2024-02-29", "2026-09-25", "2026-09-26", "2026-09-24", "2026-12-31", "2000-02-29", "1926-01-01",
    "2026-09-30", "0004-02-29",
)  # fmt: skip
SPACES = (" ", "  ", "\u00a0", "\u3000", "\t", "\u2028", "\u0085", "\x1d", "\ufeff", "\u200b")
HYPHENS = "-\u2010\u2011\u2013\u2212\u00ad\uff0d"
APOSTROPHES = "'’`´ʼ‘\uff07"

# How long after the event it is measured from, in ms: each limit, and a thousandth of a second either side.
LIMITS_MS = (2000, 5000, 30000, 60000, 120000, 300000)
MEASURED_FROM = {
    "tourniquet_off": ("tourniquet_on",),
    "tourniquet_on": ("tourniquet_off",),
    "needle_in": ("skin_cleaned", "tourniquet_on"),
    "needle_out": ("tourniquet_on",),
    "taped": ("pressure_on",),
    "pressure_on": ("needle_out",),
}


def visits() -> st.SearchStrategy[Json]:
    """Whole inputs of `bedside judge`, for Hypothesis."""
    return st.randoms(use_true_random=False).map(a_visit)


def a_visit(chance: Random) -> Json:
    """The whole input of `bedside judge` for one visit; always well formed."""
    making = Making(chance)
    making.history()
    making.corrections()
    events = making.arrived()
    given: Json = {"patient": making.patient, "tubes": making.planned, "events": events, "now": making.now()}
    if one_in(chance, 3):
        given["needle"] = chance.choice(("straight", "winged", "syringe"))
    if one_in(chance, 8):
        given["cancelled"] = chance.choice((True, False))
    if one_in(chance, 3):
        given["limits"] = {"max_draw_ml": making.limit_ml()}
    if one_in(chance, 2):
        given["next"] = making.next()
    return given


def one_in(chance: Random, number: int) -> bool:
    return chance.randrange(number) == 0


def a_patient(chance: Random) -> Json:
    patient: Json = {
        "name": chance.choice(NAMES),
        "birth_date": chance.choice(BIRTH_DATES),
        "record_number": chance.choice(("40031977", " 40031978 ", "A-17", "40031977\x1d", "")),
    }
    for name, often in (("blood_thinner", 4), ("latex_allergy", 6)):
        if one_in(chance, often):
            patient[name] = chance.choice((True, False, None))
    if one_in(chance, 3):
        patient["restrictions"] = [
            {"side": chance.choice(SIDES), "why": chance.choice(("fistula", "lymph_nodes", "iv", "iv", "other"))}
            for _ in range(chance.randrange(3))
        ]
    if one_in(chance, 4):
        patient["permissions"] = chance.sample(("foot", "left", "right"), chance.randrange(3))
    return patient


def a_tube(chance: Random, tube: str) -> Json:
    kind = "citrate" if one_in(chance, 5) else chance.choice(tuple(CONTAINERS))
    made: Json = {"id": tube, "kind": kind}
    if not one_in(chance, 8):
        made["specimen"] = f"10000000{chance.randrange(10)}4"
    if not one_in(chance, 4):
        made["nominal_ml"] = chance.choice((0, 0.5, 1.8, 2, 2.7, 5.0, 8.3))
    if one_in(chance, 3):
        made["tests"] = chance.sample(("5640-8", "24321-2", "SITE-Ethanol", "600-7", "EtOH"), chance.randrange(3))
    return made


def written(chance: Random, at_ms: int) -> str:
    """A moment as a file may write it: in UTC, or with another offset."""
    zone = timezone(timedelta(minutes=chance.choice((60, -210, 345)))) if one_in(chance, 12) else UTC
    moment = datetime.fromtimestamp(at_ms / 1000, UTC).astimezone(zone)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def near(chance: Random, limit: int) -> int:
    """A limit, or a thousandth beside it."""
    return limit + chance.choice((-1, 0, 0, 1))


def respelled(chance: Random, name: str) -> str:
    """The name as somebody else may write it, the same name or almost."""
    parts = name.replace(",", " ").split()
    change = chance.randrange(10)
    if change == 0:
        return name.upper() if one_in(chance, 2) else name.lower()
    if change == 1:
        return unicodedata.normalize(chance.choice(("NFD", "NFKC", "NFC")), name)
    if change == 2:
        return chance.choice(SPACES).join(parts)
    if change == 3:
        return " ".join(chance.sample(parts, len(parts)))
    if change == 4:
        return name.replace("-", chance.choice((*HYPHENS, " ", ""))).replace("'", chance.choice((*APOSTROPHES, "")))
    if change == 5:
        return " ".join(parts[: max(1, len(parts) - 1)])
    if change == 6:
        return " ".join((*parts, chance.choice(("Maria", "Jr", "ß", "İ"))))
    if change == 7:
        return "".join(letter for letter in unicodedata.normalize("NFD", name) if not unicodedata.combining(letter))
    if change == 8:
        return chance.choice((*NAMES, "", " ", ",", "-"))
    return name


@dataclass
class Clock:
    """One tablet: its number in the queue, how far its clock is off, its page and that page's own clock."""

    name: str
    off_ms: int
    skew_ms: float | None
    seq: int = 0
    page: str | None = None
    page_began_ms: int = 0
    slept_ms: int = 0


@dataclass
class Making:
    """One visit in the making: what is known so far, and the true time."""

    chance: Random
    patient: Json = field(default_factory=dict)
    planned: list[Json] = field(default_factory=list)
    tubes: list[Json] = field(default_factory=list)
    events: list[Json] = field(default_factory=list)
    true_ms: int = START_MS
    last_at: dict[str, int] = field(default_factory=dict)
    clocks: list[Clock] = field(default_factory=list)
    calm: bool = False

    def __post_init__(self) -> None:
        chance = self.chance
        self.patient = a_patient(chance)
        self.planned = [a_tube(chance, f"t{number}") for number in range(chance.choice((0, 1, 2, 2, 3, 4)))]
        self.tubes = list(self.planned)
        self.calm = one_in(chance, 3)
        self.clocks = [self._clock(f"tablet-{letter}") for letter in "ab"[: 1 + one_in(chance, 3)]]

    def _clock(self, name: str) -> Clock:
        off_ms = self.chance.choice((0, 0, 0, 380, -380, 119999, 120000, 120001, -120001, 3600000))
        told = self.chance.choice((off_ms, off_ms, 0, None, -off_ms, 0.5))
        return Clock(name, -off_ms, told)

    # ---- what happens

    def history(self) -> None:
        """An ordinary visit, of which much is left out, done twice, or mixed with what happens now and then."""
        chance = self.chance
        steps = [step for step in self._ordinary() if not one_in(chance, 80 if self.calm else 9)]
        for _ in range(chance.choice((0, 0, 0, 1) if self.calm else (0, 0, 1, 2, 4, 8))):
            steps.insert(chance.randrange(len(steps) + 1), (chance.choice(tuple(DATA)), None))
        if one_in(chance, 6):
            first, second = chance.randrange(len(steps) + 1), chance.randrange(len(steps) + 1)
            steps = steps[: max(first, second)] + steps[min(first, second) :]
        if one_in(chance, 5):
            steps = steps[: chance.randrange(len(steps) + 1)]
        if one_in(chance, 10):
            chance.shuffle(steps)
        for kind, data in steps:
            self.happens(kind, data)

    def _ordinary(self) -> list[tuple[str, Json | None]]:
        chance = self.chance
        side = chance.choice(SIDES)
        tubes = [tube["id"] for tube in self.tubes]
        spoken = {"source": "spoken", "name": self.patient["name"], "birth_date": self.patient["birth_date"]}
        band = {"source": "band", "record_number": self.patient["record_number"], "how": "scanned"}
        steps: list[tuple[str, Json | None]] = [
            ("arrived", {}), ("identity_taken", self._or_anything(spoken)), ("identity_taken", self._or_anything(band)),
            ("asked", {"question": "consent", "answer": "yes"}), ("asked", None),
            ("site_chosen", {"side": side, "place": "median_cubital", "below_iv": one_in(chance, 2)}),
            ("tourniquet_on", {"side": side}),
            ("tourniquet_off", {"side": side}), ("skin_cleaned", None), ("tourniquet_on", {"side": side}),
            ("needle_in", {}),
        ]  # fmt: skip
        steps += [("tube_filled", self._filled(tube)) for tube in self.planned]
        steps += [("tourniquet_off", {}), ("needle_out", {"guard_on": True}), ("pressure_on", {})]
        for tube in tubes:
            steps.append(("tube_mixed", self._or_anything({"tube": tube, "inversions": 8})))
            steps += [("label_printed", {"tube": tube}), ("label_read", self._read_right(tube))]
        steps += [("identity_taken", band), ("site_looked", {"bleeding": False, "watched_s": 5}), ("taped", {})]
        steps += [("tube_bagged", {"tube": tube, "bag": "b"}) for tube in tubes]
        steps.append(("visit_ended", {"outcome": "collected"}))
        if one_in(chance, 3):
            steps += [
                ("tube_handed_over", {"tube": tube, "to": {"name": "Reception", "role": "laboratory"}})
                for tube in tubes
            ]
        return steps

    def _or_anything(self, data: Json) -> Json | None:
        return data if self.calm or not one_in(self.chance, 5) else None

    def _filled(self, tube: Json) -> Json:
        """Full, or as full as a citrate tube must be, or a thousandth beside it."""
        nominal = tube.get("nominal_ml", CONTAINERS[tube["kind"]].nominal_ml)
        share = round(nominal * 0.9, 6) + self.chance.choice((0, -0.001, 0.001))
        return {"tube": tube["id"], "volume_ml": max(share, 0)} if one_in(self.chance, 3) else {"tube": tube["id"]}

    def _read_right(self, tube: str) -> Json:
        specimen = next((one.get("specimen") for one in self.tubes if one["id"] == tube), None)
        return {"tube": tube, "text": specimen if not one_in(self.chance, 30 if self.calm else 8) else "1000000094"}

    def happens(self, kind: str, data: Json | None = None) -> None:
        """One more event, at a time of its own; without data, any that fits the kind."""
        data = DATA[kind](self) if data is None else dict(data)
        if data is None:
            return
        self._time_passes(kind)
        self.events.append(self._event(kind, data))
        self.last_at[kind] = self.true_ms
        if kind == "tube_added":
            self.tubes.append({**data, "id": data["tube"]})

    def _time_passes(self, kind: str) -> None:
        chance = self.chance
        at = self.true_ms + chance.choice((0, 0, 1, 900, 3000, 7000, 20000, 45000))
        anchors = [self.last_at[one] for one in MEASURED_FROM.get(kind, ()) if one in self.last_at]
        if anchors and one_in(chance, 2):
            at = max(self.true_ms, chance.choice(anchors) + near(chance, chance.choice(LIMITS_MS)))
        self.true_ms = at

    def _event(self, kind: str, data: Json) -> Json:
        chance = self.chance
        clock = chance.choice(self.clocks)
        if one_in(chance, 40):
            clock.off_ms += chance.choice((-60000, 60000, 1999, 2000, 2001, -2001))
        if one_in(chance, 40):
            clock.slept_ms += chance.choice((1999, 2000, 2001, 30000, 120000))
        clock.seq += 1
        event: Json = {
            "id": f"e{chance.choice('abcz')}{len(self.events):02d}", "kind": kind, "tablet": clock.name,
            "seq": clock.seq, "at": written(chance, self.true_ms + clock.off_ms), "data": self._with_gaps(data),
            "by": chance.choice(PEOPLE) if one_in(chance, 10) else "p-ines",
        }  # fmt: skip
        if clock.skew_ms is not None:
            event["server_skew_ms"] = clock.skew_ms
        event.update(self._page(clock))
        return event

    def _page(self, clock: Clock) -> Json:
        """A page and its own clock, which stands still while the tablet sleeps; now and then a new page, or none."""
        chance = self.chance
        if clock.page is None or one_in(chance, 30):
            clock.page, clock.page_began_ms, clock.slept_ms = f"page-{chance.randrange(3)}", self.true_ms - 7, 0
        if one_in(chance, 12):
            return chance.choice(({}, {"page": clock.page}, {"mono_ms": 17}, {"page": None, "mono_ms": None}))
        mono = max(self.true_ms - clock.page_began_ms - clock.slept_ms, 0)
        return {"page": clock.page, "mono_ms": mono + chance.choice((0, 0, 0, 0.25))}

    def _with_gaps(self, data: Json) -> Json:
        """Now and then a tap that came later, a field nobody knows, or a missing one written as null."""
        if one_in(self.chance, 60 if self.calm else 12):
            data["after"] = self.chance.choice((True, True, False, None))
        if one_in(self.chance, 20):
            data["of_tomorrow"] = self.chance.choice((None, 1, "?"))
        return data

    # ---- what was put right, and how it arrives

    def corrections(self) -> None:
        """Some events are struck, moved in time or given other data; now and then a correction is corrected."""
        chance = self.chance
        for _ in range(chance.choice((0, 0, 0, 0, 1) if self.calm else (0, 0, 0, 1, 1, 2, 4))):
            wrong = chance.choice(self.events) if self.events and not one_in(chance, 12) else None
            self._correct(wrong)

    def _correct(self, wrong: Json | None) -> None:
        chance = self.chance
        data: Json = {"event": wrong["id"] if wrong else "nobody"}
        what = chance.randrange(5)
        if what == 0:
            data["data"] = None
        if what in (1, 2):
            data["at"] = written(chance, START_MS + chance.choice((-1, 0, 29999, 60000, 60001, 120000, 400000)))
        if what in (2, 3):
            data["data"] = self._other_data(wrong) if wrong else {}
        if one_in(chance, 4):
            data["reason"] = "mis-tap"
        self.happens("corrected", data)

    def _other_data(self, wrong: Json) -> Json:
        """Data that fits the same kind; a tube that was added stays that tube."""
        data = DATA[wrong["kind"]](self) or dict(wrong["data"])
        return {**data, "tube": wrong["data"]["tube"]} if wrong["kind"] == "tube_added" else data

    def arrived(self) -> list[Json]:
        """The events as they reach the judge: mixed up, some of them twice."""
        chance = self.chance
        events = list(self.events)
        if events and one_in(chance, 4):
            events += chance.choices(events, k=chance.randrange(4))
        if one_in(chance, 3):
            chance.shuffle(events)
        return events

    def now(self) -> str:
        anchor = self.chance.choice([self.true_ms, self.true_ms, *self.last_at.values()])
        clock = self.chance.choice(self.clocks)
        wait = self.chance.choice((0, 0, 1000, -5000, near(self.chance, self.chance.choice(LIMITS_MS))))
        return written(self.chance, anchor + clock.off_ms + wait)

    def next(self) -> Json:
        chance = self.chance
        kind = chance.choice(("needle_in", "label_read", "taped", "visit_ended", "tube_filled", *DATA))
        data = DATA[kind](self)
        if data is None:
            kind, data = "arrived", {}
        made: Json = {"kind": kind, "data": data, "by": chance.choice(PEOPLE)}
        if one_in(chance, 2):
            clock = chance.choice(self.clocks)
            made.update(tablet=clock.name, server_skew_ms=clock.skew_ms, **self._page(clock))
        return made

    def limit_ml(self) -> float:
        """A limit at what this visit takes, or beside it."""
        sizes = [tube.get("nominal_ml", CONTAINERS[tube["kind"]].nominal_ml) for tube in self.tubes]
        whole = sum(sizes[: self.chance.randrange(len(sizes) + 1)])
        return max(0, self.chance.choice((whole, whole - 0.001, whole + 0.001, 20.0, 2.7)))

    # ---- whom and what an event is about

    def known_tube(self) -> str | None:
        return self.chance.choice([tube["id"] for tube in self.tubes]) if self.tubes else None

    def known_event(self) -> str:
        return self.chance.choice(self.events)["id"] if self.events else "nobody"


def _nothing(making: Making) -> Json:
    return {}


def _identity(making: Making) -> Json:
    chance, patient = making.chance, making.patient
    data: Json = {"source": chance.choice(("spoken", "band", "band", "vouched"))}
    if not one_in(chance, 3):
        data["name"] = respelled(chance, patient["name"])
    if not one_in(chance, 3):
        data["birth_date"] = patient["birth_date"] if not one_in(chance, 5) else chance.choice(BIRTH_DATES)
    if not one_in(chance, 3):
        right = patient["record_number"]
        data["record_number"] = right if not one_in(chance, 4) else chance.choice((f" {right}\u00a0", "4003197", ""))
    if one_in(chance, 6):
        data["room"] = "14"
    if one_in(chance, 3):
        data["how"] = chance.choice(("typed", "scanned", "heard", "heard"))
    if data["source"] == "vouched" and not one_in(chance, 4):
        data["voucher"] = {"name": chance.choice(("Elli Ojala", " ", "")), "relation": "daughter"}
    return data


def _asked(making: Making) -> Json:
    chance = making.chance
    question = chance.choice(("consent", "consent", "blood_thinner", "latex", "fasting", "arm_preference"))
    answers = {
        "consent": ("yes", "no", "unknown", "refused", "presumed", "by_other", "by_other"),
        "arm_preference": ("left", "right", "none"),
    }.get(question, ANSWERS)
    data: Json = {"question": question}
    if not one_in(chance, 10):
        data["answer"] = chance.choice(answers)
    if one_in(chance, 2):
        data["who"] = chance.choice(("Elli Ojala", " ", None))
    return data


def _site(making: Making) -> Json:
    chance = making.chance
    data: Json = {"side": chance.choice((*SIDES, None)), "place": chance.choice(("cephalic", "hand", "foot"))}
    if one_in(chance, 3):
        data["below_iv"] = chance.choice((True, False))
    return data


def _side(making: Making) -> Json:
    return making.chance.choice(({"side": "left"}, {"side": "right"}, {}))


def _cleaned(making: Making) -> Json:
    return making.chance.choice(
        ({"with": "isopropyl_70"}, {"with": "chlorhexidine_2"}, {"with": "povidone_iodine"}, {"with": "other"}, {})
    )


def _needle(making: Making) -> Json:
    return making.chance.choice(({"kind": "straight"}, {"kind": "winged", "gauge": 23}, {"kind": "syringe"}, {}))


def _guard(making: Making) -> Json:
    return making.chance.choice(({"guard_on": True}, {"guard_on": False}, {"guard_on": None}, {}))


def _added(making: Making) -> Json:
    """A tube of its own, or one that the plan knows already."""
    made = a_tube(making.chance, making.chance.choice(("t0", "extra-1", "extra-2")))
    return {"tube": made.pop("id"), "why": "add-on", "asked_by": "ward", **made}


def about_a_tube(more: Callable[[Making], Json] = _nothing) -> Callable[[Making], Json | None]:
    def made(making: Making) -> Json | None:
        tube = making.known_tube()
        return None if tube is None else {"tube": tube, **more(making)}

    return made


def _volume(making: Making) -> Json:
    chance = making.chance
    whole = chance.choice((0.5, 1.8, 2, 2.7, 5.0))
    share = chance.choice((whole * 0.9, whole * 0.9 - 0.001, whole * 0.9 + 0.001, whole, 0, 2.43, 2.429999))
    return chance.choice(({"volume_ml": max(share, 0)}, {"volume_ml": None}, {}))


def _turned(making: Making) -> Json:
    return making.chance.choice(({"inversions": making.chance.choice((0, 2, 3, 4, 5, 7, 8, 9))}, {}))


def _handed_over(making: Making) -> Json:
    kept = making.chance.choice(("ice", "37C", "dark", "room", ["ice", "dark"], None))
    return {"to": {"name": "Vera Holm", "role": "laboratory"}, "kept": kept}


def _label(making: Making) -> Json:
    chance = making.chance
    specimens = [tube["specimen"] for tube in making.tubes if "specimen" in tube]
    text = chance.choice((*specimens, "1000000094", "", None))
    return {"text": f" {text}\u00a0" if text and one_in(chance, 5) else text, "how": "scanned"}


def _looked(making: Making) -> Json:
    chance = making.chance
    data: Json = {}
    if not one_in(chance, 5):
        data["bleeding"] = chance.choice((True, False, False))
    if not one_in(chance, 5):
        data["watched_s"] = near(chance, 5000) / 1000
    return data


def _incident(making: Making) -> Json:
    return making.chance.choice(({"kind": making.chance.choice(INCIDENTS)}, {}))


def _noted(making: Making) -> Json:
    chance = making.chance
    opened = [event["id"] for event in making.events if event["kind"] == "incident_opened"]
    data: Json = {"opened": chance.choice((*opened, None, "")), **_incident(making)}
    whole = {
        "at": "05:20", "steps": ["pressed"], "told": {"name": "Nurse Adair", "role": "nurse"}, "note": "A swelling.",
    }  # fmt: skip
    data.update({name: value for name, value in whole.items() if not one_in(chance, 6)})
    if one_in(chance, 6):
        data.update(chance.choice(({"steps": []}, {"steps": [" "]}, {"told": {}}, {"note": " \u00a0"}, {"at": ""})))
    return data


def _went_ahead(making: Making) -> Json:
    chance = making.chance
    data: Json = {"finding": chance.choice(CODES + 3 * OFTEN_GONE_AHEAD_WITH), "reason": "no other way"}
    if one_in(chance, 3):
        data["event"] = making.known_event()
    if one_in(chance, 3) and making.tubes:
        data["tube"] = making.known_tube()
    return data


def _ended(making: Making) -> Json:
    chance = making.chance
    data: Json = {"outcome": chance.choice(OUTCOMES)}
    if one_in(chance, 2):
        data["told"] = chance.choice(({"name": "Nurse Adair"}, {"name": " "}, {}, {"role": "nurse"}))
    return data


def _correction(making: Making) -> Json:
    chance = making.chance
    return {"event": making.known_event(), **chance.choice(({"data": None}, {}, {"reason": "mis-tap"}))}


# What each kind may carry; None where there is nothing it could be about.
DATA: Mapping[str, Callable[[Making], Json | None]] = {
    "arrived": _nothing,
    "identity_taken": _identity,
    "band_missing": _nothing,
    "asked": _asked,
    "site_chosen": _site,
    "tourniquet_on": _side,
    "tourniquet_off": _side,
    "skin_cleaned": _cleaned,
    "skin_dry": _nothing,
    "site_touched": _nothing,
    "needle_in": _needle,
    "needle_out": _guard,
    "tube_added": _added,
    "tube_filled": about_a_tube(_volume),
    "tube_mixed": about_a_tube(_turned),
    "tube_discarded": about_a_tube(),
    "pressure_on": _nothing,
    "site_looked": _looked,
    "taped": _nothing,
    "label_printed": about_a_tube(),
    "label_read": about_a_tube(_label),
    "attempt_ended": lambda making: {"outcome": making.chance.choice(("drawn", "no_flow", "stopped"))},
    "incident_opened": _incident,
    "incident_noted": _noted,
    "tube_bagged": about_a_tube(lambda making: {"bag": "b"}),
    "tube_handed_over": about_a_tube(_handed_over),
    "went_ahead": _went_ahead,
    "visit_ended": _ended,
    "corrected": _correction,
}
