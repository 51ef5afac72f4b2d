"""What was done wrong is not made good by doing something more.

Two readings of "an added event never lowers the most serious finding", both after the contract:

- A finding on an act stays as it is, whatever event comes next; only a correction or a `went_ahead` may change it,
  a second fill that gives the tube another volume, and a tourniquet put in afterwards (`after`).
- An event of a kind that ends no state never lowers the most serious finding. A state that ends may lower it: the
  tourniquet comes off, the site is dry, the label is read again, the note is written, the visit is over.
"""

from __future__ import annotations

from random import Random

from hypothesis import given, settings

from bedside.clinical.case import read_case
from bedside.clinical.judge import Verdict, judge
from bedside.clinical.rulebook import default_book
from tests.random_visits import DATA, Json, a_visit, visits

ON_AN_ACT = {
    "identity-missing",
    "identity-too-few",
    "consent-missing",
    "tourniquet-rest-short",
    "tourniquet-left-on",
    "attempts-used-up",
    "volume-over-limit",
    "skin-not-clean",
    "skin-not-dry",
    "antiseptic-wrong",
    "discard-missing",
    "tube-out-of-order",
    "tube-short-fill",
    "tube-not-mixed",
    "needle-unguarded",
}
REPLACED_BY_A_SECOND_FILL = {"volume-over-limit", "tube-short-fill"}
ENDS_NO_STATE = (
    "arrived",
    "band_missing",
    "tourniquet_on",
    "skin_cleaned",
    "skin_dry",
    "site_touched",
    "needle_in",
    "needle_out",
    "tube_mixed",
    "pressure_on",
    "label_printed",
    "attempt_ended",
    "incident_opened",
    "tube_bagged",
    "tube_handed_over",
)


def with_and_without(visit: Json) -> tuple[Verdict, Verdict]:
    """The verdict before the step to come, and with it."""
    before = {name: value for name, value in visit.items() if name != "next"}
    return judge(read_case(before), default_book()), judge(read_case(visit), default_book())


def may_change(step: Json) -> set[str]:
    """The findings on acts that this step may change."""
    if step["kind"] in ("corrected", "went_ahead"):
        return ON_AN_ACT
    if step["kind"] == "tube_filled":
        return REPLACED_BY_A_SECOND_FILL
    if step["kind"] == "tourniquet_off" and step["data"].get("after") is True:
        return {"tourniquet-left-on"}
    return set()


@settings(max_examples=250)
@given(visits().filter(lambda visit: "next" in visit))
def test_a_finding_on_an_act_stays(visit):
    before, after = with_and_without(visit)
    stay = ON_AN_ACT - may_change(visit["next"])
    ranks = {(finding.code, finding.event): finding.severity.rank for finding in after.findings}

    for finding in before.findings:
        if finding.code in stay:
            assert ranks[finding.code, finding.event] <= finding.severity.rank


def test_an_event_that_ends_no_state_never_lowers_the_most_serious_finding():
    for seed in range(1500):
        chance = Random(seed)
        visit = a_visit(chance)
        tubes = [tube["id"] for tube in visit["tubes"]]
        kind = chance.choice(ENDS_NO_STATE)
        about = {"tube": tubes[0]} if tubes and kind.startswith(("tube_", "label_")) else {}
        if not about and kind.startswith(("tube_", "label_")):
            continue
        visit["next"] = {"kind": kind, "data": about, "by": chance.choice(("p-ines", "p-tomas"))}

        before, after = with_and_without(visit)

        assert most_serious(after) <= most_serious(before), (seed, kind)


def most_serious(verdict: Verdict) -> int:
    """0 for a stop; larger than any rank when nothing was found."""
    return min((finding.severity.rank for finding in verdict.findings), default=9)


def test_every_kind_that_ends_no_state_is_a_kind_of_event():
    assert set(ENDS_NO_STATE) <= set(DATA)
