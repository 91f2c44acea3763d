"""What a coach types into a dialog, read into values; whatever cannot be meant is refused in words.

Invariant: every reader answers a value or raises `UnreadableError`; none of them guesses.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from fractions import Fraction

from floorclock.plan.durations import UnreadableError, duration_words, shown
from floorclock.plan.names import clean_key, clean_name
from floorclock.plan.quantities import MOST, bounded_duration_ms, parse_target
from floorclock.plan.typed_result import LONGEST_RESULT_MS, positive_ms
from floorclock.plan.work import Unit, amount_words

LONGEST_MARGIN_MS = 10 * 60_000
STEP: dict[Unit, int] = {Unit.REPS: 1, Unit.CALORIES: 1, Unit.METRES: 5, Unit.SECONDS: 5, Unit.WHOLE: 10}
"""How much one arrow changes a target by: what a coach would say aloud in that unit. Of a whole, percent are typed."""
MOST_PERCENT = 200
SHARE_HINT = "80 for 80 % of the work as written"

_STEP = re.compile(r"(?P<sign>[+-])\s*(?P<number>[0-9]{1,6}(?:\.[0-9]{1,3})?)")


def read_split(text: str, longest_ms: int | None) -> int | None:
    """A split in seconds or m:ss.s; `-` is None, untapped. At most `longest_ms`, the length of the interval."""
    tidy = text.strip().replace(",", ".")
    if tidy == "-":
        return None
    if not tidy:
        raise UnreadableError("nothing typed", "seconds such as 44.5, or - for untapped")
    return positive_ms(tidy, LONGEST_RESULT_MS if longest_ms is None else longest_ms)


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
        amount = now + Fraction(change["sign"] + change["number"])
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
        percent = 100 * now + Fraction(change["sign"] + change["number"])
    elif re.fullmatch(r"[0-9]{1,3}", tidy):
        percent = Fraction(tidy)
    else:
        raise UnreadableError(f"{shown(text)} is no percentage" if tidy else "nothing typed", SHARE_HINT)
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


def _plain(amount: Fraction) -> str:
    return str(amount.numerator) if amount.denominator == 1 else f"{float(amount):.3f}".rstrip("0").rstrip(".")


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name.casefold())
