"""The safety officer's desk: the register, one incident's whole story, its review, and the rates."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bedside.people.roles import Role
from bedside.records.database import connected
from bedside.records.incidents import EndedVisit, Review, add_up
from bedside.records.moments import as_text
from bedside.records.tables import Audit, IncidentReview
from bedside.web.safety_pages import register_headline
from bedside.web.safety_rates import figure, incidents_chart, overall, rates
from tests.web.a_ward import AWard, Sitting, a_year_of_rare_incidents, one_of_everything

ZONE = ZoneInfo("Europe/Lisbon")
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)

KEPT = {
    "cause": "sat up too soon",
    "action": "",
    "harm": "mild",
    "second_reader": "",
    "second_harm": "",
    "note": "",
    "decided_by": "",
}


@pytest.fixture
def ward(tmp_path: Path, engine: str) -> Iterator[AWard]:
    with AWard.opened(tmp_path / "house") as opened:
        yield opened


@pytest.fixture
def officer(ward: AWard) -> Sitting:
    return ward.sitting(Role.SAFETY_OFFICER)


def send(officer: Sitting, incident: str, **form: str):
    path = f"/safety/incidents/{incident}"
    return officer.post(path, {**KEPT, **form}, on=path)


def kept(incident: str) -> list[tuple[str, str]]:
    """Every review row of an incident, oldest first."""
    with connected():
        rows = IncidentReview.select().where(IncidentReview.incident == incident).order_by(IncidentReview.id)
        return [(row.kind, row.text) for row in rows]


# --- the register ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("role", [Role.PHLEBOTOMIST, Role.CHARGE_NURSE, Role.KEEPER])
def test_only_the_safety_officer_reads_the_register(ward: AWard, role: Role) -> None:
    assert ward.sitting(role).get("/safety/").status_code == 403


def test_an_empty_register_says_so(officer: Sitting) -> None:
    page = officer.text("/safety/")

    assert "No incident has been recorded." in page
    assert "No needle has been used in the last 13 weeks" in page
    assert "Too little for a control chart" in page


def test_unfinished_notes_stand_first(ward: AWard, officer: Sitting) -> None:
    one_of_everything(ward)

    page = officer.text("/safety/")

    assert "One note is unfinished, one incident is to review." in page
    assert re.findall(r"<b>(Haematoma|Faint)</b><span", page) == ["Haematoma", "Faint"]
    assert "note unfinished" in page


def test_an_incident_shows_its_whole_visit_with_the_findings_beside(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)

    page = officer.text(f"/safety/incidents/{made['fainted']}")

    for words in (
        "Went pale after the first tube.",
        "Laid flat, legs raised.",
        "R. Mensah, nurse",
        "Arrived at the bedside.",
        "The tourniquet was on for more than 60 s.",
        "Lay the patient flat and raise the legs.",
    ):
        assert words in page


def test_what_an_unfinished_note_lacks_is_named(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)

    page = officer.text(f"/safety/incidents/{made['unfinished']}")

    assert "what was done, who was told and a note are missing. Ask Ines Baptista to finish it." in page


def test_an_unknown_incident_is_not_found(officer: Sitting) -> None:
    assert officer.get("/safety/incidents/i-nothing").status_code == 404


# --- reviewing ---------------------------------------------------------------------------------------------


def test_closing_without_an_action_is_refused_and_loses_nothing_typed(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)

    answer = send(officer, made["fainted"], close="yes")

    assert answer.status_code == 422
    assert "Closing needs an action" in answer.text
    assert "sat up too soon</textarea>" in answer.text
    assert kept(made["fainted"]) == []


def test_closing_with_an_action_closes_and_each_row_is_audited(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)

    answer = send(officer, made["fainted"], action="ask about fainting first", decided_by="R. Mensah", close="yes")

    assert answer.status_code == 302
    assert kept(made["fainted"]) == [
        ("cause", "sat up too soon"),
        ("action", "ask about fainting first"),
        ("harm", "mild"),
        ("decided_by", "R. Mensah"),
        ("closed", "ask about fainting first"),
    ]
    with connected():
        noted = Audit.select().where(Audit.object == made["fainted"]).order_by(Audit.seq)
        assert [row.action for row in noted] == [
            "incident cause",
            "incident action",
            "incident harm",
            "incident decided by",
            "incident closed",
        ]
        assert {row.who for row in noted} == {"p-safety_officer"}
    assert "closed" in officer.text(f"/safety/incidents/{made['fainted']}")


@pytest.mark.parametrize(
    ("action", "decided_by", "says"),
    [
        ("ok", "R. Mensah", "at least 4 words"),
        (". . . .", "R. Mensah", "at least 4 words"),
        ("one two three", "R. Mensah", "at least 4 words"),
        ("ask about fainting first", "", "say who decided"),
        ("ask about fainting first", "RM", "say who decided"),
    ],
)
def test_closing_needs_real_words_and_a_name(
    ward: AWard, officer: Sitting, action: str, decided_by: str, says: str
) -> None:
    made = one_of_everything(ward)

    answer = send(officer, made["fainted"], action=action, decided_by=decided_by, close="yes")

    assert answer.status_code == 422
    assert says in answer.text
    assert kept(made["fainted"]) == []


def test_an_action_written_earlier_is_enough_to_close(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)
    send(officer, made["fainted"], action="ask about fainting first", decided_by="R. Mensah")

    answer = send(officer, made["fainted"], cause="", harm="", close="yes")

    assert answer.status_code == 302
    assert kept(made["fainted"])[-1] == ("closed", "ask about fainting first")


def test_saving_twice_adds_nothing(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)
    send(officer, made["fainted"])

    again = send(officer, made["fainted"])

    assert again.status_code == 422
    assert kept(made["fainted"]) == [("cause", "sat up too soon"), ("harm", "mild")]


def test_a_new_cause_stands_beside_the_old_one(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)
    send(officer, made["fainted"])

    send(officer, made["fainted"], cause="had not eaten")

    page = officer.text(f"/safety/incidents/{made['fainted']}")
    history = page.split("Review so far")[1].split("<section")[0]
    assert "sat up too soon" in history
    assert "had not eaten" in history


def test_nothing_is_added_to_a_closed_incident(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)
    send(officer, made["fainted"], action="ask about fainting first", decided_by="R. Mensah", close="yes")
    before = kept(made["fainted"])

    answer = send(officer, made["fainted"], note="one more thing")

    assert answer.status_code == 422
    assert kept(made["fainted"]) == before


def test_opening_again_needs_a_reason(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)
    path = f"/safety/incidents/{made['fainted']}"
    send(officer, made["fainted"], action="ask about fainting first", decided_by="R. Mensah", close="yes")

    refused = officer.post(f"{path}/reopen", {"reason": " "}, on=path)
    opened = officer.post(f"{path}/reopen", {"reason": "it happened again"}, on=path)

    assert (refused.status_code, opened.status_code) == (422, 302)
    assert kept(made["fainted"])[-1] == ("reopened", "it happened again")
    assert "Keep this review" in officer.text(path)


def test_an_open_incident_cannot_be_opened(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)
    path = f"/safety/incidents/{made['fainted']}"

    assert officer.post(f"{path}/reopen", {"reason": "why not"}, on=path).status_code == 422


def test_a_word_outside_the_scale_is_refused(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)

    assert send(officer, made["fainted"], harm="a bit").status_code == 422


@pytest.mark.parametrize(("reader", "harm"), [("R. Mensah", ""), ("", "severe")])
def test_half_a_second_reading_is_refused(ward: AWard, officer: Sitting, reader: str, harm: str) -> None:
    made = one_of_everything(ward)

    assert send(officer, made["fainted"], second_reader=reader, second_harm=harm).status_code == 422


def test_two_readers_who_differ_are_told_to_take_the_higher(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)

    send(officer, made["fainted"], second_reader="R. Mensah", second_harm="moderate")

    page = officer.text(f"/safety/incidents/{made['fainted']}")
    assert "Read as Mild harm, and by R. Mensah as Moderate harm. They differ" in page
    assert "take the higher (AE-18)" in page


def test_a_closed_incident_stands_last_in_the_register(ward: AWard, officer: Sitting) -> None:
    made = one_of_everything(ward)
    send(officer, made["unfinished"], action="pressure is taught again", decided_by="R. Mensah", close="yes")

    page = officer.text("/safety/")

    assert re.findall(r"<b>(Haematoma|Faint)</b><span", page) == ["Faint", "Haematoma"]


def review(kind: str, text: str = "x") -> Review:
    return Review(kind=kind, text=text, by="Grace", by_id="p-1", at="2026-11-25T09:00:00.000Z")


@pytest.mark.parametrize(
    ("kinds", "is_closed"),
    [
        ([], False),
        (["action", "closed"], True),
        (["closed", "reopened"], False),
        (["closed", "reopened", "closed"], True),
        (["closed", "note"], True),
    ],
)
def test_the_latest_closing_or_opening_decides(kinds: list[str], is_closed: bool) -> None:
    assert add_up([review(kind) for kind in kinds]).is_closed is is_closed


@pytest.mark.parametrize(
    ("urgencies", "says"),
    [
        ([], "No incident has been recorded."),
        ([2, 2], "Every incident is reviewed and closed."),
        ([0, 1, 1, 2], "One note is unfinished, two incidents are to review."),
    ],
)
def test_the_register_says_in_one_sentence_what_waits(urgencies: list[int], says: str) -> None:
    assert register_headline(urgencies) == says


# --- rates and chart ---------------------------------------------------------------------------------------


def visit(days_ago: float, *incidents: str, needles: int = 1, outcome: str = "collected", read: int = 2) -> EndedVisit:
    ended = NOW - timedelta(days=days_ago)
    return EndedVisit(
        id=f"v-{days_ago}",
        ended_at=as_text(ended),
        outcome=outcome,
        needles=needles,
        tubes_read=read,
        incidents=incidents,
        tourniquet_longest_s=None,
    )


def test_a_rate_comes_with_its_wilson_interval() -> None:
    # QI-27: 81 of 263 is 0.2553 to 0.3662.
    visits = [*(visit(1, "haematoma") for _ in range(81)), *(visit(1) for _ in range(182))]

    haematoma = next(rate for rate in rates(visits, NOW) if rate.name == "Haematoma")

    assert haematoma.says == "81 of 263 needled visits: 31 % (26 to 37)"


@pytest.mark.parametrize(("chances", "is_shown"), [(1, False), (19, False), (20, True), (21, True)])
def test_a_rate_of_few_chances_is_too_few_to_read(chances: int, is_shown: bool) -> None:
    """Twenty chances: common practice, no source."""
    visits = [visit(1, "faint"), *(visit(1) for _ in range(chances - 1))]

    faint = next(rate for rate in rates(visits, NOW) if rate.name == "Fainting")

    assert faint.is_known is is_shown
    assert ("too few to read" in faint.says) is not is_shown
    assert ("too few to read" in overall(visits, NOW)) is not is_shown


def test_the_overall_rate_comes_with_its_exact_interval() -> None:
    # QI-28: a count of 2 is 0.2422 to 7.2247.
    visits = [visit(1, "faint"), visit(1, "splash"), *(visit(1) for _ in range(98))]

    says = overall(visits, NOW)

    assert says == (
        "2 incidents in 100 needled visits of the last 13 weeks: 2.0 for each 100 (95 % interval 0.24 to 7.2)."
    )


def test_a_visit_older_than_the_quarter_does_not_count() -> None:
    assert overall([visit(92, "faint")], NOW).startswith("No needle has been used")


def test_a_refusal_without_a_needle_is_no_draw() -> None:
    found = {rate.name: rate.says for rate in rates([visit(1, needles=0, outcome="refused"), visit(1)], NOW)}

    assert found["Refused"].startswith("1 of 2 ended visits")
    assert found["Fainting"].startswith("0 of 1 needled visits")


def test_without_labels_there_is_no_rate_of_labels() -> None:
    label = next(rate for rate in rates([visit(1, read=0)], NOW) if rate.name.startswith("Wrong label"))

    assert not label.is_known
    assert label.says == "There were no labels read in the last 13 weeks."


def weeks_of(incidents_a_week: int, weeks: int, draws: int = 100) -> list[EndedVisit]:
    """Full weeks before this one, each with so many incidents among so many draws."""
    return [
        visit(7 * week, *(("faint",) if number < incidents_a_week else ()))
        for week in range(weeks, 0, -1)
        for number in range(draws)
    ]


def test_ten_weeks_of_five_incidents_make_a_weekly_chart() -> None:
    found = incidents_chart(weeks_of(5, 10), NOW, ZONE)

    assert found.chart is not None
    assert found.chart.centre_says == "mean 50.0"
    assert len(found.chart.points) == 10
    assert "u chart" in found.source


def test_nine_weeks_are_too_few_for_a_weekly_chart() -> None:
    found = incidents_chart(weeks_of(5, 9), NOW, ZONE)

    assert "u chart" not in found.source


def test_the_week_that_is_not_over_yet_is_left_out() -> None:
    this_week = [visit(1, "faint") for _ in range(50)]

    found = incidents_chart([*weeks_of(5, 10), *this_week], NOW, ZONE)

    assert found.chart is not None
    assert len(found.chart.points) == 10


def test_rare_incidents_are_charted_by_the_draws_between_them() -> None:
    visits = [visit(100 - number, *(("faint",) if number % 8 == 0 else ())) for number in range(81)]

    found = incidents_chart(visits, NOW, ZONE)

    assert found.chart is not None
    assert found.chart.centre_says == "mean 7"
    assert len(found.chart.points) == 10
    assert "g chart" in found.source


def test_too_little_is_said_instead_of_drawn() -> None:
    visits = [visit(100 - number, *(("faint",) if number % 8 == 0 else ())) for number in range(80)]

    found = incidents_chart(visits, NOW, ZONE)

    assert found.chart is None
    assert "10 incidents in 12 full weeks" in found.says


def test_a_week_far_outside_is_named() -> None:
    visits = weeks_of(5, 10)
    wild = [visit(7, "faint") for _ in range(40)]

    found = incidents_chart([*visits, *wild], NOW, ZONE)

    assert found.chart is not None
    assert [point.is_out for point in found.chart.points] == [False] * 9 + [True]
    assert "1 week outside the limits: look for a cause." in found.says


def test_the_chart_is_drawn_with_its_limits_named(ward: AWard, officer: Sitting) -> None:
    a_year_of_rare_incidents(ward)

    page = officer.text("/safety/")

    assert page.count('<circle class="dot"') == 11
    assert page.count('<rect class="dot-out"') == 1
    assert "1 gap longer than chance explains: find out what went well." in page


@pytest.mark.parametrize(
    ("value", "says"),
    [(4340.2, "4,340"), (62.4, "62"), (9.96, "10.0"), (3.61, "3.6"), (0.254, "0.25"), (0, "0")],
)
def test_figures_have_as_many_digits_as_they_deserve(value: float, says: str) -> None:
    assert figure(value) == says
