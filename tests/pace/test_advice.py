"""The number to change to: that it holds, that a coach would say it, and that it is never less than the floor."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from floorclock.clock.splits import Coming, Split
from floorclock.pace.advice import Advice, Way, advise_less, advise_more, next_targets, targets_from_history
from floorclock.pace.largest import LIKELY_ENOUGH, UNDONE, Rounds, cut_item
from floorclock.pace.model.forecast import AthletePace, Forecast, fit_class, made
from floorclock.pace.pacing import look_back
from floorclock.pace.prior import MovePace, Prior
from floorclock.pace.sayable import at_most
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Rotation
from floorclock.plan.work import Load, LoadUnit, Option, Station, Target, Unit
from tests.clock.classes import reps
from tests.pace.sample_class import rotation_work
from tests.pace.taps import UNTAPPED, rounds, slot

ILKA = Athlete(name="Ilka")
LIGHTER = Option(name="lighter", move="deadlift", target=reps(14))
RISKY = Option(name="harder", move="snatch", target=reps(6), guarded=True)


def forecast(at: Coming, split_s: float) -> Forecast:
    return made(at, math.log(split_s), 0.06, 0.5, float(at.amount), float(at.amount))


def to_come(
    *splits_s: float, amount: Fraction = Fraction(14), unit: Unit = Unit.REPS, step: int = 0, first: int = 4, sure: float = 0.9
) -> Rounds:
    """Rounds from `first` on that will take so long with what the plan has for them."""
    slots = [slot(first + at, amount=amount + step * at, unit=unit, step=step) for at in range(len(splits_s))]
    return Rounds(tuple(map(forecast, slots, splits_s)), sure)


class NothingElse(AthletePace):
    """An athlete of whom only the options are asked: seconds by move; None where nothing is known."""

    def __init__(self, **seconds: float) -> None:
        self.seconds = seconds

    def forecasts(self, slots: Sequence[Coming]) -> tuple[Forecast | None, ...]:
        known = [self.seconds.get(slot.move) for slot in slots]
        return tuple(
            None if seconds is None else forecast(slot, seconds * float(slot.amount) / 14)
            for slot, seconds in zip(slots, known, strict=True)
        )


def less(
    rounds_there: Rounds,
    station: Station,
    pace: AthletePace | None = None,
    athlete: Athlete = ILKA,
    cap: Fraction | None = None,
) -> Advice:
    """What is advised; a test that expects nothing asks `advise_less` itself."""
    made = advise_less(rounds_there, pace or NothingElse(), station, athlete, "because", cap)
    assert made is not None
    return made


def target_of(made: Advice) -> Target:
    assert made.target is not None
    return made.target


def amount_of(made: Advice) -> Fraction:
    assert made.amount is not None
    return made.amount


class TestLess:
    def test_it_is_the_number_with_the_least_expected_loss(self) -> None:
        there = to_come(44, 46, 48)
        made = less(there, Station("swing", reps(14)))
        losses = {n: 1 - there.chance(Fraction(n)) + UNDONE * 0.1 * (14 - n) / 14 for n in range(7, 14)}
        assert target_of(made).amount == min(losses, key=losses.__getitem__)
        assert made.chance > LIKELY_ENOUGH
        assert made.words == f"drop to {target_of(made).amount} reps?"
        assert (made.way, made.move, made.option, made.because) == (Way.LESS, "swing", "", "because")

    def test_what_holds_as_it_is_is_left_alone(self) -> None:
        assert advise_less(to_come(35, 36, 37), NothingElse(), Station("swing", reps(14)), ILKA, "because") is None

    def test_a_surer_coach_takes_more_away(self) -> None:
        station = Station("swing", reps(14))
        amounts = [amount_of(less(to_come(46, 48, 50, sure=sure), station)) for sure in (0.6, 0.9, 0.99)]
        assert amounts == sorted(amounts, reverse=True)
        assert amounts[0] > amounts[2]

    def test_never_less_than_half_and_where_that_may_not_hold_it_says_so(self) -> None:
        made = less(to_come(110, 120), Station("swing", reps(14)))
        assert (made.way, made.amount, made.words) == (Way.LESS, Fraction(7), "drop to 7 reps, but even that may not hold")

    def test_where_nothing_less_may_be_given_the_present_number_is_said(self) -> None:
        made = less(to_come(55, 56), Station("swing", reps(14), least=Fraction(14)))
        assert (made.way, made.amount, made.words) == (Way.KEEP, Fraction(14), "keep 14 reps, but even that may not hold")

    def test_the_coachs_own_floor_replaces_it(self) -> None:
        assert amount_of(less(to_come(110, 120), Station("swing", reps(14), least=Fraction(3)))) >= 3
        made = less(to_come(55, 56), Station("swing", reps(14), least=Fraction(13)))
        assert made.amount == 13
        assert "may not hold" in made.words

    def test_a_floor_that_nobody_would_say_is_said_because_the_coach_wrote_it(self) -> None:
        there = to_come(46, 47, amount=Fraction(45))
        assert amount_of(less(there, Station("swing", reps(45), least=Fraction(37)))) >= 37
        assert less(to_come(58, amount=Fraction(45)), Station("swing", reps(45), least=Fraction(37))).amount == 37

    def test_a_floor_in_another_unit_is_no_floor_of_an_option(self) -> None:
        there = to_come(60, 62, amount=Fraction(100), unit=Unit.METRES)
        assert amount_of(less(there, Station("swing", reps(14), least=Fraction(99)))) < 99

    def test_after_work_not_finished_there_is_no_more_than_the_time_has_room_for(self) -> None:
        made = less(to_come(30, 30), Station("swing", reps(14)), cap=Fraction("10.5"))
        assert made.amount == 10

    def test_it_is_rounded_down_to_what_a_coach_would_say(self) -> None:
        for amount, unit, words in (
            (50, Unit.REPS, "45 reps"),
            (30, Unit.REPS, "28 reps"),
            (200, Unit.METRES, "180 m"),
            (15, Unit.CALORIES, "14 cal"),
            (40, Unit.SECONDS, "0:35"),
        ):
            there = to_come(45, amount=Fraction(amount), unit=unit)
            assert less(there, Station("swing", Target(Fraction(amount), unit))).words == f"drop to {words}?"

    def test_a_ladder_keeps_its_step_and_is_right_for_the_rounds_to_come(self) -> None:
        there = to_come(43, 47, 51, amount=Fraction(13), step=1)
        made = less(there, Station("swing", reps(10, 1)))
        assert target_of(made).step == 1
        assert [target_of(made).in_round(number) - amount_of(made) for number in (4, 5, 6)] == [0, 1, 2]
        assert made.words == f"drop to {made.amount} reps, then 1 more each round?"

    def test_a_falling_ladder_may_begin_below_nothing_in_round_one(self) -> None:
        there = to_come(60, 50, amount=Fraction(8), step=-3, first=2)
        made = less(there, Station("swing", replace(reps(11), step=Fraction(-3)), least=Fraction(1)))
        assert target_of(made).in_round(2) == made.amount

    def test_tiny_and_broken_targets_do_no_harm(self) -> None:
        for amount in (Fraction(1, 3), Fraction(1), Fraction(3, 2), Fraction(2)):
            made = less(to_come(55, 56, amount=amount), Station("swing", Target(amount, Unit.REPS)))
            assert made.amount == amount if made.way is Way.KEEP else 1 <= amount_of(made) < amount


class TestOptions:
    STATION = Station("swing", reps(14), options=(LIGHTER,))

    def test_where_no_number_holds_an_option_that_holds_is_offered(self) -> None:
        made = less(to_come(110, 120), self.STATION, NothingElse(deadlift=30))
        assert (made.way, made.option, made.move, made.words) == (Way.OPTION, "lighter", "swing", "switch to lighter?")
        assert made.target == LIGHTER.target
        assert made.chance > 0.9
        assert (made.amount, made.unit, made.option_move) == (Fraction(14), Unit.REPS, "deadlift")

    def test_one_that_holds_with_less_of_it_says_how_much(self) -> None:
        made = less(to_come(110, 120), self.STATION, NothingElse(deadlift=50))
        assert made.words == f"switch to lighter with {made.amount} reps?"
        assert target_of(made).amount == made.amount

    def test_of_one_that_nobody_has_done_that_is_said(self) -> None:
        made = less(to_come(110, 120), self.STATION)
        assert (made.words, made.chance) == ("lighter instead; no splits of it yet", 0.0)

    def test_one_that_does_not_hold_either_is_not_offered(self) -> None:
        made = less(to_come(110, 120), self.STATION, NothingElse(deadlift=115))
        assert (made.option, made.way) == ("", Way.LESS)

    def test_one_that_is_known_to_hold_comes_before_one_that_is_not_known(self) -> None:
        station = replace(self.STATION, options=(Option("band", "pull-down", reps(10)), LIGHTER))
        made = less(to_come(110, 120), station, NothingElse(deadlift=30))
        assert made.option == "lighter"

    def test_the_one_in_force_is_not_offered_again(self) -> None:
        there = to_come(110, 120)
        there = Rounds(tuple(replace(one, slot=replace(one.slot, option="lighter")) for one in there.ahead), 0.9)
        made = less(there, self.STATION, NothingElse(deadlift=30))
        assert made.option == ""

    def test_a_guarded_one_only_for_who_is_experienced_in_it(self) -> None:
        station, pace = replace(self.STATION, options=(RISKY,)), NothingElse(snatch=20)
        kept = less(to_come(110, 120), station, pace)
        assert kept.option == ""
        made = less(to_come(110, 120), station, pace, replace(ILKA, experienced=frozenset({"snatch"})))
        assert made.option == "harder"

    def test_an_option_without_a_target_keeps_that_of_the_station(self) -> None:
        station = replace(self.STATION, options=(replace(LIGHTER, target=None),))
        made = less(to_come(110, 120), station, NothingElse(deadlift=30))
        assert (made.target, made.amount) == (None, Fraction(14))


class TestMore:
    STATION = Station("swing", reps(14))

    def taken(self, *rests: float, amount: int = 14) -> list[Split]:
        return [replace(split, amount=Fraction(amount)) for split in rounds(rests)]

    def more(self, there: Rounds, taken: Sequence[Split], athlete: Athlete = ILKA, station: Station = STATION) -> Advice | None:
        return advise_more(there, station, athlete, "because", taken)

    def test_who_has_much_rest_is_given_more_and_keeps_the_margin(self) -> None:
        there = to_come(26, 26, 26)
        made = self.more(there, self.taken(34, 34, 34))
        assert made is not None
        assert made.way is Way.MORE
        assert made.amount == 16
        assert made.words == f"go up to 16 reps, leaving {int(there.rest_ms(Fraction(16)) // 1000)} s?"
        assert there.holds(Fraction(16))

    def test_a_set_at_a_percentage_of_a_best_is_not_made_longer_because_rest_is_left(self) -> None:
        heavy, plain = (replace(self.STATION, load=Load(Fraction(80), unit)) for unit in (LoadUnit.PERCENT, LoadUnit.KG))
        there, taken = to_come(26, 26, 26), self.taken(34, 34, 34)
        assert self.more(there, taken, station=heavy) is None
        assert self.more(there, taken, station=plain) is not None

    def test_never_more_than_a_fifth_at_once_or_one_step(self) -> None:
        for amount, most in ((14, 16), (4, 5), (1, 2), (50, 60), (30, 36)):
            made = self.more(to_come(10, 10, amount=Fraction(amount)), self.taken(50, 50, 50, amount=amount))
            assert made is not None
            assert made.amount == most

    def test_not_before_three_rounds_with_the_present_target(self) -> None:
        assert self.more(to_come(26, 26), self.taken(34, 34)) is None
        mixed = [*self.taken(34, 34, amount=12), *self.taken(34)]
        assert self.more(to_come(26, 26), mixed) is None

    def test_one_round_with_little_rest_is_enough_to_wait(self) -> None:
        assert self.more(to_come(26, 26), self.taken(34, 29, 34)) is None

    def test_not_if_the_margin_would_go_later(self) -> None:
        assert self.more(to_come(30, 36, 44), self.taken(34, 34, 34)) is None

    def test_a_hold_is_never_as_long_as_the_time_that_is_left(self) -> None:
        there = to_come(30, 30, amount=Fraction(40), unit=Unit.SECONDS)
        assert there.largest(Station("plank", Target(Fraction(40), Unit.SECONDS))) == 40

    def test_more_of_a_guarded_move_only_for_who_is_experienced_in_it(self) -> None:
        station = replace(self.STATION, guarded=True)
        assert self.more(to_come(26, 26), self.taken(34, 34, 34), station=station) is None
        experienced = replace(ILKA, experienced=frozenset({"swing"}))
        assert self.more(to_come(26, 26), self.taken(34, 34, 34), experienced, station) is not None


@settings(max_examples=60, deadline=None)
@given(
    amount=st.fractions(min_value=Fraction(1, 2), max_value=400, max_denominator=4),
    unit=st.sampled_from([Unit.REPS, Unit.METRES, Unit.CALORIES]),
    split_s=st.floats(20, 100),
    step=st.sampled_from([-2, 0, 1, 3]),
    least=st.none() | st.integers(1, 200).map(Fraction),
)
def test_any_advice_is_sayable_respects_the_floor_and_says_where_it_may_not_hold(
    amount: Fraction, unit: Unit, split_s: float, step: int, least: Fraction | None
) -> None:
    number = max(1, sum(amount + step * place > 0 for place in range(3)))
    there = to_come(*[split_s] * number, amount=amount, unit=unit, step=step)
    made = advise_less(there, NothingElse(), Station("swing", Target(amount, unit), least=least), ILKA, "because")
    if made is None or made.way is Way.KEEP:
        return
    given = amount_of(made)
    assert 0 < given < amount
    assert made.chance >= LIKELY_ENOUGH or "may not hold" in made.words
    assert at_most(given, unit) == given or given == least
    assert target_of(made).in_round(4) == given
    if least is not None and step >= 0 and amount >= least:
        assert given >= least
    if least is None and step == 0:
        assert given >= amount / 2


PART = Rotation(title="x", every_ms=60_000, rounds=5, work=(Station("swing", reps(14)), Station("step-up", reps(14))))
WHOLE = rotation_work("Ilka", PART)


def known(seconds_per_rep: float, *, sd: float = 0.05, drift: float = 0.01, classes: int = 3) -> Prior:
    return {
        ("Ilka", "swing", Unit.REPS): MovePace(
            level=math.log(seconds_per_rep), level_sd=sd, drift=drift, drift_sd=0.01, amount=Fraction(14), classes=classes
        )
    }


class TestBeforeClass:
    def advise(self, prior: Prior) -> tuple[Advice, ...]:
        return targets_from_history(PART, WHOLE, prior, 90, ILKA)

    def test_who_has_no_history_does_the_plan(self) -> None:
        assert self.advise({}) == ()
        assert targets_from_history(PART, (), known(3), 90, ILKA) == ()

    def test_who_never_held_it_begins_with_less(self) -> None:
        (made,) = self.advise(known(46 / 14))
        assert (made.way, made.station, made.round) == (Way.LESS, 0, 1)
        assert amount_of(made) < 14
        assert made.because.startswith("3 classes: about ")

    def test_who_holds_it_does_the_plan(self) -> None:
        assert self.advise(known(36 / 14)) == ()

    def test_who_can_hold_more_begins_with_more_by_a_fifth_at_the_most(self) -> None:
        (made,) = self.advise(known(22 / 14))
        assert (made.way, made.amount) == (Way.MORE, Fraction(16))
        assert self.advise(known(22 / 14, classes=1)) == ()


class TestAfterClass:
    def advise(
        self,
        swings: Sequence[float | str],
        steps: Sequence[float | str] = (22, 22, 22, 22, 22),
        *,
        whole: Sequence[Coming] = WHOLE,
        part: Rotation = PART,
    ) -> dict[int, Advice]:
        """By station; everybody had the amounts of `whole`."""
        amounts = {(at.station, at.round): at.amount for at in whole}
        splits = [replace(one, amount=amounts[one.station, one.round]) for one in rounds(swings, steps)]
        pace = fit_class(splits).pace_of("Ilka", splits)
        return {one.station: one for one in next_targets(part, splits, whole, pace, confidence=90)}

    def test_every_station_has_next_times_target(self) -> None:
        made = self.advise([26, 22, 18, 14, 10], [22, 22, 22, 21, 22])
        assert made[0].way is Way.LESS
        assert made[0].words == f"{made[0].amount} reps next time"
        assert made[0].because == "rest 26, 22, 18, 14, 10 s; margin 15"
        assert (made[1].way, made[1].words) == (Way.KEEP, "keep 14 reps")

    def test_who_had_much_rest_gets_more_next_time(self) -> None:
        assert self.advise([36, 36, 36, 35, 36])[0].way is Way.MORE

    @pytest.mark.parametrize(("first", "way"), [(26, Way.LESS), (36, Way.MORE)])
    def test_what_is_done_on_two_sides_is_given_for_each(self, first: int, way: Way) -> None:
        rests = [first - loss * (first < 30) for loss in (0, 4, 8, 12, 16)]
        made = self.advise(rests, whole=[replace(at, sides=2) for at in WHOLE])[0]
        assert made.way is way
        assert amount_of(made) % 2 == 0
        assert target_of(made).words() == made.words.removesuffix(" next time").replace(" reps", "")
        assert made.words == f"{amount_of(made) / 2} reps each side next time"

    @pytest.mark.parametrize(("first", "way"), [(16, Way.LESS), (36, Way.MORE), (22, Way.KEEP)])
    def test_of_a_list_of_rounds_all_change_in_proportion(self, first: int, way: Way) -> None:
        """One number for all rounds made a list flat: `12` for who had not finished 25 of `10-15-20-25`."""
        written = tuple(map(Fraction, (14, 12, 10, 8, 6)))
        falling = [replace(at, amounts=written, amount=written[at.round - 1]) if not at.station else at for at in WHOLE]
        made = self.advise([float(60 - (60 - first) * amount / 14) for amount in written], whole=falling)[0]
        given = target_of(made).amounts
        assert made.way is way
        assert list(given) == sorted(given, reverse=True)
        assert all(later - 1 < was * given[0] / 14 < later + 1 for was, later in zip(written, given, strict=True))
        assert (given == written) is (way is Way.KEEP)
        assert "-".join(map(str, given)) in made.words

    def test_what_was_hardly_tapped_stays_as_it_is(self) -> None:
        made = self.advise([UNTAPPED] * 5, [12, 11, 10, 9, 8])
        assert (made[0].way, made[0].because) == (Way.KEEP, "nobody tapped there")
        assert made[1].way is Way.LESS

    def test_where_nothing_holds_the_least_is_named_and_that_it_may_not_hold(self) -> None:
        hard = replace(PART, work=(Station("swing", reps(14), least=Fraction(13)), PART.work[1]))
        made = self.advise([6, 5, 4, 3, 2], part=hard)[0]
        assert (made.way, made.amount) == (Way.LESS, Fraction(13))
        assert made.words == "13 reps next time, but even that may not hold"
        assert made.chance < 0.9


class TestApplied:
    """Who takes the advice after half of the rounds keeps the margin to the end."""

    def test_the_margin_is_kept_in_most_cases(self) -> None:
        dice, kept, given = Random("applied"), 0, 0
        for number in range(8):
            size, noise = 12, (0.03, 0.05, 0.08)[number % 3]
            drift = [dice.gauss(0.03, 0.03) for _ in range(size)]
            level = [36 * math.exp(dice.gauss(0, 0.1)) for _ in range(size)]

            def taken_s(
                who: int, round_number: int, amount: Fraction, noise: float, drift: list[float], level: list[float]
            ) -> float:
                # A tenth of the time is setting up, whatever the amount.
                work = 0.1 + 0.9 * float(amount) / 14
                return level[who] * work * math.exp(drift[who] * (round_number - 1) + dice.gauss(0, noise))

            part = Rotation(title="x", every_ms=60_000, rounds=6, work=(Station("swing", reps(14)),))
            whole = {f"A{who}": rotation_work(f"A{who}", part) for who in range(size)}
            splits = [
                replace(one, athlete=f"A{who}")
                for who in range(size)
                for one in rounds([max(0.0, 60 - taken_s(who, r, Fraction(14), noise, drift, level)) for r in (1, 2, 3)])
            ]
            seen = look_back(part, splits, whole, {name: slots[3:] for name, slots in whole.items()})
            for who in range(size):
                for advice in seen[f"A{who}"].advice:
                    target = target_of(advice)
                    given += 1
                    kept += all(taken_s(who, r, target.in_round(r), noise, drift, level) <= 45 for r in (4, 5, 6))
        assert given > 20
        assert kept / given >= 0.6


class TestSeveralMoves:
    """12 split squats are 30 s by the usual times and 10 air squats 20 s: all of it is 50 s."""

    SQUAT = Station("split squat", reps(12))
    BOTH = Station("both", Target(Fraction(1), Unit.WHOLE), items=(SQUAT, Station("air squat", reps(10))))
    AHEAD = to_come(50, 52, amount=Fraction(1), unit=Unit.WHOLE)

    def test_what_costs_the_most_time_is_cut_until_the_rest_holds(self) -> None:
        advice = less(self.AHEAD, self.BOTH)
        assert advice.item == "split squat"
        assert advice.item_target is not None
        amount = advice.item_target.in_round(4)
        assert 6 <= amount < 12
        assert advice.words == f"drop to {amount} reps of split squat?"
        assert advice.amount == 1 - (12 - amount) * Fraction(5, 2) / 50
        assert advice.chance == self.AHEAD.chance(advice.amount) >= LIKELY_ENOUGH

    def test_nothing_is_cut_under_its_own_floor_and_then_it_may_not_hold(self) -> None:
        floored = replace(self.BOTH, items=(replace(self.SQUAT, least=Fraction(11)), *self.BOTH.items[1:]))
        advice = less(self.AHEAD, floored)
        assert advice.words == "drop to 11 reps of split squat, but even that may not hold"

    def test_who_does_less_of_it_already_is_cut_from_there(self) -> None:
        fewer = replace(ILKA, targets={"split squat": reps(6)})
        ahead = to_come(50, 52, amount=Fraction(7, 10), unit=Unit.WHOLE)
        cut = cut_item(ahead, self.BOTH, fewer, Fraction(6, 10))
        assert cut is not None
        assert cut == ("air squat", reps(7), Fraction(7, 10) - Fraction(6, 50))

    def test_more_is_advised_of_no_several_moves(self) -> None:
        taken = rounds([45] * 3)
        assert advise_more(to_come(10, 10, amount=Fraction(1), unit=Unit.WHOLE), self.BOTH, ILKA, "", taken) is None
