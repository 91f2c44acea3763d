"""What earlier classes say of an athlete's pace, for a class that has not begun.

Invariant: a prior is worked out from splits of classes before this one and from nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from floorclock.plan.work import Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class MovePace:
    """One athlete at one move in earlier classes.

    `level` is the natural logarithm of the seconds per unit of work in round 1, `level_sd` how far off it may be in the
    next class; `drift` is the change of that logarithm with each round, `drift_sd` likewise. `amount` is the last target
    they had, `classes` how many classes this rests on.
    """

    level: float
    level_sd: float
    drift: float
    drift_sd: float
    amount: Fraction
    classes: int


Prior = Mapping[tuple[str, str, Unit], MovePace]
"""By (athlete, move, unit); who has no history is not in it."""

NO_PRIOR: Prior = {}
