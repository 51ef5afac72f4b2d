"""The tube plan: order of draw, sharing, discard, handling, limits. Each row names its source."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from bedside.clinical.bad_input import BadInput
from bedside.clinical.directory import read_directory
from bedside.clinical.order_of_draw import places
from bedside.clinical.rulebook import default_book
from bedside.clinical.rulebook_volumes import NOMINAL_ML
from bedside.clinical.tube_request import Measures, TubeRequest, UnknownTest
from bedside.clinical.tubes import Plan, citrate_to_leave_ml, plan_tubes
from bedside.exchange.directory_file import built_in_directory

NOW = datetime(2026, 11, 25, 5, 12, 40, 120_000, tzinfo=UTC)
GROWN = date(1951, 3, 9)

CBC, BMP, CMP, K, TSH, GLUCOSE = "58410-2", "24321-2", "24323-8", "2823-3", "3016-3", "2345-7"
PT, APTT, ANTI_XA = "5902-2", "14979-9", "66483-9"
LACTATE, AMMONIA, PTH, BILIRUBIN, CRYOGLOBULIN = "32693-4", "16362-6", "2731-8", "1975-2", "5117-7"
TYPE_AND_SCREEN, ABO, CULTURE, ESR, HS_TROPONIN_T = "34532-2", "883-9", "600-7", "4537-7", "67151-1"
PHENYTOIN, LITHIUM, IONISED_CALCIUM, ZINC, LEAD = "3968-5", "14334-7", "1994-3", "5763-8", "5671-3"


def plan(*tests: str, needle: str = "straight", **measures: object) -> Plan:
    patient = Measures(**{"birth_date": GROWN, **measures})
    return plan_tubes(
        TubeRequest(patient=patient, tests=tests, now=NOW, needle=needle), built_in_directory(), default_book()
    )


def kinds(made: Plan) -> list[str]:
    return [tube.kind for tube in made.tubes]


def codes(made: Plan) -> list[str]:
    return [finding.code for finding in made.findings]


# --- order of draw -------------------------------------------------------------------------------------


def test_cultures_citrate_gel_heparin_edta_and_grey_are_drawn_in_that_order():
    made = plan(CBC, PT, TSH, LACTATE, HS_TROPONIN_T, CULTURE)

    # W06, OD-01 to OD-07: CLSI GP41-A7, secondary source
    assert kinds(made) == [
        "culture-aerobic",
        "culture-anaerobic",
        "citrate",
        "serum-gel",
        "heparin",
        "edta",
        "fluoride",
    ]
    assert [tube.position for tube in made.tubes] == [1, 2, 3, 4, 5, 6, 7]


def test_trace_elements_stand_with_their_additive():
    # W07, OD-09: secondary source; the order inside the EDTA group from memory
    assert kinds(plan(CBC, LEAD, ZINC, PT)) == ["citrate", "trace-serum", "trace-edta", "edta"]


def test_the_order_is_the_whole_list_of_kinds():
    # contract, container kinds; OD-01 to OD-09: CLSI GP41-A7, secondary source
    assert sorted(places("straight"), key=places("straight").__getitem__) == [
        "culture-aerobic",
        "culture-anaerobic",
        "culture-paediatric",
        "discard",
        "citrate",
        "esr",
        "serum",
        "trace-serum",
        "serum-clot",
        "serum-gel",
        "heparin",
        "heparin-gel",
        "trace-edta",
        "edta",
        "edta-crossmatch",
        "fluoride",
        "acd",
    ]


@pytest.mark.parametrize(
    ("needle", "first", "second"),
    [
        # W12, OD-17: CLSI M47 and hospital manuals, secondary source
        ("winged", "culture-aerobic", "culture-anaerobic"),
        ("straight", "culture-aerobic", "culture-anaerobic"),
        ("syringe", "culture-anaerobic", "culture-aerobic"),
    ],
)
def test_which_bottle_is_first_depends_on_the_needle(needle, first, second):
    assert kinds(plan(CBC, CULTURE, needle=needle)) == [first, second, "edta"]


def test_a_straight_needle_to_citrate_needs_no_discard():
    # OD-16: CLSI H21-A5, secondary source
    assert kinds(plan(PT)) == ["citrate"]


def test_a_winged_set_with_citrate_first_begins_with_a_discard():
    made = plan(PT, needle="winged")

    # W09, OD-15: CLSI GP41/H21, secondary source; 2 mL from memory
    assert kinds(made) == ["discard", "citrate"]
    assert made.tubes[0].draw_ml == 2.0
    assert made.tubes[0].codes == ()
    assert made.total_ml == 4.7


def test_a_serum_tube_later_does_not_spare_the_discard():
    # W10, OD-15: CLSI GP41/H21, secondary source
    assert kinds(plan(PT, TSH, needle="winged")) == ["discard", "citrate", "serum-gel"]


def test_culture_bottles_before_the_citrate_clear_the_tubing():
    # contract, discard-missing: no culture before it
    assert kinds(plan(PT, CULTURE, needle="winged")) == ["culture-aerobic", "culture-anaerobic", "citrate"]


@pytest.mark.parametrize(("tests", "needle"), [((CBC,), "winged"), ((ESR,), "winged"), ((PT,), "syringe")])
def test_nothing_else_asks_for_a_discard(tests, needle):
    # contract: "citrate" means the kind citrate, not esr; only a winged set
    assert "discard" not in kinds(plan(*tests, needle=needle))


@pytest.mark.parametrize(
    ("test", "kind", "inversions"),
    [
        # W14, OD-01 to OD-08: CLSI GP41-A7, secondary source; the lower end of each range
        (PT, "citrate", 3),
        (TSH, "serum-gel", 5),
        (CBC, "edta", 8),
        (LACTATE, "fluoride", 8),
        (HS_TROPONIN_T, "heparin", 8),
        (CRYOGLOBULIN, "serum", 0),
        (ZINC, "trace-serum", 5),
        (LEAD, "trace-edta", 8),
        (ESR, "esr", 8),
    ],
)
def test_each_tube_says_how_often_it_is_turned_over(test, kind, inversions):
    [tube] = plan(test).tubes

    assert (tube.kind, tube.container.inversions) == (kind, inversions)


# --- sharing -------------------------------------------------------------------------------------------


def test_tests_of_one_tube_share_it_and_draw_the_largest_minimum_not_the_sum():
    made = plan(BMP, K, CMP, TSH)

    # contract, draw_ml; volumes of practice section 14 from memory
    assert [(tube.kind, tube.draw_ml) for tube in made.tubes] == [("serum-gel", 3.0)]
    assert made.total_ml == 3.0


def test_a_test_with_a_choice_goes_where_a_tube_is_drawn_anyway():
    made = plan(BMP, HS_TROPONIN_T)

    # contract: the least blood first. Heparin alone serves both.
    assert [(tube.kind, tube.draw_ml, tube.codes) for tube in made.tubes] == [("heparin", 2.5, (BMP, HS_TROPONIN_T))]


def test_an_esr_goes_along_in_the_edta_tube_and_alone_takes_its_own():
    # practice section 14 row 43: citrate 1:4 or EDTA
    assert kinds(plan(ESR, CBC)) == ["edta"]
    assert kinds(plan(ESR)) == ["esr"]


def test_of_two_equal_plans_the_directory_order_decides():
    # practice section 14 row 37 prefers heparin, row 7 serum; row 7 stands first in the directory
    assert kinds(plan("33762-6", BMP)) == ["serum-gel"]
    assert kinds(plan("33762-6")) == ["heparin"]


def test_on_ice_shares_only_with_on_ice():
    made = plan(AMMONIA, PTH, CBC)

    # contract; TD-14: Nikolac 2013 Table 4
    assert [(tube.kind, tube.codes, tube.handling) for tube in made.tubes] == [
        ("edta", (CBC,), ()),
        ("edta", (AMMONIA, PTH), ("ice", "to-lab-at-once")),
    ]


def test_warm_blood_shares_with_nothing_else():
    made = plan(CRYOGLOBULIN, PHENYTOIN)

    # contract; TD-15: Nikolac 2013 Table 4
    assert len(made.tubes) == 2
    assert made.tubes[0].handling == ("37C", "to-lab-at-once")
    assert made.tubes[0].draw_ml == 10.0


def test_potassium_is_never_put_on_ice():
    made = plan(K, BMP, LACTATE, AMMONIA, PTH, GLUCOSE)

    # contract; TD-14: Nikolac 2013 Table 4
    for tube in made.tubes:
        assert "ice" not in tube.handling or not {K, BMP} & set(tube.codes)


def test_blood_group_tests_share_one_tube_that_no_other_test_shares():
    made = plan(TYPE_AND_SCREEN, ABO, CBC)

    # contract; practice section 14 rows 54-56: 3-6 mL, the lower end
    assert [(tube.kind, tube.codes, tube.draw_ml) for tube in made.tubes] == [
        ("edta", (CBC,), 2.0),
        ("edta-crossmatch", (TYPE_AND_SCREEN, ABO), 3.0),
    ]


def test_lithium_is_never_drawn_into_lithium_heparin():
    # practice section 14 row 52, from memory
    assert kinds(plan(LITHIUM, HS_TROPONIN_T, BMP)) == ["serum-gel", "heparin"]


def test_a_test_without_gel_takes_the_others_along():
    made = plan(PHENYTOIN, TSH)

    # practice section 14 row 51: no gel
    assert [(tube.kind, tube.handling) for tube in made.tubes] == [("serum-clot", ("no-gel",))]


def test_light_is_kept_from_the_whole_tube():
    # contract: light does not forbid sharing; TD-16: Nikolac 2013 Table 4
    assert [tube.handling for tube in plan(BILIRUBIN, K).tubes] == [("protect-from-light",)]


def test_glucose_hurries_only_where_nothing_preserves_it():
    # practice section 14 row 16: NaF, or prompt Li heparin; TD-19
    assert [(tube.kind, tube.handling) for tube in plan(GLUCOSE).tubes] == [("fluoride", ())]
    assert [(tube.kind, tube.handling) for tube in plan(GLUCOSE, HS_TROPONIN_T).tubes] == [
        ("heparin", ("to-lab-at-once",))
    ]


def test_a_full_draw_takes_the_nominal_volume():
    [citrate] = plan(PT, APTT).tubes

    # OD-19: CLSI H21, secondary source; 2.7 mL from memory
    assert (citrate.draw_ml, citrate.nominal_ml, citrate.handling) == (2.7, 2.7, ("full-draw",))


def test_a_full_tube_is_the_smallest_that_holds_what_shares_it():
    [tube] = plan(IONISED_CALCIUM, CMP).tubes

    # practice section 14 rows 60 and 8; sizes from memory
    assert (tube.kind, tube.draw_ml, tube.nominal_ml) == ("heparin", 3.0, 3.0)


def test_a_test_asked_for_twice_is_drawn_once_and_named_twice():
    made = plan(BMP, "BMP", BMP)

    # contract: `tests` repeats each code as asked
    assert [tube.codes for tube in made.tubes] == [(BMP, "BMP", BMP)]
    assert made.total_ml == 2.5


def test_every_test_of_the_directory_stands_in_the_containers_it_allows():
    directory = built_in_directory()

    for test in directory.tests:
        made = plan(test.loinc or test.code)
        assert {tube.kind for tube in made.tubes} <= {*test.containers}
        assert len(made.tubes) == (2 if test.is_culture else 1)
        assert all(tube.codes == (test.loinc or test.code,) for tube in made.tubes)


def test_no_tests_are_no_tubes():
    assert (plan().tubes, plan().total_ml) == ((), 0)


def test_an_unknown_test_is_refused_by_its_code():
    with pytest.raises(UnknownTest, match="99999-9"):
        plan(BMP, "99999-9")


def test_a_test_no_tube_can_hold_is_refused():
    text = "code,name,section,containers,min_ml,source\nBIG,Big,chemistry,serum,40,the lab\n"
    generous = read_directory(text, {**NOMINAL_ML, "serum": (50.0,)})
    request = TubeRequest(patient=Measures(birth_date=GROWN), tests=("BIG",), now=NOW)

    with pytest.raises(BadInput, match="40 mL"):
        plan_tubes(request, generous, default_book())


def test_a_site_can_keep_tests_apart():
    text = (
        "code,name,section,containers,min_ml,apart,source\n"
        "A,First,chemistry,edta,2,,the lab\nB,Second,chemistry,edta,2,genetics,the lab\n"
    )
    request = TubeRequest(patient=Measures(birth_date=GROWN), tests=("A", "B"), now=NOW)

    made = plan_tubes(request, read_directory(text), default_book())

    assert [tube.codes for tube in made.tubes] == [("A",), ("B",)]


# --- time to the laboratory ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("test", "by"),
    [
        # contract; lactate and ammonia 15 min, aPTT and anti-Xa 60 min: from memory, TD-17, TD-23
        (LACTATE, "2026-11-25T05:27:40.120Z"),
        (AMMONIA, "2026-11-25T05:27:40.120Z"),
        (APTT, "2026-11-25T06:12:40.120Z"),
        (ANTI_XA, "2026-11-25T06:12:40.120Z"),
        (PT, None),
        (CBC, None),
        (CULTURE, None),
    ],
)
def test_when_the_laboratory_must_have_it(test, by):
    assert plan(test).as_json()["tubes"][0]["in_lab_by"] == by


def test_ammonia_always_carries_ice():
    # W59, TD-14: Nikolac 2013 Table 4
    assert "ice" in plan(AMMONIA).tubes[0].handling


# --- cultures of children ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("drawn_24h_ml", "limit", "bottles"),
    [
        # contract: paediatric where the limit is under 16; 16 kg, 15 y: 5 % of 16 x 85 = 68 mL (BV-03)
        (52.1, 15.9, ["culture-paediatric"]),
        (52.0, 16.0, ["culture-aerobic", "culture-anaerobic"]),
        (51.9, 16.1, ["culture-aerobic", "culture-anaerobic"]),
    ],
)
def test_the_childrens_bottle_is_used_where_the_limit_is_under_16_ml(drawn_24h_ml, limit, bottles):
    made = plan(CULTURE, birth_date=date(2011, 11, 25), weight_kg=16.0, drawn_24h_ml=drawn_24h_ml)

    assert (made.limit_ml, kinds(made)) == (limit, bottles)


def test_bottles_take_eight_millilitres_and_the_childrens_one_takes_one():
    # OD-18: hospital manual after CLSI M47, secondary source
    assert [tube.draw_ml for tube in plan(CULTURE).tubes] == [8.0, 8.0]
    assert [tube.draw_ml for tube in plan(CULTURE, birth_date=date(2024, 1, 1), weight_kg=12.0).tubes] == [1.0]


# --- limits and findings -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("drawn_24h_ml", "found"),
    [
        # 4 kg newborn: 5 % of 320 mL = 16 mL (BV-03) less what was drawn leaves 2.6, 2.5 and 2.4 for 2.5 mL
        (13.4, []),
        (13.5, []),
        (13.6, ["volume-over-limit"]),
    ],
)
def test_a_draw_over_the_limit_is_a_stop(drawn_24h_ml, found):
    made = plan(BMP, birth_date=date(2026, 11, 20), weight_kg=4.0, drawn_24h_ml=drawn_24h_ml)

    assert codes(made) == found
    assert (made.total_ml > made.limit_ml) == bool(found)


def test_exactly_the_limit_is_allowed():
    # 12.5 kg is in the 10 mL row (BV-06): five tubes of 2 mL are exactly 10 mL
    child = {"birth_date": date(2023, 1, 1), "weight_kg": 12.5}

    assert plan(CBC, LACTATE, HS_TROPONIN_T, TSH, PTH, **child).total_ml == 10.0
    assert codes(plan(CBC, LACTATE, HS_TROPONIN_T, TSH, PTH, **child)) == []
    assert codes(plan(CBC, LACTATE, HS_TROPONIN_T, TSH, PTH, ZINC, **child)) == ["volume-over-limit"]


def test_a_child_without_a_weight_may_give_nothing():
    made = plan(CBC, birth_date=date(2020, 1, 1))

    # contract, limit_ml
    assert (made.limit_ml, codes(made)) == (0.0, ["volume-over-limit"])
    assert made.findings[0].severity.value == "stop"
    assert codes(plan(birth_date=date(2020, 1, 1))) == ["volume-over-limit"]


def test_an_unknown_age_has_no_limit():
    assert plan(CBC, birth_date=None).limit_ml is None
    assert plan(CBC, birth_date=None, weight_kg=12.0).limit_ml is None


@pytest.mark.parametrize(
    ("hematocrit", "found"),
    [
        # W42, CT-01: CLSI H21, secondary source
        (50.0, []),
        (55.0, []),
        (55.1, ["citrate-hematocrit"]),
        (None, []),
    ],
)
def test_thick_blood_asks_for_an_adjusted_citrate_tube(hematocrit, found):
    assert codes(plan(PT, hematocrit_percent=hematocrit)) == found


def test_thick_blood_means_nothing_to_other_tubes():
    # contract, citrate-hematocrit: a citrate container planned; esr is not citrate
    assert codes(plan(CBC, ESR, hematocrit_percent=60.0)) == []


def test_findings_come_the_most_serious_first():
    child = {"birth_date": date(2026, 11, 20), "weight_kg": 3.0, "hematocrit_percent": 60.0}

    assert codes(plan(PT, **child)) == ["volume-over-limit", "citrate-hematocrit"]


# --- citrate left in the tube --------------------------------------------------------------------------


def test_formula_a_takes_the_volume_of_blood():
    # W38, CT-02: CLSI H21-A5, secondary source, computed
    assert citrate_to_leave_ml(5.0, 65) == pytest.approx(0.32375, abs=1e-9)


@pytest.mark.parametrize(("hematocrit", "adjusts"), [(50, False), (55.0, False), (55.1, True), (80, True)])
def test_citrate_is_adjusted_only_above_55_percent(hematocrit, adjusts):
    # W42, CT-01: CLSI H21, secondary source
    assert (citrate_to_leave_ml(2.7, hematocrit) is not None) == adjusts


@pytest.mark.parametrize(("blood_ml", "hematocrit"), [(0, 60), (-1, 60), (5, float("nan")), (5, 101), (5, -1)])
def test_a_formula_answers_no_nonsense(blood_ml, hematocrit):
    with pytest.raises(ValueError, match=r"must be above 0|percentage"):
        citrate_to_leave_ml(blood_ml, hematocrit)
