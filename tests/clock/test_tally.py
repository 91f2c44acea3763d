"""What a class came to so far."""

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floorclock.clock.events import NotFinished, TargetChanged
from floorclock.clock.fold import apply
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Coming, Split, Status
from floorclock.clock.state import ClassState, new_state
from floorclock.clock.tally import athlete_splits, coming, splits, whole_part
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, Intervals, Rotation
from floorclock.plan.work import REST, Station, Target, Unit
from tests.clock.classes import BRAM, ILKA, NOOR, ROW, STEP, SWING, Run, begun, harbour, session_of, tap
from tests.clock.test_whole_class import NAMES, one_command


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


HOLD = Station(move="plank", target=Target(Fraction(40), Unit.SECONDS))
CLASSES: tuple[tuple[AnyPart, ...], ...] = (
    (harbour(rounds=6), harbour(rounds=2, every_ms=20_000)),
    (Intervals(title="Pairs", work_ms=40_000, rest_ms=2_500, sets=5, work=(SWING, REST, ROW), final_rest=True),),
    (Rotation(title="Odd one out", every_ms=40_000, work=(SWING, HOLD, replace(STEP, target=None)), for_ms=200_000), harbour()),
)
"""Uneven rounds, rests that are written and rests that lie between, work for as long as the interval, work without a target."""


def changed(run: Run, random: Random) -> None:
    """Now and then the work itself changes."""
    target = Target(Fraction(random.choice([5, 30, 40])), random.choice([Unit.REPS, Unit.SECONDS]))
    run.send(TargetChanged, athlete=random.choice(NAMES), move=random.choice(["step-up", "plank"]), target=target)


def check_every_place(state: ClassState, run: PartRun, name: str) -> None:
    """Each interval that the plan has for an athlete is in one of the two, as its time and its mark say; never in both."""
    taken = {split.interval: split for split in athlete_splits(state, run, name)}
    ahead = [slot.interval for slot in coming(state, run, name)]
    assert ahead == sorted(set(ahead))
    assert taken.keys().isdisjoint(ahead)
    position = run.position_ms(state.now_ms)
    whole = {slot.interval: slot for slot in whole_part(state, run, name)}
    for index, slot in whole.items():
        marked, over = (name, index) in run.marks, run.timeline.intervals[index].end_ms <= position
        here = state.expected(name, run.index, index)
        assert (index in taken) is (marked or (over and here)), (index, marked, over, here)
        assert (index in ahead) is (here and not marked and not over)
        if index in taken:
            check_same_place(slot, taken[index], marked)
    assert set(ahead) <= whole.keys()
    assert all((name, index) in run.marks for index in taken.keys() - whole.keys())


def check_same_place(slot: Coming, split: Split, marked: bool) -> None:
    """What a split says of its place is what the plan says of it; what was taken keeps the work of its own time."""
    assert (split.round, split.station, split.window_ms, split.margin_ms) == (
        slot.round,
        slot.station,
        slot.window_ms,
        slot.margin_ms,
    )
    assert marked is (split.status is not Status.UNTAPPED)
    if not marked:
        assert (split.move, split.amount, split.unit) == (slot.move, slot.amount, slot.unit)


@pytest.mark.no_cover  # Whole classes looked at hundreds of times: slow to trace.
@settings(max_examples=40)
@given(st.sampled_from(CLASSES), st.sampled_from([(ILKA, BRAM), (ILKA, BRAM, NOOR)]), st.integers(0, 2**32))
def test_at_any_instant_each_interval_is_behind_an_athlete_or_ahead_of_them_and_never_both(
    parts: tuple[AnyPart, ...], athletes: tuple[Athlete, ...], seed: int
) -> None:
    random = Random(seed)
    run = Run(new_state(session_of(*parts), athletes))
    run.conductor.begin(0)
    while run.clock.monotonic_ns() < 900 * 1_000_000_000 and not run.state.over:
        run.wait(random.choice([random.randint(1, 1_500), random.randint(1_500, 20_000)]))
        while random.random() < 0.4:
            (changed if random.random() < 0.05 else one_command)(run, random)
        for part_run in run.state.runs:
            for name in run.state.athletes:
                check_every_place(run.state, part_run, name)


def test_work_that_runs_is_ahead_until_its_tap_and_behind_once_its_time_is_over() -> None:
    state = begun(harbour(rounds=2), athletes=(ILKA, BRAM), count_in_ms=0)
    (run,) = state.runs
    assert [slot.interval for slot in coming(state, run, "Ilka")] == [0, 1, 3, 4]
    assert [slot.interval for slot in coming(state, run, "Bram")] == [0, 2, 3, 5]
    tap(state, 30_000)
    state.advance(59_999)
    assert [slot.interval for slot in coming(state, run, "Ilka")] == [1, 3, 4]
    assert [slot.interval for slot in coming(state, run, "Bram")] == [0, 2, 3, 5]
    state.advance(60_000)
    assert [slot.interval for slot in coming(state, run, "Bram")] == [2, 3, 5]
    assert [(one.interval, one.status) for one in athlete_splits(state, run, "Bram")] == [(0, Status.UNTAPPED)]


def test_a_word_of_the_coach_about_an_interval_that_has_not_begun_stands() -> None:
    state = begun(harbour(rounds=2), count_in_ms=0)
    apply(state, NotFinished(at_ms=1_000, athlete="Ilka", part=0, interval=3))
    (one,) = athlete_splits(state, state.runs[0], "Ilka")
    assert (one.interval, one.status) == (3, Status.NOT_FINISHED)
    assert [slot.interval for slot in coming(state, state.runs[0], "Ilka")] == [0, 1, 4]
