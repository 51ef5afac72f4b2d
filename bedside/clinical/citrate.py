"""How much citrate stays in a coagulation tube when the blood holds little plasma.

Two formulae are in use, and pages differ in what their volume means (practice CF-05). Here each says it:
`citrate_to_leave_ml` takes the blood to be added, `citrate_in_total_ml` the blood and citrate together.
The person at the bedside only flags such a patient; the laboratory prepares the tube (practice CT-08).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from bedside.clinical.limits import LIMITS, Limit

# Formula A, CLSI H21-A5 2008, secondary source (practice CT-02).
_FACTOR = 1.85e-3


def citrate_to_leave_ml(
    blood_ml: float, hematocrit_percent: float, limits: Mapping[str, Limit] = LIMITS
) -> float | None:
    """Formula A: the mL of citrate to leave for this volume of blood; None at or under the limit of 55 % (CT-01).

    blood_ml: the blood to be added, in mL. CLSI H21-A5 2008, secondary source (practice CT-02).
    `ValueError` when the volume is not above 0 or the haematocrit is outside 0 to 100 %.
    """
    _check(blood_ml, hematocrit_percent)
    if hematocrit_percent <= limits["hematocrit_max_percent"].value:
        return None
    return _FACTOR * (100 - hematocrit_percent) * blood_ml


def adjusting_sentence(blood_ml: float, hematocrit_percent: float, limits: Mapping[str, Limit] = LIMITS) -> str:
    """What to ask the laboratory for, with the formula, its volume and its result; empty at or under the limit.

    The one at the bedside only flags the patient; such a tube has no vacuum (practice CT-08: Fritsma 2025).
    """
    leave = citrate_to_leave_ml(blood_ml, hematocrit_percent, limits)
    if leave is None:
        return ""
    return (
        f"Haematocrit {hematocrit_percent:g} %. Ask the laboratory for an adjusted citrate tube: "
        f"C = 1.85/1000 x (100 - Hct) x V, with V = {blood_ml:g} mL of blood: leave {leave:.2f} mL of citrate. "
        "It has no vacuum: fill it by syringe, and label it as adjusted (CLSI H21-A5, secondary source)."
    )


def citrate_in_total_ml(total_ml: float, hematocrit_percent: float) -> float:
    """Formula B: the mL of citrate in a tube filled to this total of blood and citrate.

    At 45 % it gives the usual one part in ten. CLSI H21 and Fritsma 2025, secondary source (practice CT-03).
    """
    _check(total_ml, hematocrit_percent)
    return (100 - hematocrit_percent) / (595 - hematocrit_percent) * total_ml


def _check(volume_ml: float, hematocrit_percent: float) -> None:
    if not (math.isfinite(volume_ml) and volume_ml > 0):
        raise ValueError(f"The volume is {volume_ml!r} mL. It must be above 0.")
    if not 0 <= hematocrit_percent <= 100:
        raise ValueError(f"The haematocrit is {hematocrit_percent!r}. It is a percentage from 0 to 100.")
