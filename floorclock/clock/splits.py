"""What the taps came to: a split for each interval an athlete worked in, a result for each part that has one.

Invariant: a missing tap is `untapped`, with no split; it is unknown, never a failure.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from floorclock.plan.roster import Assignment
from floorclock.plan.work import Load, Unit


class Status(StrEnum):
    """What is known of an athlete's work in an interval."""

    DONE = "done"
    UNTAPPED = "untapped"
    NOT_FINISHED = "not finished"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What was taken for one athlete in one interval, with the work that was theirs at that moment.

    `split_ms` runs from the start of the interval to the tap and is None unless `status` is done. `move`, `amount` and `unit`
    are what this athlete was to do in it (None where the plan gave no target), `load` the weight, `items` the moves where there
    are several. `credited` marks a tap just after the boundary, `corrected` one that the coach entered.
    """

    status: Status
    split_ms: int | None = None
    move: str = ""
    amount: Fraction | None = None
    unit: Unit | None = None
    credited: bool = False
    corrected: bool = False
    load: Load | None = None
    items: tuple[Assignment, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Split(Mark):
    """A mark in its place: one athlete in one work interval of a part, which is `window_ms` long.

    `part`, `interval` and `station` count from 0, `round` from 1.
    """

    athlete: str
    part: int
    interval: int
    round: int
    station: int
    window_ms: int
    margin_ms: int

    @property
    def rest_ms(self) -> int | None:
        """What was left of the interval after the split; None where there is no split."""
        return None if self.split_ms is None else self.window_ms - self.split_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """Work that the plan has for one athlete in one interval: what a split there would be measured against.

    Counts as in `Split`. `amount` is that of this round, `step` what the plan adds to it with each round; `option` names
    the option in force, empty for the move as written. `sides` is 2 where the amount is of both sides together.
    `amounts` are those of rounds 1, 2, ... where the plan lists them.
    """

    athlete: str
    part: int
    interval: int
    round: int
    station: int
    window_ms: int
    margin_ms: int
    move: str
    amount: Fraction
    unit: Unit
    step: Fraction = Fraction(0)
    option: str = ""
    sides: int = 1
    amounts: tuple[Fraction, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What an athlete reached in a `for_time`, `amrap` or `paced` part.

    `time_ms` is from the athlete's own start to the finish, None where they did not finish (or the part has none).
    `rounds` are whole rounds, `reps` the reps beyond them; for a shuttle, the last whole stage and all shuttles.
    `laps_ms` are the ends of the rounds that were tapped. `choice` names the alternative they did. `scores` are what was
    counted, as (set from 1, or 0 for the whole part, amount); `team` are all who share the result, `athlete` being the first.
    """

    athlete: str
    part: int
    time_ms: int | None = None
    rounds: int | None = None
    reps: int | None = None
    laps_ms: tuple[int, ...] = ()
    choice: str = ""
    not_finished: bool = False
    scores: tuple[tuple[int, Fraction], ...] = ()
    team: tuple[str, ...] = ()
