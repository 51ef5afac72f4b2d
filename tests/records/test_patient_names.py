"""A patient's name as labels and bands have it."""

from __future__ import annotations

import pytest

from bedside.records.tables import Patient


@pytest.mark.parametrize(
    ("family", "given", "name"),
    [("Ojala", "Kaarina", "Ojala, Kaarina"), ("Suharti", "", "Suharti"), ("", "Suharti", "Suharti")],
)
def test_somebody_with_one_name_has_no_comma(family: str, given: str, name: str) -> None:
    assert Patient(family=family, given=given).name == name
