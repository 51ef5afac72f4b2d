"""The one table of who may open what. A door that is not listed here is shut for everybody.

A row names an endpoint (`blueprint.function`) or a whole blueprint (`blueprint.*`); the exact row counts
before the whole one. `app.py` asks `may_open` before every request, and a test walks every door as every
role.
"""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What somebody is here to do. One person has one role."""

    PHLEBOTOMIST = "phlebotomist"
    CHARGE_NURSE = "charge_nurse"
    SAFETY_OFFICER = "safety_officer"
    KEEPER = "keeper"


ROLE_WORDS = {
    Role.PHLEBOTOMIST: "phlebotomist",
    Role.CHARGE_NURSE: "charge nurse",
    Role.SAFETY_OFFICER: "safety officer",
    Role.KEEPER: "keeper of the house",
}

ANYBODY = frozenset[str]({"", *Role})
"""Also people who have not signed in, whose role is the empty text."""

SIGNED_IN = frozenset[str](Role)

TABLET = "tablet"
"""Not a person: an enrolled tablet that signed its request. It may bring events home when nobody is signed in."""

FIRST_SIGNATURE = frozenset[str]({Role.SAFETY_OFFICER})
"""Who may propose a change of the rulebook and sign it first."""

SECOND_SIGNATURE = frozenset[str]({Role.SAFETY_OFFICER, Role.CHARGE_NURSE, Role.KEEPER})
"""Who may sign second where a limit becomes looser: never the person who signed first."""

POLICY: dict[str, frozenset[str]] = {
    # No patient data behind these: the shell must start on a tablet nobody has signed in on.
    "static": ANYBODY,
    "shell.*": ANYBODY,
    "tablet.shell": ANYBODY,
    "signing_in.sign_in": ANYBODY,
    "signing_in.signed_in": ANYBODY,
    "signing_in.sign_out": SIGNED_IN,
    "signing_in.home": ANYBODY,
    # A code from the house's screen opens this one.
    "tablet.enrol": ANYBODY,
    "tablet.hello": SIGNED_IN | {TABLET},
    "tablet.packet": frozenset({Role.PHLEBOTOMIST}),
    "tablet.events": frozenset({Role.PHLEBOTOMIST, TABLET}),
    "tablet.claim": frozenset({Role.PHLEBOTOMIST, TABLET}),
    "tablet.leave": frozenset({Role.PHLEBOTOMIST, TABLET}),
    "tablet.hand_back": frozenset({TABLET}),
    "tablet.pins_used_up": frozenset({TABLET}),
    "protection.page": ANYBODY,
    "charge_nurse.*": frozenset({Role.CHARGE_NURSE}),
    "blood.*": frozenset({Role.CHARGE_NURSE}),
    "timed.*": frozenset({Role.CHARGE_NURSE}),
    "laboratory.*": frozenset({Role.CHARGE_NURSE, Role.KEEPER}),
    "round_sheet.*": frozenset({Role.PHLEBOTOMIST, Role.CHARGE_NURSE, Role.KEEPER}),
    "directory_versions.*": frozenset({Role.KEEPER}),
    "safety_officer.*": frozenset({Role.SAFETY_OFFICER}),
    # What the laboratory asks for and what the rules say is for everybody who works by them.
    "house.directory": SIGNED_IN,
    "house.*": frozenset({Role.KEEPER}),
    "hazard_log.log": SIGNED_IN,
    "rulebook.sheet": SIGNED_IN,
    "rulebook.editions": SIGNED_IN,
    "rulebook.change": FIRST_SIGNATURE,
    "rulebook.propose": FIRST_SIGNATURE,
    "rulebook.withdraw": FIRST_SIGNATURE,
    "rulebook.proposals": SECOND_SIGNATURE,
    "rulebook.proposal": SECOND_SIGNATURE,
    "rulebook.sign": SECOND_SIGNATURE,
}

HOME = {
    Role.PHLEBOTOMIST: "/tablet/",
    Role.CHARGE_NURSE: "/ward/",
    Role.SAFETY_OFFICER: "/safety/",
    Role.KEEPER: "/house/",
}
"""Where each role belongs after signing in."""


def who_may_open(endpoint: str) -> frozenset[str]:
    """The roles a door lets in; nobody when it is not listed."""
    blueprint = endpoint.rpartition(".")[0]
    return POLICY.get(endpoint, POLICY.get(f"{blueprint}.*", frozenset()))


def may_open(role: str, endpoint: str) -> bool:
    """Report whether somebody of this role (empty: not signed in) may open this door."""
    return role in who_may_open(endpoint)
