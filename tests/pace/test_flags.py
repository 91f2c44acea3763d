"""Flags as a coach would expect them."""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import pairwise
from random import Random
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.splits import Split
from floorclock.pace.flags import URGENCY, Flag, Standing, Watch, flags, is_tight, most_urgent, standing
from floorclock.pace.model.forecast import Forecast, made
from floorclock.pace.series import least_loss_ms
from tests.pace.taps import NOT_FINISHED, UNTAPPED, noisy, rounds, slot, split


def ever(splits: list[Split]) -> set[Flag]:
    return {flag for raised in flags(splits).values() for flag in raised}


def calls(work: Callable[[], object]) -> int:
    """How many functions are called, and generators resumed, while something is worked out."""
    counted: Counter[str] = Counter()
    before = sys.getprofile()
    sys.setprofile(lambda frame, event, argument: counted.update([event]))
    try:
        work()
    finally:
        sys.setprofile(before)
    return counted["call"] + counted["c_call"]


class TestTight:
    def test_strictly_less_than_the_margin_is_tight(self) -> None:
        for rest_s, tight in ((15, False), (14.999, True), (15.001, False), (0, True), (40, False)):
            assert is_tight(split(rest_s)) is tight
            assert flags([split(rest_s)]) == ({(1, 0): (Flag.TIGHT,)} if tight else {})
        assert flags(rounds([20, 12, 20])) == {(1, 1): (Flag.TIGHT,)}

    def test_the_board_keeps_it_until_that_station_is_clear_again(self) -> None:
        splits = rounds([20, 12, 16], [30, 30, 30])
        stands = [standing(splits[:count]).flag for count in range(len(splits) + 1)]
        assert stands == [None, None, None, Flag.TIGHT, Flag.TIGHT, None, None]

    def test_an_untapped_round_does_not_clear_it(self) -> None:
        stands = standing(rounds([20, 12, UNTAPPED]))
        assert stands.flag is Flag.TIGHT
        assert stands.because == "rest 20, 12, ? s; margin 15"

    def test_the_margin_itself_and_a_lower_margin_clear_it(self) -> None:
        assert standing(rounds([12, 15])) == Standing()
        assert standing(rounds([20, 12], margin_s=10)).flag is None

    def test_the_reason_names_one_move_of_several_and_never_rounds_a_rest_up_to_the_margin(self) -> None:
        assert standing(rounds([24, 21, 12], [30, 30, 30])).because == "rest 24, 21, 12 s at swing; margin 15"
        assert standing([split(14.99)]).because == "rest 14 s; margin 15"
        assert standing([split(12.4, margin_s=12.5)]).because == "rest 12 s; margin 12.5"


class TestNotFinished:
    def test_it_outranks_tight_and_stands_until_the_station_is_clear(self) -> None:
        splits = rounds([20, NOT_FINISHED, 12, 18])
        assert flags(splits) == {(1, 1): (Flag.NOT_FINISHED,), (1, 2): (Flag.TIGHT,)}
        assert [standing(splits[:count]).flag for count in (2, 3, 4)] == [Flag.NOT_FINISHED, Flag.NOT_FINISHED, None]

    def test_the_reason_says_which_round_and_what_was_left_before(self) -> None:
        splits = rounds([20, 12, NOT_FINISHED], [30, 30, 30])
        assert standing(splits).because == "round 3 at swing; rest 20, 12 s"
        assert standing(rounds([NOT_FINISHED])).because == "round 1"

    def test_rests_of_earlier_rounds_are_not_said_beside_it(self) -> None:
        stands = standing(rounds([100, 20, NOT_FINISHED]))
        assert (stands.flag, stands.round, stands.rests, stands.latest_rest_ms) == (Flag.NOT_FINISHED, 3, "", None)

    def test_all_that_stands_comes_in_order_of_urgency(self) -> None:
        stands = standing(rounds([12, 12, 12], [30, 30, NOT_FINISHED]))
        assert stands.flags == (Flag.NOT_FINISHED, Flag.TIGHT)
        assert (stands.flag, stands.station) == (Flag.NOT_FINISHED, 1)


class TestFading:
    def test_rest_that_shrinks_at_every_station_is_called_after_three_rounds(self) -> None:
        splits = rounds([24, 21, 18], [28, 26, 24], [30, 28, 26])
        assert set(flags(splits).values()) == {(Flag.FADING,)}
        assert standing(splits).because == "rest 24, 21, 18 s at swing; 3.0 s slower each round"

    @pytest.mark.parametrize(
        "rests",
        [
            [[30, 20]] * 6,
            [[30.0, 29.8, 29.6, 29.4, 29.2], [30.0, 29.7, 29.5, 29.3, 29.1]],
            [[30, 22, 31, 23, 27], [28, 33, 24, 31, 25]],
            [[20, 23, 26, 29, 32], [20, 23, 26, 29, 32]],
        ],
        ids=["two rounds, however many stations", "too small to matter", "the noise could make it", "rest that grows"],
    )
    def test_what_is_no_loss_is_not_called(self, rests: list[list[float]]) -> None:
        assert ever(rounds(*rests)) == set()

    def test_one_good_round_does_not_lower_it(self) -> None:
        splits = rounds([30, 27, 24, 21, 24], [30, 27, 24, 21, 18])
        stands = [standing(splits[: 2 * count]).flag for count in range(1, 6)]
        assert stands == [None, None, Flag.FADING, Flag.FADING, Flag.FADING]

    def test_a_recovery_lowers_it(self) -> None:
        splits = rounds([30, 27, 24, 21, 33, 34, 33], [30, 27, 24, 21, 33, 34, 33])
        assert standing(splits[:8]).flag is Flag.FADING
        assert standing(splits) == Standing()

    def test_holes_are_in_no_statistic(self) -> None:
        assert ever(rounds([24, UNTAPPED, 18], [28, UNTAPPED, 24], [30, UNTAPPED, 26])) == set()
        with_holes = rounds([24, UNTAPPED, 21, 18], [28, 26, UNTAPPED, 24], [30, 28, 26, UNTAPPED])
        assert ever(with_holes) == {Flag.FADING}

    def test_a_ladder_is_no_fading_and_slower_repetitions_on_it_are(self) -> None:
        even, slower = [(reps, 2.5) for reps in (10, 12, 14, 16, 18)], [(10, 2.5), (11, 2.65), (12, 2.8), (13, 2.95), (14, 3.1)]
        for ladder, called in ((even, set()), (slower, {Flag.FADING})):
            splits = [
                split(60 - pace_s * reps, round_number=r, station=s, stations=2, amount=reps, move=f"m{s}", margin_s=5)
                for r, (reps, pace_s) in enumerate(ladder, start=1)
                for s in range(2)
            ]
            assert ever(splits) == called

    def test_a_lower_target_that_gives_the_rest_back_ends_it(self) -> None:
        before = rounds([24, 21, 18, 16], [24, 21, 18, 16])
        assert standing(before).flag is Flag.FADING
        after = [
            split(32, round_number=5, station=s, stations=2, amount=9, move=move) for s, move in enumerate(["swing", "step-up"])
        ]
        assert standing(before + after) == Standing()

    def test_another_option_starts_the_station_afresh(self) -> None:
        before = rounds([30, 27, 24, 21, 18])
        assert standing(before).flag is Flag.FADING
        assert standing([*before, split(30, round_number=6, move="deadlift")]) == Standing()

    def test_it_may_come_with_tight_and_then_tight_is_called(self) -> None:
        stands = standing(rounds([24, 20, 16, 12, 8]))
        assert (stands.flag, stands.flags) == (Flag.TIGHT, (Flag.TIGHT, Flag.FADING))
        assert flags(rounds([24, 20, 16, 12, 8]))[1, 4] == (Flag.TIGHT, Flag.FADING)

    @pytest.mark.parametrize(
        ("stations", "noise", "most"),
        [(1, 0.03, 0.02), (2, 0.03, 0.02), (4, 0.03, 0.02), (1, 0.05, 0.17), (2, 0.05, 0.08), (4, 0.05, 0.06)],
    )
    def test_few_steady_athletes_are_ever_called_in_six_rounds(self, stations: int, noise: float, most: float) -> None:
        """At a single station and a noise of 5 % three splits can look like six seconds lost: there it is least sure."""
        dice = Random(f"steady {stations} {noise}")
        called = sum(Flag.FADING in ever(noisy(dice, stations, noise, drift=0)) for _ in range(300))
        assert called / 300 < most

    @pytest.mark.parametrize(("stations", "least"), [(1, 0.4), (2, 0.85), (4, 0.95)])
    def test_most_athletes_who_lose_five_per_cent_a_round_are_called(self, stations: int, least: float) -> None:
        dice = Random(f"fading {stations}")
        called = sum(Flag.FADING in ever(noisy(dice, stations, noise=0.05, drift=0.05)) for _ in range(80))
        assert called / 80 > least

    def test_the_call_seldom_comes_and_goes(self) -> None:
        dice = Random("flicker")
        goes = 0
        for _ in range(100):
            splits = noisy(dice, stations=3, noise=0.05, drift=0.05)
            raised = [Flag.FADING in standing(splits[:count]).flags for count in range(len(splits) + 1)]
            goes += sum(before and not after for before, after in pairwise(raised))
        assert goes / 100 < 0.1

    def test_the_work_for_a_split_does_not_grow_with_the_splits_before_it(self) -> None:
        short, long = (calls(partial(flags, noisy(Random(1), 1, 0.05, 0, many))) / many for many in (20, 200))
        assert long < 1.5 * short


class TestRunsOut:
    """The rule itself, with chances in place of a forecast; who makes them is tested in `test_pacing.py`."""

    def ahead(self, *chances: float, station: int = 0, first: int = 4) -> dict[int, list[Forecast]]:
        """Rounds to come in which the margin goes with these chances."""
        return {station: [to_come(chance, first + place, station) for place, chance in enumerate(chances)]}

    def watch(self, splits: list[Split], *chances: float) -> Watch:
        seen = Watch()
        for one in splits[:-1]:
            seen.see(one)
        seen.see(splits[-1], self.ahead(*chances))
        return seen

    @pytest.mark.parametrize(("chance", "raised"), [(0.59, False), (0.61, True)])
    def test_it_is_raised_when_the_margin_is_likely_to_go(self, chance: float, raised: bool) -> None:
        seen = self.watch(rounds([24, 21, 17]), chance)
        assert seen.standing(seen.running_out(self.ahead(chance))).flags[:1] == ((Flag.RUNS_OUT,) if raised else (Flag.FADING,))
        assert (Flag.RUNS_OUT in seen.raised[-1][1]) is raised

    @pytest.mark.parametrize(("chance", "raised"), [(0.71, False), (0.73, True)])
    def test_in_the_second_round_it_takes_more(self, chance: float, raised: bool) -> None:
        assert bool(self.watch(rounds([24, 21]), chance).warned) is raised

    def test_several_rounds_count_together(self) -> None:
        assert not self.watch(rounds([24, 21, 17]), 0.5).warned
        assert self.watch(rounds([24, 21, 17]), 0.5, 0.5, 0.5, 0.5).warned

    def test_it_is_lowered_only_when_it_is_clearly_gone(self) -> None:
        seen = self.watch(rounds([24, 21, 17]), 0.7)
        stood = []
        for number, chance in enumerate((0.5, 0.47, 0.43, 0.5, 0.67), start=4):
            seen.see(split(17, round_number=number), self.ahead(chance))
            stood.append(bool(seen.warned))
        assert stood == [True, True, False, False, True]

    def test_the_reason_names_the_round_by_which_the_margin_is_gone(self) -> None:
        seen = self.watch(rounds([24, 21, 17]), 0.1, 0.2, 0.8)
        assert seen.standing(seen.running_out(self.ahead(0.1, 0.2, 0.8))).because == "rest 24, 21, 17 s; under 15 by round 6"
        assert seen.standing(seen.running_out(self.ahead(0.6, 0.7, 0.8))).because == "rest 24, 21, 17 s; under 15 by round 4"

    def test_it_is_no_flag_of_a_station_that_is_tight(self) -> None:
        seen = self.watch(rounds([24, 21, 14]), 0.9)
        assert Flag.RUNS_OUT not in seen.standing(seen.running_out(self.ahead(0.9))).flags
        assert seen.raised[-1][1][0] is Flag.TIGHT

    def test_tight_elsewhere_comes_before_it_for_the_margin_is_gone_there_now(self) -> None:
        seen = self.watch(rounds([24, 21, 17], [20, 20, 14]), 0.9)
        stands = seen.standing(seen.running_out(self.ahead(0.9)))
        assert stands.flags[:2] == (Flag.TIGHT, Flag.RUNS_OUT)
        assert (stands.station, stands.because) == (1, "rest 20, 20, 14 s at step-up; margin 15")

    def test_seen_from_another_station_it_is_put_on_the_latest_split_of_its_own(self) -> None:
        seen = self.watch(rounds([24, 21, 17], [30, 30, 30]), 0.9)
        assert [Flag.RUNS_OUT in flags for one, flags in seen.raised if one.station == 0] == [False, False, True]
        assert Flag.RUNS_OUT not in seen.raised[-1][1]

    def test_without_a_round_to_come_it_does_not_stand(self) -> None:
        assert self.watch(rounds([24, 21, 17]), 0.9).running_out({}) == {}

    def test_a_target_that_was_changed_since_is_judged_at_once(self) -> None:
        seen = self.watch(rounds([24, 21, 17]), 0.9)
        less = {0: [replace(one, slot=replace(one.slot, amount=Fraction(10))) for one in self.ahead(0.25)[0]]}
        assert Flag.RUNS_OUT not in seen.standing(seen.running_out(less)).flags
        assert seen.standing(seen.running_out(self.ahead(0.25))).flag is Flag.RUNS_OUT
        assert seen.flagged

    def test_an_untapped_round_neither_raises_nor_lowers_it(self) -> None:
        seen = self.watch(rounds([24, 21, 17]), 0.9)
        seen.see(split(UNTAPPED, round_number=4), self.ahead(0.1))
        assert seen.standing(seen.running_out(self.ahead(0.9))).flag is Flag.RUNS_OUT
        quiet = self.watch(rounds([24, 21, UNTAPPED]), 0.99)
        assert not quiet.warned


def to_come(chance: float, round_number: int, station: int) -> Forecast:
    """A round that leaves less than 15 s of a minute with this chance."""
    return made(slot(round_number, station=station), math.log(45) + 0.1 * NormalDist().inv_cdf(chance), 0.1, 0.5, 14, 14)


rests = st.one_of(st.floats(0, 59).map(lambda rest: round(rest, 3)), st.sampled_from([UNTAPPED, NOT_FINISHED]))


class TestAllFlags:
    def test_nobody_and_nothing_has_no_flag(self) -> None:
        assert flags([]) == {}
        assert standing([]) == Standing()
        assert standing(rounds([UNTAPPED, UNTAPPED], [UNTAPPED, UNTAPPED])) == Standing()

    def test_a_loss_is_worth_a_word_from_two_seconds_or_three_per_cent(self) -> None:
        assert [least_loss_ms(window) for window in (20_000, 60_000, 120_000)] == [2_000, 2_000, 3_600]

    def test_the_four_words_by_when_the_margin_goes(self) -> None:
        assert sorted(Flag, key=URGENCY.__getitem__) == ["not finished", "tight", "runs out", "fading"]
        assert most_urgent([Flag.FADING, Flag.RUNS_OUT, Flag.TIGHT]) is Flag.TIGHT
        assert most_urgent([]) is None

    def test_the_latest_part_stands(self) -> None:
        first, second = split(12, part=1), split(30, part=3)
        assert standing([second, first]) == Standing()
        assert flags([second, first]) == {(1, 0): (Flag.TIGHT,)}

    @given(st.lists(st.tuples(rests, rests), max_size=8))
    def test_any_taps_give_flags_that_agree_with_what_stands(self, taken: list[tuple[float | str, float | str]]) -> None:
        splits = rounds([first for first, _ in taken], [second for _, second in taken]) if taken else []
        raised, stands = flags(splits), standing(splits)
        for one in splits:
            here = raised.get((one.part, one.interval), ())
            assert (Flag.TIGHT in here) is is_tight(one)
            assert (Flag.NOT_FINISHED in here) is (one.status == "not finished")
            assert list(here) == sorted(here, key=list(Flag).index)
        assert (stands.flag is None) == (stands.because == "")
        assert stands.flag == most_urgent(stands.flags)
        assert Flag.RUNS_OUT not in stands.flags

    @given(st.permutations(rounds([24, 20, 16, 12], [30, 26, NOT_FINISHED, UNTAPPED])))
    def test_the_order_in_which_splits_are_given_changes_nothing(self, shuffled: list[Split]) -> None:
        assert standing(shuffled) == standing(rounds([24, 20, 16, 12], [30, 26, NOT_FINISHED, UNTAPPED]))
