"""The house's pages as data: orders, people, tablets, the test directory, the audit record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from bedside.clinical.container_sizes import ContainerSize
from bedside.clinical.directory import Directory
from bedside.exchange.trouble import Trouble
from bedside.exchange.trouble import shown as quoted
from bedside.people.roles import ROLE_WORDS, Role
from bedside.records.carried_rounds import RoundOut
from bedside.records.house_now import FileTaken, Noted, TabletSeen
from bedside.records.tables import Person
from bedside.rounds.handing_back import hangs_on
from bedside.web.container_words import container_name
from bedside.web.counting import many, sentence
from bedside.web.desk import Desk
from bedside.web.story import plain
from bedside.web.times import ago, local, shown, zone_of

GRACE = timedelta(hours=1)
"""So long after the end of its round a tablet that was not handed back is looked for."""

TRIED_OUT_SHOWN = timedelta(days=7)
"""So long a tablet on which ten PINs were wrong stands at the head of the page; its own line keeps it (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BadCell:
    """One cell of an orders file that stops it."""

    line: int
    column: str
    value: str
    says: str
    do_next: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileLine:
    name: str
    rows: int
    when: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrdersPage:
    """Taking orders in: the form, what is wrong with the file just sent, and the files taken before."""

    desk: Desk
    form: Any
    required: tuple[str, ...]
    optional: tuple[str, ...]
    refused: str
    bad_cells: tuple[BadCell, ...]
    files: tuple[FileLine, ...]

    @classmethod
    def of(
        cls,
        desk: Desk,
        form: Any,
        columns: tuple[Sequence[str], Sequence[str]],
        files: Iterable[FileTaken],
        now: datetime,
        refused: str = "",
        troubles: Sequence[Trouble] = (),
    ) -> OrdersPage:
        zone = zone_of(now)
        return cls(
            desk=desk,
            form=form,
            required=tuple(columns[0]),
            optional=tuple(columns[1]),
            refused=refused,
            bad_cells=tuple(
                BadCell(
                    line=one.line,
                    column=one.column,
                    value=quoted(one.value),
                    says=one.says,
                    do_next=one.do_next,
                )
                for one in troubles
            ),
            files=tuple(
                FileLine(name=one.name, rows=one.rows, when=shown(local(one.at, zone), now), by=one.by) for one in files
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonLine:
    id: str
    name: str
    sign_in: str
    role: str
    role_said: str
    ward: str
    since: str
    disabled: str
    is_me: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PeoplePage:
    """Everybody who has an account, and the form for a new one."""

    desk: Desk
    people: tuple[PersonLine, ...]
    roles: tuple[tuple[str, str], ...]
    wards: tuple[tuple[str, str], ...]
    typed: Mapping[str, str]
    wrong: str

    @classmethod
    def of(
        cls,
        desk: Desk,
        people: Iterable[Person],
        wards: Mapping[str, str],
        me: str,
        now: datetime,
        typed: Mapping[str, str],
        wrong: str = "",
    ) -> PeoplePage:
        zone = zone_of(now)
        return cls(
            desk=desk,
            people=tuple(_person_line(person, wards, me, now, zone) for person in people),
            roles=tuple((role.value, words) for role, words in ROLE_WORDS.items()),
            wards=tuple(wards.items()),
            typed={"name": "", "sign_in": "", "role": "", "ward": "", **typed},
            wrong=wrong,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TabletLine:
    id: str
    name: str
    person: str
    heard: str
    events: int
    clock: str
    is_revoked: bool
    use: str
    key: str
    carries: str
    is_overdue: bool
    pins: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCode:
    """An enrolment code, shown this once."""

    code: str
    name: str
    minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundLine:
    """A round that is out, in words; `hangs_on` is what keeps it open after its tablet was handed back."""

    id: str
    name: str
    person: str
    taken: str
    left: str
    hangs_on: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TabletsPage:
    """Every tablet that has been heard, the latest first; those not handed back in time; those on which ten PINs were
    wrong; the rounds that are out; a new tablet's code.
    """

    desk: Desk
    headline: str
    tablets: tuple[TabletLine, ...]
    overdue: tuple[TabletLine, ...]
    tried_out: tuple[TabletLine, ...]
    rounds: tuple[RoundLine, ...]
    wrong: str
    code: NewCode | None

    @classmethod
    def of(
        cls,
        desk: Desk,
        tablets: Sequence[TabletSeen],
        rounds: Sequence[RoundOut],
        now: datetime,
        wrong: str = "",
        code: NewCode | None = None,
    ) -> TabletsPage:
        lines = tuple(_tablet_line(tablet, now, zone_of(now)) for tablet in tablets)
        heard = sentence(many(len(tablets), "tablet has been heard", "tablets have been heard"))
        return cls(
            desk=desk,
            headline=heard if tablets else "No tablet has been heard yet.",
            tablets=lines,
            overdue=tuple(line for line in lines if line.is_overdue),
            tried_out=tuple(line for line, seen in zip(lines, tablets, strict=True) if _is_recent(seen, now)),
            rounds=tuple(_round_line(out, now, zone_of(now)) for out in rounds),
            wrong=wrong,
            code=code,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TestLine:
    """One test of the directory, in words."""

    __test__ = False

    name: str
    short: str
    code: str
    loinc: str
    containers: str
    least: str
    care: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeLine:
    """One size of a container, in words."""

    kind: str
    holds: str
    least: str
    whom: str
    source: str


APART_WORDS = {
    "section": "tests of two sections of the laboratory",
    "light": "what is kept from light, and what is not",
    "timed": "levels of two kinds, and what is no level",
    "blood": "whole blood, and what is separated",
}
"""What a laboratory may keep apart, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectoryPage:
    """The laboratory's test directory as it is in force."""

    desk: Desk
    version: str
    is_built_in: bool
    may_sign: bool
    sections: tuple[tuple[str, tuple[TestLine, ...]], ...]
    sizes: tuple[SizeLine, ...]
    keeps_apart: tuple[tuple[str, str], ...]

    @classmethod
    def of(cls, desk: Desk, directory: Directory, *, is_built_in: bool, may_sign: bool) -> DirectoryPage:
        sections = list(dict.fromkeys(test.section for test in directory.tests))
        return cls(
            desk=desk,
            version=directory.version,
            is_built_in=is_built_in,
            may_sign=may_sign,
            sections=tuple(
                (section or "other", tuple(_test_line(test) for test in directory.tests if test.section == section))
                for section in sections
            ),
            sizes=tuple(_size_line(size) for size in directory.sizes),
            keeps_apart=tuple((APART_WORDS[kept.fact], kept.source) for kept in directory.keeps_apart),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditLine:
    seq: int
    when: str
    who: str
    action: str
    object: str
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditPage:
    """Whether the audit record holds, and its newest lines."""

    desk: Desk
    headline: str
    fault: str
    head: str
    lines: tuple[AuditLine, ...]

    @classmethod
    def of(cls, desk: Desk, fault: str | None, head: str | None, lines: Iterable[Noted], now: datetime) -> AuditPage:
        zone = zone_of(now)
        return cls(
            desk=desk,
            headline="The audit record does not hold." if fault else "The audit record holds, from first to last.",
            fault=f"First fault: {fault}." if fault else "",
            head=head or "",
            lines=tuple(
                AuditLine(
                    seq=line.seq,
                    when=shown(local(line.at, zone), now),
                    who=line.who,
                    action=line.action,
                    object=line.object,
                    result=line.result,
                )
                for line in lines
            ),
        )


def _person_line(person: Person, wards: Mapping[str, str], me: str, now: datetime, zone: ZoneInfo) -> PersonLine:
    return PersonLine(
        id=person.id,
        name=person.name,
        sign_in=person.sign_in,
        role=person.role,
        role_said=ROLE_WORDS.get(Role(person.role), person.role) if person.role in set(Role) else person.role,
        ward=f"ward {wards[person.ward_id]}" if person.ward_id in wards else "",
        since=shown(local(person.made_at, zone), now),
        disabled=shown(local(person.disabled_at, zone), now) if person.disabled_at else "",
        is_me=person.id == me,
    )


def _tablet_line(tablet: TabletSeen, now: datetime, zone: ZoneInfo) -> TabletLine:
    heard = local(tablet.last_seen_at, zone)
    return TabletLine(
        id=tablet.id,
        name=tablet.name or "no name",
        person=tablet.person or "nobody",
        heard=f"{shown(heard, now)}, {ago(heard, now)}",
        events=tablet.top_seq,
        clock=clock_words(tablet.skew_ms),
        is_revoked=tablet.revoked_at is not None,
        use=_use_sentence(tablet, now, zone),
        key="enrolled, signs what it sends" if tablet.is_enrolled else "not enrolled",
        carries=_carries_sentence(tablet, now, zone),
        is_overdue=is_overdue(tablet, now),
        pins=_pins_sentence(tablet, now, zone),
    )


def _pins_sentence(tablet: TabletSeen, now: datetime, zone: ZoneInfo) -> str:
    if tablet.pins_used_up is None:
        return ""
    wrong = tablet.pins_used_up
    when, heard = (shown(local(text, zone), now) for text in (wrong.at, wrong.heard_at))
    return f"ten wrong PINs for {wrong.person}, {when} by its clock: that round was wiped from it (told {heard})"


def _is_recent(tablet: TabletSeen, now: datetime) -> bool:
    """Report whether ten PINs were wrong on this tablet lately, so that somebody should ask who tried."""
    wrong = tablet.pins_used_up
    return wrong is not None and now < local(wrong.heard_at, zone_of(now)) + TRIED_OUT_SHOWN


def _round_line(out: RoundOut, now: datetime, zone: ZoneInfo) -> RoundLine:
    return RoundLine(
        id=out.id,
        name=out.name,
        person=out.person_name,
        taken=shown(local(out.taken_at, zone), now),
        left=many(out.left, "visit has not ended", "visits have not ended"),
        hangs_on=hangs_on(out),
    )


def is_overdue(tablet: TabletSeen, now: datetime) -> bool:
    """Report whether a tablet should have been handed back: its round ended an hour ago or more."""
    until = tablet.carries_until
    return until is not None and tablet.revoked_at is None and now >= local(until, zone_of(now)) + GRACE


def _carries_sentence(tablet: TabletSeen, now: datetime, zone: ZoneInfo) -> str:
    if tablet.carries_until is not None:
        return f"carries a round until {shown(local(tablet.carries_until, zone), now)}"
    if tablet.handed_back_at is not None:
        when = shown(local(tablet.handed_back_at, zone), now)
        return f"handed back {when}: 0 patients, {tablet.unsent_then or 0} unsent"
    return ""


def _use_sentence(tablet: TabletSeen, now: datetime, zone: ZoneInfo) -> str:
    """Why a tablet is out of use, or back in use; empty for one that always was."""
    used = tablet.latest_use
    if used is None:
        return "out of use" if tablet.revoked_at else ""
    what = "out of use" if used.act == "revoked" else "back in use"
    return f"{what} since {shown(local(used.at, zone), now)}, by {used.by}: {used.reason}"


def clock_words(skew_ms: int | None) -> str:
    """How far a tablet's clock is off; skew is server minus tablet, so above 0 the tablet is slow."""
    if skew_ms is None:
        return "not measured yet"
    seconds = abs(skew_ms) / 1000
    if seconds < 1:
        return "right to a second"
    return f"{seconds:,.0f} s {'slow' if skew_ms > 0 else 'fast'}"


def _test_line(test: Any) -> TestLine:
    joined = " and " if test.is_culture else " or "
    care = [plain(word) for word in sorted(test.handling)]
    care += ["full draw"] if test.full_draw else []
    care += [BLOOD_WORDS[test.blood]] if test.blood else []
    care += [f"in the laboratory within {test.in_lab_min} min"] if test.in_lab_min else []
    return TestLine(
        name=test.name,
        short=test.short,
        code=test.code,
        loinc=test.loinc,
        containers=joined.join(container_name(kind) for kind in test.containers),
        least=f"{test.min_ml:g} mL",
        care=", ".join(care),
        source=test.source,
    )


BLOOD_WORDS = {"whole": "whole blood", "separated": "separated from its cells"}


def _size_line(size: ContainerSize) -> SizeLine:
    return SizeLine(
        kind=container_name(size.kind),
        holds=f"{size.nominal_ml:g} mL",
        least=f"{size.min_fill_ml:g} mL" if size.min_fill_ml else "",
        whom={"child": "children", "adult": "adults"}.get(size.for_whom, "everybody"),
        source=size.source,
    )
