"""The rulebook's pages as data: the rule sheet, a change and what it would have done, proposals, editions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bedside.clinical.book_text import BookUnreadable, read_book
from bedside.clinical.editions import Change, Difference, Proposal, differences
from bedside.clinical.findings import Severity
from bedside.clinical.limits import Bounds, Limit
from bedside.clinical.rulebook import Rulebook
from bedside.records.rulebooks import Proposed, Published
from bedside.reports.what_if import Shift, WhatIf
from bedside.sync.past_visits import MOST
from bedside.web.counting import many, sentence
from bedside.web.desk import Desk
from bedside.web.story import plain
from bedside.web.times import local, shown, zone_of

UNIT_ENDINGS = frozenset({"s", "min", "h", "ml", "kg", "percent", "days", "months", "years"})

BOUNDS = {"min": "at least", "max": "at most", "best": "at best"}

UNSIGNED = "Nobody at this site has signed it yet."

LOOK_BACK_DAYS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One limit as it rules. `bounds` says how far a site may move it and which way is stricter."""

    key: str
    name: str
    value: str
    unit: str
    source: str
    since: str
    bounds: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    code: str
    severity: str
    says: str
    do_next: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ContainerLine:
    position: int
    name: str
    additive: str
    cap: str
    inversions: int
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AidLine:
    title: str
    steps: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPage:
    """The rule sheet: every limit, every finding, the order of draw, first steps. Prints for signing."""

    desk: Desk
    hash: str
    edition: str
    limits: tuple[LimitLine, ...]
    findings: tuple[FindingLine, ...]
    containers: tuple[ContainerLine, ...]
    first_aid: tuple[AidLine, ...]
    waiting: str
    may_propose: bool

    @classmethod
    def of(
        cls, desk: Desk, book: Rulebook, edition: Published | None, waiting: int, now: datetime, *, may_propose: bool
    ) -> SheetPage:
        return cls(
            desk=desk,
            hash=book.hash,
            edition=edition_sentence(edition, book, now),
            limits=tuple(limit_line(name, limit) for name, limit in book.limits.items()),
            findings=tuple(_finding_lines(book)),
            containers=tuple(_container_lines(book)),
            first_aid=tuple(
                AidLine(title=row.title, steps=book.first_steps(kind), source=row.source)
                for kind, row in book.first_aid.items()
            ),
            waiting=sentence(many(waiting, "change waits for a signature", "changes wait for a signature"))
            if waiting
            else "",
            may_propose=may_propose,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeLine:
    """One limit on the form, with what was typed so far."""

    limit: LimitLine
    typed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePage:
    """The form for a change: every limit a site may move, and the reason."""

    desk: Desk
    form: Any
    limits: tuple[ChangeLine, ...]
    refused: tuple[str, ...]

    @classmethod
    def of(
        cls, desk: Desk, form: Any, book: Rulebook, typed: Mapping[str, str], refused: Sequence[str] = ()
    ) -> ChangePage:
        lines = (limit_line(name, limit) for name, limit in book.limits.items() if limit.changeable)
        return cls(
            desk=desk,
            form=form,
            limits=tuple(ChangeLine(limit=line, typed=typed.get(line.key, line.value)) for line in lines),
            refused=tuple(refused),
        )


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


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionLine:
    """One kept book in the history."""

    hash: str
    name: str
    since: str
    signed: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EditionsPage:
    """The history of the rulebook, and what lies between two editions of it."""

    desk: Desk
    editions: tuple[EditionLine, ...]
    old: str
    new: str
    compared: str
    differences: tuple[Difference, ...]

    @classmethod
    def of(cls, desk: Desk, editions: Sequence[Published], old: str, new: str, now: datetime) -> EditionsPage:
        kept = {one.hash: one for one in editions}
        found, said = _between(kept.get(old), kept.get(new))
        return cls(
            desk=desk,
            editions=tuple(_edition_line(one, now) for one in editions),
            old=old,
            new=new,
            compared=said,
            differences=found,
        )


def edition_sentence(edition: Published | None, book: Rulebook, now: datetime) -> str:
    """Which edition rules, since when and who signed it."""
    if not book.edition:
        return f"The built-in edition. {UNSIGNED}"
    since = f" In force since {shown(local(edition.since, zone_of(now)), now)}." if edition else ""
    signed = f" {_signed(edition)}." if edition and edition.signed_by else ""
    reason = f" {edition.reason}" if edition and edition.reason else ""
    return f"Edition {book.edition} of this site.{since}{signed}{reason}"


def limit_line(name: str, limit: Limit) -> LimitLine:
    return LimitLine(
        key=name,
        name=limit_words(name, limit.unit),
        value=f"{limit.value:g}",
        unit=limit.unit,
        source=limit.source,
        since=limit.since.isoformat(),
        bounds=bounds_words(limit.changeable),
    )


def bounds_words(bounds: Bounds | None) -> str:
    """`30 to 60, lower is stricter`; `fixed` for one that no site may change."""
    return f"{bounds.low:g} to {bounds.high:g}, {bounds.stricter} is stricter" if bounds else "fixed"


def limit_words(name: str, unit: str) -> str:
    """`Tourniquet, at most` for `tourniquet_max_s`: the unit stands in its own column."""
    words = name.split("_")
    if len(words) > 1 and words[-1] in UNIT_ENDINGS and (words[-1] != "min" or unit.startswith("min")):
        words.pop()
    bound = next((BOUNDS[word] for word in words if word in BOUNDS), "")
    said = " ".join(word for word in words if word not in BOUNDS).capitalize()
    return f"{said}, {bound}" if bound else said


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


def _edition_line(one: Published, now: datetime) -> EditionLine:
    return EditionLine(
        hash=one.hash,
        name=f"Edition {one.number}" if one.number else "Brought by a release",
        since=shown(local(one.since, zone_of(now)), now),
        signed=_signed(one) if one.signed_by else "not signed",
        reason=one.reason,
    )


def _signed(one: Published) -> str:
    return f"Signed by {one.signed_by} and {one.second_by}" if one.second_by else f"Signed by {one.signed_by}"


def _between(old: Published | None, new: Published | None) -> tuple[tuple[Difference, ...], str]:
    if old is None or new is None:
        return (), ""
    try:
        found = differences(read_book(old.text), read_book(new.text))
    except BookUnreadable as unreadable:
        return (), f"These two cannot be compared: {unreadable}"
    return found, sentence(many(len(found), "difference", "differences"))


def _finding_lines(book: Rulebook) -> Iterable[FindingLine]:
    for code, kind in book.findings.items():
        for severity in sorted(kind.wording, key=lambda each: each.rank):
            words = kind.wording[severity]
            yield FindingLine(
                code=code,
                severity=severity.value,
                says=book.filled(words.says),
                do_next=book.filled(words.do_next),
                source=kind.source,
            )
        afterwards = book.afterwards(code)
        if afterwards:
            yield FindingLine(
                code=code,
                severity="afterwards",
                says=afterwards.says,
                do_next=afterwards.do_next,
                source=kind.source,
            )


def _container_lines(book: Rulebook) -> Iterable[ContainerLine]:
    for row in book.containers.values():
        yield ContainerLine(
            position=row.group + 1,
            name=row.name,
            additive=row.additive,
            cap=f"{row.cap}, {plain(row.pattern)}",
            inversions=row.inversions,
            source=row.source,
        )
