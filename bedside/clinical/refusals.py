"""Why a laboratory refuses a specimen: the codes of HL7 table 0490 (practice FH-12) in the ward's words."""

from __future__ import annotations

from collections.abc import Mapping

REFUSALS: Mapping[str, str] = {
    "EX": "expired",
    "QS": "not enough blood",
    "RB": "container broken",
    "RC": "clotted",
    "RD": "date missing on the label",
    "RA": "number missing on the label",
    "RE": "name missing on the label",
    "RH": "haemolysed",
    "RI": "identification in doubt",
    "RM": "wrongly labelled",
    "RN": "contaminated",
    "RP": "collector missing on the label",
    "RR": "wrongly kept on its way",
    "RS": "name misspelt on the label",
}
"""HL7 v2 table 0490 as published by HL7 Terminology; the words are our own."""
