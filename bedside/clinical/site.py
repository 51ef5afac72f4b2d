"""May blood be drawn here? Closed limbs, written permission, and a site below an infusion."""

from __future__ import annotations

from collections.abc import Iterator

from bedside.clinical.case import Patient
from bedside.clinical.events import Event
from bedside.clinical.findings import ASK, STOP, Severity
from bedside.clinical.marks import Mark
from bedside.clinical.rulebook import Rulebook
from bedside.clinical.visit import Visit


def marks(visit: Visit, book: Rulebook) -> Iterator[Mark]:
    """A closed limb under a tourniquet or a needle, or chosen and not given up."""
    site: Event | None = None
    for event in visit.events:
        if event.kind == "site_chosen":
            site = event
            if _is_given_up(event, visit):
                continue
            severity = _closed(visit.patient, event.data.get("side"), event)
        elif event.kind == "tourniquet_on":
            severity = _closed(visit.patient, event.data.get("side"), site)
        elif event.kind == "needle_in" and site is not None:
            severity = _closed(visit.patient, site.data.get("side"), site)
        else:
            continue
        if severity is not None:
            yield Mark("site-restricted", severity, event)


def _closed(patient: Patient, side: str | None, site: Event | None) -> Severity | None:
    """How serious it is to use this side: not at all, with a question, or not without written permission."""
    here = site.data if site is not None and site.data.get("side") == side else {}
    if here.get("place") == "foot":
        return None if "foot" in patient.permissions else STOP
    reasons = {restriction.why for restriction in patient.restrictions if restriction.side == side}
    if not reasons or side in patient.permissions:
        return None
    return ASK if reasons == {"iv"} and here.get("below_iv") else STOP


def _is_given_up(site: Event, visit: Visit) -> bool:
    """Report whether another site was chosen, or the visit ended, before a needle went in here."""
    if any(needle.site is site for needle in visit.needles):
        return False
    return visit.site is not site or visit.ended is not None
