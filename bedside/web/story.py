"""What happened at a bedside, told in sentences: one event, one sentence in the past tense. No rules here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

Data = Mapping[str, Any]

KEPT_WORDS = {
    "ice": "on ice",
    "37C": "at 37 °C",
    "dark": "in the dark",
    "room": "at room temperature",
    "other": "another way",
}
"""How a tube was kept on its way to the laboratory."""

INCIDENT_WORDS = {
    "faint": "faint",
    "haematoma": "haematoma",
    "nerve_pain": "nerve pain",
    "arterial": "arterial puncture",
    "long_bleeding": "prolonged bleeding",
    "needlestick": "needlestick",
    "splash": "splash",
    "fall": "fall",
    "vomiting": "vomiting",
    "seizure": "seizure",
    "allergic": "allergic reaction",
    "mislabel_caught": "wrong label caught in time",
    "wrong_patient": "wrong patient",
    "other": "something else",
}

OUTCOME_WORDS = {
    "collected": "collected",
    "partly": "partly collected",
    "refused": "refused",
    "away": "patient unavailable",
    "not_ready": "patient not ready",
    "discharged": "discharged",
    "already_drawn": "already drawn",
    "no_identity": "no identity",
    "no_vein": "unable to obtain",
    "restricted": "no arm allowed",
    "unsafe": "unsafe to draw",
    "handed_over": "handed over",
    "cancelled": "cancelled",
}

PLACE_WORDS = {
    "median_cubital": "median cubital vein",
    "cephalic": "cephalic vein",
    "basilic": "basilic vein",
    "forearm": "forearm",
    "hand": "back of the hand",
    "foot": "foot",
}

SKIN_WORDS = {
    "isopropyl_70": "70 % isopropyl alcohol",
    "chlorhexidine_2": "2 % chlorhexidine",
    "povidone_iodine": "povidone-iodine",
    "other": "another antiseptic",
}

QUESTION_WORDS = {
    "consent": "consent",
    "fasting": "fasting",
    "blood_thinner": "a blood thinner",
    "latex": "latex allergy",
    "fainted_before": "fainting at a draw before",
    "arm_preference": "a preferred arm",
}

ANSWER_WORDS = {
    "presumed": "cannot answer, did not object",
    "by_other": "given by another person",
    "unknown": "does not know",
    "none": "no preference",
}

SOURCE_WORDS = {
    "spoken": "The patient said",
    "band": "The band read",
    "vouched": "A person who knows the patient said",
}


def tell(kind: str, data: Data, tube_names: Mapping[str, str] | None = None) -> str:
    """One event as a sentence; an unknown kind is told by its own name rather than left out."""
    sentence = SENTENCES.get(kind)
    if sentence is None:
        return f"Recorded: {plain(kind)}."
    told = sentence({**data, "tube_name": _tube_name(data, tube_names or {})})
    return f"{told} (put in afterwards)" if data.get("after") else told


def plain(word: object) -> str:
    """A wire word with its underscores opened: the last resort where no trade word stands in a table."""
    return str(word).replace("_", " ").replace("-", " ")


def told_whom(told: object) -> str:
    """`told` of a note or an ending as "Name, role"; empty when nobody was named."""
    if isinstance(told, str):
        return told
    if not isinstance(told, Mapping):
        return ""
    return ", ".join(str(told[part]) for part in ("name", "role") if told.get(part))


def _tube_name(data: Data, names: Mapping[str, str]) -> str:
    tube = data.get("tube")
    if tube is None:
        return "a tube"
    return names.get(str(tube), str(data.get("kind") or f"tube {tube}"))


def _side(data: Data) -> str:
    side = data.get("side")
    return f"{side} arm" if side else "both arms"


def _identity(data: Data) -> str:
    given = [
        f"{words} {data[key]}"
        for key, words in (
            ("name", "name"),
            ("birth_date", "born"),
            ("record_number", "record number"),
            ("room", "room"),
        )
        if data.get(key)
    ]
    who = SOURCE_WORDS.get(str(data.get("source")), "Recorded")
    return f"{who}: {', '.join(given) or 'nothing usable'}.{_vouched_by(data.get('voucher') or {})}"


def _vouched_by(voucher: Data) -> str:
    if not voucher.get("name"):
        return ""
    return f" Vouched for by {voucher['name']}, {voucher.get('relation') or 'relation not given'}."


def _skin_cleaned(data: Data) -> str:
    return f"Skin cleaned with {SKIN_WORDS.get(str(data.get('with')), 'something not named')}."


def _asked(data: Data) -> str:
    question = QUESTION_WORDS.get(str(data.get("question")), plain(data.get("question")))
    answer = ANSWER_WORDS.get(str(data.get("answer")), plain(data.get("answer")))
    who = f" ({data['who']})" if data.get("who") else ""
    return f"Asked about {question}: {answer}{who}."


def _site_chosen(data: Data) -> str:
    place = PLACE_WORDS.get(str(data.get("place")), plain(data.get("place") or "place not given"))
    below = ", below an infusion" if data.get("below_iv") else ""
    return f"Site chosen: {data.get('side', 'side not given')}, {place}{below}."


def _needle_in(data: Data) -> str:
    gauge = f", {data['gauge']} gauge" if data.get("gauge") else ""
    return f"Needle in: {data.get('kind') or 'kind not given'}{gauge}."


def _needle_out(data: Data) -> str:
    return "Needle out, guard on." if data.get("guard_on") else "Needle out, guard not reported on."


def _tube_added(data: Data) -> str:
    why = f": {data['why']}" if data.get("why") else ""
    return f"Tube added, {plain(data.get('kind'))}{why}."


def _tube_filled(data: Data) -> str:
    volume = data.get("volume_ml")
    amount = f" with {volume} mL" if volume is not None else ""
    return f"Filled {data['tube_name']}{amount}."


def _tube_mixed(data: Data) -> str:
    times = data.get("inversions") or 0
    return f"Mixed {data['tube_name']}, {times} {'inversion' if times == 1 else 'inversions'}."


def _tube_discarded(data: Data) -> str:
    why = f": {plain(data['reason'])}" if data.get("reason") else ""
    return f"Discarded {data['tube_name']}{why}."


def _label_read(data: Data) -> str:
    return f"Read the label of {data['tube_name']}: {data.get('text') or 'nothing'}."


def _site_looked(data: Data) -> str:
    seconds = data.get("watched_s") or 0
    saw = {True: "bleeding", False: "dry"}.get(data.get("bleeding"), "not said whether dry")  # type: ignore[call-overload]
    return f"Looked at the site for {seconds} s: {saw}."


def _attempt_ended(data: Data) -> str:
    outcome = {"drawn": "blood drawn", "no_flow": "no blood flow", "stopped": "stopped"}
    return f"Attempt ended: {outcome.get(str(data.get('outcome')), plain(data.get('outcome')))}."


def _incident_opened(data: Data) -> str:
    return f"Incident: {incident_words(data.get('kind'))}."


def _incident_noted(data: Data) -> str:
    told = told_whom(data.get("told"))
    whom = f" Told: {told}." if told else " Nobody named as told."
    note = f" “{data['note']}”" if data.get("note") else ""
    return f"Incident noted: {incident_words(data.get('kind'))}.{whom}{note}"


def _went_ahead(data: Data) -> str:
    why = f": {data['reason']}" if data.get("reason") else ", no reason given"
    return f"Went ahead in spite of “{plain(data.get('finding'))}”{why}."


def _tube_handed_over(data: Data) -> str:
    to = told_whom(data.get("to"))
    kept = data.get("kept") or ()
    words = [str(word) for word in ([kept] if isinstance(kept, str) else kept)]
    care = f", kept {' and '.join(KEPT_WORDS.get(word, word) for word in words)}" if words else ""
    return f"Handed over {data['tube_name']}{f' to {to}' if to else ''}{care}."


def _visit_ended(data: Data) -> str:
    why = f": {data['reason']}" if data.get("reason") else ""
    told = told_whom(data.get("told"))
    whom = f" Told: {told}." if told else ""
    return f"Visit ended, {outcome_words(data.get('outcome'))}{why}.{whom}"


def _corrected(data: Data) -> str:
    why = f": {data['reason']}" if data.get("reason") else ""
    struck = "data" in data and data["data"] is None
    return f"{'Struck an earlier entry' if struck else 'Corrected an earlier entry'}{why}."


def incident_words(kind: object) -> str:
    """The trade's word for a kind of incident."""
    return INCIDENT_WORDS.get(str(kind), plain(kind or "kind not given"))


def outcome_words(outcome: object) -> str:
    """The trade's word for how a visit ended."""
    return OUTCOME_WORDS.get(str(outcome), plain(outcome or "outcome not given"))


SENTENCES: dict[str, Callable[[Data], str]] = {
    "arrived": lambda data: "Arrived at the bedside.",
    "identity_taken": _identity,
    "band_missing": lambda data: "No band on the patient.",
    "asked": _asked,
    "site_chosen": _site_chosen,
    "tourniquet_on": lambda data: f"Tourniquet on, {_side(data)}.",
    "tourniquet_off": lambda data: f"Tourniquet off, {_side(data)}.",
    "skin_cleaned": _skin_cleaned,
    "skin_dry": lambda data: "Skin dry.",
    "site_touched": lambda data: "Site touched again after cleaning.",
    "needle_in": _needle_in,
    "needle_out": _needle_out,
    "tube_added": _tube_added,
    "tube_filled": _tube_filled,
    "tube_mixed": _tube_mixed,
    "tube_discarded": _tube_discarded,
    "pressure_on": lambda data: "Pressure on the site.",
    "site_looked": _site_looked,
    "taped": lambda data: "Site taped.",
    "label_printed": lambda data: f"Asked to print the label of {data['tube_name']}.",
    "label_read": _label_read,
    "attempt_ended": _attempt_ended,
    "incident_opened": _incident_opened,
    "incident_noted": _incident_noted,
    "tube_bagged": lambda data: f"Bagged {data['tube_name']}.",
    "tube_handed_over": _tube_handed_over,
    "went_ahead": _went_ahead,
    "visit_ended": _visit_ended,
    "corrected": _corrected,
}
