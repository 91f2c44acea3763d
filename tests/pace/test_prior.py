"""What earlier classes say: level and drift, how sure, and nothing from what nobody tapped."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from random import Random

import pytest
from scipy.stats import theilslopes

from floorclock.clock.splits import Split, Status
from floorclock.pace.prior import NOISE, USUAL_DRIFT, USUAL_DRIFT_SPREAD, USUAL_LEVEL_SPREAD, MovePace, PastClass, prior_from
from floorclock.plan.work import Unit
from tests.pace.taps import NOT_FINISHED, UNTAPPED, split

DAY = date(2026, 11, 18)
KEY = ("Ilka", "swing", Unit.REPS)


def rounds(splits_s: Iterable[float | None], *, athlete: str = "Ilka", amount: int = 14, station: int = 0) -> list[Split]:
    """One station of a rotation by its splits in seconds; None is untapped."""
    return [
        split(
            UNTAPPED if seconds is None else 60 - seconds,
            round_number=number,
            station=station,
            stations=2,
            amount=amount,
            athlete=athlete,
        )
        for number, seconds in enumerate(splits_s, start=1)
    ]


def past(splits: Sequence[Split], weeks_ago: int = 0) -> PastClass:
    return PastClass(day=DAY - timedelta(weeks=weeks_ago), splits=splits)


def pace_of(*classes: PastClass) -> MovePace:
    return prior_from(classes)[KEY]


def drifting(first_s: float, drift: float, count: int = 5) -> list[float]:
    return [first_s * math.exp(drift * number) for number in range(count)]


def test_no_classes_and_nobody_who_tapped_give_no_prior() -> None:
    assert prior_from([]) == {}
    assert prior_from([past([split(UNTAPPED), split(NOT_FINISHED), split(20, amount=None)])]) == {}


def test_a_level_is_the_log_of_the_seconds_for_one_rep_in_round_1() -> None:
    found = pace_of(past(rounds(drifting(28, USUAL_DRIFT))))
    assert found.level == pytest.approx(math.log(28 / 14), abs=1e-4)
    assert found.drift == pytest.approx(USUAL_DRIFT, abs=1e-4)
    assert found.amount == 14
    assert found.classes == 1


def test_one_class_alone_has_the_usual_spread() -> None:
    found = pace_of(past(rounds([28, 28.5, 29])))
    # As sure of one level as of any single class, and the next one is off by as much again.
    assert found.level_sd == pytest.approx(USUAL_LEVEL_SPREAD * math.sqrt(2))


def test_more_classes_alike_make_it_surer_and_the_same_answer() -> None:
    classes = [past(rounds(drifting(30, 0.05)), weeks_ago) for weeks_ago in range(10)]
    sds = [pace_of(*classes[:count]).level_sd for count in (1, 2, 5, 10)]
    assert sds == sorted(sds, reverse=True)
    assert sds[-1] < 0.06
    many = pace_of(*classes)
    assert many.classes == 10
    assert many.drift_sd < pace_of(classes[0]).drift_sd
    # Ten classes speak for themselves: the drift is theirs and no more the usual one.
    assert many.drift == pytest.approx(0.05, abs=0.008)
    assert many.level == pytest.approx(math.log(30 / 14), abs=0.02)


def test_classes_that_differ_widen_it() -> None:
    alike = [past(rounds(drifting(30, 0.02)), week) for week in range(6)]
    apart = [past(rounds(drifting(30 * math.exp(0.2 * (-1) ** week), 0.02)), week) for week in range(6)]
    assert pace_of(*apart).level_sd > 2 * pace_of(*alike).level_sd


def test_recent_classes_count_more() -> None:
    slow_then, fast_now = rounds(drifting(40, 0.02)), rounds(drifting(30, 0.02))
    classes = [past(slow_then, week) for week in range(12, 24)] + [past(fast_now, week) for week in range(6)]
    middle = (math.log(40 / 14) * 12 + math.log(30 / 14) * 6) / 18
    assert math.log(30 / 14) - 0.01 < pace_of(*classes).level < middle - 0.05
    assert prior_from(classes) == prior_from(classes[::-1])


def test_the_drift_is_the_published_slope_drawn_towards_the_usual_one() -> None:
    # The slope of Sen 1968 as scipy has it; how far it is drawn follows from the two variances.
    taken = [28.0, 31.5, 29.2, 33.0, 32.1, 36.4]
    slope = theilslopes([math.log(one / 14) for one in taken], range(6)).slope
    weight = 1 / (USUAL_DRIFT_SPREAD**2 + NOISE**2 / 17.5)
    own = weight + 1 / USUAL_DRIFT_SPREAD**2
    expected = (weight * slope + USUAL_DRIFT / USUAL_DRIFT_SPREAD**2) / own
    found = pace_of(past(rounds(taken)))
    assert found.drift == pytest.approx(expected, rel=1e-9)
    assert found.drift_sd == pytest.approx(math.sqrt(USUAL_DRIFT_SPREAD**2 + 1 / own), rel=1e-9)


def test_one_odd_round_turns_nothing() -> None:
    smooth = pace_of(past(rounds(drifting(30, 0.03, 6))))
    odd = drifting(30, 0.03, 6)
    odd[4] = 59.0
    bent = pace_of(past(rounds(odd)))
    assert bent.level == pytest.approx(smooth.level, abs=0.02)
    assert bent.drift == pytest.approx(smooth.drift, abs=0.01)


def test_what_nobody_tapped_is_in_nothing() -> None:
    gaps = rounds([30.0, None, 31.9, None, 33.9])
    assert prior_from([past(gaps)]) == prior_from([past([one for one in gaps if one.status is Status.DONE])])


def test_one_round_alone_says_nothing_of_the_drift() -> None:
    found = pace_of(past(rounds([None, None, 30.0])))
    assert found.drift == USUAL_DRIFT
    assert found.level == pytest.approx(math.log(30 / 14) - 2 * USUAL_DRIFT)


def test_more_or_less_work_is_told_apart_from_another_pace() -> None:
    fourteen, seven = rounds([28.0, 28.0, 28.0]), rounds([14.0, 14.0, 14.0], amount=7)
    assert pace_of(past(seven, 0)).level == pytest.approx(pace_of(past(fourteen, 0)).level)
    both = pace_of(past(seven, 0), past(fourteen, 1))
    assert both.level == pytest.approx(pace_of(past(fourteen, 0)).level, abs=0.005)
    assert both.amount == 7


def test_the_last_target_is_that_of_the_newest_class_and_of_round_1_where_it_is_known() -> None:
    ladder = [replace(one, amount=Fraction(9 + one.round)) for one in rounds([28.0, 29.0, 30.0])]
    assert pace_of(past(ladder)).amount == 12
    known = PastClass(day=DAY, splits=ladder, amounts={KEY: Fraction(10)})
    assert pace_of(known, past(rounds([28.0]), 2)).amount == 10


def test_two_stations_with_one_move_are_one_history_and_rounds_compare_within_a_station() -> None:
    # The second station is slower, and no slower from round to round: that is no drift.
    both = [*rounds([28.0] * 4), *rounds([34.0] * 4, station=1)]
    found = pace_of(past(both), past(both, 1), past(both, 2))
    assert 0 <= found.drift < USUAL_DRIFT
    assert math.log(28 / 14) - 0.02 < found.level < math.log(34 / 14)


def test_everybody_has_their_own() -> None:
    found = prior_from([past([*rounds(drifting(30, 0.02)), *rounds(drifting(40, 0.02), athlete="Bram")])])
    assert found["Bram", "swing", Unit.REPS].level - found[KEY].level == pytest.approx(math.log(40 / 30), abs=1e-3)


def test_with_enough_people_the_usual_drift_is_theirs() -> None:
    many = [one for number in range(9) for one in rounds(drifting(30, 0.06), athlete=f"Guest {number}")]
    assert pace_of(past([*many, *rounds([30.0])])).drift == pytest.approx(0.06, abs=1e-4)


@pytest.mark.parametrize("count", [1, 4, 10])
def test_the_next_class_is_as_far_off_as_was_said(count: int) -> None:
    """Simulated people with the usual spread from day to day and 5 % noise in each split: standard scores are of size 1."""
    dice = Random(count)
    level_z, drift_z, level_errors, naive_errors = [], [], [], []
    for _ in range(150):
        habit = dice.gauss(USUAL_DRIFT, USUAL_DRIFT_SPREAD)
        base = math.log(28)
        days = [(base + dice.gauss(0, USUAL_LEVEL_SPREAD), habit + dice.gauss(0, USUAL_DRIFT_SPREAD)) for _ in range(count + 1)]
        classes = [
            past(rounds([math.exp(level + drift * x + dice.gauss(0, 0.05)) for x in range(5)]), week)
            for week, (level, drift) in enumerate(days[:-1], start=1)
        ]
        found, (level, drift) = pace_of(*classes), days[-1]
        level -= math.log(14)
        level_errors.append(abs(found.level - level))
        naive_errors.append(abs(math.log((classes[0].splits[0].split_ms or 0) / 14_000) - level))
        level_z.append((found.level - level) / found.level_sd)
        drift_z.append((found.drift - drift) / found.drift_sd)
    for scores in (level_z, drift_z):
        assert 0.8 < math.sqrt(sum(score**2 for score in scores) / len(scores)) < 1.2
    if count >= 4:
        # Better than to take the first split of the last class again.
        assert sum(level_errors) < 0.9 * sum(naive_errors)
