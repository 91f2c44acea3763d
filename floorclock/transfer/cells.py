"""Rows of a CSV file (RFC 4180) that a spreadsheet cannot take for formulas.

Invariant: a text that begins like a formula is quoted with an apostrophe in front (OWASP ASVS 5, 1.2.10); numbers are left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\0")
QUOTE_MARK = "'"

_RISKY = (*FORMULA_STARTS, "\n", "＝", "＋", "－", "＠")
"""Full-width signs too: some spreadsheets read them as the plain ones."""


def row(values: Sequence[object]) -> str:
    """One line with its end. None is an empty field, true and false are words, a fraction is a decimal number."""
    return ",".join(_cell(value) for value in values) + "\r\n"


def unguarded(text: str) -> str:
    """A text without the apostrophe that kept a spreadsheet from taking it for a formula."""
    return text[1:] if text.startswith(QUOTE_MARK) and text[1:].startswith(_RISKY) else text


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Fraction):
        return str(int(value)) if value.denominator == 1 else str(float(value))
    if not isinstance(value, str):
        return str(value)
    # Half a surrogate pair has no UTF-8.
    text = value.encode("utf-8", "replace").decode("utf-8")
    risky = text.startswith(_RISKY)
    if not risky and not any(letter in text for letter in ',"\r\n'):
        return text
    doubled = text.replace('"', '""')
    return f'"{QUOTE_MARK if risky else ""}{doubled}"'
