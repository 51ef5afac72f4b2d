"""Citrate for thick blood: two formulae, and what their volume means (practice CF-05)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bedside.clinical.citrate import adjusting_sentence, citrate_in_total_ml, citrate_to_leave_ml
from bedside.clinical.limits import LIMITS


def test_at_45_percent_formula_b_is_the_usual_tenth():
    # W41, CT-03: CLSI H21 and Fritsma 2025, secondary source, computed
    assert citrate_in_total_ml(5.0, 45) == pytest.approx(0.5, abs=1e-12)


@pytest.mark.parametrize(
    ("hematocrit", "leave"),
    [(56, (0.41, 0.24, 0.16, 0.08)), (60, (0.37, 0.22, 0.15, 0.07)), (65, (0.32, 0.19, 0.13, 0.06)),
     (70, (0.28, 0.17, 0.11, 0.06)), (75, (0.23, 0.14, 0.09, 0.05)), (80, (0.19, 0.11, 0.07, 0.04))],
)  # fmt: skip
def test_formula_a_gives_the_printed_table_at_nominal_sizes(hematocrit, leave):
    # CT-04: the table's numbers equal formula A for 5, 3, 2 and 1 mL, not for the blood it is headed with
    for nominal_ml, printed in zip((5, 3, 2, 1), leave, strict=True):
        assert citrate_to_leave_ml(nominal_ml, hematocrit) == pytest.approx(printed, abs=0.0051)


def test_a_site_that_adjusts_earlier_moves_both_the_flag_and_the_formula():
    limits = {**LIMITS, "hematocrit_max_percent": replace(LIMITS["hematocrit_max_percent"], value=50)}

    # CT-01: above the limit only
    assert citrate_to_leave_ml(2.7, 52, limits) == pytest.approx(1.85e-3 * 48 * 2.7)
    assert citrate_to_leave_ml(2.7, 50, limits) is None
    assert citrate_to_leave_ml(2.7, 52) is None


def test_the_laboratory_is_asked_with_the_formula_its_volume_and_its_result():
    said = adjusting_sentence(5.0, 65)

    # W38, CT-02: V 5.0 mL, Hct 65: 0.32375 mL, in the table 0.32
    assert "V = 5 mL of blood: leave 0.32 mL of citrate" in said
    assert "Haematocrit 65 %" in said
    assert adjusting_sentence(5.0, 55) == ""
