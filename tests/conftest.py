"""What every test may ask for: a small invented house in a folder of its own."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from bedside.records.database import connected
from tests.a_house import AHouse
from tests.databases import DATABASES, POSTGRES, SQLITE
from tests.throwaway_cluster import Cluster, running

# No test may meet the house of whoever runs it.
os.environ.pop("DATABASE_URL", None)

# A slow answer of a busy machine is no fault of the ward's: examples are not timed.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


ON_BOTH_FOLDER = "records"
"""Every test with a house of this folder runs on SQLite and on PostgreSQL in an ordinary run."""

ON_BOTH = (
    "test_claims",
    "test_database_in_trouble",
    "test_meeting",
    "test_receive",
    "test_two_servers",
    "test_while_away",
)
"""Files elsewhere that do so: letters taken in, two tablets at one bed, two servers on one database, a database that
gives up, what changes on the ward meanwhile. What runs there on demand says `tests/README.md`.
"""


def pytest_addoption(parser: pytest.Parser) -> None:
    told = "run every test with a house on this engine alone (default: SQLite, and on both what tests/README.md says)"
    parser.addoption("--database", choices=(SQLITE, POSTGRES), help=told)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Say on which engines a test with a house runs."""
    if "engine" not in metafunc.fixturenames:
        return
    path = metafunc.definition.path
    on_both = path.parent.name == ON_BOTH_FOLDER or path.stem in ON_BOTH
    is_long = metafunc.definition.get_closest_marker("long_on_postgres")
    engines = [SQLITE, POSTGRES] if on_both and not is_long else [SQLITE]
    asked = metafunc.config.getoption("--database")
    for marker, alone in (("sqlite_only", SQLITE), ("postgres_only", POSTGRES)):
        asked = alone if metafunc.definition.get_closest_marker(marker) else asked
    if asked:
        engines = [asked]
    metafunc.parametrize("engine", engines, indirect=True)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL server for this worker."""
    with running() as made:
        yield made


@pytest.fixture
def engine(request: pytest.FixtureRequest) -> Iterator[str]:
    """The engine the houses of this test are on."""
    if request.param == SQLITE:
        yield SQLITE
        return
    DATABASES.begin(request.getfixturevalue("cluster"))
    try:
        yield POSTGRES
    finally:
        DATABASES.end()


@pytest.fixture(scope="session")
def built_house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a house made once: copying it is quicker than making it."""
    home = tmp_path_factory.mktemp("built") / "house"
    AHouse.made(home)
    return home


@pytest.fixture(scope="session")
def house_in_postgres(tmp_path_factory: pytest.TempPathFactory, cluster: Cluster) -> Path:
    """The folder of a house made once on the server; its rows are taken back before each test."""
    home = tmp_path_factory.mktemp("in_postgres") / "house"
    DATABASES.begin(cluster)
    url = DATABASES.homes[home] = cluster.make()
    AHouse.made(home)
    DATABASES.build(url)
    DATABASES.end()
    return home


@pytest.fixture
def house(
    tmp_path: Path, engine: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[AHouse]:
    """The house, with this thread's connection open for looking at its tables."""
    home = tmp_path / "house"
    if engine == POSTGRES:
        shutil.copytree(request.getfixturevalue("house_in_postgres"), home)
        DATABASES.begin(request.getfixturevalue("cluster"))
        monkeypatch.setenv("DATABASE_URL", DATABASES.is_built(home))
    else:
        shutil.copytree(request.getfixturevalue("built_house"), home)
    made = AHouse.opened(home)
    with connected():
        yield made
