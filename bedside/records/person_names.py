"""A person's name behind an id."""

from __future__ import annotations

from bedside.records.tables import Person


def person_name(person: str | None) -> str:
    """A person's name, or the claimed id where no such person is known."""
    if person is None:
        return "nobody named"
    known = Person.get_or_none(Person.id == person)
    return known.name if known else person
