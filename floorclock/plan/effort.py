"""About how long work takes, to see whether it fits an interval before anybody sweats.

Invariant: these are guesses of a coach, common practice and no source; they may raise a warning, never an error,
and nothing measured is ever mixed with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from floorclock.plan.work import Unit

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
