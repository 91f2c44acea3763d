"""Rests that roll on, windows of their own, teams, scores and who is out: the class folds what the plan says."""

from __future__ import annotations

from fractions import Fraction

from floorclock.clock.events import Event, Joined, NotFinished, PartBegun, ScoreEntered, SplitCorrected, Tapped, TargetChanged
from floorclock.clock.fold import apply
from floorclock.clock.outcome import What
from floorclock.clock.state import ClassState, new_state
from floorclock.clock.tally import results, splits, whole_part
from floorclock.clock.timeline import IntervalKind
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Target, Unit
from tests.plan.shipped import session_of

PEOPLE = tuple(Athlete(name=name, key=name[0].lower(), group=group) for name, group in (("Ilka", 1), ("Bram", 2), ("Noor", 3)))


def begun(plan: str, *, part: int = 0) -> ClassState:
    """A class in which a part began at 0; its go is at 10 s."""
    state = new_state(session_of(plan), PEOPLE)
    state.next_part = part
    apply(state, PartBegun(at_ms=0, part=part))
    return state


def after(state: ClassState, *events: Event) -> ClassState:
    """The class after these."""
    for event in events:
        apply(state, event)
    return state


def tapped(at_s: float, name: str = "Ilka") -> Tapped:
    return Tapped(at_ms=round(at_s * 1000), athlete=name)


def test_a_rest_begins_by_itself_and_rolls_on_into_the_next_go_at_its_time() -> None:
    plan = """
  - {kind: amrap, title: A, time: 1:00, work: [{move: row, target: 10 cal}]}
  - {kind: rest, time: 0:30}
  - {kind: amrap, title: B, time: 1:00, work: [{move: row, target: 10 cal}]}
"""
    state = begun(plan)
    state.advance(300_000)
    assert [run.begun_ms for run in state.runs] == [0, 70_000, 90_000]
    # The go of B is thirty seconds after the end of A: its count-in lies within the rest.
    assert state.runs[2].position_ms(100_000) == 0
    assert state.over
    assert [cue.at_ms for cue in state.runs[2].cues_between(0, 100_000) if cue.name == "go"] == [100_000]


def test_everybody_is_at_one_station_in_a_part_that_is_done_together() -> None:
    plan = "  - {kind: rotation, together: true, every: 1:00, rounds: 1, stations: [{move: a}, {move: b}, {move: c}]}"
    state = begun(plan)
    run = state.runs[0]
    assert {state.station_of(name, run, 1) for name in state.athletes} == {1}


def test_where_no_taps_are_expected_a_tap_counts_nothing_and_nobody_is_untapped() -> None:
    plan = "  - {kind: rotation, tap: none, every: 1:00, rounds: 2, stations: [{move: a, target: 5 reps}]}"
    state = begun(plan)
    assert apply(state, tapped(30)).what is What.NOTHING_TO_TAP
    state.advance(300_000)
    assert splits(state) == ()


def test_work_for_as_much_as_possible_expects_no_tap_and_its_score_is_the_result() -> None:
    plan = "  - {kind: intervals, work: 0:20, rest: 0:10, sets: 3, score: reps, stations: [{move: squat, target: max reps}]}"
    state = begun(plan)
    state.advance(300_000)
    assert splits(state) == ()
    sets = [index for index, interval in enumerate(state.runs[0].timeline.intervals) if interval.window >= 0]
    for index, reps in zip(sets, (12, 11, 9), strict=True):
        apply(state, ScoreEntered(at_ms=300_000, athlete="Ilka", part=0, interval=index, amount=reps))
    (result,) = results(state)
    assert [amount for _, amount in result.scores] == [12, 11, 9]
    after(state, ScoreEntered(at_ms=300_000, athlete="Ilka", part=0, interval=sets[0], amount=None))
    assert results(state)[0].scores == ((2, Fraction(11)), (3, Fraction(9)))


def test_who_misses_a_minute_is_out_and_a_correction_brings_them_back() -> None:
    plan = """
  - {kind: rotation, every: 1:00, rounds: 10, until_out: true, rest_margin: 0,
     stations: [{move: step-up, target: {start: 1 rep, step: 1}}]}
"""
    state = begun(plan)
    for number in range(3):
        after(state, *(tapped(10 + 60 * number + 20, name) for name in ("Ilka", "Bram")))
    after(state, tapped(210, "Ilka"), NotFinished(at_ms=240_000, athlete="Bram", part=0, interval=3))
    assert not state.expected("Bram", 0, 4)
    assert state.expected("Ilka", 0, 4)
    assert apply(state, tapped(275, "Bram")).what is What.OUT
    assert {result.athlete: result.rounds for result in results(state)}["Bram"] == 3
    after(state, SplitCorrected(at_ms=280_000, athlete="Bram", part=0, interval=3, split_ms=50_000))
    assert state.expected("Bram", 0, 4)
    assert apply(state, tapped(285, "Bram")).what is What.COUNTED


def test_a_team_has_one_record_whoever_taps_and_a_latecomer_joins_one() -> None:
    plan = "  - {kind: amrap, time: 5:00, in: pairs, work: [{move: row, target: 10 cal}]}"
    state = begun(plan)
    run = state.runs[0]
    assert run.teams == [("Ilka", "Bram", "Noor")]
    after(state, tapped(70, "Bram"), tapped(130, "Noor"))
    (result,) = results(state)
    assert (result.athlete, result.team, result.rounds) == ("Ilka", ("Ilka", "Bram", "Noor"), 2)
    after(state, Joined(at_ms=140_000, athlete=Athlete(name="Teo", key="t")))
    assert run.recorded_as("Teo") == "Ilka"
    assert state.rows(run) == ("Ilka",)


def test_waves_of_an_amrap_start_later_and_have_their_whole_time() -> None:
    plan = "  - {kind: amrap, time: 5:00, wave_every: 2:00, work: [{move: row, target: 10 cal}]}"
    state = begun(plan)
    run = state.runs[0]
    assert run.timeline.length_ms == 9 * 60_000
    assert apply(state, tapped(70, "Bram")).what is What.NOT_STARTED
    assert apply(state, tapped(10 + 120 + 45, "Bram")).amount_ms == 45_000
    assert apply(state, tapped(10 + 310, "Ilka")).what is What.NOTHING_TO_TAP


def test_a_rest_after_each_round_is_each_athletes_own_and_no_tap_counts_in_it() -> None:
    plan = "  - {kind: for_time, cap: 9:00, rounds: 3, round_rest: 1:00, work: [{move: row, target: 250 m}]}"
    state = begun(plan)
    after(state, tapped(70))
    assert apply(state, tapped(100)).what is What.RESTING
    assert apply(state, tapped(10 + 60 + 60 + 55)).what is What.COUNTED


def test_rests_between_rounds_are_rests_for_everybody_and_the_last_round_has_none() -> None:
    plan = "  - {kind: intervals, work: 0:40, rest: 0:20, sets: 4, round_rest: 1:00, stations: [{move: a}, {move: b}]}"
    intervals = begun(plan).runs[0].timeline.intervals
    rests = [interval.length_ms for interval in intervals if interval.kind is IntervalKind.REST]
    assert rests == [20_000, 60_000, 20_000]
    assert intervals[-1].end_ms == 4 * 40_000 + 100_000


def test_of_several_moves_the_amount_is_their_share_and_a_split_keeps_that_of_its_time() -> None:
    plan = """
  - kind: rotation
    title: A
    every: 1:00
    rounds: 2
    stations: [{work: [{move: split squat, target: 12}, {move: air squat, target: 10}]}]
"""
    state = after(
        begun(plan),
        tapped(40),
        TargetChanged(at_ms=65_000, athlete="Ilka", move="split squat", target=Target(Fraction(8), Unit.REPS)),
        tapped(100),
    )
    assert [split.amount for split in splits(state) if split.athlete == "Ilka"] == [1, Fraction(4, 5)]
    assert [slot.amount for slot in whole_part(state, state.runs[0], "Ilka")] == [Fraction(4, 5)] * 2
