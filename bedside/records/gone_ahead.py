"""Steps somebody took although the app advised against them, with the reason they gave. Read-only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from bedside.records.tables import Event
from bedside.records.told_events import counted_rows, read_rows, standing


@dataclass(frozen=True, slots=True, kw_only=True)
class WentAhead:
    """One `went_ahead` that stands: in spite of which finding, about which event of the visit, and why."""

    event: str
    finding: str
    about: str | None
    reason: str


def went_ahead(visits: Collection[str]) -> dict[str, list[WentAhead]]:
    """What went ahead at these visits, by visit, in order; what was struck since is left out."""
    rows: dict[str, list[Event]] = defaultdict(list)
    for row in counted_rows(visits, ("went_ahead", "corrected")):
        rows[row.visit].append(row)
    return {
        visit: [
            WentAhead(
                event=event.id or "",
                finding=event.data["finding"],
                about=event.data.get("event"),
                reason=event.data.get("reason") or "",
            )
            for event in standing(read_rows(some).values())
            if event.kind == "went_ahead"
        ]
        for visit, some in rows.items()
    }


def reason_for(code: str, event: str | None, ahead: Collection[WentAhead]) -> str:
    """The reason given for going ahead in spite of a finding; empty where nobody gave one."""
    about = [one for one in ahead if event in (one.event, one.about)] if event else []
    same = [one for one in ahead if one.finding == code and one.about is None]
    return next((one.reason for one in (*about, *same) if one.reason), "")
