"""Durations, from the text as the coach wrote it to milliseconds and back.

Invariant: what is read is exact; a text that could mean two things, or nothing, is refused with words and an example.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from typing import overload

DAY_MS = 24 * 60 * 60 * 1000
LONGEST_TEXT = 40
"""No number of ours needs more characters; whoever writes more gets a problem, not a long computation."""

_CLOCK = re.compile(r"(?:(?P<hours>[0-9]{1,3}):)?(?P<minutes>[0-9]{1,4}):(?P<seconds>[0-9]{1,3})(?P<part>\.[0-9]{1,6})?")
_AMOUNT = re.compile(r"(?P<number>[0-9]{1,9}(?:\.[0-9]{1,6})?)\s*(?P<unit>[a-z]*)")
_UNIT_MS = {
    "": 1000,
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1000),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 60_000),
    **dict.fromkeys(("h", "hour", "hours"), 3_600_000),
}
_EXAMPLES = "write it like 45, 0:45, 12:30, 1:00:00, 90s or 2 min"
REFUSED_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Of characters that a terminal could obey, or that nobody sees."""


class UnreadableError(ValueError):
    """A text that cannot be what it should be: `message` says why, `hint` gives a valid example."""

    def __init__(self, message: str, hint: str = "") -> None:
        self.message = message
        self.hint = hint
        super().__init__(f"{message} ({hint})" if hint else message)


def shown(text: str, longest: int = 30) -> str:
    """A text quoted inside a message: short, and with nothing in it that a terminal could obey."""
    start = text[:longest]
    safe = "".join(f"<U+{ord(letter):04X}>" if unicodedata.category(letter) in REFUSED_CATEGORIES else letter for letter in start)
    return f"`{safe}{'...' if len(text) > longest else ''}`"


def parse_duration_ms(text: str) -> int:
    """The milliseconds of a duration: `45`, `0:45`, `12:30`, `1:00:00`, `90s`, `2 min`, `1.5 min`, `0:07.5`.

    Raises:
        UnreadableError: a `ValueError` in plain words, with a valid example as its hint.
    """
    tidy = text.strip().lower()
    if not tidy or len(tidy) > LONGEST_TEXT:
        raise UnreadableError(f"{shown(text)} is no duration", _EXAMPLES)
    clock = _CLOCK.fullmatch(tidy)
    exact = _clock_ms(clock, tidy) if clock else _amount_ms(tidy)
    if exact.denominator != 1:
        raise UnreadableError(f"{shown(text)} is finer than a millisecond", "write it like 0:07.5")
    if exact > DAY_MS:
        raise UnreadableError(f"{shown(text)} is longer than a day", "the longest duration is 24:00:00")
    return int(exact)


def _clock_ms(found: re.Match[str], tidy: str) -> Fraction:
    hours, minutes, seconds = found["hours"], found["minutes"], found["seconds"]
    whole = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)
    if any(len(field) != 2 or int(field) > 59 for field in ([seconds] if hours is None else [minutes, seconds])):
        hint = _EXAMPLES if whole * 1000 > DAY_MS else f"did you mean {duration_words(whole * 1000)}?"
        raise UnreadableError(f"{shown(tidy)} is no duration: after a colon come two digits, 00 to 59", hint)
    return (whole + Fraction("0" + (found["part"] or ""))) * 1000


def _amount_ms(tidy: str) -> Fraction:
    found = _AMOUNT.fullmatch(tidy)
    if found is None or found["unit"] not in _UNIT_MS:
        raise UnreadableError(f"{shown(tidy)} is no duration", _EXAMPLES)
    return Fraction(found["number"]) * _UNIT_MS[found["unit"]]


@overload
def seconds(ms: float) -> int | float: ...
@overload
def seconds(ms: float | None) -> int | float | None: ...
def seconds(ms: float | None) -> int | float | None:
    """Milliseconds as the seconds that programs read: a whole number where it is one; None stays None."""
    if ms is None:
        return None
    return int(ms // 1000) if ms % 1000 == 0 else ms / 1000


def minutes_words(duration_ms: int) -> str:
    """A length that nobody takes for a time of day: `12 min`, and with its seconds where there are any `0:45`, `7:30`."""
    minutes, rest_ms = divmod(duration_ms, 60_000)
    return duration_words(duration_ms) if rest_ms or not minutes else f"{minutes} min"


def duration_words(duration_ms: int) -> str:
    """A duration as a coach would write it: `0:45`, `12:30`, `1:00:00`, with tenths (or finer) only when there are any."""
    sign = "-" if duration_ms < 0 else ""
    whole, rest_ms = divmod(abs(duration_ms), 1000)
    tail = f".{rest_ms:03d}".rstrip("0") if rest_ms else ""
    minutes, seconds = divmod(whole, 60)
    if minutes < 60:
        return f"{sign}{minutes}:{seconds:02d}{tail}"
    return f"{sign}{minutes // 60}:{minutes % 60:02d}:{seconds:02d}{tail}"


def whole_words(duration_ms: int | Fraction) -> str:
    """A planned time to the second: the lengths of a shuttle ladder come to fractions that nobody plans by."""
    return duration_words(round(duration_ms / 1000) * 1000)


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def in_words(number: int) -> str:
    """A small number as it is said."""
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)
