"""Small mistakes in one of the tablet's scripts, one at a time, found in its list of tokens."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from tests.javascript import Token, tokens
from tests.mutations.letters import forgotten
from tests.mutations.mistake import Mistake, made, once_each
from tests.mutations.python_mistakes import NEXT_CODE, NEXT_LIMIT

TAKEN_FOR = {
    "<": ("<=", ">"), "<=": ("<", ">="), ">": (">=", "<"), ">=": (">", "<="),
    "===": ("!==",), "!==": ("===",), "==": ("!=",), "!=": ("==",), "&&": ("||",), "||": ("&&",), "+=": ("-=",),
    "true": ("false",), "false": ("true",),
    "STOP": ("ASK", "NOTE"), "ASK": ("STOP", "NOTE"), "NOTE": ("STOP", "ASK"),
    "some": ("every",), "every": ("some",), "max": ("min",), "min": ("max",),
    "longer_s": ("shorter_s",), "shorter_s": ("longer_s",), "at_ms": ("skew_ms",), "sharedMs": ("Math.abs",),
    "filled": ("last_fill",), "last_fill": ("filled",), "tablet": ("page",), "page": ("tablet",),
}  # fmt: skip
BETWEEN_VALUES = {"+": "-", "-": "+", "*": "/", "/": "*", "%": "/"}
OTHER_DEFAULT = {"0": "1", "false": "true", "''": "'other'", "null": "'other'", "'straight'": "'winged'"}
OPENS, CLOSES = "([{", ")]}"
ENDS_AN_OPERAND = {"&&", "||", "??", "?", ":", ";", ",", "=>", "=", "return", "yield", "of", "...", "case"}
ENDS_A_CONDITION = ENDS_AN_OPERAND - {"&&", "||", "??"}
BEFORE_A_LITERAL = {"=", "(", ",", ":", "[", "return", "??", "?", "...", "of", "yield"}
NO_EXPRESSION = {
    "const", "let", "return", "if", "for", "while", "function", "import", "export", "else", "continue", "}", "{", ";",
}  # fmt: skip


def mistakes(file: str, source: str) -> list[Mistake]:
    """Every mistake there is to be made in this script."""
    script = Script(file, source, tokens(source))
    ways = (words, sums, dropped_operands, conditions, defaults, missing_elements, unsaid, letters_of)
    return once_each([mistake for way in ways for mistake in way(script)])


@dataclass(frozen=True, slots=True)
class Script:
    """A script with its tokens. Places are places in the list of tokens."""

    file: str
    source: str
    tokens: list[Token]

    def text(self, place: int) -> str:
        return self.tokens[place].text if 0 <= place < len(self.tokens) else ""

    def changed(self, first: int, last: int, new: str) -> Mistake:
        """`new` in place of the tokens from first to last, both included."""
        return made(self.file, self.source, self.tokens[first].start, self.tokens[last].end, new)

    def partner(self, place: int) -> int:
        """The bracket that closes the one at `place`."""
        depth = 0
        for at in range(place, len(self.tokens)):
            depth += (self.text(at) in OPENS) - (self.text(at) in CLOSES)
            if depth == 0:
                return at
        raise ValueError(f"{self.file}: a bracket is not closed")

    def left_of(self, place: int, ends: set[str]) -> int:
        """Where the operand before `place` begins."""
        depth, at = 0, place - 1
        while at >= 0:
            text = self.text(at)
            depth += (text in CLOSES) - (text in OPENS)
            if depth < 0 or (depth == 0 and (text in ends or (text == "}" and at != place - 1))):
                return at + 1
            at -= 1
        return 0

    def right_of(self, place: int, ends: set[str]) -> int:
        """Where the operand after `place` ends."""
        depth, at = 0, place + 1
        while at < len(self.tokens):
            text = self.text(at)
            if depth == 0 and (text in CLOSES or text in ends):
                return at - 1
            depth += (text in OPENS) - (text in CLOSES)
            at += 1
        return at - 1

    def is_value(self, place: int) -> bool:
        """Report whether the token ends a value, so that what follows stands between two."""
        token = self.tokens[place]
        if token.kind in ("number", "string", "template") or token.text in (")", "]"):
            return True
        return token.kind == "word" and token.text not in ("return", "yield", "of", "const", "case", "function")


def words(script: Script) -> Iterator[Mistake]:
    """One word or sign taken for another: comparisons, severities, limits, codes, clocks."""
    for place, token in enumerate(script.tokens):
        if script.text(place - 1) == "const" or _is_imported(script, place):
            continue
        for other in TAKEN_FOR.get(token.text, ()):
            yield script.changed(place, place, other)
        if token.kind == "number":
            yield script.changed(place, place, repr((float if "." in token.text else int)(token.text) + 1))
        if token.kind == "string" and token.text[1:-1] in NEXT_LIMIT:
            yield script.changed(place, place, repr(NEXT_LIMIT[token.text[1:-1]]))
        if token.kind == "string" and token.text[1:-1] in NEXT_CODE:
            yield script.changed(place, place, repr(NEXT_CODE[token.text[1:-1]]))


def _is_imported(script: Script, place: int) -> bool:
    """Report whether the token stands in an import; ours stand at the head of the file."""
    last = max((at for at, token in enumerate(script.tokens) if token.text == "from"), default=-1)
    return place <= last


def sums(script: Script) -> Iterator[Mistake]:
    """Plus for minus, the first for the last, a `not` forgotten."""
    for place, token in enumerate(script.tokens):
        if token.text in BETWEEN_VALUES and token.kind == "mark" and script.is_value(place - 1):
            yield script.changed(place, place, BETWEEN_VALUES[token.text])
        if token.text == "!" and token.kind == "mark":
            yield script.changed(place, place, "")
        if token.text == "-" and not script.is_value(place - 1) and script.text(place + 1) == "1":
            yield script.changed(place, place + 1, "0")


def dropped_operands(script: Script) -> Iterator[Mistake]:
    """One of two conditions forgotten."""
    for place, token in enumerate(script.tokens):
        if token.text in ("&&", "||"):
            yield script.changed(script.left_of(place, ENDS_AN_OPERAND), place, "")
            yield script.changed(place, script.right_of(place, ENDS_AN_OPERAND), "")


def conditions(script: Script) -> Iterator[Mistake]:
    """A branch that is always or never taken."""
    for place, token in enumerate(script.tokens):
        if token.text == "if" and script.text(place + 1) == "(":
            first, last = place + 2, script.partner(place + 1) - 1
        elif token.text == "?" and token.kind == "mark":
            first, last = script.left_of(place, ENDS_A_CONDITION), place - 1
        else:
            continue
        yield script.changed(first, last, "true")
        yield script.changed(first, last, "false")


def defaults(script: Script) -> Iterator[Mistake]:
    """A default that is another, or none."""
    for place, token in enumerate(script.tokens):
        if token.text not in ("??", "??="):
            continue
        last = script.right_of(place, ENDS_AN_OPERAND)
        if token.text == "??=":
            yield script.changed(place, place, "=")
            continue
        yield script.changed(place, last, "")
        if last == place + 1 and script.text(last) in OTHER_DEFAULT:
            yield script.changed(last, last, OTHER_DEFAULT[script.text(last)])


def missing_elements(script: Script) -> Iterator[Mistake]:
    """One case of a list, one field of a record forgotten."""
    for place, token in enumerate(script.tokens):
        if token.text not in ("[", "{") or _is_imported(script, place):
            continue
        if script.text(place - 1) not in BEFORE_A_LITERAL or script.text(script.partner(place) + 1) == "=":
            continue
        if token.text == "{" and not _is_record(script, place):
            continue
        yield from _without_each(script, place)


def _is_record(script: Script, place: int) -> bool:
    return script.text(place + 2) in (":", ",", "}", "(") or script.text(place + 1) == "..."


def _without_each(script: Script, place: int) -> Iterator[Mistake]:
    end = script.partner(place)
    first = place + 1
    while first < end:
        last = script.right_of(first - 1, {","})
        until = last + 1 if script.text(last + 1) == "," else last
        yield script.changed(first, until, "")
        first = last + 2


def unsaid(script: Script) -> Iterator[Mistake]:
    """A whole statement forgotten, or a way out."""
    for place in range(1, len(script.tokens)):
        if script.text(place - 1) not in (";", "{", "}", ")", "else") or _is_imported(script, place):
            continue
        text = script.text(place)
        if text in ("continue", "return") and script.text(place + 1) == ";":
            yield script.changed(place, place + 1, ";")
        elif script.tokens[place].kind == "word" and text not in NO_EXPRESSION:
            last = script.right_of(place - 1, {";"})
            if script.text(last + 1) == ";":
                yield script.changed(place, last + 1, ";")


def letters_of(script: Script) -> Iterator[Mistake]:
    yield from forgotten(script.file, script.source)
