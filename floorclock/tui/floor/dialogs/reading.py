"""What a coach types into a dialog, read into values; whatever cannot be meant is refused in words.

Invariant: every reader answers a value or raises `UnreadableError`; none of them guesses.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from floorclock.plan.durations import UnreadableError, duration_words, parse_duration_ms, shown
from floorclock.plan.names import clean_key, clean_name
from floorclock.plan.quantities import MOST, bounded_duration_ms, parse_target
from floorclock.plan.work import Unit, amount_words

ResultKind = Literal["for_time", "amrap", "paced"]

LONGEST_MARGIN_MS = 10 * 60_000
LONGEST_RESULT_MS = 3 * 60 * 60_000
MOST_ROUNDS, MOST_REPS = 999, 9_999
STEP: dict[Unit, int] = {Unit.REPS: 1, Unit.CALORIES: 1, Unit.METRES: 5, Unit.SECONDS: 5, Unit.WHOLE: 10}
"""How much one arrow changes a target by: what a coach would say aloud in that unit. Of a whole, percent are typed."""
MOST_PERCENT = 200
SHARE_HINT = "80 for 80 % of the work as written"

_ROUNDS = re.compile(r"(?P<rounds>[0-9]{1,4})?\s*(?P<plus>\+)?\s*(?P<reps>[0-9]{1,5})?")
_STEP = re.compile(r"(?P<sign>[+-])\s*(?P<number>[0-9]{1,6}(?:\.[0-9]{1,3})?)")

RESULT_HINT: dict[ResultKind, str] = {
    "for_time": "a time such as 8:42; rounds+reps such as 3+5 where the cap came first",
    "amrap": "rounds+reps such as 7+12, rounds alone such as 7, or +12 in the first round",
    "paced": "a time such as 2:10, or stage+shuttle such as 5+3",
}


@dataclass(frozen=True, slots=True)
class TypedResult:
    """What somebody reached in a part: whole rounds and reps beyond them, or a time. All None: nothing is known."""

    rounds: int | None = None
    reps: int | None = None
    time_ms: int | None = None

    def words(self) -> str:
        """As it is typed: `8:42`, `7+12`, `7`, `-`."""
        if self.time_ms is not None:
            return duration_words(self.time_ms)
        if self.rounds is None:
            return "-"
        return f"{self.rounds}+{self.reps}" if self.reps else str(self.rounds)


def read_result(text: str, kind: ResultKind) -> TypedResult:
    """A result as typed: `8:42`, `7+12`, `7`, `+12`, and `-` for none.

    A bare number is rounds in an `amrap` and seconds elsewhere.
    """
    tidy = text.strip()
    if tidy == "-":
        return TypedResult()
    found = _ROUNDS.fullmatch(tidy)
    if tidy and found and (found["plus"] or kind == "amrap"):
        if found["rounds"] is None and found["reps"] is None:
            raise UnreadableError(f"{shown(text)} is no result", RESULT_HINT[kind])
        rounds, reps = int(found["rounds"] or 0), int(found["reps"] or 0)
        if rounds > MOST_ROUNDS or reps > MOST_REPS:
            raise UnreadableError(f"{shown(text)} is more than anybody does", RESULT_HINT[kind])
        return TypedResult(rounds, reps)
    if not tidy or kind == "amrap":
        raise UnreadableError(f"{shown(text)} is no result" if tidy else "nothing typed", RESULT_HINT[kind])
    time_ms = _positive(text, LONGEST_RESULT_MS)
    return TypedResult(time_ms=time_ms)


def read_split(text: str, longest_ms: int | None) -> int | None:
    """A split in seconds or m:ss.s; `-` is None, untapped. At most `longest_ms`, the length of the interval."""
    tidy = text.strip().replace(",", ".")
    if tidy == "-":
        return None
    if not tidy:
        raise UnreadableError("nothing typed", "seconds such as 44.5, or - for untapped")
    return _positive(tidy, LONGEST_RESULT_MS if longest_ms is None else longest_ms)


def read_margin(text: str) -> int:
    """A rest margin in milliseconds; 0 is none."""
    if not text.strip():
        raise UnreadableError("nothing typed", "write it like 15 or 0:15")
    return bounded_duration_ms(text, 0, LONGEST_MARGIN_MS)


def read_amount(text: str, unit: Unit, now: Fraction) -> Fraction:
    """A new amount in `unit`: itself (`8`), or how much more or less than `now` (`-2`, `+1`)."""
    if unit is Unit.WHOLE:
        return _read_share(text, now)
    tidy = text.strip().replace(",", ".")
    change = _STEP.fullmatch(tidy)
    if change:
        amount = now + (1 if change["sign"] == "+" else -1) * Fraction(change["number"])
        if amount <= 0:
            raise UnreadableError(f"{amount_words(now, unit)} less {change['number']} leaves nothing to do")
        tidy = _plain(amount)
    if not tidy:
        raise UnreadableError("nothing typed", "a number such as 8, or -2 for two less")
    target = parse_target(f"{tidy} {unit}" if re.fullmatch(r"[0-9.]+", tidy) else tidy)
    if target.unit is not unit:
        raise UnreadableError(f"{shown(text)} is not in {unit}", f"this target is in {unit}")
    return target.amount


def nudged(text: str, unit: Unit, now: Fraction, steps: int) -> str:
    """The typed amount some steps up or down; what would leave nothing to do, or cannot be read, stays as it is."""
    try:
        amount = read_amount(text, unit, now)
    except UnreadableError:
        return text
    share = unit is Unit.WHOLE
    amount += steps * Fraction(STEP[unit], 100 if share else 1)
    return amount_typed(amount, unit) if 0 < amount <= (MOST_PERCENT // 100 if share else MOST[unit]) else text


def _read_share(text: str, now: Fraction) -> Fraction:
    """A share of the work as written, typed in percent: `80`, `80 %`, or `-20` for so much less than now."""
    tidy = text.strip().removesuffix("%").strip()
    change = _STEP.fullmatch(tidy)
    if change:
        percent = 100 * now + (1 if change["sign"] == "+" else -1) * Fraction(change["number"])
    elif re.fullmatch(r"[0-9]{1,3}", tidy):
        percent = Fraction(tidy)
    else:
        raise UnreadableError(
            f"{shown(text)} is no percentage" if tidy else "nothing typed", "80 for 80 % of the work as written"
        )
    if not 0 < percent <= MOST_PERCENT:
        raise UnreadableError(f"{shown(text)} is not from 1 to {MOST_PERCENT} %", SHARE_HINT)
    return percent / 100


def full_words(amount: Fraction, unit: Unit) -> str:
    """An amount with its unit in words, reps too: `14 reps`, `200 m`, `0:40`."""
    return amount_words(amount, unit) + (" reps" if unit is Unit.REPS else "")


def amount_typed(amount: Fraction, unit: Unit) -> str:
    """An amount as a coach would type it, without its unit: `14`, `200`, `0:40`."""
    if unit is Unit.SECONDS and (amount * 1000).denominator == 1:
        return duration_words(int(amount * 1000))
    return _plain(100 * amount if unit is Unit.WHOLE else amount)


def read_new_name(text: str, taken: Iterable[str]) -> str:
    """A latecomer's name, in NFC; one that somebody here has already is refused, in whatever case it is written."""
    if not text.strip():
        raise UnreadableError("a latecomer needs a name")
    name = clean_name(text)
    if _folded(name) in {_folded(other) for other in taken}:
        raise UnreadableError(f"{shown(name)} is here already", "add a letter, such as " + shown(f"{name} B"))
    return name


def read_new_key(text: str, taken: Iterable[str]) -> str:
    """A tap key that is free, or empty: one is given out then."""
    if not text.strip():
        return ""
    key = clean_key(text)
    if key in set(taken):
        raise UnreadableError(f"the key {shown(key)} is taken", "leave it empty and one is given out")
    return key


def letters_of(text: str) -> str:
    """A text for finding people: lower case, without accents."""
    return "".join(letter for letter in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(letter))


def _positive(text: str, longest_ms: int) -> int:
    duration_ms = parse_duration_ms(text)
    if duration_ms <= 0:
        raise UnreadableError("a time is more than 0", "type - if it is not known")
    if duration_ms > longest_ms:
        raise UnreadableError(f"{shown(text)} is longer than {duration_words(longest_ms)}")
    return duration_ms


def _plain(amount: Fraction) -> str:
    return str(amount.numerator) if amount.denominator == 1 else f"{float(amount):.3f}".rstrip("0").rstrip(".")


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name.casefold())
