"""Proposals to change the rulebook as data: what each would have done, and who signed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from bedside.clinical.editions import Change, Difference, Proposal, differences
from bedside.clinical.findings import Severity
from bedside.clinical.rulebook import Rulebook
from bedside.records.rulebooks import Proposed
from bedside.reports.what_if import Shift, WhatIf
from bedside.sync.past_visits import MOST
from bedside.web.counting import many, sentence
from bedside.web.desk import Desk
from bedside.web.limit_lines import limit_words
from bedside.web.times import local, shown, zone_of

LOOK_BACK_DAYS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalLine:
    """One proposal in a list."""

    id: int
    says: str
    by: str
    when: str
    stands: str
    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalsPage:
    """Every proposal, those that wait first."""

    desk: Desk
    waiting: tuple[ProposalLine, ...]
    settled: tuple[ProposalLine, ...]

    @classmethod
    def of(cls, desk: Desk, proposals: Iterable[Proposed], now: datetime) -> ProposalsPage:
        lines = [proposal_line(one, now) for one in proposals]
        return cls(
            desk=desk,
            waiting=tuple(line for line in lines if line.is_open),
            settled=tuple(line for line in lines if not line.is_open),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedLine:
    """One limit of a proposal: what it is, what it would be, and which way that goes."""

    name: str
    old: str
    new: str
    unit: str
    direction: str
    refusal: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftLine:
    """One way in which last month's verdicts would have been others."""

    code: str
    says: str
    findings: int
    visits: int
    examples: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalPage:
    """One proposal: what it changes, what it would have done, who signed, and what this reader may do now."""

    desk: Desk
    id: int
    headline: str
    by: str
    reason: str
    changes: tuple[MovedLine, ...]
    words: tuple[Difference, ...]
    signatures: tuple[str, ...]
    stands: str
    looked_back: str
    shifts: tuple[ShiftLine, ...]
    may_sign: bool
    why_not: str
    may_withdraw: bool
    refused: str


def proposal_page(
    desk: Desk,
    proposed: Proposed,
    weighed: Proposal,
    books: tuple[Rulebook, Rulebook],
    past: WhatIf | None,
    beds: Mapping[str, str],
    now: datetime,
    *,
    why_not: str,
    may_withdraw: bool,
    refused: str = "",
) -> ProposalPage:
    """Put the page together. `books`: today's, and the one it would make; `past` is None once it is settled."""
    zone = zone_of(now)
    line = proposal_line(proposed, now)
    return ProposalPage(
        desk=desk,
        id=proposed.id,
        headline=line.says,
        by=f"Proposed by {proposed.name}, {line.when}.",
        reason=proposed.reason,
        changes=tuple(_moved_line(change) for change in weighed.changes) if proposed.is_open else (),
        words=tuple(one for one in differences(*books) if one.part != "limit") if proposed.is_open else (),
        signatures=tuple(
            f"{act.act.capitalize()} by {act.name}, {shown(local(act.at, zone), now)}" for act in proposed.acts
        ),
        stands=line.stands if not proposed.is_open else _wanted(proposed, weighed),
        looked_back=_looked_back(past) if past else "",
        shifts=tuple(_shift_line(shift, beds, now) for shift in past.shifts) if past else (),
        may_sign=proposed.is_open and not why_not,
        why_not=why_not if proposed.is_open else "",
        may_withdraw=may_withdraw and proposed.is_open,
        refused=refused,
    )


def proposal_line(proposed: Proposed, now: datetime) -> ProposalLine:
    says = "; ".join(f"{limit_words(name, '')} {value:g}" for name, value in proposed.changes.items())
    return ProposalLine(
        id=proposed.id,
        says=says,
        by=proposed.name,
        when=shown(local(proposed.at, zone_of(now)), now),
        stands=_stands(proposed),
        is_open=proposed.is_open,
    )


def _stands(proposed: Proposed) -> str:
    if proposed.became is not None:
        return f"Published as edition {proposed.became}."
    if proposed.is_withdrawn:
        return "Withdrawn."
    return sentence(many(len(proposed.signatures), "signature so far", "signatures so far"))


def _wanted(proposed: Proposed, weighed: Proposal) -> str:
    left = weighed.signatures_needed - len(proposed.signatures)
    why = (
        "a limit becomes looser, so two people sign" if weighed.is_looser else "every change is stricter, so one signs"
    )
    return sentence(f"{many(left, 'signature', 'signatures')} to come: {why}")


def _moved_line(change: Change) -> MovedLine:
    return MovedLine(
        name=limit_words(change.name, change.unit),
        old=f"{change.old:g}" if change.old is not None else "",
        new=f"{change.new:g}",
        unit=change.unit,
        direction=change.direction,
        refusal=change.refusal,
    )


def _looked_back(past: WhatIf) -> str:
    if not past.visits:
        return f"Nobody was drawn in the last {LOOK_BACK_DAYS} days, so there is nothing to judge again."
    broke = f" {many(past.not_judged, 'visit', 'visits').capitalize()} could not be judged." if past.not_judged else ""
    judged = many(past.visits, "visit", "visits")
    changed = f"{many(past.changed, 'visit', 'visits')} would have been told something else"
    newest = f" Only the newest {MOST:,} were looked at." if past.visits >= MOST else ""
    return f"{judged.capitalize()} of the last {LOOK_BACK_DAYS} days judged again: {changed}.{broke}{newest}"


def _shift_line(shift: Shift, beds: Mapping[str, str], now: datetime) -> ShiftLine:
    zone = zone_of(now)
    return ShiftLine(
        code=shift.code,
        says=_shift_words(shift.before, shift.after),
        findings=shift.findings,
        visits=shift.visits,
        examples=tuple(
            f"{shown(local(one.at, zone), now)}, {beds.get(one.visit, '')}".rstrip(", ") for one in shift.examples
        ),
    )


def _shift_words(before: Severity | None, after: Severity | None) -> str:
    if before is None:
        return f"would appear, as {after.value if after else ''}"
    if after is None:
        return f"would no longer appear (was {before.value})"
    return f"{before.value} would become {after.value}"
