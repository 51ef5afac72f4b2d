"""The rule sheet as data: every limit, every finding, the order of draw, first steps."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from bedside.clinical.rulebook import Rulebook
from bedside.records.rulebooks import Published
from bedside.web.counting import many, sentence
from bedside.web.desk import Desk
from bedside.web.limit_lines import LimitLine, limit_line
from bedside.web.rulebook_editions import edition_sentence
from bedside.web.story import plain


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
