"""The tablet's judge has no number and no sentence of its own: it reads them from the rulebook, as the server does."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from bedside import clinical
from bedside.clinical.rulebook import default_book
from bedside.settings import folder
from tests.javascript import tokens

TABLET = folder("static") / "js" / "tablet"
JUDGE = (TABLET / "judge.js").read_text(encoding="utf-8")
CLINICAL = Path(clinical.__file__).parent

# Found elsewhere: when events meet the server, and in the tube plan.
NOT_OF_A_VISIT = {"drawn-twice", "judgement-differs"}
OF_THE_TUBE_PLAN = {"citrate-hematocrit"}

# `needle_in`, `identity-missing`, `culture-`; a sentence for people has a capital letter, a space or a full stop.
WORD_OF_THE_WIRE = re.compile(r"[a-z0-9]+(?:[_-][a-z0-9]+)*-?")


def strings(source: str) -> set[str]:
    """What stands in quotes, files of imports left out, and the pieces of templates between their values."""
    quoted = {token.text[1:-1] for token in tokens(source) if token.kind == "string"}
    templates = [token.text[1:-1] for token in tokens(source) if token.kind == "template"]
    pieces = {piece.strip() for template in templates for piece in re.split(r"\$\{[^}]*\}", template)}
    return {text for text in quoted | pieces if text and not text.startswith("./")}


def numbers(source: str) -> set[str]:
    """Every number, those in templates too."""
    written = {token.text for token in tokens(source) if token.kind == "number"}
    return written.union(*(re.findall(r"\d+", token.text) for token in tokens(source) if token.kind == "template"))


def codes_of_marks(source: str) -> set[str]:
    """The codes a Python module gives to a `Mark`."""
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    marks = [call for call in calls if isinstance(call.func, ast.Name) and call.func.id == "Mark"]
    return {mark.args[0].value for mark in marks if isinstance(mark.args[0], ast.Constant)}


def codes_of_marks_on_the_tablet(source: str) -> set[str]:
    """The codes the tablet's judge gives to a `mark`."""
    found = tokens(source)
    calls = [place for place, token in enumerate(found) if token.text == "mark" and found[place + 1].text == "("]
    return {found[place + 2].text[1:-1] for place in calls if found[place + 2].kind == "string"}


PYTHON_CODES = set().union(*(codes_of_marks(path.read_text(encoding="utf-8")) for path in CLINICAL.glob("*.py")))
TABLET_CODES = codes_of_marks_on_the_tablet(JUDGE)
BOOK_CODES = set(default_book().findings)


@pytest.mark.parametrize("module", ["judge.js", "visit.js"])
def test_it_has_no_number_but_nought_and_one(module):
    source = (TABLET / module).read_text(encoding="utf-8")

    assert numbers(source) <= {"0", "1"}


@pytest.mark.parametrize("module", ["judge.js", "visit.js"])
def test_it_has_no_sentence(module):
    source = (TABLET / module).read_text(encoding="utf-8")

    assert {text for text in strings(source) if not WORD_OF_THE_WIRE.fullmatch(text)} == set()


def test_a_number_or_a_sentence_would_be_seen():
    source = "const a = x > 60 ? 'Take it off.' : `plain ${x + 3} words`; // 77 and 'a comment'\nconst r = /[0-9]{2}/;"

    assert numbers(source) == {"60", "3"}
    assert strings(source) == {"Take it off.", "plain", "words"}


def test_what_it_says_comes_from_the_book():
    sentences = {
        text
        for kind in default_book().findings.values()
        for words in kind.wording.values()
        for text in (words.says, words.do_next)
    }

    assert [sentence for sentence in sentences if sentence in JUDGE] == []


def test_every_code_of_the_book_is_found_by_the_server_and_no_other():
    assert PYTHON_CODES == BOOK_CODES - NOT_OF_A_VISIT - OF_THE_TUBE_PLAN


def test_every_code_of_the_book_is_found_by_the_tablet_and_no_other():
    assert TABLET_CODES == BOOK_CODES - NOT_OF_A_VISIT - OF_THE_TUBE_PLAN


def test_every_limit_the_tablet_reads_is_in_the_book():
    names = {text for text in strings(JUDGE) if text.endswith(("_s", "_max", "_min", "_percent", "_months"))}

    assert names
    assert names <= set(default_book().limits)
