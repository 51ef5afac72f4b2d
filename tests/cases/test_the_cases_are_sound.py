"""The cases are the check on two judges; this is the check on the cases."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

from bedside.clinical.rulebook import default_book
from tests.cases.compare import differences, plan_differences, refusal_differs
from tests.cases.expand import CaseUnclear, load

HERE = Path(__file__).parent
FILES = sorted(HERE.glob("*.json"))
PLANS = sorted((HERE / "tubes").glob("*.json")) + sorted((HERE / "sheet").glob("*.json"))
CASES = [case for path in FILES for case in load(path)]
EVERY = CASES + [case for path in PLANS for case in load(path)]

# The contract's table of findings, typed from it: the severities each code can have.
TABLE = {
    "identity-missing": {"stop"},
    "identity-too-few": {"stop"},
    "identity-mismatch": {"stop", "ask", "note"},
    "band-missing": {"stop"},
    "consent-missing": {"stop"},
    "site-restricted": {"stop", "ask"},
    "tourniquet-too-long": {"stop", "ask", "note"},
    "tourniquet-rest-short": {"stop", "note"},
    "tourniquet-left-on": {"stop"},
    "attempts-used-up": {"stop"},
    "skin-not-clean": {"ask"},
    "skin-not-dry": {"ask", "note"},
    "antiseptic-wrong": {"ask"},
    "latex-allergy": {"note"},
    "discard-missing": {"ask"},
    "tube-out-of-order": {"ask"},
    "tube-short-fill": {"ask"},
    "citrate-hematocrit": {"ask"},
    "tube-not-mixed": {"ask"},
    "volume-over-limit": {"stop"},
    "needle-unguarded": {"ask"},
    "label-too-early": {"ask", "note"},
    "label-mismatch": {"stop", "ask"},
    "label-missing": {"stop"},
    "label-not-compared": {"note", "stop"},
    "pressure-short": {"ask", "stop", "note"},
    "bleeding-not-checked": {"stop"},
    "still-bleeding": {"stop"},
    "incident-note-missing": {"stop", "ask"},
    "incident-note-incomplete": {"stop", "ask"},
    "nobody-told": {"ask"},
    "it-happened": {"ask"},
    "drawn-after-cancel": {"ask"},
    "drawn-twice": {"ask"},
    "judgement-differs": {"ask"},
    "clock-off": {"note"},
}
AT_THE_SERVER = {"drawn-twice", "judgement-differs"}
SEVERITIES = ("stop", "ask", "note")
WORDS = {
    *("findings", "has", "lacks", "count", "may_end", "bad_input", "stage", "words"),
    *("tourniquet_longest_s", "pressure_s", "volume_ml"),
    *("kinds", "draw_ml", "in_lab_by", "handling", "limit_ml", "total_ml"),
    *("nominal_ml", "tests_in", "handling_is", "says", "by_position", "value", "refused"),
}


def wanted(case) -> list[list]:
    return [*case.expect.get("findings", []), *case.expect.get("has", [])]


def denied(case) -> set[str]:
    """Codes that a case says are not there: named ones, or all that an exact list leaves out."""
    named = {entry for entry in case.expect.get("lacks", []) if isinstance(entry, str)}
    if "findings" in case.expect:
        named |= set(TABLE) - {entry[0] for entry in case.expect["findings"]}
    return named


def test_there_are_at_least_three_hundred_cases():
    assert len(CASES) >= 300


def test_no_two_cases_have_one_name():
    names = Counter(case.name for case in EVERY)

    assert [name for name, times in names.items() if times > 1] == []


def test_every_case_names_its_source():
    assert [case.name for case in EVERY if len(case.source.strip()) < 5] == []


def test_every_file_says_what_it_is_about():
    abouts = [json.loads(path.read_text(encoding="utf-8"))["about"] for path in FILES + PLANS]

    assert all(about.endswith(".") for about in abouts)


def test_every_case_expects_something_a_comparison_knows():
    assert [case.name for case in EVERY if not case.expect or set(case.expect) - WORDS] == []


def test_every_expected_finding_stands_in_the_contracts_table():
    gone_ahead = {"ask"}  # a went_ahead turns any finding but an identity one into an ask
    strange = [
        (case.name, entry)
        for case in EVERY
        for entry in wanted(case)
        if entry[0] not in TABLE or entry[1] not in TABLE[entry[0]] | gone_ahead
    ]

    assert strange == []


@pytest.mark.parametrize("code", sorted(set(TABLE) - AT_THE_SERVER))
def test_every_code_is_expected_in_each_of_its_severities(code):
    seen = {entry[1] for case in EVERY for entry in wanted(case) if entry[0] == code}

    assert seen >= TABLE[code]


@pytest.mark.parametrize("code", sorted(TABLE))
def test_every_code_is_denied_somewhere(code):
    assert any(code in denied(case) for case in EVERY)


def test_every_exact_list_is_sorted_as_the_contract_sorts():
    table = list(TABLE)
    places = [
        (case.name, [(SEVERITIES.index(entry[1]), table.index(entry[0])) for entry in case.expect["findings"]])
        for case in EVERY
        if "findings" in case.expect
    ]

    assert [name for name, order in places if order != sorted(order)] == []


def test_a_visit_with_an_exact_stop_may_not_end():
    torn = [
        case.name for case in CASES if case.expect.get("may_end") is True and any(e[1] == "stop" for e in wanted(case))
    ]

    assert torn == []


def test_every_event_an_expectation_points_to_is_in_its_case():
    lost = [
        (case.name, entry[2])
        for case in CASES
        for entry in wanted(case)
        if len(entry) == 3 and entry[2] is not None
        if entry[2] not in {event["id"] for event in case.case_json["events"]}
    ]

    assert lost == []


def test_the_numbering_of_a_tablet_has_no_gaps():
    for case in CASES:
        if "bad_input" in case.expect:
            continue
        numbers: dict[str, set[int]] = {}
        for event in case.case_json["events"]:
            numbers.setdefault(event["tablet"], set()).add(event["seq"])
        assert all(seqs == set(range(1, len(seqs) + 1)) for seqs in numbers.values()), case.name


def test_an_event_that_is_not_there_cannot_be_edited(tmp_path):
    case = {"name": "n", "source": "s", "from": "arrived", "without": ["taped"], "expect": {}}
    path = tmp_path / "lost.json"
    path.write_text(json.dumps({"about": "Lost.", "cases": [case]}), encoding="utf-8")

    with pytest.raises(CaseUnclear, match="taped"):
        load(path)


def test_a_word_outside_the_shorthand_is_refused(tmp_path):
    case = {"name": "n", "source": "s", "form": "arrived", "expect": {}}
    path = tmp_path / "misspelt.json"
    path.write_text(json.dumps({"about": "Misspelt.", "cases": [case]}), encoding="utf-8")

    with pytest.raises(CaseUnclear, match="form"):
        load(path)


def verdict(*findings, **figures):
    told = [{"code": code, "severity": severity, "event": event} for code, severity, event in findings]
    return {"stage": "holding", "findings": told, "may_end": True, **figures}


SHORT = ("pressure-short", "ask", "taped")
NOTE = ("clock-off", "note", None)


@pytest.mark.parametrize(
    ("expect", "found"),
    [
        ({"findings": []}, []),
        ({"findings": [["pressure-short", "ask"]]}, [SHORT, ("pressure-short", "ask", "taped-2")]),
        ({"findings": [["pressure-short", "ask", "taped"], ["clock-off", "note", None]]}, [SHORT, NOTE]),
        ({"has": [["clock-off", "note"]], "lacks": ["tube-short-fill"]}, [SHORT, NOTE]),
        ({"count": {"clock-off": 1}, "may_end": True}, [SHORT, NOTE]),
    ],
)
def test_a_verdict_as_expected_is_no_difference(expect, found):
    assert differences(expect, verdict(*found)) == []


@pytest.mark.parametrize(
    ("expect", "found"),
    [
        ({"findings": []}, [NOTE]),
        ({"findings": [["clock-off", "note"]]}, []),
        ({"findings": [["pressure-short", "stop"]]}, [SHORT]),
        ({"findings": [["pressure-short", "ask", "tape"]]}, [SHORT]),
        ({"findings": [["clock-off", "note"], ["pressure-short", "ask"]]}, [SHORT, NOTE]),
        ({"findings": [["pressure-short", "ask"]]}, [SHORT, NOTE]),
        ({"has": [["clock-off", "ask"]]}, [NOTE]),
        ({"lacks": ["clock-off"]}, [NOTE]),
        ({"lacks": [["clock-off", "note"]]}, [NOTE]),
        ({"count": {"clock-off": 2}}, [NOTE]),
        ({"may_end": False}, []),
        ({"stage": "drawing"}, []),
        ({"words": {"clock-off": {"says": "The clocks disagree."}}}, [NOTE]),
    ],
)
def test_a_verdict_that_differs_is_told(expect, found):
    assert len(differences(expect, verdict(*found))) == 1


@pytest.mark.parametrize("got", [None, 119.9, 120.01])
def test_a_figure_that_differs_is_told(got):
    assert len(differences({"pressure_s": 120}, verdict(pressure_s=got))) == 1


def test_a_figure_that_is_there_where_none_is_expected_is_told():
    assert len(differences({"pressure_s": None}, verdict(pressure_s=0.0))) == 1


def test_a_plan_in_another_order_is_told():
    edta, citrate = {"kind": "edta", "position": 1}, {"kind": "citrate", "position": 2}

    told = plan_differences({"kinds": ["citrate", "edta"]}, {"tubes": [edta, citrate], "findings": []})

    assert len(told) == 1


def test_a_plan_as_expected_is_no_difference():
    serum = {"kind": "serum-gel", "position": 1, "draw_ml": 2.5, "handling": ["no-gel"], "in_lab_by": None}
    expect = {"kinds": ["serum*|heparin*"], "draw_ml": {"serum*": 2.5}, "in_lab_by": {"serum*": None}}

    assert plan_differences(expect, {"tubes": [serum], "findings": []}) == []


@pytest.mark.parametrize(
    ("status", "out", "err"),
    [(0, "", "now is missing"), (2, "{}", "now is missing"), (2, "", "now\nmissing"), (2, "", "missing")],
)
def test_a_refusal_that_differs_is_told(status, out, err):
    assert len(refusal_differs({"bad_input": "now"}, status, out, err)) == 1


def test_every_limit_of_the_book_is_typed_a_second_time_from_its_source():
    asked = {case.case_json["limit"] for case in EVERY if case.command == "sheet" and "limit" in case.case_json}

    assert asked == set(default_book().limits)
