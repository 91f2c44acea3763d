"""What somebody reached in a part, as a coach writes it on the floor and on paper, read into a value.

Invariant: `read_result` answers a value or raises `UnreadableError`; it never guesses.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from floorclock.plan.durations import UnreadableError, duration_words, parse_duration_ms, shown
from floorclock.plan.quantities import parse_count

ResultKind = Literal["for_time", "amrap", "paced", "score", "reps"]

LONGEST_RESULT_MS = 3 * 60 * 60_000
MOST_ROUNDS, MOST_REPS = 999, 9_999
_ROUNDS = re.compile(r"(?P<rounds>[0-9]{1,4})?\s*(?P<plus>\+)?\s*(?P<reps>[0-9]{1,5})?")

RESULT_HINT: dict[ResultKind, str] = {
    "for_time": "a time such as 8:42; rounds+reps such as 3+5 where the cap came first",
    "amrap": "rounds+reps such as 7+12, rounds alone such as 7, or +12 in the first round",
    "paced": "a time such as 2:10, or stage+shuttle such as 5+3",
    "score": "a number such as 18; a letter goes to whose key it is",
    "reps": "the reps of the last round, such as 7; a letter goes to whose key it is",
}


@dataclass(frozen=True, slots=True)
class TypedResult:
    """What somebody reached in a part: whole rounds and reps beyond them, a time, or a number.

    `reps` alone are those of the last round. All None: nothing is known.
    """

    rounds: int | None = None
    reps: int | None = None
    time_ms: int | None = None
    score: float | None = None

    def words(self) -> str:
        """As it is typed: `8:42`, `7+12`, `7`, `-`."""
        if self.score is not None:
            return f"{self.score:g}"
        if self.time_ms is not None:
            return duration_words(self.time_ms)
        if self.rounds is None:
            return "-" if self.reps is None else str(self.reps)
        return f"{self.rounds}+{self.reps}" if self.reps else str(self.rounds)


def read_result(text: str, kind: ResultKind) -> TypedResult:
    """A result as typed: `8:42`, `7+12`, `7`, `+12`, and `-` for none.

    A bare number is rounds in an `amrap` and seconds elsewhere.
    """
    tidy = text.strip()
    if tidy == "-":
        return TypedResult()
    if kind == "score":
        if not re.fullmatch(r"[0-9]{1,5}([.,][0-9]{1,2})?", tidy):
            raise UnreadableError(f"{shown(tidy)} is no number", RESULT_HINT["score"])
        return TypedResult(score=float(tidy.replace(",", ".")))
    if kind == "reps":
        return TypedResult(reps=parse_count(tidy, 0, MOST_REPS))
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
    return TypedResult(time_ms=positive_ms(text, LONGEST_RESULT_MS))


def positive_ms(text: str, longest_ms: int) -> int:
    """A time above 0 and up to `longest_ms`."""
    duration_ms = parse_duration_ms(text)
    if duration_ms <= 0:
        raise UnreadableError("a time is more than 0", "type - if it is not known")
    if duration_ms > longest_ms:
        raise UnreadableError(f"{shown(text)} is longer than {duration_words(longest_ms)}")
    return duration_ms
