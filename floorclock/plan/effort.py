"""About how long work takes, to see whether it fits an interval before anybody sweats.

Invariant: these are guesses of a coach, common practice and no source; they may raise a warning, never an error. Nothing
measured is ever mixed with them; of several moves in one window they say how much each weighs.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from floorclock.plan.roster import Assignment
from floorclock.plan.work import Station, Target, Unit

# All figures below: common practice, no source. They lie near the slower half of a mixed class.
SECONDS_PER_REP: Mapping[str, Fraction] = {
    "hinge": Fraction(2),
    "squat": Fraction(5, 2),
    "lunge": Fraction(5, 2),
    "step": Fraction(5, 2),
    "push": Fraction(5, 2),
    "pull": Fraction(3),
    "core": Fraction(5, 2),
    "jump": Fraction(3),
    "throw": Fraction(5, 2),
    "climb": Fraction(6),
}
ANY_REP = Fraction(5, 2)

SECONDS_PER_METRE: Mapping[str, Fraction] = {
    "run": Fraction(3, 10),
    "row": Fraction(27, 100),
    "ride": Fraction(12, 100),
    "ski": Fraction(28, 100),
    "carry": Fraction(8, 10),
    "lunge": Fraction(2),
    "swim": Fraction(13, 10),
}

SECONDS_PER_CALORIE: Mapping[str, Fraction] = {
    "row": Fraction(9, 2),
    "ride": Fraction(9, 2),
    "ski": Fraction(5),
    "run": Fraction(5),
}
ANY_CALORIE = Fraction(5)
ANY_METRE = Fraction(1)
"""Of a move that nobody knows, where only its share of several moves matters."""


def seconds_each(unit: Unit, pattern: str) -> Fraction | None:
    """About how many seconds one unit of work takes; None where nobody could say. A second of work takes a second."""
    known = pattern.strip().lower()
    if unit is Unit.SECONDS:
        return Fraction(1)
    if unit is Unit.METRES:
        return SECONDS_PER_METRE.get(known)
    if unit is Unit.CALORIES:
        return SECONDS_PER_CALORIE.get(known, ANY_CALORIE)
    return SECONDS_PER_REP.get(known, ANY_REP)


def amount_in_round(station: Station, work: Assignment, round_number: int) -> Fraction | None:
    """What an athlete is to do at a station in a round, in the unit of its target; None without a target.

    Of several moves: the share of their estimated time as written. 1 is all of it; one item cut makes it less.
    """
    if work.target is None:
        return None
    amount = work.target.in_round(round_number)
    if work.target.unit is not Unit.WHOLE or not station.items:
        return amount
    pairs = list(zip(station.items, work.items, strict=True))
    if any(item.target is not None and item.target.varies for item in station.items):
        # Rounds differ, so that 1 would not be the same twice: no pace can be read from it.
        return None
    written = sum(item_seconds(item.target, item.pattern, round_number) for item, _ in pairs)
    theirs = sum(item_seconds(mine.target, pattern_of(item, mine), round_number) for item, mine in pairs)
    return amount * theirs / written if written else amount


def item_seconds(target: Target | None, pattern: str, round_number: int) -> Fraction:
    """About how long one of several moves takes in a round; 0 for one without an amount."""
    if target is None or target.most:
        return Fraction(0)
    return target.in_round(round_number) * (seconds_each(target.unit, pattern) or ANY_METRE)


def pattern_of(station: Station, work: Assignment) -> str:
    """The pattern of what an athlete does at a station: an option's where they do one that has its own."""
    own = next((option.pattern for option in station.options if option.name == work.option), "")
    return own or station.pattern
