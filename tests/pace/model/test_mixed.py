"""The mixed model against brute force, scipy's truncated normal, and classes of which all is known."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import truncnorm

from floorclock.pace.model import mixed
from floorclock.pace.model.mixed import GOES_ON, SHAPES, USUAL_SD, Seen, fit_mixed, steps_ahead
from floorclock.pace.model.work import Kinds, Row, kinds_of
from floorclock.plan.work import Unit


def drawn(people: int, kinds: int, rounds: int, seed: int, **sd: float) -> tuple[list[Row], Kinds]:
    """A class drawn from the model itself."""
    dice = np.random.default_rng(seed)
    rows = []
    for who in range(people):
        level, drift = dice.normal(0, sd["level"]), dice.normal(0.03, sd["drift"])
        for kind in range(kinds):
            own = dice.normal(0, sd["kind"])
            for number in range(1, rounds + 1):
                log_s = 3.6 + 0.1 * kind + level + own + drift * (number - 1) + dice.normal(0, sd["noise"])
                place = (kind, f"move {kind}", Unit.REPS)
                rows.append(Row(f"A{who:03}", (number - 1) * kinds + kind, number, place, 14.0, log_s, over=False))
    return rows, kinds_of(rows, {})


def test_class_and_athletes_are_what_the_normal_equations_of_everything_at_once_give() -> None:
    rows, kinds = drawn(5, 2, 3, 1, level=0.1, drift=0.03, kind=0.05, noise=0.04)
    seen: Seen = mixed._lay_out(rows, (), kinds)
    weight = seen.weight * np.random.default_rng(2).uniform(0.3, 1.2, seen.weight.shape)
    variances, of_class = USUAL_SD**2, np.diag([1e-6, 1e-6, 2_500.0, 100.0])
    lines, theta_cov, score = mixed._solve(seen, seen.logs, weight / variances[0], variances, of_class)
    theta = theta_cov @ score

    people, width, common = len(seen.logs), seen.own.shape[1], seen.of_class.shape[1]
    own_precision = np.diag(1 / mixed._own_variances(variances, width, common - 2))
    precision = np.zeros((common + people * width,) * 2)
    right, precision[:common, :common] = np.zeros(len(precision)), of_class
    for who in range(people):
        design = np.zeros((len(seen.own), len(precision)))
        mine = slice(common + who * width, common + (who + 1) * width)
        design[:, :common], design[:, mine] = seen.of_class, seen.own
        weighed = design.T * (weight[who] / variances[0])
        precision += weighed @ design
        precision[mine, mine] += own_precision
        right += weighed @ seen.logs[who]
    everything, cov = np.linalg.solve(precision, right), np.linalg.inv(precision)

    assert theta == pytest.approx(everything[:common], rel=1e-6)
    assert theta_cov == pytest.approx(cov[:common, :common], rel=1e-5, abs=1e-9)
    own = lines.own - lines.carried @ theta
    assert own.ravel() == pytest.approx(everything[common:], rel=1e-5, abs=1e-9)
    last = np.concatenate([seen.of_class[2], seen.own[2]])
    first = common + width
    _, variance = mixed.Lines(own, lines.cov, lines.carried).at(seen.of_class, seen.own, theta, theta_cov)
    assert variance[0, 2] == pytest.approx(last @ cov[:first, :first] @ last, rel=1e-6)


def test_in_a_large_class_the_standard_deviations_are_found() -> None:
    truth = {"noise": 0.03, "level": 0.12, "drift": 0.02, "kind": 0.08}
    rows, kinds = drawn(150, 3, 6, 3, **truth)
    fit = fit_mixed(rows, (), kinds)
    noise, level, drift, kind, _ = np.sqrt(fit.variances)
    found = {"noise": noise, "level": level, "drift": drift, "kind": kind}
    assert found == pytest.approx(truth, rel=0.2)
    assert fit.theta[3] == pytest.approx(0.03, abs=0.01)


@pytest.mark.parametrize("mean", [3.9, 4.05, 4.09])
def test_beyond_the_interval_it_is_scipys_truncated_normal(mean: float) -> None:
    limit, scale = math.log(60), 0.04
    one, late = np.ones((1, 1)), np.ones((1, 1), dtype=bool)
    seen = Seen(np.array([[limit]]), one, late, one, one, np.zeros(1, dtype=bool))
    logs, hidden = mixed._beyond(seen, np.array([[mean]]), scale)
    theirs = truncnorm((limit - mean) / scale, np.inf, loc=mean, scale=scale)
    assert logs[0, 0] == pytest.approx(theirs.mean(), rel=1e-6)
    assert hidden[0, 0] == pytest.approx(theirs.var(), rel=1e-4)


def test_beyond_the_rounds_seen_a_drift_goes_on_by_the_average_of_the_shapes() -> None:
    assert sum(share for _, share in SHAPES) == pytest.approx(1)
    assert steps_ahead(3, 3) == (2.0, 0.0, 0)
    mean, variance, beyond = steps_ahead(4, 3)
    first = [(GOES_ON * share, ratio) for ratio, share in SHAPES]
    assert mean == pytest.approx(2 + sum(share * ratio for share, ratio in first))
    assert variance == pytest.approx(sum(share * ratio**2 for share, ratio in first) - (mean - 2) ** 2)
    assert beyond == 1
    far = [steps_ahead(number, 3) for number in range(4, 40)]
    assert all(later[0] > earlier[0] and later[1] > earlier[1] for earlier, later in pairwise(far))
    assert steps_ahead(6, 0) == (5.0, 0.0, 6)


def grown(losses: list[float]) -> list[Row]:
    """Ten people at one station who all lose alike, by the logarithm of the time."""
    place = (0, "swing", Unit.REPS)
    return [
        Row(f"A{who}", number, number + 1, place, 14.0, 3.6 + loss, over=False)
        for who in range(10)
        for number, loss in enumerate(losses)
    ]


@pytest.mark.parametrize(
    ("losses", "grows"),
    [([0, 0.08], False), ([0, 0.08, 0.12, 0.14], False), ([0, 0.01, 0.04, 0.09], True)],
    ids=["a jump after round 1", "levelling", "accelerating"],
)
def test_how_the_class_loses_says_which_shapes_are_likelier(losses: list[float], grows: bool) -> None:
    rows = grown(losses)
    fit = fit_mixed(rows, (), kinds_of(rows, {}))
    assert (fit.bend > 0) is grows
    assert (steps_ahead(8, len(losses), fit.bend)[0] > steps_ahead(8, len(losses))[0]) is grows


def test_a_bend_of_next_to_nothing_changes_little_however_sure_it_is() -> None:
    rows = grown([0.030, 0.060, 0.0899])
    assert abs(fit_mixed(rows, (), kinds_of(rows, {})).bend) < 1.5
