"""Every shared case, put to the server's judge and to the tube plan."""

from __future__ import annotations

import json

import pytest

from bedside.__main__ import main
from bedside.clinical.case import read_case
from bedside.clinical.directory import read_directory
from bedside.clinical.judge import judge
from bedside.clinical.rulebook import default_book
from bedside.clinical.tube_request import read_tube_request
from bedside.clinical.tubes import plan_tubes
from bedside.exchange.directory_file import built_in_directory
from tests.cases import sheet
from tests.cases.compare import differences, plan_differences, refusal_differs
from tests.cases.expand import ExpandedCase
from tests.cases.files import answered, cases, refused


def each(found: dict[str, ExpandedCase]) -> pytest.MarkDecorator:
    """One test a case, called by its name."""
    return pytest.mark.parametrize("case", [pytest.param(case, id=name) for name, case in found.items()])


@each(answered("judge"))
def test_visit(case: ExpandedCase) -> None:
    verdict = judge(read_case(case.case_json), default_book()).as_json()

    assert differences(case.expect, verdict) == []


@each(answered("tubes"))
def test_tube_plan(case: ExpandedCase) -> None:
    directory = built_in_directory() if case.directory is None else read_directory(case.directory)
    plan = plan_tubes(read_tube_request(case.case_json), directory, default_book()).as_json()

    assert plan_differences(case.expect, plan) == []


@each(answered("sheet"))
def test_sheet(case: ExpandedCase) -> None:
    assert sheet.differences(case.case_json, case.expect, default_book()) == []


@pytest.mark.parametrize("command", ["judge", "tubes"])
def test_bad_input_is_refused_on_one_line(command, tmp_path, capsys):
    told = {}
    for name, case in refused(command).items():
        file = tmp_path / "case.json"
        file.write_text(json.dumps(case.case_json), encoding="utf-8")
        status = main([command, str(file)])
        told[name] = refusal_differs(case.expect, status, *capsys.readouterr())

    assert {name: differs for name, differs in told.items() if differs} == {}


def test_the_command_answers_as_the_judge_does(tmp_path, capsys):
    name, case = next(iter(answered("judge").items()))
    file = tmp_path / "case.json"
    file.write_text(json.dumps(case.case_json), encoding="utf-8")

    assert main(["judge", str(file)]) == 0, name
    assert differences(case.expect, json.loads(capsys.readouterr().out)) == []


def test_no_two_cases_of_one_command_have_one_name():
    names = [name for command in ("judge", "tubes") for name, _ in cases(command)]

    assert sorted(set(names)) == sorted(names)
