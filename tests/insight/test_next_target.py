"""The target to give next time, from splits made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest

from floorclock.insight.next_target import next_targets
from floorclock.plan.work import Target, Unit
from floorclock.store.answers import PaceOf, SplitOf
from floorclock.store.rows import SplitRow
from tests.store.sample_rows import EVENING, pace


def rounds(
    splits_s: list[float], amounts: list[int], *, days: int = 0, move: str = "swing", station: int = 0, margin_s: int = 15
) -> list[SplitOf]:
    return [
        SplitOf(
            class_id=f"class {days}",
            started=EVENING + timedelta(days=days),
            session="Quay and back",
            split=SplitRow(
                name="Ilka",
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
                status=0,
            ),
        )
        for place, (split_s, amount) in enumerate(zip(splits_s, amounts, strict=True))
    ]


SWING = ("swing", Unit.REPS)


def test_a_ladder_goes_on_as_a_ladder() -> None:
    past = [one for days in (14, 7, 0) for one in rounds([25, 29, 33, 37, 41], [8, 10, 12, 14, 16], days=days)]
    assert next_targets(past)[SWING].last == Target(Fraction(8), Unit.REPS, Fraction(2))


def test_a_target_that_was_changed_on_the_way_is_no_ladder() -> None:
    past = rounds([48, 49, 36, 36, 37], [14, 14, 10, 10, 10])
    assert next_targets(past)[SWING].last == Target(Fraction(10), Unit.REPS)


def test_the_last_class_with_the_move_sets_the_target() -> None:
    past = [*rounds([20] * 4, [10] * 4, days=7), *rounds([30] * 4, [14] * 4, days=0), *rounds([20] * 4, [9] * 4, move="row")]
    found = next_targets(past)
    assert found[SWING].last == Target(Fraction(10), Unit.REPS)
    assert found["row", Unit.REPS].last == Target(Fraction(9), Unit.REPS)


def test_rounds_that_nobody_tapped_are_rounds_to_hold_too() -> None:
    past = [one for days in (14, 7, 0) for one in rounds([41.0, 42.5, 44.0], [14] * 3, days=days)]
    ten = replace(pace("Ilka"), part=0, station=0, move="swing", unit=Unit.REPS, rounds=10)
    paces = [PaceOf(class_id=one.class_id, started=one.started, session=one.session, pace=ten) for one in past]
    short, long = next_targets(past)[SWING], next_targets(past, paces)[SWING]
    assert long.way == "less"
    assert long.target is not None
    assert short.target is not None
    assert long.target.amount < short.target.amount


def test_where_nothing_holds_the_least_is_given_and_that_it_may_not_hold() -> None:
    past = [one for days in (14, 7, 0) for one in rounds([57, 58, 59], [3] * 3, days=days, margin_s=50)]
    found = next_targets(past)[SWING]
    assert found.target is not None
    assert found.target.amount == (found.last.amount + 1) // 2
    assert found.way == "less"
    assert found.because.endswith("the least; may not hold")


@pytest.mark.parametrize("past", [[], rounds([30.0], [0])])
def test_no_work_no_target(past: list[SplitOf]) -> None:
    assert next_targets(past) == {}
