"""Invented athletes: the same for a seed, whoever is asked first, and worth coaching."""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floorclock.clock.splits import Split, Status
from floorclock.pace.flags import Flag, flags
from floorclock.plan.roster import Assignment, Athlete, Roster
from floorclock.plan.session import Paced, Shuttle, Stage
from floorclock.plan.work import Target, Unit
from floorclock.simulate.athletes import (
    MISSED_TAP,
    SETTING_UP_S,
    Attempt,
    Course,
    PacingStyle,
    SimulatedAthlete,
    attempt,
    drop_out_ms,
    laps,
    most_in,
    simulated_athlete,
    simulated_athletes,
)
from tests.clock.classes import reps
from tests.pace.taps import split

NAMES = ["Ilka", "Bram", "Noor", "Tove", "Sefa", "Odd", "Runa", "Kasimir", "Teo", "Wim", "Amaru", "Liselotte", "Dunja", "Pelle"]
LEVELS = ["regular", "new", "regular", "strong", "regular", "returning", "regular"] * 2
ROSTER = Roster(title="Tuesday", athletes=tuple(Athlete(name=n, level=level) for n, level in zip(NAMES, LEVELS, strict=True)))
STATIONS = (("kettlebell swing", 14), ("box step-up", 11))


def doing(move: str, amount: int, unit: Unit = Unit.REPS) -> Assignment:
    """So much of a move; all of several moves, one after the other."""
    items = (Assignment(move, reps(3)), Assignment("row", Target(Fraction(50), Unit.METRES))) if unit is Unit.WHOLE else ()
    return Assignment(move, Target(Fraction(amount), unit), items=items)


ILKA = simulated_athletes(ROSTER, 2)[0]
CARRY_AND_SIT = (Assignment("one-hand carry", Target(Fraction(40), Unit.METRES)), Assignment("sit-up", reps(15)))


def rotation(who: SimulatedAthlete, rounds: int = 5) -> list[Split]:
    """Work of half a minute every minute, margin 15 s, as in the shipped demo."""
    made = []
    for number in range(1, rounds + 1):
        for station, (move, amount) in enumerate(STATIONS):
            took = attempt(who, doing(move, amount), number, 60_000)
            there = split(0, round_number=number, station=station, stations=len(STATIONS), move=move, amount=amount)
            made.append(replace(there, athlete=who.name, status=took.status, split_ms=took.split_ms))
    return made


def ever(who: SimulatedAthlete) -> set[Flag]:
    return {flag for raised in flags(rotation(who)).values() for flag in raised}


class TestSeeds:
    def test_the_order_in_which_athletes_are_asked_changes_nothing(self) -> None:
        forwards = {who.name: rotation(who) for who in simulated_athletes(ROSTER, 7)}
        backwards = {who.name: rotation(who) for who in reversed(simulated_athletes(ROSTER, 7))}
        assert forwards == backwards

    def test_asking_twice_gives_the_same_answer(self) -> None:
        who = simulated_athletes(ROSTER, 7)[0]
        asked = [attempt(who, doing("push-up", 10), 2, 60_000).split_ms for _ in range(2)]
        assert asked[0] == asked[1] is not None

    def test_another_seed_another_round_or_another_occasion_is_another_split(self) -> None:
        one, two = (simulated_athletes(ROSTER, seed)[0] for seed in (7, 8))
        splits = {
            attempt(who, doing("push-up", 10), number, 60_000, occasion=occasion).split_ms
            for who in (one, two)
            for number in (1, 2)
            for occasion in ("", "part 4")
        }
        assert len(splits) == 8

    def test_another_process_gives_the_same_athletes(self) -> None:
        program = "from tests.simulate.test_athletes import *; "
        program += "print([rotation(who)[0].split_ms for who in simulated_athletes(ROSTER, 7)])"
        found = {
            subprocess.run(
                [sys.executable, "-c", program],
                env={**os.environ, "PYTHONHASHSEED": seed},
                capture_output=True,
                text=True,
                check=True,
                timeout=60,
            ).stdout.strip()
            for seed in ("1", "2")
        }
        assert found == {str([rotation(who)[0].split_ms for who in simulated_athletes(ROSTER, 7)])}

    def test_a_latecomer_is_drawn_from_the_same_seed(self) -> None:
        late = Athlete(name="Żaneta", level="strong")
        assert simulated_athlete(late, 7) == simulated_athlete(late, 7) != simulated_athlete(late, 8)


class TestCharacter:
    def test_tempers_are_dealt_evenly(self) -> None:
        for seed in range(6):
            dealt = Counter(who.style for who in simulated_athletes(ROSTER, seed))
            assert dealt == {PacingStyle.HOLDS: 7, PacingStyle.FADES: 5, PacingStyle.SINKS: 2}

    @pytest.mark.parametrize("seed", range(1, 9))
    def test_in_a_class_of_fourteen_some_hold_some_fade_and_some_go_tight(self, seed: int) -> None:
        found = [ever(who) for who in simulated_athletes(ROSTER, seed)]
        calm = sum(not raised for raised in found)
        fading, tight = (sum(flag in raised for raised in found) for flag in (Flag.FADING, Flag.TIGHT))
        assert 14 / 4 <= calm <= 14 * 2 / 3
        assert 14 / 4 <= fading <= 14 * 2 / 3
        assert tight >= 2

    def test_who_sinks_loses_more_than_who_holds(self) -> None:
        athletes = simulated_athletes(ROSTER, 3)
        held, faded, sank = ([who.drift for who in athletes if who.style is style] for style in PacingStyle)
        assert max(held) < min(faded) <= max(faded) < min(sank)

    def test_a_tap_is_missed_now_and_then(self) -> None:
        calm = simulated_athlete(Athlete(name="Noor"), 1, PacingStyle.HOLDS)
        missed = sum(attempt(calm, doing("push-up", 5), 1, 60_000, occasion=str(n)).split_ms is None for n in range(2_000))
        assert missed / 2_000 == pytest.approx(MISSED_TAP, abs=0.012)


def rate(who: SimulatedAthlete) -> float:
    """How long a push-up takes this athlete in round 1, as a share of a regular one's; from a round whose tap is not missed."""
    calm = replace(who, drift=0.0, noise=0.0)
    for occasion in "abc":
        six, twelve = (attempt(calm, doing("push-up", n), 1, 900_000, occasion=occasion).split_ms for n in (6, 12))
        if six is not None and twelve is not None:
            return (twelve - six) / 13_200
    raise AssertionError("three taps in a row were missed")


class TestSplits:
    @settings(max_examples=50)
    @given(st.integers(0, 99), st.integers(1, 40), st.sampled_from(list(Unit)), st.integers(1, 9), st.integers(5_000, 90_000))
    def test_a_tap_falls_inside_its_interval(self, seed: int, amount: int, unit: Unit, number: int, window_ms: int) -> None:
        who = simulated_athlete(Athlete(name="Odd"), seed)
        took = attempt(who, doing("kettlebell swing", amount, unit), number, window_ms)
        assert (took.split_ms is not None) is (took.status is Status.DONE)
        assert took.split_ms is None or 0 < took.split_ms <= window_ms

    def test_more_than_fits_is_not_finished_and_says_how_much_was_done(self) -> None:
        done = attempt(simulated_athlete(Athlete(name="Odd"), 1), doing("burpee", 60), 1, 60_000)
        assert (done.status, done.split_ms) == (Status.NOT_FINISHED, None)
        assert done.amount in range(6, 30)

    def test_several_moves_take_as_long_as_they_do_one_by_one_with_a_change_between(self) -> None:
        calm = SimulatedAthlete(name="Odd", seed=1, style=PacingStyle.HOLDS, pace=1.0, drift=0.0, noise=0.0)
        row, burpees = doing("row", 200, Unit.METRES), doing("burpee", 5)
        both = Assignment("row + burpee", Target(Fraction(1), Unit.WHOLE), items=(row, burpees))
        # On other occasions one of the taps is missed.
        one, other, together = (attempt(calm, work, 1, 120_000, occasion="c").split_ms for work in (row, burpees, both))
        assert one is not None
        assert other is not None
        assert together == pytest.approx(one + other - SETTING_UP_S * 1000 / 2, abs=2)

    def test_as_many_as_possible_is_counted_and_like_work_without_a_target_not_tapped(self) -> None:
        who = simulated_athlete(Athlete(name="Odd"), 1)
        whole, short = (
            Assignment("push-up", Target(Fraction(0), Unit.REPS, most=True, within_ms=within_ms)) for within_ms in (None, 20_000)
        )
        assert attempt(who, whole, 1, 40_000) == attempt(who, Assignment("plank", None), 1, 40_000) == Attempt(Status.UNTAPPED)
        assert most_in(who, whole, Unit.REPS, 1, 40_000) >= 2 * most_in(who, short, Unit.REPS, 1, 40_000) > 10

    @settings(max_examples=30)
    @given(st.integers(0, 99), st.integers(1, 8))
    def test_each_rep_less_saves_the_same_time_and_setting_up_stays(self, seed: int, number: int) -> None:
        """Whoever is given fewer reps is done earlier in proportion, also when they are tired and on a bad day."""
        who = simulated_athlete(Athlete(name="Odd"), seed)
        took = [attempt(who, doing("push-up", n), number, 900_000, occasion="x").split_ms for n in (6, 9, 12)]
        six, nine, twelve = (split_ms or 0 for split_ms in took)
        if six:
            assert abs((twelve - nine) - (nine - six)) <= 2
            assert 2 * six > twelve > nine > six
            # At a pace of 1 without drift or noise six reps take 13.2 s and setting up 4 s.
            assert (2 * six - twelve) / six == pytest.approx(SETTING_UP_S / (SETTING_UP_S + 13.2 * rate(who)), rel=0.01)

    def test_a_hold_never_takes_less_than_its_seconds(self) -> None:
        fast = SimulatedAthlete(name="Tove", seed=1, style=PacingStyle.HOLDS, pace=0.7, drift=0.0, noise=0.0)
        assert attempt(fast, doing("plank", 40, Unit.SECONDS), 1, 60_000).split_ms == 44_000


class TestOtherParts:
    def test_laps_of_a_finisher_rise_and_the_last_one_is_the_finish(self) -> None:
        for who in simulated_athletes(ROSTER, 2):
            done = laps([(who, Course(work=CARRY_AND_SIT, rounds=4))], 9 * 60_000)
            assert list(done.ends_ms) == sorted(set(done.ends_ms))
            assert len(done.ends_ms) == 4
            assert 45_000 < done.ends_ms[0] < done.ends_ms[-1] <= 9 * 60_000

    def test_under_a_short_cap_there_are_rounds_and_reps_beyond(self) -> None:
        course = Course(work=CARRY_AND_SIT, rounds=4)
        found = [laps([(who, course)], 150_000) for who in simulated_athletes(ROSTER, 2)]
        assert all(0 < len(done.ends_ms) < 4 for done in found)
        assert any(done.reps > 0 for done in found)
        assert all(done.reps <= 15 for done in found)

    def test_an_amrap_is_as_many_rounds_as_fit(self) -> None:
        short, long = (laps([(ILKA, Course(work=CARRY_AND_SIT))], minutes * 60_000).ends_ms for minutes in (6, 12))
        assert short == long[: len(short)] != long
        assert long[-1] <= 12 * 60_000

    def test_what_is_done_once_comes_before_the_first_and_after_the_last_round(self) -> None:
        run = (Assignment("run", Target(Fraction(400), Unit.METRES)),)
        plain, whole = (
            laps([(ILKA, Course(work=CARRY_AND_SIT, rounds=2, buy_in=more, cash_out=more))], 20 * 60_000) for more in ((), run)
        )
        assert whole.ends_ms[0] - plain.ends_ms[0] == pytest.approx(148_000, rel=0.25)
        assert whole.ends_ms[1] - plain.ends_ms[1] == pytest.approx(296_000, rel=0.25)
        assert whole.amounts == {Unit.METRES: Fraction(2 * 40 + 2 * 400), Unit.REPS: Fraction(30)}
        open_ended = laps([(ILKA, Course(work=CARRY_AND_SIT, buy_in=run, cash_out=run))], 12 * 60_000)
        assert open_ended.ends_ms[-1] < 12 * 60_000 - 90_000, "the last run has to fit"

    def test_an_own_rest_lies_between_two_rounds(self) -> None:
        plain, rested = (
            laps([(ILKA, Course(work=CARRY_AND_SIT, rounds=3, rest_ms=ms))], 20 * 60_000).ends_ms for ms in (0, 60_000)
        )
        assert [later - sooner for sooner, later in zip(plain, rested, strict=True)] == [0, 60_000, 120_000]

    def test_a_pair_takes_turns_shares_or_waits_for_the_slower(self) -> None:
        pair = [(who, Course(work=CARRY_AND_SIT, rounds=2)) for who in simulated_athletes(ROSTER, 2)[:2]]
        first, second = (laps([member], 20 * 60_000).ends_ms for member in pair)
        turns, shared, same = (laps(pair, 20 * 60_000, turns=turns).ends_ms for turns in ("each round", "shared", "same time"))
        assert turns[0] == first[0]
        assert min(first[0], second[0]) <= shared[0] <= max(first[0], second[0]) <= same[0]
        assert len(turns) == len(shared) == len(same) == 2

    def test_an_amrap_without_targets_ends_all_the_same(self) -> None:
        assert len(laps([(ILKA, Course(work=(Assignment("plank", None),)))], 10 * 60_000).ends_ms) in range(7, 11)
        assert len(laps([(ILKA, Course(work=()))], 10 * 60_000).ends_ms) <= 500

    def test_most_keep_a_beat_and_most_leave_a_shuttle_before_its_end(self) -> None:
        beat = Paced(title="Steps", beats_per_minute=Fraction(96), time_ms=180_000)
        shuttle = Paced(title="Run", shuttle=Shuttle(Fraction(20), (Stage(Fraction(17, 2), 7),) * 12))
        athletes = [who for seed in range(4) for who in simulated_athletes(ROSTER, seed)]
        stayed = sum(drop_out_ms(who, beat, 180_000) is None for who in athletes)
        left = [ms for who in athletes if (ms := drop_out_ms(who, shuttle, 720_000)) is not None]
        assert stayed / len(athletes) > 0.7
        assert len(left) / len(athletes) > 0.8
        assert all(0 < ms < 720_000 for ms in left)
