"""Editions of the rulebook: what a site may change, what it may not, and a book read back from its text."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedside.clinical.book_text import BookUnreadable, completed, read_book
from bedside.clinical.editions import IN_ORDER, Moved, differences, propose, with_changes
from bedside.clinical.findings import STOP
from bedside.clinical.rulebook import default_book

BOOK = default_book()
DAY = date(2026, 12, 1)
CHANGEABLE = {name: limit for name, limit in BOOK.limits.items() if limit.changeable}


def changed(values, edition=1):
    return with_changes(BOOK, {name: Moved(value, DAY) for name, value in values.items()}, edition)


def test_a_lower_tourniquet_limit_is_stricter_and_one_signature_is_enough():
    proposal = propose(BOOK, {"tourniquet_max_s": 45})

    (change,) = proposal.changes
    assert (change.old, change.new, change.unit, change.direction) == (60, 45, "s", "stricter")
    assert proposal.refusals == ()
    assert proposal.signatures_needed == 1


def test_a_shorter_pressure_is_looser_and_needs_two_people_and_a_reason():
    proposal = propose(BOOK, {"pressure_min_s": 90}, "A trial of our own")

    assert proposal.changes[0].direction == "looser"
    assert proposal.signatures_needed == 2
    assert proposal.refusals == ()
    assert propose(BOOK, {"pressure_min_s": 90}, "  ").refusals == (
        "A looser limit needs a reason: whoever signs second has to know why. Write it.",
    )


def test_one_looser_limit_among_stricter_ones_needs_two_people():
    assert propose(BOOK, {"tourniquet_max_s": 45, "attempts_max": 3}, "Hard veins").signatures_needed == 2


@pytest.mark.parametrize("value", [60, 59, 30])
def test_the_bounds_themselves_are_allowed(value):
    refusals = propose(BOOK, {"tourniquet_max_s": value, "tourniquet_ready_s": 30}).refusals

    assert refusals == ()


@pytest.mark.parametrize("value", [61, 29, float("nan"), float("inf"), 0, -60])
def test_what_no_site_may_choose_is_refused_in_words(value):
    (refusal,) = propose(BOOK, {"tourniquet_max_s": value}, "Because").refusals[:1]

    assert "from 30 to 60" in refusal


def test_two_identifiers_are_the_fewest_whatever_a_site_wants():
    assert propose(BOOK, {"identity_kinds_min": 1}, "Quicker").refusals
    assert propose(BOOK, {"identity_kinds_min": 3}).refusals == ()


def test_a_standards_number_is_never_undercut():
    """Where CLSI, WHO or the Joint Commission give the number, a site may only ask for more."""
    for name in ("identity_kinds_min", "tourniquet_max_s", "tourniquet_rest_s", "skin_dry_s", "look_min_s"):
        limit = BOOK.limits[name]
        looser = limit.changeable.low if limit.changeable.stricter == "higher" else limit.changeable.high
        assert looser == limit.value, name


def test_a_limit_that_is_fixed_and_one_that_is_not_there_are_refused():
    assert "not for a site to change" in propose(BOOK, {"lithium_after_dose_h": 10}).refusals[0]
    assert "no limit tea_break_s" in propose(BOOK, {"tea_break_s": 10}).refusals[0]


def test_half_an_attempt_is_refused_and_half_a_percent_is_not():
    assert "not whole" in propose(BOOK, {"attempts_max": 1.5}).refusals[0]
    assert propose(BOOK, {"blood_share_percent": 2.5}).refusals == ()


def test_nothing_changed_is_no_proposal():
    assert "Nothing would change" in propose(BOOK, {"tourniquet_max_s": 60}).refusals[0]
    assert "Nothing would change" in propose(BOOK, {}).refusals[0]


def test_a_warning_that_would_come_after_its_limit_is_refused():
    (refusal,) = propose(BOOK, {"tourniquet_max_s": 40}).refusals

    assert refusal == "tourniquet_ready_s (45) would stand above tourniquet_max_s (40). Change both together."
    assert propose(BOOK, {"tourniquet_max_s": 45}).refusals == ()


def test_the_built_in_book_keeps_its_own_rules():
    for less, more in IN_ORDER:
        assert BOOK.value(less) <= BOOK.value(more)
    for name, limit in CHANGEABLE.items():
        assert limit.changeable.low <= limit.value <= limit.changeable.high, name


def test_a_changed_number_is_in_the_sentences_too():
    book = changed({"skin_dry_s": 45})

    assert book.value("skin_dry_s") == 45
    assert book.limits["skin_dry_s"].since == DAY
    assert book.limits["skin_dry_s"].source.startswith("this site's choice; 30 by WHO")
    codes = [each.about for each in differences(BOOK, book) if each.part == "finding"]
    assert all(code.startswith("skin-") for code in codes)
    assert book.hash != BOOK.hash
    assert (BOOK.edition, book.edition) == (0, 1)


def test_back_at_the_sources_value_the_source_speaks_again():
    book = changed({"skin_dry_s": 30})

    assert book.limits["skin_dry_s"].source == BOOK.limits["skin_dry_s"].source
    assert book.limits["skin_dry_s"].since == DAY


def test_a_value_signed_under_an_older_release_never_weakens_a_newer_one():
    tight = replace(BOOK, limits={**BOOK.limits, "attempts_max": replace(BOOK.limits["attempts_max"], changeable=None)})

    assert with_changes(tight, {"attempts_max": Moved(3, DAY), "gone_s": Moved(3, DAY)}, 0).text == tight.text


def test_a_book_read_from_its_text_is_the_same_book():
    for book in (BOOK, changed({"tourniquet_max_s": 50, "blood_share_percent": 2.5})):
        assert read_book(book.text).text == book.text
        assert read_book(book.text).hash == book.hash


@given(st.dictionaries(st.sampled_from(sorted(CHANGEABLE)), st.integers(1, 900), max_size=4))
def test_any_edition_is_read_back_as_it_was(values):
    book = changed(values)

    assert read_book(book.text).text == book.text
    assert differences(book, read_book(book.text)) == ()


def test_a_brace_in_a_published_sentence_stays_a_brace():
    told = json.loads(BOOK.text)
    told["findings"]["skin-not-dry"]["wording"]["ask"]["says"] = "Wait {so} long}."
    text = json.dumps(told, ensure_ascii=False, indent=1)

    assert read_book(text).text == text


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"schema": 2}', '{"schema": 1, "limits": {"a": 1}}'])
def test_what_is_no_rulebook_is_refused_by_name(text):
    with pytest.raises(BookUnreadable):
        read_book(text)


def test_an_older_book_is_completed_from_todays_and_keeps_its_own_numbers():
    older = changed({"tourniquet_max_s": 45})
    fewer = {name: limit for name, limit in older.limits.items() if name != "look_min_s"}
    kinds = {code: kind for code, kind in older.findings.items() if code != "clock-off"}

    whole = completed(replace(older, limits=fewer, findings=kinds), BOOK)

    assert whole.value("tourniquet_max_s") == 45
    assert whole.value("look_min_s") == 5
    assert whole.finding("clock-off", STOP, None).says
    assert completed(older, BOOK).text == older.text


def test_two_editions_are_compared_in_words():
    (limit, *_) = differences(BOOK, changed({"attempts_max": 1}))

    assert (limit.part, limit.about) == ("limit", "attempts_max")
    assert limit.before.startswith("2 needles by one person, since 2026-11-25, a site may choose 1 to 3")
    assert limit.after.startswith("1 needles by one person, since 2026-12-01")
    assert differences(BOOK, BOOK) == ()


def test_first_aid_names_the_books_own_numbers():
    stricter = changed({"pressure_thinner_s": 420, "bleeding_tell_s": 180, "faint_watch_s": 1200})

    steps = {kind: " ".join(aid["steps"]) for kind, aid in stricter.as_json()["first_aid"].items()}

    assert "for at least 7 minutes" in steps["arterial"]
    assert "stopped after 3 minutes" in steps["long_bleeding"]
    assert "at least 20 minutes after they have come round" in steps["faint"]
    assert "for at least 5 minutes" in " ".join(BOOK.first_steps("arterial"))


def test_a_site_may_say_from_which_age_a_patient_decides_alone():
    assert changed({"consent_from_years": 16}).value("consent_from_years") == 16
