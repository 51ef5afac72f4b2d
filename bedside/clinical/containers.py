"""The containers blood is drawn into, in the order of draw. Practice section 4; groups and inversions as in the contract."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Container:
    """One kind of container.

    group: the additive group, 0 first; kinds of one group may come in any order among themselves.
    cap, pattern: how the cap looks and is drawn on screen, colour never alone.
    inversions: the fewest times it is turned over after the fill.
    nominal_ml: the size a site usually stocks, in mL (from memory; a site's setting).
    """

    kind: str
    group: int
    name: str
    additive: str
    cap: str
    pattern: str
    inversions: int
    nominal_ml: float
    source: str


_CLSI = "CLSI GP41-A7 2017 order, secondary source; colour: ISO 6710:2017 annex, from memory"
_BOTTLE = "CLSI M47, secondary source"

_ROWS: tuple[Container, ...] = (
    Container("culture-aerobic", 0, "aerobic bottle", "culture medium", "bottle", "bottle-air", 8, 10.0, _BOTTLE),
    Container("culture-anaerobic", 0, "anaerobic bottle", "culture medium", "bottle", "bottle-no-air", 8, 10.0, _BOTTLE),
    Container("culture-paediatric", 0, "children's bottle", "culture medium", "bottle", "bottle-small", 8, 3.0, _BOTTLE),
    Container("discard", 1, "discard", "none", "white", "cross", 0, 2.0, "CLSI H21, secondary source"),
    Container("citrate", 2, "citrate", "sodium citrate 1:9", "light blue", "dots", 3, 2.7, _CLSI),
    Container("esr", 2, "sedimentation", "sodium citrate 1:4", "black", "chevrons", 8, 1.6, _CLSI),
    Container("serum", 3, "serum, plain", "none", "red", "plain", 0, 5.0, _CLSI),
    Container("trace-serum", 3, "trace elements, serum", "clot activator", "royal blue", "ring", 5, 6.0, _CLSI),
    Container("serum-clot", 3, "serum, activator", "clot activator", "red", "speckle", 5, 5.0, _CLSI),
    Container("serum-gel", 3, "serum gel", "clot activator and gel", "gold", "band", 5, 5.0, _CLSI),
    Container("heparin", 4, "heparin", "lithium heparin", "green", "slant", 8, 4.0, _CLSI),
    Container("heparin-gel", 4, "heparin gel", "lithium heparin and gel", "light green", "slant-band", 8, 4.0, _CLSI),
    Container("trace-edta", 5, "trace elements, EDTA", "K2 EDTA", "royal blue", "double-ring", 8, 6.0, _CLSI),
    Container("edta", 5, "EDTA", "K2 EDTA", "lavender", "stripes", 8, 3.0, _CLSI),
    Container("edta-crossmatch", 5, "EDTA, blood group", "K2 EDTA", "pink", "grid", 8, 6.0, _CLSI),
    Container("fluoride", 6, "fluoride", "sodium fluoride and oxalate", "grey", "rows", 8, 2.0, _CLSI),
    Container("acd", 7, "ACD", "acid citrate dextrose", "yellow", "diamonds", 8, 6.0, _CLSI),
)  # fmt: skip

CONTAINERS: dict[str, Container] = {container.kind: container for container in _ROWS}

CULTURES = ("culture-aerobic", "culture-anaerobic", "culture-paediatric")
DISCARD = "discard"
CITRATE = "citrate"
CROSSMATCH = "edta-crossmatch"
