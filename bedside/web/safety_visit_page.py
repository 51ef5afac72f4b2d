"""One visit that is no incident, as the safety officer reads it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bedside.records.visit_stories import VisitStory
from bedside.sync.books import book_in_force
from bedside.web.desk import Desk
from bedside.web.retelling import Retold, retell
from bedside.web.times import zone_of
from bedside.web.waiting import ToSettle, place


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitPage:
    """Whose visit, what is asked about it, and its whole story."""

    desk: Desk
    id: str
    name: str
    lead: str
    to_settle: tuple[ToSettle, ...]
    story: Retold
    wrong: str

    @classmethod
    def of(
        cls, desk: Desk, story: VisitStory, waiting: tuple[ToSettle, ...], now: datetime, wrong: str = ""
    ) -> VisitPage:
        who = story.patient
        return cls(
            desk=desk,
            id=story.visit,
            name=who.name,
            lead=f"Ward {who.ward.name}, {place(who.room, who.bed)} · record number {who.record_number}",
            to_settle=waiting,
            story=retell(story, now, zone_of(now), book_in_force()),
            wrong=wrong,
        )
