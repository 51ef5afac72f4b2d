"""In which order the containers are filled, and when a discard goes first (practice OD-01 to OD-17)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bedside.clinical.containers import CITRATE, CONTAINERS, Container

NEEDLES = ("straight", "winged", "syringe")

AEROBIC, ANAEROBIC = "culture-aerobic", "culture-anaerobic"


def places(needle: str, containers: Mapping[str, Container] = CONTAINERS) -> dict[str, int]:
    """Every kind's place in the order of draw; additive groups first, then the rulebook's order within one.

    From a syringe the bottle without air is filled first; from a needle set, whose tubing holds air, last.
    """
    kinds = sorted(containers, key=lambda kind: containers[kind].group)
    order = {kind: place for place, kind in enumerate(kinds)}
    if needle == "syringe":
        order[AEROBIC], order[ANAEROBIC] = sorted((order[AEROBIC], order[ANAEROBIC]), reverse=True)
    return order


def needs_discard(kinds: Iterable[str], needle: str, containers: Mapping[str, Container] = CONTAINERS) -> bool:
    """Report whether a discard must go first: a winged set whose first container would be citrate.

    The tubing's air (about 0.5 mL) would leave the citrate tube short (practice OD-15).
    """
    order = places(needle, containers)
    first = min(kinds, key=order.__getitem__, default=None)
    return needle == "winged" and first == CITRATE
