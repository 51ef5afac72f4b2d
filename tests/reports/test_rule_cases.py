"""The rule cases as a document: every case is in it, in words, with its source and what is expected."""

from __future__ import annotations

from contextlib import redirect_stdout
from io import StringIO

import pytest

from bedside.__main__ import main
from bedside.clinical.rulebook import default_book
from bedside.reports.rule_cases import document
from tests.cases.files import topics

SHARED = {
    "about": "One ordinary draw.",
    "base": {"tubes": ["blue"]},
    "shelf": {"blue": {"kind": "citrate"}},
    "histories": {},
}


def sheet(**case) -> str:
    whole = {"name": "a case", "source": "TQ-01", "expect": {"findings": []}, **case}
    return document({"topic": {"about": "About it.", "cases": [whole]}}, SHARED, default_book())


@pytest.fixture(scope="module")
def printed() -> str:
    """What `bedside cases` prints in a checkout."""
    with redirect_stdout(StringIO()) as told:
        assert main(["cases"]) == 0
    return told.getvalue()


def test_every_case_stands_in_it_under_its_name(printed):
    headings = {line.partition(". ")[2] for line in printed.splitlines() if line.startswith("### ")}

    assert [case.name for topic in topics() for case in topic.cases if case.name not in headings] == []


def test_every_source_and_every_doubt_stands_in_it(printed):
    texts = [text for topic in topics() for case in topic.cases for text in (case.source, case.doubt) if text]

    assert [text for text in texts if text not in printed] == []


def test_it_names_the_rulebook_and_has_room_to_sign(printed):
    assert default_book().hash in printed
    assert "| name | role | date | signature |" in printed


def test_every_code_is_explained_in_the_books_words(printed):
    assert [code for code in default_book().findings if f"| `{code}` |" not in printed] == []


@pytest.mark.parametrize(
    ("case", "line"),
    [
        ({"from": "drawn"}, "- Starts from the history *drawn*"),
        ({"retime": {"tourniquet-on": "05:04:25"}}, "- *tourniquet-on* happened at 05:04:25"),
        ({"without": ["consent", "cleaned"]}, "- Did not happen: *consent*, *cleaned*"),
        ({"next": ["needle_in", {"kind": "straight"}]}, "- About to happen:  needle_in: kind straight"),
        ({"then": [["05:09:00", "taped", {}, {"id": "tape", "by": "p-x"}]]}, "- 05:09:00 taped (*tape*): by p-x"),
        ({"after": {"on": [["05:09:00", "taped"]]}}, "- After *on*: 05:09:00 taped"),
        (
            {"forge": {"filled": {"volume_ml": 1.0}}},
            "- *filled* came again with the same id and other data: volume_ml 1.0",
        ),
        ({"expect": {"findings": []}}, "- **Nothing is found**"),
        (
            {"expect": {"findings": [["clock-off", "note"], ["taped", "ask", "e1"]]}},
            "- **Found: `clock-off` as note; `taped` as ask about *e1*; nothing else**",
        ),
        ({"expect": {"pressure_s": None}}, "- **pressure: none**"),
        ({"expect": {"volume_ml": 12.7}}, "- **blood drawn: 12.7 mL**"),
        ({"expect": {"may_end": False}}, "- **The visit may not end as collected**"),
        ({"expect": {"bad_input": "now"}}, "- **Refused as bad input, naming `now`**"),
        ({"doubt": "two readings"}, "- Open to doubt: two readings"),
        ({"word_of_tomorrow": {"a": [1, None]}}, "- word_of_tomorrow: a [1, null]"),
    ],
)
def test_a_case_is_said_in_words(case, line):
    assert line in sheet(**case).splitlines()


def test_an_installed_copy_without_the_cases_says_so(tmp_path, capsys):
    assert main(["cases", "--folder", str(tmp_path)]) == 1

    told = capsys.readouterr()
    assert told.out == ""
    assert "nothing to sign here" in told.err
