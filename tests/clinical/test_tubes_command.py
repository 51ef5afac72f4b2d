"""`bedside tubes`: JSON in, JSON out; what cannot be planned is named on one line and nothing is printed."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys

import pytest

from bedside.commands import tubes

REQUEST = {
    "patient": {
        "weight_kg": 61.0,
        "birth_date": "1951-03-09",
        "sex": "female",
        "height_m": 1.65,
        "hematocrit_percent": 41.0,
        "drawn_24h_ml": 0,
    },
    "needle": "straight",
    "tests": ["24321-2", "CBC"],
    "now": "2026-11-25T05:12:40.120Z",
}


@pytest.fixture
def asked(tmp_path, capsys):
    """Run the command on a request (or on a text as it stands): exit status, output, refusal."""
    parser = argparse.ArgumentParser()
    tubes.arguments(parser)

    def ask(request: object) -> tuple[int, str, str]:
        file = tmp_path / "request.json"
        file.write_text(request if isinstance(request, str) else json.dumps(request))
        status = tubes.run(parser.parse_args([str(file)]))
        return status, *capsys.readouterr()

    return ask


def changed(field: str, value: object) -> dict:
    request = json.loads(json.dumps(REQUEST))
    *above, last = field.split(".")
    place = request
    for name in above:
        place = place[name]
    place[last] = value
    return request


def test_a_plan_is_written_out_as_the_contract_says(asked):
    status, out, refusal = asked(REQUEST)

    assert (status, refusal) == (0, "")
    assert json.loads(out) == {
        "tubes": [
            {
                "position": 1,
                "kind": "serum-gel",
                "additive": "clot activator and gel",
                "cap": "gold",
                "inversions": 5,
                "nominal_ml": 2.5,
                "draw_ml": 2.5,
                "tests": ["24321-2"],
                "handling": [],
                "in_lab_by": None,
            },
            {
                "position": 2,
                "kind": "edta",
                "additive": "K2 EDTA",
                "cap": "lavender",
                "inversions": 8,
                "nominal_ml": 2.0,
                "draw_ml": 2.0,
                "tests": ["CBC"],
                "handling": [],
                "in_lab_by": None,
            },
        ],
        "total_ml": 4.5,
        "limit_ml": None,
        "findings": [],
    }


def test_standard_input_is_read_too():
    done = subprocess.run(
        [sys.executable, "-m", "bedside", "tubes", "-"],
        input=json.dumps(REQUEST).encode(),
        capture_output=True,
        check=False,
    )

    assert (done.returncode, done.stderr) == (0, b"")
    assert [tube["kind"] for tube in json.loads(done.stdout)["tubes"]] == ["serum-gel", "edta"]


def test_an_unknown_test_is_named_by_its_code(asked):
    status, out, refusal = asked(changed("tests", ["24321-2", "00000-0"]))

    assert (status, out) == (2, "")
    assert refusal.count("\n") == 1
    assert refusal.startswith("tests: '00000-0' ")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("needle", "blunt"),
        ("needle", 21),
        ("tests", "24321-2"),
        ("tests", None),
        ("now", None),
        ("now", "2026-11-25"),
        ("now", "2026-11-25T05:12:40"),
        ("now", "2026-02-30T05:12:40Z"),
        ("now", "2026-11-25T25:12:40Z"),
        ("now", 1764047560),
        ("now", "0001-01-01T00:00:00+14:00"),
        ("now", "9999-12-31T23:59:59Z"),
        ("patient", None),
        ("patient", []),
        ("patient.birth_date", "09.03.1951"),
        ("patient.birth_date", "19510309"),
        ("patient.birth_date", "2026-02-29"),
        ("patient.birth_date", "2026-11-27"),
        ("patient.birth_date", "1851-03-09"),
        ("patient.sex", "f"),
        ("patient.weight_kg", 0),
        ("patient.weight_kg", -3),
        ("patient.weight_kg", "61"),
        ("patient.weight_kg", True),
        ("patient.weight_kg", 6100),
        ("patient.height_m", 165),
        ("patient.hematocrit_percent", 0.6),
        ("patient.hematocrit_percent", 101),
        ("patient.drawn_24h_ml", -1),
    ],
)
def test_a_value_that_cannot_be_right_is_refused_by_field_and_value(asked, field, value):
    status, out, refusal = asked(changed(field, value))

    assert (status, out) == (2, "")
    assert refusal.count("\n") == 1
    assert field in refusal
    assert repr(value) in refusal


def test_a_code_that_is_no_text_is_refused_by_its_place(asked):
    status, out, refusal = asked(changed("tests", ["24321-2", 7]))

    assert (status, out) == (2, "")
    assert "tests[1]: 7" in refusal


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"patient": {"weight_kg": NaN}}', "[" * 100_000])
def test_what_is_no_request_is_refused_on_one_line(asked, text):
    status, out, refusal = asked(text)

    assert (status, out) == (2, "")
    assert refusal.count("\n") == 1


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_a_number_that_is_none_is_refused(asked, number):
    status, out, _ = asked(json.dumps(REQUEST).replace("61.0", number))

    assert (status, out) == (2, "")


def test_a_missing_file_is_named(capsys, tmp_path):
    status = tubes.run(argparse.Namespace(file=str(tmp_path / "nowhere.json")))

    out, refusal = capsys.readouterr()
    assert (status, out) == (2, "")
    assert "nowhere.json" in refusal


@pytest.mark.parametrize("field", ["weight_kg", "sex", "height_m", "hematocrit_percent", "drawn_24h_ml"])
def test_null_means_the_same_as_missing(asked, field):
    without = changed("needle", "straight")
    del without["patient"][field]

    assert asked(changed(f"patient.{field}", None)) == asked(without)


def test_a_time_may_carry_an_offset_and_the_answer_is_in_utc(asked):
    request = changed("now", "2026-11-25T06:12:40+01:00") | {"tests": ["32693-4"]}

    status, out, _ = asked(request)

    # contract: lactate 15 min after now
    assert status == 0
    assert json.loads(out)["tubes"][0]["in_lab_by"] == "2026-11-25T05:27:40.000Z"
