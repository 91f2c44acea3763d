"""What earlier classes say of an athlete's pace, for a class that has not begun.

Invariant: a prior is worked out from splits of classes before this one and from nothing else.

How it is worked out, for one athlete at one move:

1. In each class, the drift is the median of the slopes between every two rounds at the same station (log seconds per unit of
   work against the round; Sen 1968, Journal of the American Statistical Association 63:1379-1389), so that one odd round turns
   nothing. Classes are averaged with weights: more rounds say more, and what is `HALF_LIFE_DAYS` older counts half. The average
   is drawn towards what people do in general, the more so the less there is of it.
2. Given that drift, the level in a class is the median of the splits brought back to round 1; classes are averaged by age.
3. How far the next class may be off: the spread of the levels from class to class, together with how well their average is
   known. A few classes say little of a spread, so `USUAL_LEVEL_SPREAD` counts as much as `SPREAD_WORTH` classes do.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from itertools import combinations

from floorclock.clock.splits import Split
from floorclock.pace.stats import median
from floorclock.plan.work import Unit

# The figures below are common practice, no source: about what classes of mixed ability show from week to week.
USUAL_LEVEL_SPREAD = 0.06
"""From class to class, as a standard deviation of the logarithm: 6 %."""
USUAL_DRIFT = 0.015
"""Per round."""
USUAL_DRIFT_SPREAD = 0.012
NOISE = 0.06
"""Of one split, with what a median wastes against a mean."""
SPREAD_WORTH = 2.0
HALF_LIFE_DAYS = 42
LEAST_PEOPLE = 8
"""So many drifts are needed before those of the classes stand in for `USUAL_DRIFT`."""

Key = tuple[str, str, Unit]
"""(athlete, move, unit)."""


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


Prior = Mapping[Key, MovePace]
"""By (athlete, move, unit); who has no history is not in it."""

NO_PRIOR: Prior = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class PastClass:
    """One class that is over: its splits, in any order, and the round-1 targets that stood at its end, where they are known."""

    day: date
    splits: Sequence[Split]
    amounts: Mapping[Key, Fraction] = field(default_factory=dict)


@dataclass(slots=True)
class _Occasion:
    """One athlete at one move in one class: (round - 1, log seconds per unit) by (part, station)."""

    day: date
    points: dict[tuple[int, int], list[tuple[int, float]]] = field(default_factory=dict)
    amount: Fraction = Fraction(0)
    slope: float | None = None
    slope_variance: float = math.inf

    def level(self, drift: float) -> float:
        """What the splits say of round 1 if the drift is this."""
        return median([y - drift * x for here in self.points.values() for x, y in here])

    def measure(self) -> None:
        """The slope, and how well so many rounds can tell it."""
        pairs = [two for here in self.points.values() for two in combinations(here, 2) if two[0][0] != two[1][0]]
        if pairs:
            self.slope = median([(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairs])
            self.slope_variance = NOISE**2 / math.fsum(_square_sum([x for x, _ in here]) for here in self.points.values())


def prior_from(classes: Sequence[PastClass]) -> Prior:
    """What some classes, in any order, say of the next one. Untapped and not finished intervals say nothing."""
    found: dict[Key, list[_Occasion]] = {}
    for past in sorted(classes, key=lambda past: past.day, reverse=True):
        for key, occasion in _occasions(past).items():
            found.setdefault(key, []).append(occasion)
    slopes = [occasion.slope for occasions in found.values() for occasion in occasions if occasion.slope is not None]
    usual = median(slopes) if len(slopes) >= LEAST_PEOPLE else USUAL_DRIFT
    return {key: _pace(occasions, usual) for key, occasions in found.items()}


def _occasions(past: PastClass) -> dict[Key, _Occasion]:
    made: dict[Key, _Occasion] = {}
    last: dict[Key, tuple[int, int]] = {}
    for split in past.splits:
        if not split.split_ms or not split.amount or split.unit is None:
            continue
        key = (split.athlete, split.move, split.unit)
        occasion = made.setdefault(key, _Occasion(past.day))
        point = (split.round - 1, math.log(split.split_ms / 1000 / split.amount))
        occasion.points.setdefault((split.part, split.station), []).append(point)
        if (split.part, split.interval) >= last.get(key, (0, 0)):
            last[key] = (split.part, split.interval)
            occasion.amount = past.amounts.get(key, split.amount)
    for occasion in made.values():
        occasion.measure()
    return made


def _pace(occasions: Sequence[_Occasion], usual_drift: float) -> MovePace:
    """The newest occasion first."""
    ages = [0.5 ** ((occasions[0].day - occasion.day).days / HALF_LIFE_DAYS) for occasion in occasions]
    drift, drift_sd = _drift(occasions, ages, usual_drift)
    levels = [occasion.level(drift) for occasion in occasions]
    total = math.fsum(ages)
    level = math.fsum(age * value for age, value in zip(ages, levels, strict=True)) / total
    # How many classes of one age they are worth, and their spread, drawn towards the usual one.
    known = total**2 / math.fsum(age * age for age in ages)
    about = math.fsum(age * (value - level) ** 2 for age, value in zip(ages, levels, strict=True)) / total * known
    variance = (SPREAD_WORTH * USUAL_LEVEL_SPREAD**2 + about) / (SPREAD_WORTH + known - 1)
    return MovePace(
        level=level,
        level_sd=math.sqrt(variance) * math.sqrt(1 + 1 / known),
        drift=drift,
        drift_sd=drift_sd,
        amount=occasions[0].amount,
        classes=len(occasions),
    )


def _drift(occasions: Sequence[_Occasion], ages: Sequence[float], usual: float) -> tuple[float, float]:
    """The drift of the next class and how far off it may be: the classes' own, drawn towards the usual one."""
    within = USUAL_DRIFT_SPREAD**2
    weights = [age / (within + occasion.slope_variance) for age, occasion in zip(ages, occasions, strict=True)]
    slopes = [usual if occasion.slope is None else occasion.slope for occasion in occasions]
    # The person's own habit varies about the usual drift as much as one class about their habit.
    own = math.fsum(weights) + 1 / within
    drift = (math.fsum(w * slope for w, slope in zip(weights, slopes, strict=True)) + usual / within) / own
    return drift, math.sqrt(within + 1 / own)


def _square_sum(values: Sequence[int]) -> float:
    mean = math.fsum(values) / len(values)
    return math.fsum((value - mean) ** 2 for value in values)
