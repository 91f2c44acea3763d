"""How much each of several moves weighs in one window."""

from __future__ import annotations

from fractions import Fraction

import pytest

from floorclock.plan.roster import Athlete, assign
from floorclock.plan.shares import amount_in_round
from floorclock.plan.work import Option, Station, Target, Unit
from tests.clock.classes import reps

# By the usual times: 12 split squats of 2.5 s are 30 s, 10 air squats of 2 s are 20 s, so that all of it is 50 s.
SPLIT = Station("split squat", reps(12), options=(Option("slow", "wall sit", None),))
SQUAT = Station("air squat", reps(10))
BOTH = Station("split squat + air squat", Target(Fraction(1), Unit.WHOLE), items=(SPLIT, SQUAT))


@pytest.mark.parametrize(
    ("targets", "share"),
    [
        ({}, "1"),
        ({"split squat": reps(8)}, "4/5"),
        ({"air squat": reps(5)}, "4/5"),
        ({"split squat": reps(8), "air squat": reps(5)}, "3/5"),
        ({"split squat": Target(Fraction(20), Unit.SECONDS)}, "4/5"),
        ({"air squat": reps(15)}, "6/5"),
    ],
)
def test_of_several_moves_it_is_the_share_of_their_usual_time(targets: dict[str, Target], share: str) -> None:
    work = assign(Athlete(name="Ilka", targets=targets), BOTH)
    assert amount_in_round(BOTH, work, 1) == Fraction(share)


def test_of_one_move_it_is_what_the_target_says() -> None:
    ladder = Station("swing", Target(Fraction(10), Unit.REPS, Fraction(2)))
    assert amount_in_round(ladder, assign(Athlete(name="Ilka"), ladder), 3) == 14
    assert amount_in_round(Station("row"), assign(Athlete(name="Ilka"), Station("row")), 1) is None
