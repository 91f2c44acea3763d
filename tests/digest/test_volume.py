"""Volume load against worked examples in open literature."""

from __future__ import annotations

from fractions import Fraction

import pytest

from floorclock.clock.events import Tapped
from floorclock.clock.fold import apply
from floorclock.clock.state import new_state
from floorclock.clock.tally import results, splits
from floorclock.digest.volume import volume_loads
from floorclock.plan.roster import Athlete
from tests.plan.shipped import session_of

WORKED = [
    # BMJ Military Health, a table of training variables and monitoring equations for healthy adults (online table 158463):
    # volume load at a constant load, 3 x 8 x 65 = 1560 kg; at a progressive one, (10 x 55) + (8 x 65) + (6 x 75) = 1520 kg.
    ([(8, 65)] * 3, 24, 1560),
    ([(10, 55), (8, 65), (6, 75)], 24, 1520),
    # A study guide to strength and conditioning (cscsexamguide.com, 2013, program design part 5): 50 x 5, 75 x 5, five times
    # 100 x 3 are a load-volume of 2125 and 25 reps.
    ([(5, 50), (5, 75), *[(3, 100)] * 5], 25, 2125),
]


@pytest.mark.parametrize(("sets", "reps", "amount"), WORKED)
def test_volume_load_is_that_of_the_worked_example(sets: list[tuple[int, int]], reps: int, amount: int) -> None:
    stations = ", ".join(f"{{move: squat, target: {many} reps, load: {load} kg}}" for many, load in sets)
    state = new_state(
        session_of(f"  - {{kind: rotation, every: 1:00, rounds: 1, stations: [{stations}]}}\n"), [Athlete(name="Ilka")]
    )
    state.begin(0, 0)
    go_ms = state.runs[0].timeline.count_in_ms
    for number in range(len(sets)):
        apply(state, Tapped(at_ms=go_ms + 60_000 * number + 30_000, athlete="Ilka"))
    (squat,) = volume_loads(state, splits(state), results(state))
    assert (float(squat.reps), float(squat.amount)) == (reps, amount)
    assert squat.heaviest == Fraction(max(load for _, load in sets))
