"""What a packet says of a patient's blood: how much there is, what was drawn, what fits, what waits, what is saved.

Numbers and whole sentences: the tablet shows them and adds nothing of its own.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from bedside.clinical.bad_input import BadInput
from bedside.clinical.citrate import adjusting_sentence
from bedside.clinical.containers import CITRATE
from bedside.clinical.directory import Directory
from bedside.clinical.fitting import WHO_MAY_ALLOW
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.saving import Saving, saving
from bedside.clinical.tube_request import Measures, TubeRequest
from bedside.clinical.tubes import plan_tubes
from bedside.clinical.volume import Allowance, allowance
from bedside.records.packet_rows import VisitCarried
from bedside.rounds.taking_out import measures

Row = dict[str, Any]

NO_WEIGHT = "No weight is known, so how much blood this patient has cannot be reckoned."
WEIGH_FIRST = "No weight is known: a child is not drawn until it is entered on the ward's page."


def volume_told(one: VisitCarried, directory: Directory, book: Rulebook, at: datetime) -> Row:
    """The `volume` of a visit in a packet. Volumes in mL; null: not known, or no limit."""
    asked = measures(one.patient, one.given, one.allowed)
    may = allowance(asked.body_on(at.date()), asked.given, book.limits, book.volumes)
    planned = round(sum(tube.draw_ml or 0.0 for tube in one.tubes), 3)
    waits = waiting_orders(one, directory)
    saved = _saved(one, asked, directory, book, at)
    return {
        "blood_ml": None if may.blood_ml is None else round(may.blood_ml, 1),
        "reckoned": may.reckoned,
        "limit_ml": one.max_draw_ml,
        "draw_limit_ml": _rounded(may.draw_ml),
        "day_limit_ml": _rounded(may.day_ml),
        "eight_weeks_limit_ml": _rounded(may.eight_weeks_ml),
        "drawn_24h_ml": may.given.day_ml,
        "drawn_8_weeks_ml": may.given.within_eight_weeks(),
        "planned_ml": planned,
        "waits": [{"order": order.id, "test": order.test} for order in waits],
        "may_allow": "" if one.max_draw_ml is None else WHO_MAY_ALLOW,
        "allowed": _allowed(one),
        "saving": saved.as_json() if saved else None,
        "adjusted_citrate": adjusted_citrate(one, book),
        "saving_says": _saving_sentences(saved, book),
        "says": sentences(one, may, asked, saved, [_name(order.test, directory) for order in waits], book),
    }


def adjusted_citrate(one: VisitCarried, book: Rulebook) -> list[str]:
    """For each citrate tube of a patient with thick blood: what the laboratory has to prepare."""
    percent = one.patient.hematocrit_percent
    if percent is None:
        return []
    drawn = [tube.draw_ml for tube in one.tubes if tube.kind == CITRATE and tube.draw_ml]
    said = (adjusting_sentence(ml, percent, book.limits) for ml in drawn)
    return [sentence for sentence in said if sentence]


def waiting_orders(one: VisitCarried, directory: Directory) -> list[Any]:
    """The orders whose test stands in no container of the plan although the laboratory knows it."""
    planned = {code for tube in one.tubes for code in tube.tests}
    return [order for order in one.orders if order.test not in planned and directory.find(order.test)]


def sentences(
    one: VisitCarried, may: Allowance, asked: Measures, saved: Saving | None, waits: list[str], book: Rulebook
) -> list[str]:
    """What a person should know of this patient's blood, the most important first."""
    said = []
    if asked.weight_kg is None:
        is_stopped = one.max_draw_ml == 0
        said.append(WEIGH_FIRST if is_stopped else NO_WEIGHT)
    if waits:
        said.append(f"Over the limit, so these wait: {', '.join(waits)}. Only {WHO_MAY_ALLOW} may let them go ahead.")
    if one.allowed is not None:
        word = one.allowed
        said.append(f"Up to {word.left_ml:g} mL allowed by {word.allowed_by}, above the limit: {word.reason}.")
    if may.given.within_eight_weeks() > 0:
        said.append(f"Drawn before: {may.given.day_ml:g} mL in 24 h, {may.given.within_eight_weeks():g} mL in 8 weeks.")
    return said + _saving_sentences(saved, book)


def _saving_sentences(saved: Saving | None, book: Rulebook) -> list[str]:
    if saved is None or saved.saving_tubes <= 0:
        return []
    fall = book.limits["haemoglobin_fall_per_100_ml"]
    return [
        f"Sharing containers saves {saved.saving_ml:g} mL and {saved.saving_tubes} "
        f"container{'s' if saved.saving_tubes > 1 else ''} against one for each test.",
        f"On average 100 mL drawn take {fall.value:g} g/L of haemoglobin and "
        f"{book.value('hematocrit_fall_per_100_ml'):g} points of haematocrit ({fall.source}).",
    ]


def _saved(one: VisitCarried, asked: Measures, directory: Directory, book: Rulebook, at: datetime) -> Saving | None:
    """The saving of what is planned; None without a plan."""
    planned = tuple(dict.fromkeys(code for tube in one.tubes for code in tube.tests if directory.find(code)))
    if not planned:
        return None
    request = TubeRequest(patient=asked, tests=planned, now=at, needle=one.needle)
    try:
        return saving(plan_tubes(request, directory, book), request, directory, book)
    except BadInput:
        return None


def _allowed(one: VisitCarried) -> Row | None:
    if one.allowed is None:
        return None
    return {"ml": one.allowed.left_ml, "by": one.allowed.allowed_by, "reason": one.allowed.reason}


def _name(code: str, directory: Directory) -> str:
    test = directory.find(code)
    return test.name if test else code


def _rounded(ml: float | None) -> float | None:
    return None if ml is None else round(ml, 3)
