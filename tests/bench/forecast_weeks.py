"""Whether next targets find the largest target that holds, week by week, and what history does for a forecast.

The same people come to the same class once a week, a little fitter or less so on the day. Everybody begins at the plan; before
each class they are given what `targets_from_history` says of the classes before. In hindsight the largest target is the largest
share of the plan that would have kept the margin in all rounds of that class. A forecast after one and two rounds is made with
the history of the classes before and without.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import Final

import numpy as np

from floorclock.pace.advice import targets_from_history
from floorclock.pace.model.forecast import fit_class
from floorclock.pace.prior import NO_PRIOR, PastClass, Prior, prior_from
from floorclock.plan.roster import Athlete
from tests.bench.bodies import MARGIN_S, WINDOW_S, Array, InventedClass, World, by_world, invent, next_week
from tests.bench.common import Figure

WEEKS: Final = 6
CLASSES: Final = 4
SHARES: Final = np.arange(1.6, 0.39, -0.05)
CONFIDENCE: Final = 90
NEAR: Final = 0.1
"""A target has found the largest one when it is no more than this share away."""

Found = dict[str, list[Array]]


def judge(world: World) -> Found:
    """By week: the target as a share of the largest one, and whether the margin went; errors with and without history."""
    found: Found = defaultdict(list)
    for seed in range(CLASSES):
        made, past = invent(world, 200 + seed), list[PastClass]()
        for week in range(WEEKS):
            prior = prior_from(past)
            made = next_week(made, week, _targets(made, prior) if past else made.amounts)
            gone = (made.took_s > WINDOW_S - MARGIN_S).any(axis=2)
            best = _largest(made)
            found[f"share {week}"].append((made.amounts[..., 0] / best).ravel())
            found[f"gone {week}"].append(gone.ravel().astype(float))
            if week == 3:
                for name, known in (("without", NO_PRIOR), ("with", prior)):
                    error, held = _errors(made, known)
                    found[name].append(error)
                    found[f"{name}, held"].append(held)
            past.append(PastClass(day=date(2026, 1, 1) + timedelta(weeks=week), splits=made.splits(made.rounds)))
    return found


def _targets(made: InventedClass, prior: Prior) -> Array:
    amounts = made.amounts.copy()
    for who, (name, slots) in enumerate(made.whole().items()):
        for advice in targets_from_history(made.part, slots, prior, CONFIDENCE, Athlete(name=name)):
            if advice.target is not None:
                given = [advice.target.in_round(number + 1) for number in range(made.rounds)]
                amounts[who, advice.station] = [float(max(Fraction(1), one)) for one in given]
    return amounts


def _largest(made: InventedClass) -> Array:
    """In the units of the station, for round 1."""
    found = SHARES[-1] * made.amounts[..., 0]
    for share in SHARES[::-1]:
        kept = (made.played(share * made.amounts) <= WINDOW_S - MARGIN_S).all(axis=2)
        found = np.where(kept, share * made.amounts[..., 0], found)
    return np.asarray(found)


def _errors(made: InventedClass, prior: Prior) -> tuple[Array, Array]:
    """Of the rounds up to the third, after one and after two."""
    errors, held = [], []
    for seen in (1, 2):
        splits = made.splits(seen)
        fit = fit_class(splits, prior)
        for who, (name, coming) in enumerate(made.coming(seen).items()):
            slots = [slot for slot in coming if slot.round <= 3]
            told = fit.pace_of(name, [one for one in splits if one.athlete == name]).forecasts(slots)
            for slot, one in zip(slots, told, strict=True):
                truth = 1000 * min(WINDOW_S, made.took_s[who, slot.station, slot.round - 1])
                if one is not None:
                    errors.append(abs(one.split_ms - truth))
                    held.append(one.low_ms <= truth <= one.high_ms)
    return np.array(errors), np.array(held, dtype=float)


def figures(worlds: Sequence[World]) -> list[Figure]:
    """The table."""
    judged = by_world(judge, [world for world in worlds if not world.ladder and not world.collapses]).values()
    found = {name: np.concatenate([values for one in judged for values in one[name]]) for name in next(iter(judged))}
    lines = []
    for week in range(WEEKS):
        share, gone = found[f"share {week}"], 100 * float(found[f"gone {week}"].mean())
        near = 100 * float((np.abs(share - 1) <= NEAR).mean())
        words = f"class {week + 1}: margin went (target {share.mean():.2f} of the largest, {near:.0f} % within a tenth)"
        lines.append(Figure(words, gone, "%", most=100 - CONFIDENCE if week >= 3 else None))
    missed = 100 - 100 * float(found["with, held"].mean())
    with_s, without_s = (float(found[name].mean()) / 1000 for name in ("with", "without"))
    return [
        *lines,
        Figure("rounds up to 3: error with history, by none", with_s, "s", baseline=without_s, most_times=0.85),
        Figure("ranges with history miss more or less than 17.5 %", abs(missed - 17.5), "points", most=5.5),
    ]
