"""The laboratory's directory: a version is put in force by somebody with a name, and packets are made with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from bedside.__main__ import main
from bedside.clinical.directory import DirectoryRefused
from bedside.exchange.directory_file import built_in_text
from bedside.people.roles import Role
from bedside.records.audit import entries
from bedside.records.directory_now import NotSigned, directory_now, lacking, sign, signatures, signed_now
from bedside.records.moments import now
from tests.a_house import AHouse, visit_of

OURS = built_in_text().replace("edta,2,,,,,,", "edta,3,,,,,,", 1)
WITHOUT_BMP = "".join(line for line in built_in_text().splitlines(keepends=True) if not line.startswith("BMP,"))


def put_in_force(house: AHouse, text: str = OURS) -> None:
    sign(text, signer="Otto Lindahl", by=house.people[Role.KEEPER], at=now())


def test_before_any_is_signed_there_is_none(house: AHouse) -> None:
    assert (directory_now(), signed_now(), signatures()) == (None, None, [])


def test_a_signed_version_plans_the_next_packet_and_is_named_in_it(house: AHouse) -> None:
    tablet = house.tablet()
    before = tablet.packet()

    put_in_force(house)
    after = tablet.packet()

    signed = signed_now()
    assert after["revision"] > before["revision"]
    assert after["directory"]["version"] == signed.version != before["directory"]["version"]
    assert (after["directory"]["signed_by"], before["directory"]["signed_by"]) == ("Otto Lindahl", None)
    count = next(tube for tube in visit_of(after, "Kaarina")["tubes"] if tube["tests"] == ["58410-2"])
    assert count["draw_ml"] == 3


def test_the_packet_carries_the_sizes_of_its_containers_and_what_is_kept_apart(house: AHouse) -> None:
    put_in_force(house, OURS.replace("edta,3,1.5,,", "edta,3,1.2,,") + "keeps_apart,source\nsection,our laboratory\n")

    told = house.tablet().packet()["directory"]

    assert {"nominal_ml": 3.0, "min_fill_ml": 1.2, "for": ""} in told["sizes"]["edta"]
    assert {"nominal_ml": 0.5, "min_fill_ml": 0.25, "for": "child"} in told["sizes"]["edta"]
    assert told["keeps_apart"] == ["section"]


def test_signing_is_written_down(house: AHouse) -> None:
    put_in_force(house)

    last = list(entries())[-1]
    assert (last.who, last.action, last.object) == (
        house.people[Role.KEEPER], "directory signed", signed_now().version
    )  # fmt: skip


def test_an_order_for_a_test_the_new_version_lacks_is_shown_and_not_dropped(house: AHouse) -> None:
    put_in_force(house, WITHOUT_BMP)

    karin = visit_of(house.tablet().packet(), "Karin")

    day = signed_now().at[:10]
    assert [order["test"] for order in karin["orders"]] == ["24321-2"]
    assert karin["orders"][0]["in_directory"] is False
    assert karin["notes"][0].startswith(f"24321-2 is not in the laboratory's directory of {day}. Ask the laboratory")
    assert {test for _, test in lacking(directory_now())} == {"24321-2"}


def test_an_earlier_version_can_come_back(house: AHouse) -> None:
    put_in_force(house, OURS)
    put_in_force(house, WITHOUT_BMP)
    put_in_force(house, OURS)

    assert directory_now().find("BMP") is not None
    assert len(signatures()) == 3


@pytest.mark.parametrize("signer", ["", "  "])
def test_nobody_signs_without_a_name(house: AHouse, signer: str) -> None:
    with pytest.raises(NotSigned):
        sign(OURS, signer=signer, by=None, at=now())

    assert directory_now() is None


def test_the_version_in_force_is_not_signed_twice(house: AHouse) -> None:
    put_in_force(house)

    with pytest.raises(NotSigned, match="in force already"):
        put_in_force(house)


def test_a_directory_with_a_bad_cell_is_not_put_in_force(house: AHouse) -> None:
    with pytest.raises(DirectoryRefused):
        put_in_force(house, OURS.replace(",edta,", ",lavender,", 1))

    assert directory_now() is None


def test_the_command_compares_signs_and_compares_with_what_is_in_force(
    house: AHouse, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BEDSIDE_HOME", str(house.settings.home))
    file = tmp_path / "ours.csv"
    file.write_text(OURS, encoding="utf-8")

    assert main(["directory", str(file), "--sign", "--by", "nobody"]) == 2
    assert "nobody's sign-in name" in capsys.readouterr().err
    assert main(["directory", str(file), "--sign", "--by", str(Role.KEEPER)]) == 0
    assert "In force from now on, signed by Otto Lindahl." in capsys.readouterr().out
    assert main(["directory", str(file)]) == 0
    assert "the same tests as the directory in force" in capsys.readouterr().out
