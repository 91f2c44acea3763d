"""What a class came to so far."""

from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.clock.splits import Status
from floorclock.clock.tally import splits
from floorclock.plan.session import Intervals
from floorclock.plan.work import Station, Target, Unit
from tests.clock.classes import BRAM, ILKA, SWING, begun, harbour, tap


def sets_of(station: Station) -> Intervals:
    """Two windows of forty seconds with a rest between."""
    return Intervals(title="Sets", work_ms=40_000, rest_ms=20_000, sets=2, work=(station,))


def test_an_interval_shows_up_with_its_tap_or_when_its_time_is_over() -> None:
    state = begun(harbour(), athletes=(ILKA, BRAM), count_in_ms=0)
    tap(state, 30_000)
    assert [(one.athlete, one.status) for one in splits(state)] == [("Ilka", Status.DONE)]
    state.advance(60_000)
    assert [(one.athlete, one.status) for one in splits(state)] == [("Ilka", Status.DONE), ("Bram", Status.UNTAPPED)]


@pytest.mark.parametrize(
    ("target", "untapped"),
    [
        (None, 0),
        (Target(Fraction(40), Unit.SECONDS), 0),
        (Target(Fraction(30), Unit.SECONDS), 2),
        (Target(Fraction(10), Unit.REPS), 2),
    ],
)
def test_work_that_nobody_can_be_done_with_early_is_not_called_untapped(target: Target | None, untapped: int) -> None:
    state = begun(sets_of(replace(SWING, target=target)), count_in_ms=0)
    state.advance(200_000)
    assert [one.status for one in splits(state)] == [Status.UNTAPPED] * untapped


def test_a_tap_in_work_without_a_target_counts_all_the_same() -> None:
    state = begun(sets_of(replace(SWING, target=None)), count_in_ms=0)
    tap(state, 25_000)
    (one,) = splits(state)
    assert (one.split_ms, one.rest_ms, one.amount) == (25_000, 15_000, None)
