"""The target to give next time, from splits made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest

from floorclock.clock.splits import Split, Status
from floorclock.insight.targets import next_targets
from floorclock.pace.prior import PastClass
from floorclock.plan.work import Unit
from tests.store.sample_rows import EVENING


def rounds(
    splits_s: list[float], amounts: list[int], *, days: int = 0, move: str = "swing", station: int = 0, margin_s: int = 15
) -> PastClass:
    splits = [
        Split(
            athlete="Ilka",
            part=0,
            interval=2 * place + station,
            round=place + 1,
            station=station,
            move=move,
            amount=Fraction(amount),
            unit=Unit.REPS,
            window_ms=60_000,
            margin_ms=1000 * margin_s,
            split_ms=round(1000 * split_s),
            status=Status.DONE,
        )
        for place, (split_s, amount) in enumerate(zip(splits_s, amounts, strict=True))
    ]
    return PastClass(day=(EVENING - timedelta(days=days)).date(), splits=splits)


SWING = ("swing", Unit.REPS)
WEEKS = (0, 7, 14)
"""Classes come with the newest first."""


def test_a_ladder_goes_on_as_a_ladder() -> None:
    past = [rounds([15, 18, 21, 24, 27], [8, 10, 12, 14, 16], days=days) for days in WEEKS]
    found = next_targets(past)[SWING]
    assert found.step == 2
    assert found.target is not None
    assert found.target >= 8


def test_a_target_that_was_changed_on_the_way_is_no_ladder() -> None:
    found = next_targets([rounds([48, 49, 36, 36, 37], [14, 14, 10, 10, 10])])[SWING]
    assert found.target == 10
    assert not found.step


def test_the_last_class_with_the_move_sets_the_target() -> None:
    newest = rounds([20] * 4, [9] * 4, move="row")
    past = [newest, rounds([33] * 4, [10] * 4, days=7), rounds([54] * 4, [14] * 4, days=14)]
    found = next_targets(past)
    assert found[SWING].target == 10
    assert found[SWING].way == "keep"
    assert found["row", Unit.REPS].unit is Unit.REPS


def test_rounds_that_nobody_tapped_are_rounds_to_hold_too() -> None:
    past = [rounds([41.0, 42.5, 44.0], [14] * 3, days=days) for days in WEEKS]
    ten = list(past[0].splits)
    for place in range(3, 10):
        ten.append(replace(ten[0], interval=2 * place, round=place + 1, split_ms=None, status=Status.UNTAPPED))
    short, long = next_targets(past)[SWING], next_targets([replace(past[0], splits=ten), *past[1:]])[SWING]
    assert long.way == "less"
    assert long.target is not None
    assert short.target is not None
    assert long.target < short.target


def test_where_nothing_holds_the_least_is_given_and_that_it_may_not_hold() -> None:
    found = next_targets([rounds([57, 58, 59], [3] * 3, days=days, margin_s=50) for days in WEEKS])[SWING]
    assert found.target == 2
    assert found.way == "less"
    assert found.because.endswith("but even that may not hold")


@pytest.mark.parametrize("past", [[], [rounds([30.0], [0])]])
def test_no_work_no_target(past: list[PastClass]) -> None:
    assert next_targets(past) == {}
