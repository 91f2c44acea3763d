"""Forecasts: what they know, what they make of little, and how often they are right."""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.model.forecast import AthletePace, Forecast, fit_class
from floorclock.pace.model.work import SET_UP
from floorclock.pace.pacing import PartPacing
from floorclock.pace.prior import MovePace, Prior
from floorclock.plan.session import Rotation
from floorclock.plan.work import Station, Unit
from tests.pace.taps import NOT_FINISHED, UNTAPPED, rounds, slot, split

ILKA = "Ilka"


def pace(splits: Sequence[Split], prior: Prior | None = None, athlete: str = ILKA) -> AthletePace:
    return fit_class(splits, prior or {}).pace_of(athlete, [one for one in splits if one.athlete == athlete])


def ahead(splits: Sequence[Split], at: Coming | None = None, prior: Prior | None = None, athlete: str = ILKA) -> Forecast:
    (found,) = pace(splits, prior, athlete).forecasts([at or slot(6)])
    assert found is not None
    return found


def others(*by_station: Sequence[float], size: int = 12) -> list[Split]:
    """A class of people who do about the same as each other, each a little slower than the one before."""
    dice = Random(3)
    found = []
    for number in range(size):
        for one in rounds(*by_station):
            off = math.exp(0.02 * (number - size / 2) + dice.gauss(0, 0.02))
            found.append(replace(one, athlete=f"Athlete {number}", split_ms=round((one.split_ms or 0) * off)))
    return found


def history(level_s: float, *, level_sd: float = 0.05, drift: float = 0.02, move: str = "swing", amount: int = 14) -> Prior:
    level = math.log(level_s / amount)
    known = MovePace(level=level, level_sd=level_sd, drift=drift, drift_sd=0.02, amount=Fraction(amount), classes=3)
    return {(ILKA, move, Unit.REPS): known}


class TestLittleIsKnown:
    @pytest.mark.parametrize(
        ("splits", "at"),
        [
            ([], slot(1)),
            (rounds([UNTAPPED, UNTAPPED]), slot(3)),
            (rounds([24, 22]), slot(3, move="thruster")),
            (rounds([24, 22]), slot(3, unit=Unit.METRES)),
            (rounds([24, 22]), slot(3, amount=0)),
        ],
        ids=[
            "no splits and no history",
            "nobody tapped",
            "nobody did the move",
            "in another unit",
            "a ladder that fell to nothing",
        ],
    )
    def test_of_what_nobody_did_there_is_no_forecast(self, splits: list[Split], at: Coming) -> None:
        assert pace(splits).forecasts([at]) == (None,)

    def test_one_split_says_about_the_same_again_and_is_not_sure(self) -> None:
        found = ahead(rounds([24]), slot(2))
        assert 34_500 < found.split_ms < 38_500
        assert found.low_ms < 34_000
        assert found.high_ms > 39_000

    def test_more_rounds_make_it_surer(self) -> None:
        widths = [math.log(one.high_ms / one.low_ms) for one in (ahead(rounds([24] * n), slot(n + 1)) for n in (1, 2, 4, 6))]
        assert all(later < earlier for earlier, later in pairwise(widths))

    def test_equal_splits_are_never_quite_certain(self) -> None:
        everybody = [replace(one, athlete=f"Athlete {i}") for i in range(20) for one in rounds([24] * 5)]
        found = ahead([*everybody, *rounds([24] * 5)])
        assert found.split_ms == pytest.approx(36_000, rel=0.005)
        assert 1.004 < found.high_ms / found.low_ms < 1.1

    def test_further_ahead_is_less_sure(self) -> None:
        known = pace(rounds([24, 23, 22]))
        widths = [math.log(one.high_ms / one.low_ms) for one in known.forecasts([slot(r) for r in range(4, 12)]) if one]
        assert len(widths) == 8
        assert all(later > earlier for earlier, later in pairwise(widths))

    def test_a_work_that_only_this_athlete_does_is_forecast_from_it(self) -> None:
        mine = [*rounds([24, 22, 20]), split(18, move="deadlift", round_number=4)]
        known = fit_class([*others([24, 23, 22])]).pace_of(ILKA, mine)
        (found,) = known.forecasts([slot(5, move="deadlift")])
        assert found is not None
        assert 40_000 < found.split_ms < 45_500
        assert found.high_ms / found.low_ms < 1.5


class TestPooling:
    def test_a_station_not_reached_yet_is_the_class_at_it_and_the_athletes_own_level(self) -> None:
        class_so_far = others([24, 23], [12, 11])
        slow = [replace(one, split_ms=round((one.split_ms or 0) * 1.15)) for one in rounds([24, 23])]
        found = ahead([*class_so_far, *slow], slot(3, station=1, move="step-up"))
        usual = ahead([*class_so_far, *rounds([24, 23])], slot(3, station=1, move="step-up"))
        assert usual.split_ms == pytest.approx(50_000, rel=0.03)
        assert 1.05 < found.split_ms / usual.split_ms < 1.15

    def test_the_same_work_at_another_station_will_do(self) -> None:
        assert ahead(rounds([24, 23]), slot(3, station=4)).split_ms == pytest.approx(37_800, rel=0.03)

    def test_two_noisy_rounds_are_drawn_towards_the_class(self) -> None:
        steady = others([24, 24, 24, 24])
        rising = rounds([24, 18])
        alone, pooled = ahead(rising), ahead([*steady, *rising])
        assert pooled.split_ms < alone.split_ms < 66_000

    def test_who_fades_more_than_the_class_is_seen_to(self) -> None:
        steady = others([24, 24, 24, 24], [20, 20, 20, 20])
        fading = [
            replace(one, split_ms=round((one.split_ms or 0) * 1.06 ** (one.round - 1))) for one in rounds([24] * 4, [20] * 4)
        ]
        known = pace([*steady, *fading])
        assert known.drift == pytest.approx(math.log(1.06), abs=0.015)
        assert known.drift > 3 * known.drift_sd
        assert ahead([*steady, *fading]).split_ms == pytest.approx(36_000 * 1.06**5, rel=0.05)

    def test_somebody_new_gets_the_class(self) -> None:
        found = ahead(others([24, 23, 22]), slot(4), athlete="Noor")
        assert found.split_ms == pytest.approx(39_000, rel=0.04)
        assert found.high_ms / found.low_ms > 1.15


class TestOddSplits:
    def test_one_odd_split_hardly_moves_the_forecast(self) -> None:
        class_so_far = others([24] * 5)
        even, odd = ahead([*class_so_far, *rounds([24] * 5)]), ahead([*class_so_far, *rounds([24, 24, 4, 24, 24])])
        assert odd.split_ms == pytest.approx(even.split_ms, rel=0.02)

    def test_a_sudden_collapse_is_believed_once_it_lasts(self) -> None:
        steady = [24, 24, 24, 24]
        down = [[24, 24, 13, 12], [24, 24, 12, 13], [24, 24, 13, 12]]
        found = ahead([*others(steady, steady, steady), *rounds(*down)], slot(5))
        assert 44_000 < found.split_ms < 52_000

    def test_a_split_taken_too_late_in_the_list_changes_nothing(self) -> None:
        mine = rounds([24, 22, 21], [20, 18, 17])
        assert ahead(mine[::-1]) == ahead(mine)

    def test_not_finished_says_more_than_the_interval(self) -> None:
        with_it = ahead(rounds([12, 8, NOT_FINISHED]), slot(4))
        without = ahead(rounds([12, 8, UNTAPPED]), slot(4))
        assert with_it.split_ms > without.split_ms
        assert with_it.chance_tight() > 0.95

    def test_never_finished_is_late_again_and_never_a_time_beyond_the_interval(self) -> None:
        found = ahead(rounds([NOT_FINISHED] * 3), slot(4))
        assert found.split_ms == found.high_ms == 60_000
        assert 0.5 < found.chance_late() < 0.999
        assert 60_000 < found.quantile_ms(0.5) < 75_000

    def test_early_fading_is_not_carried_on_to_what_is_impossible(self) -> None:
        found = ahead(rounds([24, 16, 8]), slot(6))
        assert found.split_ms <= 60_000
        assert found.low_ms > 45_000
        assert 0.25 < found.chance_late() <= 1


class TestAmounts:
    def test_less_work_is_faster_but_for_the_set_up(self) -> None:
        found = ahead(rounds([24, 22, 20]))
        half = found.with_amount(Fraction(7))
        assert half.split_ms / found.split_ms == pytest.approx(SET_UP + (1 - SET_UP) / 2)
        assert half.slot.amount == 7

    @pytest.mark.parametrize("amount", [Fraction(7), Fraction(27, 2), Fraction(14), Fraction(20)])
    def test_a_search_is_told_what_the_changed_forecast_says(self, amount: Fraction) -> None:
        found = ahead(rounds([24, 22, 20]))
        assert found.hold(amount) == pytest.approx(found.with_amount(amount).hold(), abs=1e-12)

    def test_there_and_back_again_is_the_same(self) -> None:
        found = ahead(rounds([24, 22, 20]))
        again = found.with_amount(Fraction(9)).with_amount(Fraction(14))
        assert again.split_ms == pytest.approx(found.split_ms)
        assert again.high_ms == pytest.approx(found.high_ms)

    def test_it_is_what_the_forecast_of_that_slot_would_be(self) -> None:
        known = pace(rounds([24, 22, 20]))
        (direct,), changed = known.forecasts([slot(6, amount=9)]), ahead(rounds([24, 22, 20])).with_amount(Fraction(9))
        assert direct is not None
        assert direct.split_ms == pytest.approx(changed.split_ms)
        assert direct.high_ms == pytest.approx(changed.high_ms)

    def test_work_that_was_never_done_is_less_sure_than_the_same_again(self) -> None:
        found = ahead(rounds([24, 22, 20]))
        less = found.with_amount(Fraction(6))
        assert math.log(less.high_ms / less.low_ms) > math.log(found.high_ms / found.low_ms)

    def test_a_ladder_is_not_taken_for_a_drift(self) -> None:
        amounts = [10, 12, 14, 16]

        def taken(number: int) -> int:
            return round(36_000 * (SET_UP + (1 - SET_UP) * amounts[number - 1] / 10))

        mine = [split(0, round_number=r, amount=amounts[r - 1]) for r in (1, 2, 3, 4)]
        everybody = [
            replace(one, athlete=name, split_ms=taken(one.round)) for name in (ILKA, "Noor", "Bram", "Sefa") for one in mine
        ]
        assert abs(pace(everybody).drift) < 0.02
        assert ahead(everybody, slot(5, amount=18)).split_ms == pytest.approx(36_000 * (SET_UP + (1 - SET_UP) * 1.8), rel=0.06)

    def test_a_changed_target_goes_on_from_the_same_pace(self) -> None:
        mine = rounds([24, 24, 24])
        lighter = [
            replace(one, round=one.round + 3, interval=one.interval + 3, amount=Fraction(7), split_ms=19_800) for one in mine
        ]
        found = ahead([*mine, *lighter], slot(7, amount=7))
        assert found.split_ms == pytest.approx(19_800, rel=0.05)


class TestHistory:
    def test_before_the_class_begins_it_is_the_forecast(self) -> None:
        found = ahead([], slot(1), history(36))
        assert found.split_ms == pytest.approx(36_000, rel=0.01)
        assert ahead([], slot(6), history(36, drift=0.03)).split_ms == pytest.approx(36_000 * math.exp(0.15), rel=0.03)

    def test_an_unsure_history_gives_a_wide_forecast(self) -> None:
        sure, unsure = (ahead([], slot(1), history(36, level_sd=sd)) for sd in (0.03, 0.15))
        assert unsure.high_ms / unsure.low_ms > sure.high_ms / sure.low_ms

    def test_the_class_of_today_soon_outweighs_it(self) -> None:
        known = history(30, level_sd=0.08)
        after = [ahead(rounds([20] * n), slot(n + 1), known).split_ms for n in (1, 2, 6)]
        assert 32_000 < after[0] < 37_000 < after[1]
        assert after[2] == pytest.approx(40_000, rel=0.04)

    def test_it_holds_for_another_target(self) -> None:
        found = ahead([], slot(1, amount=7), history(36))
        assert found.split_ms == pytest.approx(36_000 * (SET_UP + (1 - SET_UP) / 2), rel=0.01)

    def test_who_has_none_goes_by_those_who_have(self) -> None:
        found = ahead([], slot(1), history(36), athlete="Noor")
        assert 30_000 < found.split_ms < 44_000
        (after,) = fit_class([], history(36)).pace_of("Noor", [replace(split(10), athlete="Noor")]).forecasts([slot(2)])
        assert after is not None
        assert after.split_ms == pytest.approx(49_000, rel=0.07)


class TestForecast:
    def test_eighty_of_a_hundred_lie_between_low_and_high(self) -> None:
        found = ahead(rounds([24, 22, 20]))
        assert found.quantile_ms(0.1) == pytest.approx(found.low_ms)
        assert found.quantile_ms(0.5) == pytest.approx(found.split_ms)
        assert found.quantile_ms(0.9) == pytest.approx(found.high_ms)
        assert found.quantile_ms(0) == 0
        assert found.quantile_ms(1) == math.inf

    def test_the_chance_of_too_little_rest_is_one_half_where_the_middle_is_the_margin(self) -> None:
        found = ahead(rounds([24, 22, 20]))
        at_margin = replace(found, slot=replace(found.slot, margin_ms=60_000 - round(found.split_ms)))
        assert at_margin.chance_tight() == pytest.approx(0.5, abs=0.001)
        at_high = replace(found, slot=replace(found.slot, margin_ms=60_000 - round(found.high_ms)))
        assert at_high.chance_tight() == pytest.approx(0.1, abs=0.001)
        assert replace(found, slot=replace(found.slot, margin_ms=60_000)).chance_tight() == 1

    def test_fitted_lines_are_near_the_splits_and_smoother(self) -> None:
        mine = rounds([24, 20, 22, 19, 18])
        known = pace(mine)
        fitted = [known.fitted_ms(one) for one in mine]
        assert all(line == pytest.approx(one.split_ms, rel=0.06) for line, one in zip(fitted, mine, strict=True))
        assert known.fitted_ms(split(20, round_number=9)) is None
        assert known.fitted_ms(split(UNTAPPED, round_number=9)) is None


class TestOrder:
    @settings(max_examples=8, deadline=None)
    @given(st.integers(0, 10_000), st.integers(1, 3))
    def test_a_class_fitted_interval_by_interval_is_the_class_fitted_at_once(self, seed: int, stations: int) -> None:
        dice = Random(seed)
        everybody = invented_class(dice, size=5, stations=stations)
        part = Rotation(title="", every_ms=60_000, rounds=7, work=(Station("swing"),) * stations)
        step_by_step, at_once = PartPacing(part), PartPacing(part)
        last = max(one.interval for one in everybody)
        for interval in range(last + 1):
            step_by_step.settle(interval, [one for one in everybody if one.interval <= interval])
        at_once.settle(last, everybody)
        mixed = everybody.copy()
        dice.shuffle(mixed)
        for name in {one.athlete: None for one in everybody}:
            own = [one for one in everybody if one.athlete == name]
            coming = [slot(7, station=one.station, move=one.move) for one in own[::6]]
            found = [replace(one, athlete=name) for one in coming]
            first = step_by_step.look(own, (), found)
            assert first.forecasts == at_once.look(own, (), found).forecasts
            told = tuple(one for one in fit_class(mixed).pace_of(name, own).forecasts(found) if one is not None)
            assert first.forecasts == told


class TestStrength:
    @settings(max_examples=30, deadline=None)
    @given(st.data())
    def test_whatever_was_tapped_the_forecast_is_finite_and_in_order(self, data: Any) -> None:
        taken = data.draw(
            st.lists(
                st.builds(
                    lambda who, number, station, rest, amount, move: replace(
                        split(rest, round_number=number, station=station, stations=3, amount=amount, move=move), athlete=who
                    ),
                    st.sampled_from([ILKA, "Noor", "Bram"]),
                    st.integers(1, 12),
                    st.integers(0, 2),
                    st.one_of(st.floats(0, 59.99), st.sampled_from([UNTAPPED, NOT_FINISHED])),
                    st.sampled_from([None, 0, 1, 14, 200]),
                    st.sampled_from(["swing", "row"]),
                ),
                max_size=25,
            )
        )
        known = pace(taken)
        for found in known.forecasts([slot(number) for number in (1, 6, 30)]):
            if found is None:
                continue
            assert 0 < found.low_ms <= found.split_ms <= found.high_ms <= found.slot.window_ms
            assert 0 <= found.chance_tight() <= 1
        done = {one.move for one in taken if one.amount and one.status is not Status.UNTAPPED}
        assert ("swing" in done) == (known.forecasts([slot(6)]) != (None,))

    def test_four_hundred_athletes_and_forty_rounds_are_possible(self) -> None:
        many = [replace(one, athlete=f"Athlete {i}") for i in range(400) for one in rounds([24, 23, 22], [20, 19, 18])]
        assert ahead(many, athlete="Athlete 7").split_ms == pytest.approx(41_500, rel=0.05)
        long = rounds([24 - 0.1 * r for r in range(40)])
        assert ahead(long, slot(41)).split_ms == pytest.approx(40_000, rel=0.02)

    def test_no_numbers_are_loaded_before_there_is_something_to_forecast(self) -> None:
        program = (
            "import sys; from floorclock.pace.model.forecast import fit_class; "
            "fit_class(()).pace_of('Ilka', ()); print('numpy' in sys.modules)"
        )
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
        assert done.stdout.strip() == "False"


class TestHowOftenItIsRight:
    """Small classes of the house's own making; tests/bench measures larger ones in many worlds."""

    def test_after_three_rounds_of_six_it_beats_the_last_split_and_about_four_of_five_fall_in_the_range(self) -> None:
        dice = Random(11)
        off, repeated, inside, chances = [], [], [], []
        for _ in range(6):
            everybody = invented_class(dice, size=12, stations=3)
            for last, truth, found in last_rounds(everybody, 3):
                taken = truth.split_ms or 0
                off.append(abs(found.split_ms - taken))
                repeated.append(abs((last.split_ms or 0) - taken))
                inside.append(found.low_ms <= taken <= found.high_ms)
                chances.append((found.chance_tight(), taken > 45_000))
        assert sum(off) <= 0.80 * sum(repeated)
        assert 0.7 <= sum(inside) / len(inside) <= 0.9
        assert len(chances) == 6 * 12 * 3
        for low, high in ((0, 0.2), (0.2, 0.5), (0.5, 0.8), (0.8, 1.01)):
            here = [(chance, tight) for chance, tight in chances if low <= chance < high]
            said, happened = (sum(values) / len(here) for values in zip(*here, strict=True))
            # Three standard errors of a share.
            assert happened == pytest.approx(said, abs=3 * math.sqrt(0.25 / len(here)))


def last_rounds(everybody: Sequence[Split], stations: int) -> Iterator[tuple[Split, Split, Forecast]]:
    """The third split and the last of everybody at every station, with what was foretold of it after three rounds."""
    fit = fit_class([one for one in everybody if one.round <= 3])
    for name in {one.athlete: None for one in everybody}:
        own = [one for one in everybody if one.athlete == name]
        known = fit.pace_of(name, [one for one in own if one.round <= 3])
        for last, truth in ((own[s * 6 + 2], own[s * 6 + 5]) for s in range(stations)):
            (found,) = known.forecasts([slot(6, station=truth.station, move=truth.move)])
            assert found is not None
            yield last, truth, found


def invented_class(dice: Random, *, size: int, stations: int) -> list[Split]:
    """Six rounds of people with their own levels and drifts under normal chance of 5 %; splits may be over the interval."""
    found = []
    moves = ["swing", "step-up", "push-up"]
    for number in range(size):
        level, own_drift = dice.gauss(math.log(38_000), 0.09), dice.gauss(0.025, 0.028)
        for station in range(stations):
            talent = dice.gauss(0, 0.05)
            for r in range(1, 7):
                taken = math.exp(level + talent + own_drift * (r - 1) + dice.gauss(0, 0.05))
                one = split(0, round_number=r, station=station, stations=stations, move=moves[station])
                found.append(replace(one, athlete=f"Athlete {number}", split_ms=round(taken)))
    return found
