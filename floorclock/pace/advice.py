"""The number to change to: the target that keeps the margin to the last round.

Invariant: an advice is something a coach would say, and never less than the floor the coach set.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from floorclock.plan.work import Target


class Way(StrEnum):
    """Which way an advice goes."""

    LESS = "less"
    MORE = "more"
    OPTION = "option"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """For one athlete at one station (from 0).

    `move` is the move it is about: that of the athlete's work for a target, that of the station as written for an option.
    `target` is what to give, such that `target.in_round(r)` is right for each round still to come; None for an option
    that has no target of its own. `option` is the option to take, empty where the move stays.
    `words` say what to do (`8 reps would hold`, `lighter would hold`), `because` why. `chance` is how likely it keeps
    the margin to the last round, 0..1.
    """

    athlete: str
    part: int
    station: int
    move: str
    way: Way
    target: Target | None
    option: str = ""
    words: str
    because: str
    chance: float
