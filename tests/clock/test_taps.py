"""What a tap means, by the kind of part and the moment it was stamped (DESIGN, section 4)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.clock.events import (
    ChoiceTaken,
    Event,
    Joined,
    Left,
    NotFinished,
    PartBegun,
    PartEnded,
    Paused,
    Resumed,
    Skipped,
    Stretched,
    Tapped,
    TapTakenBack,
    WentBack,
    event_from_dict,
)
from floorclock.clock.fold import apply
from floorclock.clock.outcome import Outcome, What
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.plan.session import Amrap, AnyPart, Choice, OpenPart, Paced, Shuttle, Stage
from tests.clock.classes import CARRY, FAST, ILKA, STEP, SWING, at_go, begun, harbour, state_of, tap

REST_AS_NEEDED = OpenPart(title="Rest as needed")
MANY = Amrap(title="As many", time_ms=300_000, work=(SWING, STEP))
STEADY = Paced(title="Step", beats_per_minute=Fraction(96), beats_per_rep=4, time_ms=180_000)


def known(state: ClassState, name: str = "Ilka") -> list[tuple[int, str, int | None]]:
    """The splits of one athlete as (interval, status, split)."""
    return [(split.interval, str(split.status), split.split_ms) for split in splits(state) if split.athlete == name]


def tapped(at_ms: int, name: str = "Ilka") -> Tapped:
    return Tapped(at_ms=at_ms, athlete=name)


def counted(split_ms: int, interval: int, name: str = "Ilka") -> Outcome:
    return Outcome(What.COUNTED, name, split_ms, 60_000 - split_ms, 0, interval)


def credited(interval: int) -> Outcome:
    """In full: no rest is left."""
    return Outcome(What.CREDITED, "Ilka", 60_000, 0, 0, interval)


SKIPPED, ENDED, PAUSED = Skipped(at_ms=40_000), PartEnded(at_ms=40_000), Paused(at_ms=30_000)
RESUMED = Resumed(at_ms=30_000, count_in_ms=3_000)
NOT_DONE = NotFinished(at_ms=59_000, athlete="Ilka", part=0, interval=0)
LATECOMER = Joined(at_ms=30_000, athlete=replace(ILKA, name="Wim", key="w"))
WHAT_A_TAP_IS: dict[str, tuple[tuple[Event, ...], Tapped, Outcome]] = {
    "a split from the start of the interval": ((), tapped(31_400), counted(31_400, 0)),
    "one in each interval": ((tapped(31_400),), tapped(104_000), counted(44_000, 1)),
    "nothing a second time": ((tapped(31_400),), tapped(33_000), Outcome(What.ALREADY, "Ilka", 31_400, part=0, interval=0)),
    "just after the boundary, the interval before in full": ((), tapped(61_000), credited(0)),
    "after a credit, of the interval that runs": ((tapped(61_000),), tapped(61_900), counted(1_900, 1)),
    "no credit for who tapped the interval before": ((tapped(55_000),), tapped(61_500), counted(1_500, 1)),
    "a credit whatever somebody else's shortest is": ((tapped(500, "Bram"),), tapped(61_000), credited(0)),
    "early in a rest, of the work before it": ((), tapped(121_000), credited(1)),
    "after that, nothing in a rest": ((tapped(121_000),), tapped(121_500), Outcome(What.RESTING, "Ilka")),
    "early in work after a rest, of the work": ((), tapped(181_000), counted(1_000, 3)),
    "no credit of an interval that the coach skipped": ((SKIPPED,), tapped(41_000), counted(1_000, 1)),
    "no credit of the interval before one that was begun again": ((WentBack(at_ms=80_000),), tapped(81_000), counted(1_000, 1)),
    "no credit over the coach's word": ((NOT_DONE,), tapped(60_500), counted(500, 1)),
    "no credit of what was before a latecomer came": ((LATECOMER,), tapped(61_000, "Wim"), counted(1_000, 1, "Wim")),
    "where it was stamped, if a skip was folded first": ((SKIPPED,), tapped(39_900), counted(39_900, 0)),
    "within the grace after the coach ended the part, at its end": ((ENDED,), tapped(41_000), counted(40_000, 0)),
    "nothing after that grace": ((ENDED,), tapped(42_001), Outcome(What.NOTHING_TO_TAP, "Ilka")),
    "in a pause, where the clock stands": ((PAUSED,), tapped(30_000), counted(30_000, 0)),
    "in the count after a pause, where the clock stands": ((PAUSED, RESUMED), tapped(32_000), counted(30_000, 0)),
    "later by the count": ((PAUSED, tapped(30_000), RESUMED), tapped(63_500), counted(500, 1)),
    "nothing of who went home": ((Left(at_ms=10_000, athlete="Ilka"),), tapped(20_000), Outcome(What.AWAY, "Ilka")),
}


@pytest.mark.parametrize(("before", "last", "outcome"), WHAT_A_TAP_IS.values(), ids=WHAT_A_TAP_IS.keys())
def test_a_tap_is(before: tuple[Event, ...], last: Tapped, outcome: Outcome) -> None:
    state = at_go(harbour(), REST_AS_NEEDED)
    for event in before:
        apply(state, event)
    marks = dict(state.runs[0].marks)
    assert apply(state, last) == outcome
    taken = [(place, mark.split_ms, mark.credited) for place, mark in state.runs[0].marks.items() if marks.get(place) != mark]
    is_credit = outcome.what is What.CREDITED
    counts = is_credit or outcome.what is What.COUNTED
    assert taken == ([((outcome.athlete, outcome.interval), outcome.amount_ms, is_credit)] if counts else [])


@pytest.mark.parametrize(
    ("at_ms", "name", "what"),
    [
        (9_999, "Ilka", What.NOT_STARTED),
        (0, "Ilka", What.NOT_STARTED),
        (10_001, "Ilka", What.COUNTED),
        (20_000, "Wim", What.UNKNOWN),
        (10_000 + 130_000, "Ilka", What.RESTING),
        (10_000 + 9 * 60_000 + 2_001, "Ilka", What.NOTHING_TO_TAP),
    ],
)
def test_a_tap_out_of_place_changes_nothing_and_says_why(at_ms: int, name: str, what: What) -> None:
    state = begun(harbour())
    outcome = tap(state, at_ms, name)
    assert outcome.what is what
    assert outcome.took_effect == bool(state.taken) == any(run.marks for run in state.runs)


def test_a_tap_before_the_class_has_begun_has_nothing_to_tap() -> None:
    assert tap(state_of(harbour()), 0).what is What.NOTHING_TO_TAP


@pytest.mark.parametrize(
    ("late_ms", "what"), [(0, What.CREDITED), (1, What.CREDITED), (2_000, What.CREDITED), (2_001, What.COUNTED)]
)
def test_a_tap_within_the_grace_after_a_boundary_credits_the_interval_before_in_full(late_ms: int, what: What) -> None:
    state = at_go(harbour())
    outcome = tap(state, 60_000 + late_ms)
    assert outcome.what is what
    credited = [(0, "done", 60_000)]
    assert known(state) == (credited if what is What.CREDITED else [(0, "untapped", None), (1, "done", late_ms)])


@pytest.mark.parametrize(("shortest_ms", "what"), [(1_500, What.RESTING), (1_501, What.CREDITED)])
def test_an_athlete_known_to_be_that_fast_is_not_credited(shortest_ms: int, what: What) -> None:
    """With a recorded split so short in this part, the early tap may be a real one. The second interval was not tapped."""
    state = at_go(harbour())
    tap(state, shortest_ms)
    assert tap(state, 120_000 + 1_500).what is what


def test_each_start_group_rests_at_its_own_station() -> None:
    state = at_go(harbour())
    assert tap(state, 30_000, "Noor").what is What.RESTING
    assert tap(state, 30_000, "Bram").what is What.COUNTED
    assert [(split.move, split.amount) for split in splits(state)] == [("step-up", Fraction(10))]


def test_the_rest_between_sets_is_no_time_to_tap_after_the_grace() -> None:
    state = at_go(FAST)
    assert tap(state, 22_000).what is What.CREDITED
    assert tap(state, 22_001).what is What.RESTING
    assert tap(state, 30_000 + 20_000 + 2_001).what is What.RESTING


@pytest.mark.parametrize("following", [(), (REST_AS_NEEDED,), (harbour(),)], ids=["the end", "an open part", "a timed part"])
@pytest.mark.parametrize(("late_ms", "counts"), [(0, True), (2_000, True), (2_001, False)])
def test_a_tap_just_after_the_end_of_a_part_credits_its_last_interval(
    following: tuple[AnyPart, ...], late_ms: int, counts: bool
) -> None:
    state = at_go(FAST, *following)
    outcome = tap(state, 80_000 + late_ms)
    assert outcome.what is (What.CREDITED if counts else What.NOTHING_TO_TAP)
    assert known(state)[-1] == ((4, "done", 20_000) if counts else (4, "untapped", None))


def test_a_tap_in_the_count_in_of_the_next_part_still_credits_the_part_that_just_ended() -> None:
    state = begun(FAST, harbour())
    apply(state, PartBegun(at_ms=90_500, part=1))
    assert tap(state, 91_000) == Outcome(What.CREDITED, "Ilka", 20_000, 0, 0, 4)
    assert tap(state, 91_500).what is What.NOTHING_TO_TAP
    assert tap(state, 93_000).what is What.NOT_STARTED


def test_a_tap_stamped_before_the_end_but_folded_after_it_counts_where_it_was_stamped() -> None:
    state = at_go(FAST, REST_AS_NEEDED)
    state.advance(95_000)
    assert state.run is not None
    assert state.run.part is REST_AS_NEEDED
    assert tap(state, 79_000) == Outcome(What.COUNTED, "Ilka", 19_000, 1_000, 0, 4)
    assert state.now_ms == 95_000


def test_a_count_of_an_old_record_begins_with_its_resume() -> None:
    """Records of before `lead_ms` have no such key; they fold to the state that their floor showed."""
    state = at_go(harbour())
    for values in ({"event": "pause", "at_ms": 30_000}, {"event": "resume", "at_ms": 30_000, "count_in_ms": 3_000}):
        apply(state, event_from_dict(values))
    assert state.runs[0].position_ms(33_500) == 30_500
    cues = [(cue.at_ms, str(cue.name)) for cue in state.cues_between(29_999, 33_000)]
    assert cues == [(30_000, "count"), (31_000, "count"), (32_000, "count"), (33_000, "go")]


@pytest.mark.parametrize(("lead_ms", "count_ms"), [(300, 700), (300, 1_900), (250, 2_750), (300, 5_000)])
def test_a_lead_never_adds_a_pip_to_a_count(lead_ms: int, count_ms: int) -> None:
    state = at_go(harbour())
    apply(state, Paused(at_ms=30_000))
    apply(state, Resumed(at_ms=30_000, count_in_ms=count_ms, lead_ms=lead_ms))
    go_ms = 30_000 + lead_ms + count_ms
    pips = [(go_ms - k * 1_000, "count") for k in range(min(3, count_ms // 1_000), 0, -1)]
    assert [(cue.at_ms, str(cue.name)) for cue in state.cues_between(29_999, go_ms)] == [*pips, (go_ms, "go")]
    assert state.runs[0].position_ms(go_ms + 500) == 30_500


def test_a_burst_of_forty_taps_at_one_instant_gives_forty_splits() -> None:
    people = tuple(replace(ILKA, name=f"Athlete {number}", key="") for number in range(40))
    state = begun(harbour(), athletes=people, count_in_ms=0)
    outcomes = [tap(state, 30_000, person.name) for person in people for _ in range(2)]
    assert [outcome.what for outcome in outcomes] == [What.COUNTED, What.ALREADY] * 40
    assert {split.split_ms for split in splits(state)} == {30_000}
    assert len(splits(state)) == 40


def taken_back(at_ms: int, name: str = "") -> TapTakenBack:
    return TapTakenBack(at_ms=at_ms, athlete=name)


ILKAS, BRAMS = tapped(30_000), tapped(31_000, "Bram")
TAKEN_BACK: dict[str, tuple[tuple[Event, ...], list[tuple[What, str]], dict[str, list[tuple[int, str, int | None]]]]] = {
    "the last of anybody, then the one before": (
        (ILKAS, BRAMS, taken_back(32_000), taken_back(32_000), taken_back(32_000)),
        [(What.TAKEN_BACK, "Bram"), (What.TAKEN_BACK, "Ilka"), (What.NOTHING_TO_TAKE_BACK, "")],
        {},
    ),
    "that of somebody": (
        (ILKAS, BRAMS, taken_back(32_000, "Ilka"), taken_back(32_000, "Noor")),
        [(What.TAKEN_BACK, "Ilka"), (What.NOTHING_TO_TAKE_BACK, "Noor")],
        {"Bram": [(0, "done", 31_000)]},
    ),
    "never one that did not count": ((ILKAS, tapped(35_000), taken_back(36_000)), [(What.TAKEN_BACK, "Ilka")], {}),
    "one over the coach's word, which stands again": (
        (replace(NOT_DONE, at_ms=20_000), ILKAS, taken_back(31_000)),
        [(What.TAKEN_BACK, "Ilka")],
        {"Ilka": [(0, "not finished", None)]},
    ),
    "none of an interval that was begun again, nor of the one before": (
        (ILKAS, tapped(80_000), WentBack(at_ms=90_000), taken_back(91_000)),
        [(What.REFUSED, "Ilka")],
        {"Ilka": [(0, "done", 30_000)], "Bram": [(0, "untapped", None)]},
    ),
    "one of the interval before for twenty seconds": (
        (tapped(50_000), taken_back(70_001), taken_back(70_000)),
        [(What.REFUSED, "Ilka"), (What.TAKEN_BACK, "Ilka")],
        {"Ilka": [(0, "untapped", None)], "Bram": [(0, "untapped", None)]},
    ),
}


@pytest.mark.parametrize(("events", "outcomes", "left"), TAKEN_BACK.values(), ids=TAKEN_BACK.keys())
def test_taking_back_undoes(
    events: tuple[Event, ...], outcomes: list[tuple[What, str]], left: dict[str, list[tuple[int, str, int | None]]]
) -> None:
    state = at_go(harbour())
    came = [(event, apply(state, event)) for event in events]
    assert [(outcome.what, outcome.athlete) for event, outcome in came if isinstance(event, TapTakenBack)] == outcomes
    assert {name: known(state, name) for name in state.athletes if known(state, name)} == left


def test_going_back_in_a_part_with_laps_leaves_nothing_to_take_back_from_it() -> None:
    state = at_go(MANY)
    tap(state, 50_000)
    apply(state, WentBack(at_ms=60_000))
    assert results(state) == ()
    assert apply(state, TapTakenBack(at_ms=61_000)).what is What.NOTHING_TO_TAKE_BACK


def test_going_back_in_a_later_stage_forgets_who_stopped_in_it_and_nobody_else() -> None:
    shuttle = Shuttle(Fraction(20), (Stage(Fraction(9), 2), Stage(Fraction(10), 2)))
    state = at_go(Paced(title="Shuttle", shuttle=shuttle))
    tap(state, 9_000, "Bram")
    tap(state, 20_000, "Ilka")
    apply(state, WentBack(at_ms=21_000))
    assert [result.athlete for result in results(state)] == ["Bram"]
    assert apply(state, TapTakenBack(at_ms=22_000)).athlete == "Bram"
    assert apply(state, TapTakenBack(at_ms=22_000)).what is What.NOTHING_TO_TAKE_BACK


def test_a_finish_is_the_time_from_the_athletes_own_start() -> None:
    state = at_go(replace(CARRY, wave_every_ms=60_000))
    assert tap(state, 59_000, "Bram").what is What.NOT_STARTED
    assert tap(state, 250_000, "Ilka").amount_ms == 250_000
    assert tap(state, 250_000, "Bram").amount_ms == 190_000
    assert tap(state, 250_000, "Noor").amount_ms == 130_000
    assert tap(state, 260_000, "Noor") == Outcome(What.ALREADY, "Noor", 130_000, part=0)


@pytest.mark.parametrize(("at_ms", "time_ms"), [(300_000, 300_000), (302_000, 300_000), (302_001, None)])
def test_the_first_wave_is_over_at_its_own_cap_while_later_waves_go_on(at_ms: int, time_ms: int | None) -> None:
    state = at_go(replace(CARRY, wave_every_ms=60_000))
    outcome = tap(state, at_ms, "Ilka")
    assert (outcome.what, outcome.amount_ms) == ((What.COUNTED, time_ms) if time_ms else (What.NOTHING_TO_TAP, None))
    assert tap(state, 330_000, "Bram").amount_ms == 270_000


def test_time_that_the_coach_added_is_added_to_the_cap_of_every_wave() -> None:
    state = at_go(replace(CARRY, wave_every_ms=60_000))
    apply(state, Stretched(at_ms=290_000, delta_ms=30_000))
    assert tap(state, 329_000, "Ilka").amount_ms == 329_000


def test_with_taps_by_rounds_the_last_round_is_the_finish() -> None:
    state = at_go(replace(CARRY, tap="round", choose=(Choice(name="shorter", rounds=2),)))
    apply(state, ChoiceTaken(at_ms=0, athlete="Bram", part=0, choice="shorter"))
    for at_ms in (60_000, 130_000, 210_000):
        tap(state, at_ms, "Ilka")
        tap(state, at_ms + 100, "Bram")
    assert tap(state, 220_000, "Ilka").what is What.ALREADY
    ilka, bram = results(state)
    assert (ilka.time_ms, ilka.rounds, ilka.laps_ms) == (210_000, 3, (60_000, 130_000, 210_000))
    assert (bram.time_ms, bram.rounds, bram.choice) == (130_100, 2, "shorter")


@pytest.mark.parametrize(("again_ms", "what"), [(2_000, What.TOO_SOON), (2_001, What.COUNTED)])
@pytest.mark.parametrize("part", [MANY, replace(CARRY, tap="round")], ids=["amrap", "for_time"])
def test_a_lap_within_the_grace_of_the_one_before_is_the_same_tap_twice(part: AnyPart, again_ms: int, what: What) -> None:
    state = at_go(part)
    tap(state, 60_000)
    assert tap(state, 60_000 + again_ms).what is what
    assert results(state)[0].rounds == (1 if what is What.TOO_SOON else 2)


def test_taking_back_a_lap_takes_the_last_and_a_taken_back_finish_lets_the_athlete_go_on() -> None:
    state = at_go(replace(CARRY, tap="round"))
    for at_ms in (60_000, 130_000, 210_000):
        tap(state, at_ms)
    apply(state, TapTakenBack(at_ms=211_000))
    assert (results(state)[0].time_ms, results(state)[0].laps_ms) == (None, (60_000, 130_000))
    assert tap(state, 215_000).what is What.COUNTED
    assert results(state)[0].time_ms == 215_000


def test_a_lap_just_after_the_end_counts_at_the_end() -> None:
    state = at_go(MANY, REST_AS_NEEDED)
    assert tap(state, 301_500).amount_ms == 300_000
    assert tap(state, 302_500, "Bram").what is What.NOTHING_TO_TAP


def test_a_tap_on_the_instant_of_the_go_is_before_it() -> None:
    for part in (CARRY, MANY, STEADY):
        assert tap(at_go(part), 0).what is What.NOT_STARTED


def test_in_a_paced_part_a_tap_says_that_the_athlete_stopped() -> None:
    state = at_go(STEADY)
    assert tap(state, 100_000).amount_ms == 100_000
    assert tap(state, 110_000).what is What.ALREADY
    state.advance(180_000)
    tap(state, 180_500, "Bram")
    ilka, bram = results(state)
    # Beats every 625 ms from 0, four a rep: 161 by 100 s; the whole test is 72 reps (cadence.csv).
    assert (ilka.reps, bram.reps, bram.time_ms) == (40, 72, 180_000)


def test_in_a_shuttle_run_the_result_is_whole_stages_and_all_shuttles() -> None:
    state = at_go(Paced(title="Shuttle", shuttle=Shuttle(Fraction(20), (Stage(Fraction(9), 2), Stage(Fraction(10), 3)))))
    tap(state, 15_999, "Ilka")
    tap(state, 16_000, "Bram")
    tap(state, 16_000 + 7_200, "Noor")
    assert [(result.rounds, result.reps) for result in results(state)] == [(0, 1), (1, 2), (1, 3)]


def test_an_untapped_interval_is_unknown_and_shows_up_only_once_it_is_over() -> None:
    state = at_go(harbour())
    state.advance(59_999)
    assert known(state) == []
    state.advance(60_000)
    assert known(state) == [(0, "untapped", None)]
    assert [split.rest_ms for split in splits(state) if split.status is Status.UNTAPPED] == [None, None]
