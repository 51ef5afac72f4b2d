"""`bedside serve` as a process: it says where it is before it serves, and stops when told to."""

from __future__ import annotations

import os
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from bedside.__main__ import main
from bedside.commands.serve import listen


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path / "home"))
    main(["init"])
    return tmp_path / "home"


def test_whoever_reads_the_address_can_already_connect(home: Path) -> None:
    words = [sys.executable, "-m", "bedside", "serve", "--port", "0"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=os.environ.copy()) as process:
        assert process.stdout is not None
        address = process.stdout.readline().split()[-1]
        with urllib.request.urlopen(f"{address}sign-in", timeout=30) as answer:
            page, server = answer.read().decode(), answer.headers["Server"]
        process.terminate()
        assert process.wait(timeout=30) == 0

    assert "Sign in" in page
    assert server == "gunicorn"
    assert [path.name for path in home.iterdir() if "sock" in path.name] == []


def test_a_port_in_use_is_said_on_one_line(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with listen("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        assert main(["serve", "--port", str(port)]) == 1

    told = capsys.readouterr().err
    assert f"port {port}" in told and len(told.splitlines()) == 1


def test_without_a_house_nothing_is_served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(tmp_path / "empty"))

    assert main(["serve", "--port", "0"]) == 2
