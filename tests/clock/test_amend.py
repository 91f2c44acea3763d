"""What the coach sets right or changes on the spot."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from floorclock.clock.events import (
    Allowed,
    ChoiceTaken,
    ClassEnded,
    EffortRated,
    Event,
    Joined,
    Left,
    MarginChanged,
    NotFinished,
    OptionChosen,
    PartBegun,
    Quietened,
    Regrouped,
    ResultEntered,
    SplitCorrected,
    Tapped,
    TapTakenBack,
    TargetChanged,
)
from floorclock.clock.fold import apply
from floorclock.clock.outcome import Outcome, What
from floorclock.clock.splits import Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Amrap, OpenPart, Rotation
from floorclock.plan.work import Option, Station, Target, Unit
from tests.clock.classes import BRAM, CARRY, ILKA, LIGHTER, STEP, SWING, at_go, begun, harbour, reps, session_of, tap

LOADED = replace(SWING, options=(LIGHTER,))
HANDSTAND = Station(
    move="handstand push-up",
    target=reps(5),
    guarded=True,
    options=(Option(name="incline", move="incline push-up", target=reps(10)),),
)
WIM = Athlete(name="Wim", key="w")


def one_move(station: Station = SWING, rounds: int = 6) -> Rotation:
    return Rotation(title="One move", every_ms=60_000, work=(station,), rounds=rounds)


def of(state: ClassState, name: str = "Ilka") -> list[Split]:
    return [split for split in splits(state) if split.athlete == name]


def correction(split_ms: int | None, **place: Any) -> SplitCorrected:
    return SplitCorrected(**{"at_ms": 70_000, "athlete": "Ilka", "part": 0, "interval": 0, "split_ms": split_ms, **place})


def not_finished(at_ms: int, **place: Any) -> NotFinished:
    return NotFinished(**{"at_ms": at_ms, "athlete": "Ilka", "part": 0, "interval": 0, **place})


def aim(state: ClassState, at_ms: int, target: Target, move: str = "kettlebell swing") -> Outcome:
    return apply(state, TargetChanged(at_ms=at_ms, athlete="Ilka", move=move, target=target))


@pytest.mark.parametrize(
    ("word", "stands"),
    [
        (correction(29_500), (29_500, 30_500, True, Status.DONE)),
        (correction(None), (None, None, False, Status.UNTAPPED)),
        (not_finished(70_000), (None, None, False, Status.NOT_FINISHED)),
    ],
    ids=["a correction, marked as one", "a correction to nothing", "not finished"],
)
def test_the_coachs_word_stands_in_the_place_of_the_tap_and_taking_back_never_undoes_it(
    word: Event, stands: tuple[int | None, int | None, bool, Status]
) -> None:
    state = at_go(harbour())
    tap(state, 31_000)
    assert apply(state, word) == Outcome(What.DONE, "Ilka")
    assert apply(state, TapTakenBack(at_ms=71_000)).what is What.NOTHING_TO_TAKE_BACK
    assert [(split.split_ms, split.rest_ms, split.corrected, split.status) for split in of(state)] == [stands]


@pytest.mark.parametrize(("split_ms", "taken"), [(0, False), (-5, False), (1, True), (60_000, True), (60_001, False)])
def test_a_corrected_split_lies_within_its_interval(split_ms: int, taken: bool) -> None:
    state = at_go(harbour())
    assert apply(state, correction(split_ms)).took_effect is taken
    assert (of(state)[0].split_ms == split_ms) is taken


@pytest.mark.parametrize(
    ("event", "what"),
    [
        (correction(1, athlete="Wim"), What.UNKNOWN),
        (correction(1, part=1), What.REFUSED),
        (correction(1, interval=99), What.REFUSED),
        (correction(1, interval=-1), What.REFUSED),
        (correction(1, interval=2), What.REFUSED),
        (not_finished(70_000, interval=2), What.REFUSED),
        (not_finished(70_000, athlete="Wim"), What.UNKNOWN),
        (ResultEntered(at_ms=70_000, athlete="Wim", part=0, rounds=1), What.UNKNOWN),
        (TargetChanged(at_ms=70_000, athlete="Wim", move="row", target=reps(1)), What.UNKNOWN),
        (OptionChosen(at_ms=70_000, athlete="Wim", move="row", option=""), What.UNKNOWN),
        (ChoiceTaken(at_ms=70_000, athlete="Wim", part=0, choice=""), What.UNKNOWN),
        (Allowed(at_ms=70_000, athlete="Wim", move="row"), What.UNKNOWN),
        (Regrouped(at_ms=70_000, athlete="Wim", group=2), What.UNKNOWN),
        (Left(at_ms=70_000, athlete="Wim"), What.UNKNOWN),
        (MarginChanged(at_ms=70_000, athlete="Wim", margin_ms=1), What.UNKNOWN),
        (Joined(at_ms=70_000, athlete=ILKA), What.REFUSED),
    ],
    ids=lambda value: getattr(value, "name", None) or str(value),
)
def test_an_amendment_that_cannot_mean_anything_changes_nothing_and_says_so(event: Event, what: What) -> None:
    state, untouched = at_go(harbour()), at_go(harbour())
    assert apply(state, event).what is what
    untouched.advance(70_000)
    assert state == untouched


def test_an_entered_result_stands_before_the_taps_and_leaves_alone_what_was_not_entered() -> None:
    state = at_go(Amrap(title="As many", time_ms=300_000, work=(SWING, STEP)))
    for at_ms in (60_000, 130_000):
        tap(state, at_ms)
    apply(state, ResultEntered(at_ms=301_000, athlete="Ilka", part=0, reps=7))
    assert [(result.rounds, result.reps, result.laps_ms) for result in results(state)] == [(2, 7, (60_000, 130_000))]
    apply(state, ResultEntered(at_ms=302_000, athlete="Ilka", part=0, rounds=3, reps=2))
    apply(state, ResultEntered(at_ms=303_000, athlete="Bram", part=0, rounds=1))
    assert [(result.rounds, result.reps) for result in results(state)] == [(3, 2), (1, None)]


def test_who_was_called_not_finished_has_no_time_until_they_finish_or_somebody_says_otherwise() -> None:
    state = at_go(CARRY)
    for event, came_to in (
        (not_finished(100_000), (None, True)),
        (Tapped(at_ms=200_000, athlete="Ilka"), (200_000, False)),
        (not_finished(210_000), (None, True)),
        (ResultEntered(at_ms=220_000, athlete="Ilka", part=0, time_ms=205_000), (205_000, False)),
    ):
        apply(state, event)
        assert [(result.time_ms, result.not_finished) for result in results(state)] == [came_to]


def test_a_changed_target_holds_from_now_on_and_what_was_done_before_keeps_its_own() -> None:
    state = at_go(one_move())
    tap(state, 30_000)
    aim(state, 70_000, reps(10))
    tap(state, 100_000)
    assert [split.amount for split in of(state)] == [14, 10]
    assert [split.amount for split in of(state, "Bram")] == [14]


def test_an_own_target_climbs_with_the_ladder_of_the_plan_unless_it_has_a_step_of_its_own() -> None:
    state = at_go(one_move(STEP))
    aim(state, 0, reps(8), "step-up")
    tap(state, 30_000)
    tap(state, 90_000)
    aim(state, 120_000, reps(8, 3), "step-up")
    tap(state, 150_000)
    assert [split.amount for split in of(state)] == [8, 9, 14]


def test_a_target_in_another_unit_replaces_the_planned_one() -> None:
    state = at_go(one_move())
    aim(state, 0, Target(Fraction(40), Unit.SECONDS))
    tap(state, 30_000)
    assert [(split.amount, split.unit) for split in of(state)] == [(Fraction(40), Unit.SECONDS)]


def test_an_option_changes_move_and_target_and_can_be_given_back() -> None:
    state = at_go(one_move(LOADED))
    apply(state, OptionChosen(at_ms=0, athlete="Ilka", move="kettlebell swing", option="lighter"))
    tap(state, 30_000)
    apply(state, OptionChosen(at_ms=60_000, athlete="Ilka", move="kettlebell swing", option=""))
    tap(state, 90_000)
    assert [(split.move, split.amount) for split in of(state)] == [
        ("kettlebell deadlift", Fraction(12)),
        ("kettlebell swing", Fraction(14)),
    ]


def test_a_guarded_move_falls_back_on_its_open_option_until_the_coach_says_yes() -> None:
    state = at_go(one_move(HANDSTAND))
    tap(state, 30_000)
    apply(state, Allowed(at_ms=60_000, athlete="Ilka", move="handstand push-up"))
    tap(state, 90_000)
    tap(state, 90_000, "Bram")
    assert [split.move for split in of(state)] == ["incline push-up", "handstand push-up"]
    assert [split.move for split in of(state, "Bram")] == ["incline push-up"] * 2


def test_a_guarded_move_without_a_way_out_stays_and_is_marked_as_gated() -> None:
    state = at_go(one_move(replace(HANDSTAND, options=())))
    assert state.run is not None
    work = state.assignment("Ilka", state.run, 0)
    assert work is not None
    assert (work.move, work.gated) == ("handstand push-up", True)
    apply(state, Allowed(at_ms=1, athlete="Ilka", move="handstand push-up"))
    allowed = state.assignment("Ilka", state.run, 0)
    assert allowed is not None
    assert allowed.gated is False


def test_another_start_group_holds_from_the_next_interval_on() -> None:
    state = at_go(harbour())
    apply(state, Regrouped(at_ms=30_000, athlete="Ilka", group=2))
    assert [state.group_of("Ilka", 0, interval) for interval in range(3)] == [1, 2, 2]
    assert state.run is not None
    assert [state.station_of("Ilka", state.run, interval) for interval in range(3)] == [0, 2, 0]


@pytest.mark.parametrize(("at_ms", "first"), [(0, (0, 0)), (9_999, (0, 0)), (10_000, (0, 1))])
def test_a_change_of_group_in_the_count_in_holds_from_the_first_interval(at_ms: int, first: tuple[int, int]) -> None:
    state = begun(harbour(), harbour())
    apply(state, Regrouped(at_ms=at_ms, athlete="Ilka", group=3))
    assert state.groups == {"Ilka": [(*first, 3)]}


def test_a_change_of_group_between_parts_holds_from_the_next_part() -> None:
    state = begun(harbour(rounds=1), harbour())
    apply(state, Regrouped(at_ms=10_000 + 180_000, athlete="Ilka", group=3))
    assert (state.group_of("Ilka", 0, 2), state.group_of("Ilka", 1, 0)) == (1, 3)


def test_a_latecomer_is_expected_from_the_next_interval_and_gets_a_free_key() -> None:
    state = at_go(harbour())
    apply(state, Joined(at_ms=30_000, athlete=replace(WIM, key="i")))
    assert state.athletes["Wim"].key not in {"", "i", "b"}
    state.advance(121_000)
    assert [split.interval for split in of(state, "Wim")] == [1]


def test_a_latecomer_may_tap_at_once() -> None:
    state = at_go(harbour())
    apply(state, Joined(at_ms=30_000, athlete=WIM))
    assert state.athletes["Wim"].key == "w"
    assert tap(state, 50_000, "Wim").what is What.COUNTED


def test_somebody_who_went_home_keeps_their_splits_and_is_expected_no_more() -> None:
    state = at_go(harbour())
    tap(state, 30_000)
    apply(state, Left(at_ms=70_000, athlete="Ilka"))
    state.advance(300_000)
    assert [split.interval for split in of(state)] == [0]
    assert [athlete.name for athlete in state.present] == ["Bram", "Noor"]
    assert apply(state, Left(at_ms=300_000, athlete="Ilka")).what is What.UNKNOWN


def test_coming_back_leaves_out_only_the_intervals_that_were_missed() -> None:
    state = at_go(one_move())
    apply(state, Left(at_ms=70_000, athlete="Ilka"))
    assert apply(state, Joined(at_ms=130_000, athlete=ILKA)).what is What.DONE
    state.advance(360_000)
    assert [(split.interval, split.status) for split in of(state)] == [(k, Status.UNTAPPED) for k in (0, 3, 4, 5)]
    assert [athlete.name for athlete in state.present] == ["Ilka", "Bram", "Noor"]


def test_coming_back_keeps_the_targets_that_were_given_before() -> None:
    state = at_go(one_move())
    aim(state, 1_000, reps(9))
    apply(state, Left(at_ms=2_000, athlete="Ilka"))
    apply(state, Joined(at_ms=3_000, athlete=replace(ILKA, targets={})))
    assert state.athletes["Ilka"].targets["kettlebell swing"] == reps(9)


def margins(state: ClassState) -> list[int]:
    """The margin of Ilka and of Bram at the swing (which has none of its own) and at the step-up (which has 5 s)."""
    stations = state.part(0).stations
    return [state.margin_for(name, 0, station) for name in ("Ilka", "Bram") for station in stations]


def test_the_margin_nearest_to_the_athlete_holds_and_a_live_one_stands_before_the_plan() -> None:
    part = replace(harbour(), work=(SWING, replace(STEP, rest_margin_ms=5_000)))
    state = at_go(part)
    state.session = session_of(part, rest_margin_ms=15_000)
    assert margins(state) == [15_000, 5_000, 15_000, 5_000]
    apply(state, MarginChanged(at_ms=1, margin_ms=20_000))
    assert margins(state) == [20_000, 5_000, 20_000, 5_000]
    apply(state, MarginChanged(at_ms=2, margin_ms=12_000, part=0))
    assert margins(state) == [12_000, 12_000, 12_000, 12_000]
    apply(state, MarginChanged(at_ms=3, margin_ms=8_000, athlete="Bram"))
    assert margins(state) == [12_000, 12_000, 8_000, 8_000]


def test_the_margin_of_a_part_in_the_plan_stands_before_that_of_the_session() -> None:
    state = at_go(replace(harbour(), rest_margin_ms=10_000))
    assert state.margin_for("Ilka", 0) == 10_000
    apply(state, MarginChanged(at_ms=1, margin_ms=20_000))
    assert state.margin_for("Ilka", 0) == 10_000
    state.athletes["Ilka"] = replace(ILKA, rest_margin_ms=0)
    assert state.margin_for("Ilka", 0) == 0


def test_each_split_carries_the_margin_of_its_athlete_at_its_station() -> None:
    state = at_go(replace(harbour(), work=(SWING, replace(STEP, rest_margin_ms=5_000))))
    state.advance(120_000)
    assert [split.margin_ms for split in of(state)] == [15_000, 5_000]


def test_whose_flags_are_quietened_is_known_until_they_are_wanted_again_and_no_split_changes() -> None:
    state = at_go(harbour())
    tap(state, 55_000)
    before = splits(state)
    assert apply(state, Quietened(at_ms=56_000, athlete="Ilka")) == Outcome(What.DONE, "Ilka")
    apply(state, Quietened(at_ms=57_000, athlete="Ilka"))
    assert state.quiet == {"Ilka"}
    assert splits(state) == before
    apply(state, Quietened(at_ms=58_000, athlete="Ilka", quiet=False))
    apply(state, Quietened(at_ms=59_000, athlete="Bram", quiet=False))
    assert state.quiet == set()
    assert apply(state, Quietened(at_ms=60_000, athlete="Nobody")).what is What.UNKNOWN


@pytest.mark.parametrize("effort", [0, 0.5, 7, 10])
def test_an_effort_from_0_to_10_is_kept_also_after_the_class_is_over(effort: float) -> None:
    """Borg's CR10 scale has 0.5 for "extremely weak" (Borg 1982; from memory, sure)."""
    state = at_go(harbour())
    apply(state, ClassEnded(at_ms=1_000))
    assert apply(state, EffortRated(at_ms=2_000, athlete="Ilka", effort=effort)) == Outcome(What.DONE, "Ilka")
    assert state.efforts == {"Ilka": effort}
    apply(state, EffortRated(at_ms=3_000, athlete="Ilka", effort=None))
    assert state.efforts == {}
    assert apply(state, EffortRated(at_ms=4_000, athlete="Bram", effort=None)).what is What.DONE


@pytest.mark.parametrize("effort", [-0.5, 10.5, 100, float("nan"), float("inf")])
def test_an_effort_off_the_scale_is_refused_and_the_one_before_stands(effort: float) -> None:
    state = at_go(harbour())
    apply(state, EffortRated(at_ms=1_000, athlete="Ilka", effort=4))
    outcome = apply(state, EffortRated(at_ms=2_000, athlete="Ilka", effort=effort))
    assert (outcome.what, outcome.because) == (What.REFUSED, "an effort lies between 0 and 10")
    assert state.efforts == {"Ilka": 4}
    assert apply(state, EffortRated(at_ms=3_000, athlete="Nobody", effort=4)).what is What.UNKNOWN


def test_the_run_of_a_part_that_was_not_begun_is_the_one_that_begins() -> None:
    state = begun(OpenPart(title="Brief"), harbour(), athletes=(ILKA, BRAM))
    planned = state.planned_run(1, 50_000)
    assert len(state.runs) == 1
    apply(state, PartBegun(at_ms=50_000, part=1))
    assert state.runs[-1] == planned


def test_what_is_kept_at_hand_of_one_station_is_never_given_for_another() -> None:
    # A state that was copied or sent to another process keeps numbers of stations that are other stations there.
    state = at_go(harbour())
    ilka = state.athletes["Ilka"]
    known = state.assigned("Ilka", SWING)
    state._assigned["Ilka", id(STEP)] = ilka, SWING, known
    assert state.assigned("Ilka", STEP).move == STEP.move
