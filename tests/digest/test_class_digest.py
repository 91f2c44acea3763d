"""What is said of a class, worked out once."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from floorclock.clock.splits import Result
from floorclock.digest.class_digest import AthleteDigest
from floorclock.digest.figures import StationFigures, StationOverview
from floorclock.pace.flags import Flag
from floorclock.plan.session import ForTime, Paced
from tests.pace.sample_class import summary
from tests.report.outlooks import class_of, digested, to_come, with_outlook
from tests.tui.review.sample_reviews import big_class

PART = summary().parts[1]


def named(name: str) -> AthleteDigest:
    return next(athlete for athlete in PART.athletes if athlete.name == name)


class TestGroups:
    def test_everybody_of_a_part_is_named(self) -> None:
        names = {name for group in PART.groups for name in group.names}
        assert names == {"Ilka", "Bram", "Sefa", "Odd", "Runa"}

    def test_the_most_urgent_flag_comes_first_and_has_its_sign(self) -> None:
        assert [group.label for group in PART.groups] == ["held", "/ not finished", "! tight", "v fading", "untapped"]

    def test_who_nobody_tapped_is_unknown_and_nothing_else(self) -> None:
        assert [group.word for group in PART.groups if "Runa" in group.names] == ["untapped"]

    def test_a_forecast_is_said_to_be_one_and_of_a_class_that_is_over_only_who_did_go_under(self) -> None:
        calm = big_class(9, 6, run_of=3).parts[0]
        first = calm.athletes[0]
        warned = replace(first, runs_out=first.forecast[-1], flags=(Flag.RUNS_OUT,))
        part = replace(calm, athletes=(warned, *calm.athletes[1:]))
        ahead = tuple(athlete.name for athlete in part.athletes if athlete.runs_out is not None)
        assert first.name in ahead
        assert {group.word: group.names for group in part.groups}["forecast to run out"] == ahead
        whole = big_class(12, 8).parts[0]
        over = {group.word: group.names for group in whole.groups}
        assert "forecast to run out" not in over
        under = {one.name for one in whole.athletes if any(Flag.TIGHT in taken.flags for taken in one.splits)}
        assert set(over.get("ran out", ())) <= under | set(over["not finished"])


UNDER = "tapped intervals were under the margin"


@pytest.mark.parametrize(
    ("counts", "hardest", "verdict"),
    [
        ([(1, 20), (8, 20), (1, 20)], [1], f"10 of 60 {UNDER}, 8 of them at station 1"),
        ([(0, 20), (4, 20)], [1], f"4 of 40 {UNDER}, all at station 1"),
        ([(0, 36), (3, 36), (3, 36)], [1, 2], f"6 of 108 {UNDER}, 3 of them at station 1 and 3 at station 2"),
        ([(4, 20), (4, 20)], [], f"8 of 40 {UNDER}; no station stands out"),
        ([(0, 20), (2, 20)], [], f"2 of 40 {UNDER}; no station stands out"),
        ([(4, 20)], [0], f"4 of 20 {UNDER}"),
        ([(0, 0)], [], "nobody was tapped: nothing is known"),
        ([(0, 1)], [], "the margin was kept"),
    ],
    ids=[
        "a station with far more than its share stands out",
        "where it was one station alone all is said to be there",
        "stations with as many are named together",
        "nothing is blamed where stations are alike",
        "nothing is blamed where little was tight",
        "one station is not blamed by name",
        "where nobody tapped nothing is known",
        "where nothing was tight the margin was kept",
    ],
)
def test_the_verdict_names_the_station_that_did_it(counts: list[tuple[int, int]], hardest: list[int], verdict: str) -> None:
    stations = tuple(
        StationOverview(station=at, name=f"station {at}", tapped=tapped, tight=tight, untapped=0)
        for at, (tight, tapped) in enumerate(counts)
    )
    part = replace(PART, stations=stations)
    assert ([one.station for one in part.hardest], part.verdict) == (hardest, verdict)


@pytest.mark.parametrize(
    ("slopes_ms", "words"),
    [
        ([1_400], "1.4 s slower each round"),
        ([1_400, 1_500], "1.4 s slower each round"),
        ([100, -100], "the same pace from round to round"),
        ([-600, -500], "0.6 s faster each round"),
        ([None, None], "too little was tapped to tell the pace"),
        ([500, 2_400], "1.4 s slower each round, most at step-up: 2.4 s"),
        ([0, 1_400, 0], "the same pace from round to round, but 1.4 s slower each round at step-up"),
        ([-900, 1_000, -700], "0.7 s faster each round, but 1.0 s slower each round at step-up"),
    ],
)
def test_one_sentence_says_all_of_a_drift_and_names_a_station_that_stands_out(slopes_ms: list[int | None], words: str) -> None:
    stations = tuple(
        StationFigures(station=at, name=("swing", "step-up", "row")[at], tapped=4, slope_ms=slope_ms)
        for at, slope_ms in enumerate(slopes_ms)
    )
    assert PART.pace_words(AthleteDigest(name="Wim", stations=stations)) == words


class TestWork:
    def test_work_is_called_as_the_station_unless_it_was_another_move(self) -> None:
        bram = named("Bram")
        assert PART.work_at(bram, 0) == "swing"
        later = tuple(
            replace(taken, split=replace(taken.split, move="deadlift"))
            if taken.split.round > 2 and taken.split.station == 0
            else taken
            for taken in bram.splits
        )
        assert PART.work_at(replace(bram, splits=later), 0) == "swing / deadlift"
        assert PART.work_at(replace(bram, splits=later[-1:]), 0) == "swing"

    def test_the_last_round_of_each_station_is_told_and_none_of_who_was_never_tapped(self) -> None:
        forecast = (to_come(1, 5, 1), to_come(0, 6, 2), to_come(0, 5, 3))
        found = replace(named("Bram"), forecast=forecast).last_forecasts
        assert [(one.slot.station, one.slot.round) for one in found] == [(0, 6), (1, 5)]
        assert replace(named("Runa"), forecast=forecast).last_forecasts == ()


class TestStates:
    def test_a_forecast_is_none_any_more_when_it_came_true(self) -> None:
        bram = named("Bram")
        assert replace(bram, flags=(Flag.RUNS_OUT, Flag.TIGHT)).state_words == "x ran out, ! tight"
        assert replace(bram, flags=(Flag.RUNS_OUT,), runs_out=to_come(0, 5, 50)).state_words == "x runs out"

    def test_who_has_no_flag_held_or_is_unknown(self) -> None:
        assert named("Ilka").state_words == "held"
        assert named("Runa").state_words == "untapped"

    def test_the_round_in_which_the_margin_goes_is_likely_while_rounds_are_to_come(self) -> None:
        assert named("Bram").margin_words == "the margin went in round 4"
        assert with_outlook().parts[1].athletes[1].margin_words == "the margin likely goes in round 5"
        assert named("Ilka").margin_words == ""


class TestTheClass:
    def test_the_list_of_whom_to_talk_to_ends_and_nobody_is_named_twice(self) -> None:
        made = class_of([f"Athlete {number}" for number in range(40)], ["swing", "step-up"], 12)
        assert len(made.called) == 12
        assert len(made.calls) > 12
        assert not set(made.also_flagged) & {call.athlete for call in made.called}
        assert {call.athlete for call in made.calls} == {*made.also_flagged, *(call.athlete for call in made.called)}

    def test_a_drift_is_the_median_of_the_athletes_there(self) -> None:
        slopes = sorted(
            one.slope_ms for athlete in PART.athletes for one in athlete.stations if one.station == 0 and one.slope_ms is not None
        )
        assert len(slopes) == 4
        assert PART.stations[0].drift_ms == (slopes[1] + slopes[2]) / 2


def ranked(part: ForTime | Paced, *reached: Result, unknown: tuple[str, ...] = ()) -> list[str]:
    """The names of a part of results, in their order."""
    return [athlete.name for athlete in digested(part, reached=reached, people=unknown, ranked=True).parts[0].in_order]


class TestRanks:
    CARRY = ForTime(title="x", cap_ms=540_000, rounds=4, work=())

    def test_finishers_come_by_time_then_rounds_and_reps_then_the_rest(self) -> None:
        reached = (
            Result(athlete="Unfinished", part=0, not_finished=True, rounds=3),
            Result(athlete="Three", part=0, rounds=3, reps=2),
            Result(athlete="ThreeMore", part=0, rounds=3, reps=12),
            Result(athlete="Slow", part=0, time_ms=400_000),
            Result(athlete="Fast", part=0, time_ms=300_000),
        )
        order = ["Fast", "Slow", "ThreeMore", "Three", "Unfinished", "Unknown"]
        assert ranked(self.CARRY, *reached, unknown=("Unknown",)) == order

    def test_another_piece_of_work_is_another_order(self) -> None:
        quick = Result(athlete="Short", part=0, time_ms=200_000, choice="shorter")
        assert ranked(self.CARRY, quick, Result(athlete="Full", part=0, time_ms=500_000)) == ["Full", "Short"]

    def test_who_stays_longer_at_a_beat_stands_higher(self) -> None:
        part = Paced(title="x", beats_per_minute=Fraction(96), time_ms=180_000)
        early, late = Result(athlete="Early", part=0, time_ms=60_000), Result(athlete="Late", part=0, time_ms=90_000)
        assert ranked(part, early, late, unknown=("Stayed",)) == ["Stayed", "Late", "Early"]
