"""A sample of small mistakes in the server's rules: the shared cases notice each. (The tablet's: `tests/browser`.)

All of them are made by hand with `python -m tests.mutations`; `survivors.md` says which are left over and why.
"""

from __future__ import annotations

import pytest

from tests.mutations import against_javascript, against_python
from tests.mutations.javascript_mistakes import mistakes as javascript_mistakes
from tests.mutations.mistake import CasesFail, Mistake, some
from tests.mutations.python_mistakes import mistakes as python_mistakes
from tests.mutations.survivors import not_noticed, survivors

HOW_MANY = 60


# By hand until `survivors.md` names what is left over: a mistake that changes nothing would fail it by chance.
@pytest.mark.long
def test_mistakes_in_the_servers_rules_are_noticed():
    found = some(against_python.all_mistakes(), HOW_MANY)

    assert not_noticed(against_python.judged(found)) == []


def test_what_survives_is_still_there_to_be_made():
    there = {str(one) for one in [*against_python.all_mistakes(), *against_javascript.all_mistakes()]}

    assert survivors() - there == set()


def test_a_mistake_no_case_can_notice_is_not_called_noticed():
    text = (against_python.FOLDER / "attempts.py").read_text(encoding="utf-8")
    harmless = Mistake("attempts", 1, "a comment", "", text + "# nothing\n")

    assert [case for _, case in against_python.judged([harmless])] == [None]


def test_nothing_is_told_when_the_cases_fail_by_themselves(monkeypatch):
    monkeypatch.setattr(against_python, "noticed_by", lambda mistake: "a case")

    with pytest.raises(CasesFail):
        list(against_python.judged([]))


@pytest.mark.parametrize(
    ("source", "changes"),
    [
        ("a = x > 60", ["x > 60 -> (x >= 60)", "x > 60 -> (x < 60)", "60 -> 61", "60 -> 59"]),
        (
            "a = x and not y",
            ["x and not y -> (x or not y)", "x and not y -> (not y)", "x and not y -> (x)", "not y -> (y)"],
        ),
        ("a = book.value('skin_dry_s')", ["'skin_dry_s' -> 'skin_dry_povidone_s'"]),
        ("a = STOP", ["STOP -> ASK", "STOP -> NOTE"]),
        (
            "a = word('left', 'right')",
            ["without 'left'", "without 'right'"],
        ),
    ],
)
def test_mistakes_in_python(source, changes):
    assert [mistake.what for mistake in python_mistakes("file", source)] == changes


@pytest.mark.parametrize(
    ("source", "changes"),
    [
        ("const a = x > 1;", ["> -> >=", "> -> <", "1 -> 2"]),
        ("const a = x && !y;", ["&& -> ||", "! -> nothing", "x && -> nothing", "&& !y -> nothing"]),
        ("if (a) b();", ["a -> true", "a -> false", "b(); -> ;"]),
        ("const a = b ?? 0;", ["0 -> 1", "?? 0 -> nothing"]),
        ("const a = ['x', 'y'];", ["'x', -> nothing", "'y' -> nothing"]),
        ("const a = b ? STOP : c;", ["STOP -> ASK", "STOP -> NOTE", "b -> true", "b -> false"]),
    ],
)
def test_mistakes_in_javascript(source, changes):
    assert [mistake.what for mistake in javascript_mistakes("file", source)] == changes
