"""What a coach would say: amounts and chances (nobody calls `13.7 reps` or `a chance of 0.63` across a room), rests in a row.

Invariant: an amount that comes out of here is a multiple of what is counted in at its size. A rest is in whole seconds, rounded
down, so never more than there was; `?` where nobody tapped. A `|` stands between rests where the target or the move changed, so
that a rest the coach gave back is not taken for a recovery. All steps: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from floorclock.clock.splits import Coming, Split, Status
from floorclock.plan.work import Unit

_STEPS: dict[Unit, tuple[tuple[int, int | Fraction], ...]] = {
    Unit.REPS: ((40, 5), (20, 2), (0, 1)),
    Unit.METRES: ((500, 50), (200, 25), (50, 10), (10, 5), (0, 1)),
    Unit.CALORIES: ((0, 1),),
    Unit.SECONDS: ((10, 5), (0, 1)),
    Unit.WHOLE: ((0, Fraction(1, 10)),),
}
"""From an amount on, in what is counted: whole reps under 20, even ones from 20, fives from 40; of several moves, tenths."""
LIKELY = 0.7
"""A chance from here on is called likely, under the rest of it unlikely; what lies between is too close to call."""


def at_most(amount: Fraction | float, unit: Unit, sides: int = 1) -> Fraction:
    """The largest amount to say that is no more than this; 0 where there is none. What is done on two sides is said of one."""
    counted, step = _counted(amount / sides, unit)
    return sides * max(Fraction(0), counted // step * step)


def below(amount: Fraction, unit: Unit, sides: int = 1) -> Fraction:
    """The largest amount to say that is less than this; 0 where there is none."""
    counted, _ = _counted(amount / sides, unit)
    return sides * at_most(counted if sides * counted < amount else counted - smallest(unit), unit)


def above(amount: Fraction, unit: Unit, sides: int = 1) -> Fraction:
    """The smallest amount to say that is more than this."""
    counted, step = _counted(amount / sides, unit)
    return sides * (counted // step + 1) * step


def smallest(unit: Unit, sides: int = 1) -> Fraction:
    """The least of it that can be said."""
    return sides * Fraction(_STEPS[unit][-1][1])


def _counted(amount: Fraction | float, unit: Unit) -> tuple[Fraction, Fraction]:
    """Rounded down to what is counted in at the least; and what is counted in at that size."""
    least = smallest(unit)
    counted = math.floor(amount / least) * least
    return counted, next((Fraction(step) for start, step in _STEPS[unit] if counted >= start), least)


def chance_said(chance: float) -> str:
    """`likely`, `too close to call` or `unlikely`."""
    return "likely" if chance >= LIKELY else "unlikely" if chance <= 1 - LIKELY else "too close to call"


Steps = Mapping[tuple[int, str], Fraction]
"""What the plan adds to a target with each round, by station and move."""


def later(amount: Fraction, step: Fraction, rounds: int) -> Fraction:
    """What a target gives so many rounds later (earlier, where negative); a falling ladder stops at zero."""
    return max(Fraction(0), amount + step * rounds) if step else amount


def steps_of(slots: Iterable[Coming]) -> dict[tuple[int, str], Fraction]:
    """The steps of all work in some slots."""
    return {(slot.station, slot.move): slot.step for slot in slots}


def changed(splits: Sequence[Split], steps: Steps) -> tuple[bool, ...]:
    """For each of an athlete's splits at one station, in order: whether its work is other than the one before spoke of.

    An untapped interval is no sign of either: it has the target that stands now. Where the step is not known (another option
    than that of now), only another move counts.
    """
    found, before = [], None
    for split in splits:
        found.append(before is not None and split.status is not Status.UNTAPPED and _is_other(before, split, steps))
        if split.status is not Status.UNTAPPED:
            before = split
    return tuple(found)


def _is_other(before: Split, split: Split, steps: Steps) -> bool:
    if before.unit is not split.unit or before.move != split.move:
        return True
    step = steps.get((split.station, split.move))
    if step is None or before.amount is None or split.amount is None:
        return False
    return split.amount != later(before.amount, step, split.round - before.round)


def in_a_row(words: Sequence[str], marks: Sequence[bool]) -> str:
    """`18, 15 | 22, 15`: a bar instead of a comma before each word that has a mark."""
    text = ""
    for word, mark in zip(words, marks, strict=True):
        text += (" | " if mark else ", ") * bool(text) + word
    return text


def rests_words(splits: Sequence[Split], steps: Steps, most: int, *, not_finished: str | None = "not finished") -> str:
    """`rest 24, 21, ?, 12 s`: the latest `most` rounds of an athlete's splits at one station; empty where none is to be said.

    Args:
        splits: in order, one station's.
        steps: of the plan, to tell a changed target from a ladder.
        most: how many are said.
        not_finished: the word for one that was not finished; None leaves those out, and the untapped ones with them.
    """
    told = splits if not_finished is not None else [split for split in splits if split.split_ms is not None]
    row = in_a_row([_word(split, not_finished or "") for split in told[-most:]], changed(told, steps)[-most:])
    return f"rest {row} s" if row else ""


def _word(split: Split, not_finished: str) -> str:
    rest_ms = split.rest_ms
    if rest_ms is None:
        return not_finished if split.status is Status.NOT_FINISHED else "?"
    return str(rest_ms // 1000)
