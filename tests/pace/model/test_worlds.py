"""The invented classes that forecasts are judged by are what they say, so that the benchmark judges by something known.

Shares and spreads are checked against the formulas of the distributions (scipy), with five standard errors of room; the seeds
are fixed, so that nothing here depends on luck.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from floorclock.clock.splits import Status
from floorclock.plan.session import Session
from tests.bench.forecast_oracle import foresee
from tests.bench.forecast_rules import last_split, own_least_squares, own_theil_sen, seen
from tests.bench.forecast_worlds import (
    HARDER,
    MARGIN_MS,
    NORMAL,
    ROUNDS,
    SEEN,
    WINDOW_MS,
    WORLDS,
    Array,
    Flags,
    InventedClass,
    World,
    blown_by_round,
    invent,
)

ALL = (*WORLDS, *HARDER)
BY_NAME = {world.name: world for world in ALL}
each_world = pytest.mark.parametrize("world", ALL, ids=[world.name for world in ALL])


def big(world: World, noise_sd: float = 0.05, stations: int = 2) -> InventedClass:
    """Enough people to see what the world is like."""
    return invent(world, size=3000, stations=stations, noise_sd=noise_sd, seed=1)


@each_world
def test_a_seed_gives_the_same_class_again_and_another_one_another(world: World) -> None:
    first, again, other = (invent(world, size=6, stations=3, noise_sd=0.05, seed=seed) for seed in (4, 4, 5))

    assert first.splits(ROUNDS) == again.splits(ROUNDS)
    assert first.splits(ROUNDS) != other.splits(ROUNDS)


@each_world
@pytest.mark.parametrize("stations", [1, 2, 5])
def test_every_athlete_has_every_station_once_a_round_and_slots_match_splits(world: World, stations: int) -> None:
    made = invent(world, size=7, stations=stations, noise_sd=0.03, seed=2)
    splits, whole = made.splits(ROUNDS), made.whole()

    assert len({(one.athlete, one.round, one.station) for one in splits}) == len(splits) == 7 * stations * ROUNDS
    by_slot = {(slot.athlete, slot.interval): slot for slots in whole.values() for slot in slots}
    for split in splits:
        slot = by_slot[split.athlete, split.interval]
        for field in ("part", "round", "station", "window_ms", "margin_ms", "move", "amount", "unit"):
            assert getattr(split, field) == getattr(slot, field)
    assert all(len(slots) == (ROUNDS - SEEN) * stations for slots in made.coming().values())
    assert {slot.round for slots in made.coming().values() for slot in slots} == {4, 5, 6}


def test_start_groups_begin_at_their_own_station() -> None:
    made = invent(NORMAL, size=6, stations=3, noise_sd=0.03, seed=1)

    assert [slots[0].station for slots in made.whole().values()] == [0, 1, 2, 0, 1, 2]


def test_the_part_is_one_a_session_can_hold() -> None:
    made = invent(BY_NAME["ladders"], size=6, stations=5, noise_sd=0.03, seed=1)

    assert Session(title="bench", parts=(made.part,)).parts[0].stations == made.part.work
    assert made.part.count == ROUNDS * 5


@each_world
def test_a_split_is_the_truth_in_whole_milliseconds_or_says_why_there_is_none(world: World) -> None:
    made = invent(world, size=40, stations=4, noise_sd=0.08, seed=3)
    for split in made.splits(ROUNDS):
        who = made.names.index(split.athlete)
        truth_ms = round(made.truth_ms(who, split.station, split.round))
        tapped = made.tapped[who, split.station, split.round - 1]
        expected = Status.UNTAPPED if not tapped else Status.DONE if truth_ms <= WINDOW_MS else Status.NOT_FINISHED
        assert split.status is expected
        assert split.split_ms == (truth_ms if expected is Status.DONE else None)


def test_levels_talents_and_drifts_vary_as_the_world_says() -> None:
    course = big(NORMAL).course
    drift = course[:, 0, 1] - course[:, 0, 0]

    assert np.allclose(np.diff(course, axis=2), drift[:, None, None])
    assert_sd(drift, NORMAL.drift_sd)
    assert abs(drift.mean() - NORMAL.drift_mean) < 5 * NORMAL.drift_sd / np.sqrt(len(drift))
    assert_sd(course[:, 0, 0] - course[:, 1, 0], np.sqrt(2) * NORMAL.talent_sd)
    assert_sd(course[:, 0, 0], np.hypot(NORMAL.level_sd, NORMAL.talent_sd))


@pytest.mark.parametrize("noise_sd", [0.03, 0.08])
def test_noise_is_as_large_as_asked_and_normal_or_heavy_tailed(noise_sd: float) -> None:
    normal, heavy = big(NORMAL, noise_sd).noise.ravel(), big(BY_NAME["heavy-tailed"], noise_sd).noise.ravel()
    freedom = BY_NAME["heavy-tailed"].tail_freedom
    assert freedom is not None
    scale = noise_sd * np.sqrt((freedom - 2) / freedom)

    assert_sd(normal, noise_sd)
    assert stats.kstest(normal / noise_sd, "norm").pvalue > 0.01
    assert stats.kstest(heavy / scale, "t", args=(freedom,)).pvalue > 0.01
    assert stats.kstest(heavy / noise_sd, "norm").pvalue < 1e-9


def test_a_share_of_taps_is_missing_whoever_it_is() -> None:
    made = big(BY_NAME["30 % missing"])

    assert_share(~made.tapped, 0.3)
    assert big(NORMAL).tapped.all()


def test_a_share_blows_up_from_some_round_on_by_15_to_30_per_cent() -> None:
    world = BY_NAME["blow-ups"]
    steps = np.diff(big(world).course[:, 0, :], axis=1)
    jump = steps.max(axis=1) - np.median(steps, axis=1)
    blown = jump > 0.05

    assert_share(blown, world.blow_ups)
    assert np.exp(jump[blown]).min() > 1.149
    assert np.exp(jump[blown]).max() < 1.301
    assert set(np.argmax(steps[blown], axis=1) + 2) == {2, 3, 4, 5, 6}
    assert not (np.ptp(np.diff(big(NORMAL).course[:, 0, :], axis=1), axis=1) > 1e-9).any()


def test_learners_speed_up_and_level_off() -> None:
    world = replace(BY_NAME["learners"], learners=1.0, drift_mean=0.0, drift_sd=0.0)
    gains = -np.diff(big(world).course[:, 0, :], axis=1)

    assert (gains > 0).all()
    assert (np.diff(gains, axis=1) < 0).all()
    assert (gains[:, -1] < 0.1 * gains[:, 0]).all()
    curved = np.abs(np.diff(big(BY_NAME["learners"]).course[:, 0, :], n=2, axis=1)).max(axis=1) > 1e-9
    assert_share(curved, BY_NAME["learners"].learners)


@pytest.mark.parametrize("name", ["blow-ups", "learners"])
def test_what_a_world_adds_has_the_mean_and_the_covariance_that_the_oracle_is_told(name: str) -> None:
    world = replace(BY_NAME[name], level_sd=0.0, talent_sd=0.0, drift_mean=0.0, drift_sd=0.0)
    course = invent(world, size=40_000, stations=1, noise_sd=0.05, seed=1).course[:, 0, :]
    mean, covariance = world.extra_mean(), world.extra_covariance()
    added = course - course[:, :1] if name == "blow-ups" else course
    offset = (added - mean).mean() if name == "learners" else 0.0

    assert np.allclose(added.mean(axis=0) - offset, mean, atol=0.004)
    assert np.allclose(np.cov(added.T), covariance, atol=0.0006)
    assert blown_by_round()[0] == 0
    assert blown_by_round()[-1] == 1


def test_ladders_rise_and_fall_and_time_follows_the_work() -> None:
    made = invent(BY_NAME["ladders"], size=10, stations=5, noise_sd=0.03, seed=1)

    assert {target.step for targets in made.targets for target in targets} == {Fraction(-1), Fraction(0), Fraction(1)}
    assert len({targets[0].amount for targets in made.targets}) == 3
    course, work = made.course + made.noise, made.work_log()
    for who, station, number in np.ndindex(course.shape):
        assert made.truth_ms(who, station, number + 1) == pytest.approx(np.exp((course + work)[who, station, number]))
    target = made.targets[0][0]
    twice = replace(target, amount=target.in_round(4) * 2, step=Fraction(0))
    assert made.truth_ms(0, 0, 4, twice) == pytest.approx(2 * made.truth_ms(0, 0, 4))


def test_with_a_set_up_half_the_work_takes_more_than_half_the_time() -> None:
    made = invent(replace(NORMAL, setup_share=0.125), size=6, stations=1, noise_sd=0.03, seed=1)
    target = made.targets[0][0]
    half = replace(target, amount=target.amount / 2)

    assert made.truth_ms(0, 0, 5, half) == pytest.approx((0.125 + 0.875 / 2) * made.truth_ms(0, 0, 5))


@each_world
def test_a_fair_share_loses_the_margin_by_the_last_round_and_few_before_the_third(world: World) -> None:
    made = big(world, stations=5)
    tight = made.course + made.noise + made.work_log() > np.log(WINDOW_MS - MARGIN_MS)

    assert 0.15 < tight[:, :, -1].mean() < 0.45
    assert tight[:, :, 2].mean() < 0.2


def test_the_oracle_covers_what_it_says_and_knows_better_than_any_rule_for_one_athlete() -> None:
    classes = [invent(NORMAL, size=40, stations=3, noise_sd=0.05, seed=seed) for seed in range(20)]
    truths = [made.course[:, :, -1] + made.noise[:, :, -1] for made in classes]
    told = [foresee(made) for made in classes]
    held = np.concatenate(
        [((one.low[:, :, -1] < truth) & (truth < one.high[:, :, -1])).ravel() for one, truth in zip(told, truths, strict=True)]
    )

    assert held.mean() == pytest.approx(0.8, abs=0.03)

    def error(of: Callable[[int], Array]) -> float:
        return float(np.mean([np.abs(of(i) - np.exp(truth)).mean() for i, truth in enumerate(truths)]))

    oracle = error(lambda i: np.exp(told[i].middle[:, :, -1]))
    for rule in (last_split, own_theil_sen, own_least_squares):
        assert oracle < 0.8 * error(lambda i, rule=rule: rule(classes[i])[:, :, -1])  # type: ignore[misc]


def test_rules_for_one_athlete_work_out_their_lines() -> None:
    made = invent(NORMAL, size=6, stations=2, noise_sd=0.05, seed=9)
    paces = np.exp(made.course + made.noise)[3, 1]

    fit = stats.linregress([1, 2, 3], paces[:3])
    assert own_least_squares(made)[3, 1, 5] == pytest.approx(fit.intercept + 6 * fit.slope)
    slope, intercept = stats.theilslopes(paces[:3], [1, 2, 3])[:2]
    assert own_theil_sen(made)[3, 1, 5] == pytest.approx(intercept + 6 * slope)
    assert last_split(made)[3, 1, 5] == pytest.approx(paces[2])
    assert seen(made).sum() == 6 * 2 * SEEN


def assert_sd(values: Array, expected: float) -> None:
    """The standard error of a standard deviation is about sd / sqrt(2 n) for normal values."""
    assert abs(values.std() - expected) < 5 * expected / np.sqrt(2 * values.size)


def assert_share(values: Flags, expected: float) -> None:
    flat = np.asarray(values, dtype=float).ravel()
    assert abs(flat.mean() - expected) < 5 * np.sqrt(expected * (1 - expected) / flat.size)
