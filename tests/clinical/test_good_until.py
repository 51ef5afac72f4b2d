"""How a filled container is kept on its way and until when it is good. Each row names its source."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from bedside.clinical.good_until import good_until
from bedside.exchange.directory_file import built_in_directory

DIRECTORY = built_in_directory()
LACTATE, AMMONIA, CRYO, BILIRUBIN, BMP, APTT, CULTURE, CBC = (
    "32693-4", "16362-6", "5117-7", "1975-2", "24321-2", "14979-9", "600-7", "58410-2",
)  # fmt: skip


def good(kind: str, *codes: str):
    tests = [DIRECTORY.find(code) for code in codes]
    return good_until(kind, tests, {word for test in tests for word in test.words_in(kind)})


@pytest.mark.parametrize(
    ("kind", "code", "keep"),
    [
        ("edta", AMMONIA, ("ice",)),  # W59, TD-14: Nikolac 2013 Table 4
        ("fluoride", LACTATE, ("ice",)),  # TD-14
        ("serum", CRYO, ("37C",)),  # TD-15
        ("serum-gel", BILIRUBIN, ("room", "dark")),  # TD-16
        ("edta", CBC, ("room",)),
    ],
)
def test_how_it_is_kept_on_its_way(kind, code, keep):
    assert good(kind, code).keep == keep


@pytest.mark.parametrize(
    ("kind", "codes", "clocks"),
    [
        # contract: lactate and ammonia 15 min
        ("fluoride", [LACTATE], [("in-lab", None, 15)]),
        # TD-13: clot 30 to 60 min, spun within 2 h (CLSI GP44-A4)
        ("serum-gel", [BMP], [("clot", 30, 60), ("spin", None, 120)]),
        # plasma does not clot
        ("heparin", [BMP], [("spin", None, 120)]),
        # TD-15: cryoglobulin parted within 1 h at 37 °C
        ("serum", [CRYO], [("spin", None, 60)]),
        # contract: aPTT 60 min
        ("citrate", [APTT], [("in-lab", None, 60)]),
        # TD-26: cultures to the laboratory within 2 h
        ("culture-aerobic", [CULTURE], [("in-lab", None, 120)]),
        ("edta", [CBC], []),
        ("discard", [], []),
    ],
)
def test_until_when_it_is_good(kind, codes, clocks):
    assert [(clock.what, clock.from_min, clock.within_min) for clock in good(kind, *codes).clocks] == clocks


def test_a_clock_tells_the_moment_and_a_sentence():
    drawn_at = datetime(2026, 11, 25, 5, 50, tzinfo=UTC)
    [clock] = good("fluoride", LACTATE).clocks

    assert clock.by(drawn_at) == datetime(2026, 11, 25, 6, 5, tzinfo=UTC)
    assert clock.says == "In the laboratory within 15 min."
    assert good("fluoride", LACTATE).in_lab_within_min() == 15
    assert good("edta", CBC).in_lab_within_min() is None


def test_a_clotting_time_has_two_ends():
    assert good("serum-gel", BMP).clocks[0].says == "Stands upright for 30 to 60 min to clot before it is spun."


@pytest.mark.parametrize(
    ("kept", "missing"), [((), ("ice",)), (("room",), ("ice",)), (("ice",), ()), (("ice", "dark"), ())]
)
def test_what_it_needed_and_did_not_get_is_said(kept, missing):
    assert good("fluoride", LACTATE).not_kept(kept) == missing


def test_a_plain_tube_needs_nothing():
    assert good("edta", CBC).not_kept(()) == ()
