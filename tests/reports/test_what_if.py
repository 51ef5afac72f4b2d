"""What a change of the rulebook would have done to visits that are over."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from bedside.clinical.case import read_case
from bedside.clinical.editions import Moved, with_changes
from bedside.clinical.findings import ASK, STOP
from bedside.clinical.rulebook import default_book
from bedside.reports.what_if import EXAMPLES, PastVisit, what_if

BOOK = default_book()


def book(**limits: float):
    return with_changes(BOOK, {name: Moved(value, date(2026, 12, 1)) for name, value in limits.items()}, 1)


def visit_of(told, visit="v-1", at="2026-11-20T05:00:00.000Z", name="Ojala, Kaarina") -> PastVisit:
    """A visit of which only this is told, each as (second, kind, data)."""
    always = {
        "tablet": "t",
        "visit": visit,
        "page": "p",
        "by": "p-ines",
        "offset_min": 0,
        "server_skew_ms": 0,
        "schema": 1,
    }
    events = [
        {
            **always,
            "id": f"e{seq}",
            "seq": seq,
            "kind": kind,
            "data": data,
            "at": f"2026-11-20T05:{second // 60:02}:{second % 60:02}.000Z",
            "mono_ms": second * 1000,
        }
        for seq, (second, kind, data) in enumerate(told, start=1)
    ]
    patient = {"name": name, "birth_date": "1951-03-09", "record_number": "40031977"}
    case = read_case({"patient": patient, "tubes": [], "events": events, "now": "2026-11-20T06:00:00.000Z"})
    return PastVisit(visit=visit, at=at, case=case)


def band_of(seconds: int, visit: str = "v-1", at: str = "2026-11-20T05:00:00.000Z") -> PastVisit:
    """The tourniquet on, a needle in, and the tourniquet off after so many seconds."""
    side = {"side": "right"}
    told = [(0, "tourniquet_on", side), (5, "needle_in", {"kind": "straight"}), (seconds, "tourniquet_off", side)]
    return visit_of(told, visit, at)


@pytest.mark.parametrize(("seconds", "changed"), [(45, 0), (46, 1), (60, 1), (61, 0)])
def test_only_what_lies_between_the_two_limits_changes(seconds: int, changed: int) -> None:
    found = what_if([band_of(seconds)], BOOK, book(tourniquet_max_s=45))

    assert (found.visits, found.changed, found.not_judged) == (1, changed, 0)
    assert [shift.code for shift in found.shifts] == ["tourniquet-too-long"] * changed


def test_a_finding_that_appears_has_no_severity_before_and_one_that_goes_none_after() -> None:
    stricter = what_if([band_of(50)], BOOK, book(tourniquet_max_s=45)).shifts[0]
    looser = what_if([band_of(50)], book(tourniquet_max_s=45), BOOK).shifts[0]

    assert stricter.before is None and stricter.after is not None
    assert (looser.before, looser.after) == (stricter.after, None)


def test_the_counts_are_of_all_and_the_examples_are_the_newest() -> None:
    past = [band_of(50, f"v-{day:02}", f"2026-11-{day:02}T05:00:00.000Z") for day in range(1, 10)]

    (shift,) = what_if(past, BOOK, book(tourniquet_max_s=45)).shifts

    assert (shift.findings, shift.visits) == (9, 9)
    assert [one.visit for one in shift.examples] == ["v-09", "v-08", "v-07", "v-06", "v-05"]
    assert len(shift.examples) == EXAMPLES


def test_a_changed_severity_is_told_as_one_change() -> None:
    """One of two names has a part more: with two parts shared somebody is asked, with three asked for it stops."""
    born = {"source": "spoken", "birth_date": "1951-03-09", "how": "typed"}
    name = {"source": "spoken", "name": "Ojala, Kaarina", "how": "heard"}
    past = visit_of([(0, "identity_taken", born), (5, "identity_taken", name)], name="Ojala, Kaarina Maria")

    shifts = what_if([past], BOOK, book(name_parts_shared_min=3)).shifts

    assert ("identity-mismatch", ASK, STOP) in [(one.code, one.before, one.after) for one in shifts]


def test_a_visit_on_which_a_rule_breaks_is_counted_apart() -> None:
    broken = replace(BOOK, limits={name: one for name, one in BOOK.limits.items() if name != "tourniquet_max_s"})

    found = what_if([band_of(50), band_of(50, "v-2")], BOOK, broken)

    assert (found.visits, found.changed, found.not_judged, found.shifts) == (2, 0, 2, ())


def test_nobody_was_drawn_so_nothing_changes() -> None:
    assert what_if([], BOOK, book(tourniquet_max_s=45)).visits == 0
