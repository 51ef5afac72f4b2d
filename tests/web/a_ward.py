"""An invented ward for the tests of the desks: real tables in a real file, filled row by row.

The cast, each with one reason to exist: Ada is drawn. Per refuses. Kaarina is late and on a blood thinner,
Katariina sounds like her. Thandi is on the way. Nils has no vein. June is held. Aroha is drawn after her order was
cancelled. Wilhelmina has the longest name of the ward. Bo is a nurse's draw from a line.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from bedside.app import create_app
from bedside.people import sessions
from bedside.people.roles import Role
from bedside.records import rulebooks
from bedside.records.database import connected, db, writing
from bedside.records.house import make_house
from bedside.records.moments import as_text, now
from bedside.records.tables import (
    Event,
    FindingNow,
    Incident,
    Order,
    OrderNow,
    Patient,
    Person,
    Round,
    SetAside,
    Tablet,
    Tube,
    Visit,
    VisitNow,
    VisitOrder,
    Ward,
)
from bedside.settings import Settings
from bedside.web.guard import cookie_name
from tests.databases import DATABASES

SITE = "Harbour Hill Hospital"
LONG_NAME = ("Featherstonehaugh-Abercrombie-Vandenberghe", "Wilhelmina Alexandrina Philippa")


@dataclass
class Sitting:
    """Somebody sitting at a desk: asks for pages and sends forms as a browser would."""

    client: FlaskClient

    def get(self, path: str) -> Any:
        return self.client.get(path, base_url="https://localhost")

    def text(self, path: str) -> str:
        answer = self.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text)
        return answer.text

    def post(self, path: str, form: dict[str, Any], *, on: str) -> Any:
        """Send a form with the token of the page it stands on."""
        token = re.search(r'name="csrf_token"[^>]* value="([^"]+)"', self.text(on))
        assert token is not None, f"no form on {on}"
        return self.client.post(
            path,
            data={"csrf_token": token[1], **form},
            base_url="https://localhost",
            headers={"Referer": f"https://localhost{on}"},
        )


@dataclass
class AWard:
    """The invented ward and its people, with short ways to put things into it."""

    app: Flask
    settings: Settings
    now: datetime
    ward: str | None = "w-5"
    people: dict[str, str] = field(default_factory=dict)
    count: int = 0

    @classmethod
    @contextmanager
    def opened(cls, home: Path, *, with_ward: bool = True) -> Iterator[AWard]:
        """A house in this folder with one person of each role; its database is let go of at the end."""
        settings = Settings(
            home=home,
            zone="Europe/Lisbon",
            site=SITE,
            password_passes=1,
            password_memory_kib=64,
            database_url=DATABASES.address_of(home),
        )
        make_house(settings, now())
        ward = cls(app=create_app(settings), settings=settings, now=now())
        with connected(), writing():
            if with_ward:
                Ward.create(id="w-5", name="5")
            else:
                ward.ward = None
            for role, name in (
                (Role.PHLEBOTOMIST, "Ines Baptista"),
                (Role.CHARGE_NURSE, "Tomas Lindqvist"),
                (Role.SAFETY_OFFICER, "Grace Oyelaran"),
                (Role.KEEPER, "Henrik Aalto"),
            ):
                ward.add_person(f"p-{role}", name, role)
        yield ward
        if not db.is_closed():
            db.close()

    def another_ward(self, name: str) -> str:
        return Ward.create(id=f"w-{name}", name=name).id

    def add_person(self, person: str, name: str, role: str) -> str:
        Person.create(
            id=person,
            sign_in=person.removeprefix("p-"),
            name=name,
            role=role,
            ward=self.ward,
            password_hash="none",
            made_at=self.at(-6000),
        )
        return person

    def sitting(self, role: str) -> Sitting:
        """Somebody of this role, signed in."""
        with connected(), writing():
            token = sessions.begin(Person.get_by_id(f"p-{role}"), now())
        client = self.app.test_client()
        client.set_cookie(cookie_name(self.app.config["HOUSE"]), token, domain="localhost", secure=True, httponly=True)
        return Sitting(client)

    def at(self, minutes: float) -> str:
        """So many minutes from now, as the records write it."""
        return as_text(self.now + timedelta(minutes=minutes))

    def patient(self, name: str, room: str, bed: str = "A", **more: Any) -> str:
        family, _, given = name.partition(", ")
        self.count += 1
        return Patient.create(
            id=f"n-{self.count}",
            record_number=f"4003{self.count:04}",
            family=family,
            given=given,
            birth_date="1951-03-09",
            sex="female",
            room=room,
            bed=bed,
            **{"ward": self.ward, **more},
        ).id

    def order(
        self,
        patient: str,
        *,
        state: str = "pending",
        test: str = "24321-2",
        due: tuple[float, float] = (-30, 60),
        visit: str | None = None,
        at: float | None = None,
        became: dict[str, Any] | None = None,
        **more: Any,
    ) -> str:
        """An order with what has become of it; `due` in minutes from now."""
        self.count += 1
        made = Order.create(
            id=f"o-{self.count}",
            number=f"L{self.count:06}",
            patient=patient,
            test=test,
            **{"priority": "routine", **more},
            due_from=self.at(due[0]),
            due_to=self.at(due[1]),
            made_at=self.at(-300),
        )
        OrderNow.create(
            order=made,
            state=state,
            may_go_out=state in ("pending", "not_collected"),
            visit=visit,
            at=self.at(at) if at is not None else None,
            **(became or {}),
        )
        if visit:
            VisitOrder.create(visit=visit, order=made)
        return made.id

    def round(self, person: str = "p-phlebotomist") -> str:
        self.count += 1
        return Round.create(
            id=f"r-{self.count}",
            name="Ward 5 · morning round",
            person=person,
            ward=self.ward,
            taken_at=self.at(-70),
        ).id

    def visit(self, patient: str, out: str | None, **told: Any) -> str:
        """A visit; with any of VisitNow's fields it has begun, without it has not."""
        self.count += 1
        made = Visit.create(id=f"v-{self.count}", round=out, patient=patient, position=self.count, made_at=self.at(-70))
        Tube.create(id=f"t-{self.count}", visit=made, kind="serum-gel", specimen=f"10000{self.count:05}", position=1)
        if told:
            VisitNow.create(
                visit=made,
                **{"stage": "done", "last_at": self.at(-1), "events": 1, "rulebook": "sha256:x", **told},
            )
        return made.id

    def event(self, visit: str | None, kind: str, minutes: float, data: dict[str, Any] | None = None) -> str:
        self.count += 1
        body = {
            "visit": visit,
            "kind": kind,
            "at": self.at(minutes),
            "by": "p-phlebotomist",
            "data": data or {},
        }
        return Event.create(
            id=f"e-{self.count}",
            tablet="tb-1",
            seq=self.count,
            body=json.dumps(body),
            hash=f"{self.count:064}",
            received_at=self.at(minutes + 0.1),
            status="stored",
            visit=visit,
            kind=kind,
            at=self.at(minutes),
            by="p-phlebotomist",
        ).id

    def finding(self, visit: str, code: str, severity: str, says: str, do_next: str, **more: Any) -> None:
        FindingNow.create(
            visit=visit,
            code=code,
            severity=severity,
            says=says,
            do_next=do_next,
            source="the app's own rule",
            found_by="judge",
            **more,
        )

    def incident(self, visit: str, kind: str, minutes: float, **more: Any) -> str:
        self.count += 1
        return Incident.create(
            id=f"i-{self.count}",
            visit=visit,
            kind=kind,
            happened_at=self.at(minutes),
            by="p-phlebotomist",
            **more,
        ).id

    def set_aside(self, says: str = "The event names a visit that is not known here.") -> int:
        event = self.event(None, "tube_filled", -20, {"tube": "t-unknown"})
        row = Event.get_by_id(event)
        return SetAside.create(
            event=event,
            tablet=row.tablet,
            seq=row.seq,
            hash=row.hash,
            reason="visit-unknown",
            says=says,
            visit="v-unknown",
            received_at=self.at(-19),
        ).id

    def tablet(self, heard: float = -8) -> None:
        Tablet.delete_by_id("tb-1")
        Tablet.insert(
            id="tb-1",
            name="Cart 2",
            first_seen_at=self.at(-9000),
            last_seen_at=self.at(heard),
            person="p-phlebotomist",
        ).execute()


def one_of_everything(ward: AWard) -> dict[str, str]:
    """Each state once; gives the patients and what else the tests ask for, by name."""
    with connected(), writing():
        ward.tablet()
        out = ward.round()
        told = {"name": "R. Mensah", "role": "nurse", "at": ward.at(-40)}
        made = {
            "ada": ward.patient("Okoro, Ada", "12", "A"),
            "per": ward.patient("Lindqvist, Per", "12", "B"),
            "kaarina": ward.patient(
                "Ojala, Kaarina", "14", "B", blood_thinner=True, restrictions=[{"side": "left", "why": "fistula"}]
            ),
            "katariina": ward.patient("Ojala, Katariina", "15"),
            "thandi": ward.patient("Mbeki, Thandi", "9"),
            "nils": ward.patient("Sørbye, Nils", "18", "B"),
            "june": ward.patient("Hart, June", "21", isolation="contact"),
            "aroha": ward.patient("Ngata, Aroha", "22"),
            "wilhelmina": ward.patient(", ".join(LONG_NAME), "23"),
            "bo": ward.patient("Dahl, Bo", "24"),
            "sena": ward.patient("Adjei, Sena", "24", "B"),
            "ravi": ward.patient("Iyer, Ravi", "25"),
        }
        _drawn(ward, made["ada"], out)
        _refused(ward, made["per"], out, told)
        made["kaarina_order"] = ward.order(made["kaarina"], due=(-100, -25), priority="urgent", note="before dialysis")
        ward.order(made["kaarina"], test="58410-2", due=(-100, -25))
        ward.order(made["katariina"], due=(10, 90))
        carried = ward.visit(made["thandi"], out)
        ward.order(made["thandi"], state="out", visit=carried, test="20578-1", due=(-10, 48))
        _no_vein(ward, made["nils"], out, told)
        made["june_order"] = ward.order(made["june"], state="held", at=-15)
        Order.update(held_at=ward.at(-15), hold_reason="in the scanner until nine").where(
            Order.id == made["june_order"]
        ).execute()
        _drawn_after_cancel(ward, made["aroha"], out)
        at_bedside = ward.visit(made["wilhelmina"], out, stage="drawing", arrived_at=ward.at(-3), events=4)
        ward.order(made["wilhelmina"], state="underway", visit=at_bedside, at=-3, due=(-20, 40))
        ward.order(made["bo"], collect_by="nurse", due=(0, 120))
        made["fainted"] = _fainted(ward, made["sena"], out, told)
        made["unfinished"] = _unfinished_note(ward, made["ravi"], out)
        made["aside"] = str(ward.set_aside())
        made["proposal"] = str(
            rulebooks.add_proposal({"attempts_max": 3.0}, "Hard veins", edition=0, by="p-safety_officer", at=ward.now)
        )
    return made


def _drawn(ward: AWard, patient: str, out: str) -> str:
    visit = ward.visit(
        patient, out, arrived_at=ward.at(-62), ended_at=ward.at(-50), outcome="collected", needles=1,
        tubes=[{"tube": "t-x", "read_back": True}],
    )  # fmt: skip
    ward.order(patient, state="collected", visit=visit, at=-50)
    return visit


def _refused(ward: AWard, patient: str, out: str, told: dict[str, str]) -> None:
    became = {"outcome": "refused", "reason": "wants to sleep", "told": told}
    visit = ward.visit(patient, out, arrived_at=ward.at(-45), ended_at=ward.at(-44), needles=0, **became)
    ward.order(patient, state="not_collected", visit=visit, at=-44, became=became)


def _no_vein(ward: AWard, patient: str, out: str, told: dict[str, str]) -> None:
    became = {"outcome": "no_vein", "reason": "two attempts, both arms", "told": told}
    visit = ward.visit(patient, out, arrived_at=ward.at(-40), ended_at=ward.at(-31), needles=2, **became)
    ward.order(patient, state="not_collected", visit=visit, at=-31, became=became, priority="stat")


def _drawn_after_cancel(ward: AWard, patient: str, out: str) -> None:
    visit = ward.visit(patient, out, arrived_at=ward.at(-30), ended_at=ward.at(-22), outcome="collected", needles=1)
    ward.order(
        patient, state="cancelled", visit=visit, at=-35, cancel_reason="ordered twice", cancelled_at=ward.at(-35)
    )
    ward.order(patient, state="collected", visit=visit, at=-22, test="58410-2")
    ward.event(visit, "arrived", -30)
    ward.event(visit, "identity_taken", -29.5, {"source": "spoken", "name": "Aroha Ngata", "how": "heard"})
    ward.event(visit, "needle_in", -27, {"kind": "straight", "gauge": 21})
    ward.event(visit, "visit_ended", -22, {"outcome": "collected"})
    ward.finding(
        visit,
        "drawn-after-cancel",
        "ask",
        "Blood was drawn for an order that had been cancelled.",
        "Ask the clinician whether the laboratory should keep it, and tell the laboratory.",
    )


def _fainted(ward: AWard, patient: str, out: str, told: dict[str, str]) -> str:
    visit = ward.visit(
        patient, out, arrived_at=ward.at(-55), ended_at=ward.at(-33), outcome="partly", needles=1,
        reason="fainted before the second tube", told=told,
    )  # fmt: skip
    ward.order(patient, state="collected", visit=visit, at=-33)
    became = {"outcome": "partly", "reason": "fainted before the second tube", "told": told}
    ward.order(patient, state="not_collected", test="58410-2", visit=visit, at=-33, became=became)
    ward.event(visit, "arrived", -55)
    ward.event(visit, "identity_taken", -54, {"source": "spoken", "name": "Sena Adjei", "birth_date": "1951-03-09"})
    ward.event(visit, "tourniquet_on", -52, {"side": "left"})
    ward.event(visit, "needle_in", -51.5, {"kind": "straight", "gauge": 21})
    opened = ward.event(visit, "incident_opened", -51, {"kind": "faint"})
    ward.event(visit, "needle_out", -50.8, {"guard_on": True})
    note = "Went pale after the first tube. Awake again after about ten seconds, did not fall."
    noted = ward.event(visit, "incident_noted", -34, {"kind": "faint", "opened": opened, "told": told, "note": note})
    ward.event(visit, "visit_ended", -33, {"outcome": "partly", "reason": "fainted before the second tube"})
    ward.finding(
        visit, "tourniquet-too-long", "ask", "The tourniquet was on for more than 60 s.",
        "Note it with the specimens.", event=opened,
    )  # fmt: skip
    steps = ["Tourniquet off, needle out, gauze and pressure.", "Laid flat, legs raised.", "Stayed 15 minutes."]
    return ward.incident(
        visit, "faint", -51, severity="mild", steps=steps, told=told, note=note,
        complete=True, opened_event=opened, noted_event=noted,
    )  # fmt: skip


def _unfinished_note(ward: AWard, patient: str, out: str) -> str:
    visit = ward.visit(patient, out, arrived_at=ward.at(-19), ended_at=ward.at(-12), outcome="collected", needles=1)
    ward.order(patient, state="collected", visit=visit, at=-12)
    opened = ward.event(visit, "incident_opened", -14, {"kind": "haematoma"})
    ward.finding(
        visit, "incident-note-missing", "stop", "An incident was opened and never written up.",
        "Write what happened, what was done and who was told.", event=opened,
    )  # fmt: skip
    return ward.incident(visit, "haematoma", -14, opened_event=opened)


def worst_day(ward: AWard, beds: int = 40) -> None:
    """Forty patients with the longest names, all due at once, everything going wrong by turns."""
    with connected(), writing():
        ward.tablet(heard=-95)
        out = ward.round()
        told = {"name": "Alexandrina Featherstonehaugh", "role": "charge nurse", "at": ward.at(-10)}
        for number in range(beds):
            patient = ward.patient(
                f"{LONG_NAME[0]}-{number}, {LONG_NAME[1]}", str(1 + number // 2), "AB"[number % 2],
                blood_thinner=True, isolation="contact",
                restrictions=[{"side": "left", "why": "lymph_nodes"}, {"side": "right", "why": "iv"}],
            )  # fmt: skip
            _badly(ward, number, patient, out, told)
        for _ in range(9):
            ward.set_aside()


def _badly(ward: AWard, number: int, patient: str, out: str, told: dict[str, str]) -> None:
    if number % 5 == 0:
        _refused(ward, patient, out, told)
    elif number % 5 == 1:
        _no_vein(ward, patient, out, told)
    elif number % 5 == 2:
        _unfinished_note(ward, patient, out)
    elif number % 5 == 3:
        for test in ("24321-2", "58410-2", "24323-8", "34714-6", "2524-7"):
            ward.order(patient, test=test, due=(-90, -35), priority="stat")
    else:
        ward.order(patient, due=(-30, 60))


def a_year_of_rare_incidents(ward: AWard) -> None:
    """Thirteen incidents among some 150 draws, one every five; then a long good time before the last."""
    with connected(), writing():
        patient, out = ward.patient("Okoro, Ada", "12"), ward.round()
        gaps = [5] * 11 + [90]
        draws = [True, *(number == gap for gap in gaps for number in range(gap + 1))]
        for number, is_bad in enumerate(draws):
            minutes = -(len(draws) - number) * 600
            visit = ward.visit(patient, out, ended_at=ward.at(minutes), outcome="collected", needles=1)
            if is_bad:
                ward.incident(visit, "haematoma", minutes, severity="mild", complete=True)
