"""The benchmarks print one line a figure and never fail a run."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def bench(*names: str) -> tuple[int, list[str]]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench", *names], cwd=ROOT, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout.splitlines()


def test_each_figure_is_a_name_a_value_a_unit_and_how_it_was_measured():
    status, lines = bench("plan")

    assert status == 0
    assert "plan_all" in {line.partition(":")[0] for line in lines}
    assert all(re.fullmatch(r"\w+: [-+.\de]+ \S+ \(.+\)", line) for line in lines)


def test_a_subject_that_is_not_there_is_said_and_fails_nothing():
    status, [line] = bench("nothing")

    assert status == 0
    assert line.startswith("nothing: not measured")
