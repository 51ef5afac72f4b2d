"""What every test may ask for: a small invented house in a folder of its own."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from bedside.records.database import connected
from tests.a_house import AHouse

# A slow answer of a busy machine is no fault of the ward's: examples are not timed.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(scope="session")
def built_house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a house made once: copying it is quicker than making it."""
    home = tmp_path_factory.mktemp("built") / "house"
    AHouse.made(home)
    return home


@pytest.fixture
def house(tmp_path: Path, built_house: Path) -> Iterator[AHouse]:
    """The house, with this thread's connection open for looking at its tables."""
    shutil.copytree(built_house, tmp_path / "house")
    made = AHouse.opened(tmp_path / "house")
    with connected():
        yield made
