"""How much each of several moves in one window weighs: the share of the time that it usually takes.

Invariant: only the moves that come with floorclock count, never a coach's own file, so that a class folds the same everywhere.
"""

from __future__ import annotations

from fractions import Fraction

from floorclock.plan.roster import Assignment
from floorclock.plan.work import Station, Target, Unit


def amount_in_round(station: Station, work: Assignment, round_number: int) -> Fraction | None:
    """What an athlete is to do at a station in a round, in the unit of its target; None without a target.

    Of several moves: the share of their estimated time as written. 1 is all of it; one item cut makes it less.
    """
    if work.target is None:
        return None
    amount = work.target.in_round(round_number)
    if work.target.unit is not Unit.WHOLE or not station.items:
        return amount
    if any(item.target is not None and item.target.varies for item in station.items):
        # Rounds differ, so that 1 would not be the same twice: no pace can be read from it.
        return None
    written = sum(item_seconds(item.move, item.target, item.pattern, round_number) for item in station.items)
    theirs = sum(own_seconds(item, mine, round_number) for item, mine in zip(station.items, work.items, strict=True))
    return amount * theirs / written if written else amount


def own_seconds(station: Station, work: Assignment, round_number: int) -> Fraction:
    """About how long it takes in a round what an athlete does of one of several moves."""
    return item_seconds(work.move, work.target, pattern_of(station, work), round_number)


def pattern_of(station: Station, work: Assignment) -> str:
    """The pattern of what an athlete does at a station: an option's where they do one that has its own."""
    own = next((option.pattern for option in station.options if option.name == work.option), "")
    return own or station.pattern


def item_seconds(move: str, target: Target | None, pattern: str, round_number: int) -> Fraction:
    """About how long one of several moves takes in a round; 0 for one without an amount."""
    # Here and not above: reading brings pydantic along, which a running class has no use for before it has several moves.
    from floorclock.plan.read_moves import usual_moves

    if target is None or target.most:
        return Fraction(0)
    return target.in_round(round_number) * usual_moves().ms_of_one(move, target.unit, pattern) / 1000
