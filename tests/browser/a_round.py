"""A round for the tests of the screens: few invented people, each with one reason to be there.

Kaarina takes a blood thinner and has a fistula in the left arm. Katariina has a name like hers. Maximiliana has the
longest name and needs eight tubes. Bo is behind contact precautions. Thandi's draw is almost due.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from bedside.clinical.good_until import good_until
from bedside.clinical.rulebook import default_book
from bedside.clinical.supplies import Stopping, TubeNeeded, supplies_of
from bedside.exchange.directory_file import built_in_directory
from bedside.labels.barcode import specimen_number
from bedside.labels.content import LabelContent
from bedside.labels.layout import lay_out
from bedside.sync.self_test import self_test_of

from .stand_in import make_packet

BOOK = default_book()
AMMONIA = next(test for test in built_in_directory().tests if test.loinc == "16362-6")
LONGEST_NAME = "Wickramasinghe-Featherstonehaugh, Maximiliana Anastasia"
FOUR = ("citrate", "serum-gel", "heparin", "edta")
EIGHT = (
    "culture-aerobic",
    "culture-anaerobic",
    "citrate",
    "serum-gel",
    "heparin-gel",
    "edta",
    "edta-crossmatch",
    "fluoride",
)


def a_round(now: datetime | None = None, **changes: Any) -> dict[str, Any]:
    """The packet of the round, as the house would send it, made `now`."""
    made = now or datetime.now(UTC)
    visits = _visits(made)
    return make_packet(
        made_at=_iso(made - timedelta(minutes=40)),
        until=_iso(made + timedelta(hours=8)),
        zone="Europe/Lisbon",
        people={"p-ines": {"name": "Ines Baptista", "short": "Ines B.", "initials": "IB", "role": "phlebotomist"}},
        round={"id": "r-1", "name": "Ward 5 · morning round"},
        practice_mode=["The tablet is not locked by a PIN yet.", "What is saved on the tablet is not sealed yet."],
        rulebook=BOOK.text,
        rulebook_hash=BOOK.hash,
        self_test=self_test_of(BOOK),
        directory={"version": "sha256:0", "tests": {"24321-2": {"name": "Basic metabolic panel", "short": "BMP"}}},
        spares=[_spare(900 + n) for n in range(3)],
        visits=visits,
        supplies=_supplies(visits),
        nurse_collect=[
            {"ward": "5", "room": "16", "bed": "A", "name": "Lindqvist, Per", "tests": ["CBC"], "why": "line draw"}
        ],
        **changes,
    )


def _visits(made: datetime) -> list[dict[str, Any]]:
    kaarina = {
        "name": "Ojala, Kaarina",
        "birth_date": "1951-03-09",
        "record_number": "40031977",
        "blood_thinner": True,
        "latex_allergy": False,
        "restrictions": [{"side": "left", "why": "fistula"}],
    }
    katariina = _person("Ojala, Katariina", "1949-11-02", "40031201")
    maximiliana = _person(LONGEST_NAME, "1938-12-30", "40000000000000000004")
    thandi = _person("Mbeki, Thandi", "1990-02-28", "40031300")
    bo = _person("Hart, Bo", "2001-01-01", "40031301")
    slowly = ["Hard of hearing: speak slowly."]
    return [
        _visit("kaarina", 1, ("14", "B"), kaarina, FOUR, made, names_alike=["v-katariina"], notes=slowly),
        _visit("katariina", 2, ("15", "A"), katariina, FOUR[1:3], made, names_alike=["v-kaarina"]),
        _visit("maximiliana", 3, ("17", "A"), maximiliana, EIGHT, made, needle="winged"),
        _visit("thandi", 4, ("18", "B"), thandi, FOUR[1:2], made, due=48, ice=True),
        _visit("bo", 5, ("21", "A"), bo, FOUR[3:], made, isolation="contact", priority="stat"),
    ]


def _nurse_collect(room: str, bed: str, name: str) -> dict[str, Any]:
    return {"ward": "5", "room": room, "bed": bed, "name": name, "tests": ["CBC"], "why": "line draw"}


def _person(name: str, birth_date: str, record_number: str) -> dict[str, Any]:
    return {"name": name, "birth_date": birth_date, "record_number": record_number, "blood_thinner": None,
            "latex_allergy": None, "restrictions": []}  # fmt: skip


def _visit(
    who: str,
    position: int,
    where: tuple[str, str],
    patient: dict[str, Any],
    kinds: tuple[str, ...],
    made: datetime,
    *,
    due: int = 150,
    ice: bool = False,
    **more: Any,
) -> dict[str, Any]:
    room, bed = where
    return {
        "id": f"v-{who}",
        "position": position,
        "ward": "5",
        "room": room,
        "bed": bed,
        "patient": {"id": f"pt-{who}", "sex": "female", "permissions": [], "drawn_24h_ml": 0, **patient},
        "limits": {"max_draw_ml": None},
        "needle": "straight",
        "priority": "routine",
        "due_from": _iso(made - timedelta(minutes=30)),
        "due_to": _iso(made + timedelta(minutes=due)),
        "isolation": None,
        "notes": [],
        "names_alike": [],
        "orders": [],
        "tubes": [_tube(who, patient, kind, number, position, ice) for number, kind in enumerate(kinds, start=1)],
        "plan_findings": [],
        "ended": None,
        **more,
    }


def _tube(who: str, patient: dict[str, Any], kind: str, number: int, visit: int, ice: bool) -> dict[str, Any]:
    container = BOOK.containers[kind]
    tests = [AMMONIA] if ice else []
    good = good_until(kind, tests, ["ice"] if ice else [], BOOK.limits)
    specimen = specimen_number(visit * 1000 + number)
    label = LabelContent(
        name=patient["name"],
        record_number=patient["record_number"],
        birth_date=date.fromisoformat(patient["birth_date"]),
        specimen=specimen,
        tube=f"{number} {container.name}",
        tests=("BMP",),
    )
    return {
        "id": f"t-{who}-{number}",
        "kind": kind,
        "specimen": specimen,
        "nominal_ml": container.nominal_ml,
        "draw_ml": container.nominal_ml,
        "tests": ["24321-2"],
        "names": ["Basic metabolic panel"],
        "position": number,
        "inversions": container.inversions,
        "handling": ["ice"] if ice else [],
        "in_lab_by": None,
        "in_lab_min": good.in_lab_within_min(),
        "good": good.as_json(),
        "label": lay_out(label).as_json(),
    }


def _supplies(visits: list[dict[str, Any]]) -> list[dict[str, Any]]:
    lines = supplies_of([_stopping(visit) for visit in visits], BOOK)
    return [
        {"item": line.item, "what": line.what, "count": line.count, "spare": line.spare, "take": line.take,
         "stock": None, "short": 0, "for": list(line.beds)}
        for line in lines
    ]  # fmt: skip


def _stopping(visit: dict[str, Any]) -> Stopping:
    return Stopping(
        bed=f"{visit['room']} {visit['bed']}",
        needle=visit["needle"],
        tubes=tuple(TubeNeeded(kind=t["kind"], nominal_ml=None, handling=tuple(t["handling"])) for t in visit["tubes"]),
        isolation=visit["isolation"] or "",
    )


def _spare(number: int) -> dict[str, Any]:
    specimen = specimen_number(number)
    return {"specimen": specimen, "label": lay_out(LabelContent.spare(specimen)).as_json()}


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
