"""A rulebook from its published text, so that what happened can be judged by the book of its day."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from bedside.clinical.containers import Container
from bedside.clinical.findings import Severity
from bedside.clinical.first_aid import FirstAid
from bedside.clinical.limits import Bounds, Limit
from bedside.clinical.rulebook import SCHEMA, Rulebook
from bedside.clinical.rulebook_volumes import BloodPerKg, SingleDraw, VolumeTables
from bedside.clinical.wording import FindingKind, Wording


class BookUnreadable(ValueError):
    """The text is no rulebook that this release can read."""


def read_book(text: str) -> Rulebook:
    """The book of a text: `read_book(book.text).text == book.text`.

    Its sentences have their numbers in them already, so it is for judging and comparing; a changed edition is made
    from the built-in book (`editions.with_changes`). Raises `BookUnreadable`.
    """
    try:
        told = json.loads(text)
        if told["schema"] != SCHEMA:
            raise BookUnreadable(f"The rulebook has schema {told['schema']!r}; this release reads {SCHEMA}.")
        return _book(told)
    except (KeyError, TypeError, AttributeError, json.JSONDecodeError) as error:
        raise BookUnreadable(f"The text is no rulebook: {error!r}. Judge by the book in force.") from error


def completed(book: Rulebook, today: Rulebook) -> Rulebook:
    """The book, with what today's rules ask for and an older book does not know taken from today's.

    A book that lacks nothing stays exactly as it is.
    """
    return replace(
        book,
        limits=_filled_up(book.limits, today.limits),
        containers=_filled_up(book.containers, today.containers),
        findings=_filled_up(book.findings, today.findings),
    )


def _filled_up(old: Mapping[str, Any], today: Mapping[str, Any]) -> Mapping[str, Any]:
    return {**old, **{name: row for name, row in today.items() if name not in old}}


def _book(told: Mapping[str, Any]) -> Rulebook:
    return Rulebook(
        edition=told["edition"],
        limits={name: _limit(row) for name, row in told["limits"].items()},
        containers={kind: Container(**row) for kind, row in told["containers"].items()},
        findings={code: _kind(code, row) for code, row in told["findings"].items()},
        first_aid={kind: _first_aid(row) for kind, row in told["first_aid"].items()},
        volumes=_volumes(told["volumes"]),
        alcohol_tests=tuple(told["alcohol_tests"]),
        alcohol_words=tuple(told["alcohol_words"]),
        letters=dict(told["letters"]),
    )


def _limit(row: Mapping[str, Any]) -> Limit:
    bounds = row["changeable"]
    return Limit(
        value=row["value"],
        unit=row["unit"],
        source=row["source"],
        since=date.fromisoformat(row["since"]),
        changeable=Bounds(**bounds) if bounds else None,
    )


def _kind(code: str, row: Mapping[str, Any]) -> FindingKind:
    wording = {Severity(severity): _wording(words) for severity, words in row["wording"].items()}
    afterwards = row.get("afterwards")
    return FindingKind(code, row["source"], wording, _wording(afterwards) if afterwards else None)


def _wording(words: Mapping[str, str]) -> Wording:
    return Wording(says=_literal(words["says"]), do_next=_literal(words["do_next"]))


def _first_aid(row: Mapping[str, Any]) -> FirstAid:
    return FirstAid(**{**row, "steps": tuple(_literal(step) for step in row["steps"])})


def _literal(text: str) -> str:
    """The text as it stands, where a book's wording would take braces for a number to be put in."""
    return text.replace("{", "{{").replace("}", "}}")


def _volumes(told: Mapping[str, Any]) -> VolumeTables:
    return VolumeTables(
        single_draws=tuple(SingleDraw(**row) for row in told["single_draws"]),
        blood_per_kg=tuple(BloodPerKg(**row) for row in told["blood_per_kg"]),
        other_sizes_ml={kind: tuple(sizes) for kind, sizes in told["other_sizes_ml"].items()},
    )
