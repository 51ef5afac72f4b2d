"""What a specimen label says, before anyone decides where on the label it stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

WITHOUT_CAPITALS = range(0x10D0, 0x1100)
"""Georgian: Unicode has capitals for it, but hardly a font has and nobody writes names in them."""

DOTTED_I = frozenset({"tr", "az"})
"""Languages in which the capital of i keeps its dot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelContent:
    """One label's words.

    name: "Family, Given"; empty on a spare label.
    record_number, birth_date: empty and None on a spare label.
    specimen: ten digits, the last a check digit.
    tube: the container in a word or two, as the phlebotomist says it.
    tests: short names, as many as fit are printed.
    language: the patient's, where the capitals depend on it.
    """

    name: str
    record_number: str
    birth_date: date | None
    specimen: str
    tube: str
    tests: tuple[str, ...] = ()
    language: str = ""

    @classmethod
    def spare(cls, specimen: str) -> LabelContent:
        """A label carried along for a tube nobody planned: the tablet fills in the patient and the tube."""
        return cls(name="", record_number="", birth_date=None, specimen=specimen, tube="")

    @property
    def is_spare(self) -> bool:
        return not self.record_number

    @property
    def family(self) -> str:
        """The family name in capitals, so that it cannot be taken for a given name."""
        return capitals(self.name.partition(",")[0].strip(), self.language)

    @property
    def given(self) -> str:
        return self.name.partition(",")[2].strip()


def capitals(text: str, language: str = "") -> str:
    """Write a name in capitals, letter by letter; a letter without one capital of its own stays (ß)."""
    if language.partition("-")[0].lower() in DOTTED_I:
        text = text.replace("i", "İ")
    return "".join(_capital(letter) for letter in text)


def _capital(letter: str) -> str:
    upper = letter.upper()
    return letter if len(upper) != 1 or ord(letter) in WITHOUT_CAPITALS else upper
