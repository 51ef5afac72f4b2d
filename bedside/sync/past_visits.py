"""Visits that happened, as cases to be judged again by another book."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from bedside.records import event_log
from bedside.records.moments import as_text
from bedside.records.visit_facts import facts_of, touched_since
from bedside.reports.what_if import PastVisit
from bedside.sync.judging import placed, told_case

AT_ONCE = 200
"""Visits read together: a month's events need not all be held in memory."""

MOST = 2000
"""Visits at most: judging one twice takes a few milliseconds, and somebody waits for the page."""


def past_visits(since: datetime, most: int = MOST) -> Iterator[PastVisit]:
    """The newest visits with an event that counts since then. One whose events make no case is left out: it is set
    aside where people see it.
    """
    touched = touched_since(as_text(since))
    newest = list(touched)[-most:]
    for start in range(0, len(newest), AT_ONCE):
        some = newest[start : start + AT_ONCE]
        facts, events = facts_of(some), event_log.of_visits(some)
        for visit in some:
            raw = placed(facts[visit], events[visit]).raw
            if raw:
                yield PastVisit(visit=visit, at=touched[visit], case=told_case(facts[visit], raw))
