"""What the answers for other programs have in common.

Invariant: seconds are numbers, every key is always there, None where nothing is known; instants are RFC 3339 with the offset of
the place, weeks ISO 8601 (`2026-W09`, from Monday on).
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

from floorclock.insight.intervals import Interval
from floorclock.insight.moves import percent
from floorclock.insight.tallies import Tally
from floorclock.store.rows import ResultRow


def result_values(row: ResultRow) -> dict[str, Any]:
    """A result without the name."""
    return {
        "choice": row.choice or None,
        "time_s": seconds(row.time_ms),
        "rounds": row.rounds,
        "reps": row.reps,
        "not_finished": row.not_finished,
    }


def change_values(one: Interval | None) -> dict[str, Any] | None:
    """An interval of a difference of logarithms, in per cent."""
    if one is None:
        return None
    told = one.mapped(percent)
    return {"percent": number(told.middle), "low": number(told.low), "high": number(told.high), "n": told.n}


def tally_values(one: Tally) -> dict[str, int]:
    """The counts of a tally."""
    return {
        "cases": one.cases,
        "held": one.held,
        "fading": one.fading,
        "tight": one.tight,
        "not_finished": one.not_finished,
    }


def underscored(text: str) -> str:
    """`not finished` as a key."""
    return text.replace(" ", "_")


def seconds(value_ms: float | None) -> float | None:
    """Milliseconds as seconds."""
    return None if value_ms is None else round(value_ms / 1000, 3)


def amount_value(value: Fraction | None) -> float | int | None:
    """An amount as a number, whole where it is."""
    if value is None:
        return None
    return value.numerator if value.denominator == 1 else float(value)


def number(value: float | None, digits: int = 2) -> float | None:
    """A number rounded; None where it is not finite."""
    return None if value is None or not math.isfinite(value) else round(value, digits)
