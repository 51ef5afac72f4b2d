"""Bar codes and check digits: Code 128 as a string of modules, GS1 mod 10, nothing drawn here."""

from __future__ import annotations

from collections.abc import Sequence

from barcode.codex import Code128

MODULE_MM = 0.25
"""Width X of one module, mm (LB-09: GS1's typical value for healthcare, from memory)."""

QUIET_MODULES = 10
"""Empty modules on each side (LB-06: ISO/IEC 15417, secondary source)."""

CHARACTER_MODULES = 11
STOP_MODULES = 13

SPECIMEN_DIGITS = 10
GSRN_DIGITS = 18


SWITCH_TO_A, SWITCH_TO_B = 101, 100


class NotDigits(ValueError):
    """A check digit was asked for something that is not a row of the digits 0 to 9."""


class NotPrintable(ValueError):
    """A text holds a character Code 128 has no pattern for."""


class _Code128(Code128):  # type: ignore[misc]
    """Code 128 that keeps a first pair 99.

    The library folds a switch of code set right after the start into the start, and takes the pair 99 (also
    value 99) for such a switch: 9900000004 came out as 00000004. The start is always C here, so only A and B
    are switches.
    """

    def _try_to_optimize(self, encoded: list[int]) -> list[int]:
        if encoded[1] in (SWITCH_TO_A, SWITCH_TO_B):
            return list(super()._try_to_optimize(encoded))
        return encoded


def check_digit(digits: str) -> int:
    """Give the GS1 mod 10 check digit of a row of digits: weights 3, 1, 3, … from the right (LB-13)."""
    if not (digits.isascii() and digits.isdigit()):
        raise NotDigits(f"{digits!r} is not a row of digits, so it has no check digit. Give only 0 to 9.")
    weighted = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return -weighted % 10


def gsrn_check_digit(digits: str) -> int:
    """Give the 18th digit of a GS1 service relation number from its first 17 (ISO 18530 bands)."""
    if len(digits) != GSRN_DIGITS - 1:
        raise NotDigits(f"A service relation number has 17 digits before its check digit, not {len(digits)}.")
    return check_digit(digits)


def specimen_number(count: int) -> str:
    """Write the specimen number of a running count: nine digits and their check digit."""
    if not 0 <= count < 10 ** (SPECIMEN_DIGITS - 1):
        raise NotDigits(f"{count} does not fit into nine digits. Start a new range of specimen numbers.")
    body = f"{count:0{SPECIMEN_DIGITS - 1}d}"
    return f"{body}{check_digit(body)}"


def is_specimen_number(text: str) -> bool:
    """Report whether a text is ten digits of which the last checks the others."""
    if len(text) != SPECIMEN_DIGITS or not (text.isascii() and text.isdigit()):
        return False
    return check_digit(text[:-1]) == int(text[-1])


def check_value(values: Sequence[int]) -> int:
    """Give the Code 128 check value: start plus each value times its place, mod 103 (LB-07)."""
    start, *rest = values
    return (start + sum(place * value for place, value in enumerate(rest, start=1))) % 103


def modules(text: str) -> str:
    """Draw a text as Code 128: one character a module, `1` dark and `0` light, without quiet zones.

    Ten digits come out in code set C: start, five pairs, check and stop, 90 modules (W28).
    """
    if not text or not all(" " <= character <= "~" for character in text):
        raise NotPrintable(f"{text!r} has no bar code. Use printable ASCII letters, digits and signs.")
    return str(_Code128(text).build()[0])


def width_mm(drawn: str, module_mm: float = MODULE_MM) -> float:
    """Give the room a bar code takes on the label in mm, its two quiet zones included (LB-08)."""
    return (len(drawn) + 2 * QUIET_MODULES) * module_mm
