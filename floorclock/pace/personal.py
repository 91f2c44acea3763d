"""One athlete of a fitted class, from their own splits: where their lines are, and how sure that is.

Invariant: the class is taken as fitted; only how far the athlete is from it follows from their splits.

It is the same model as in `mixed.py`, solved for one athlete in one piece, because a tap cannot wait for the class.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from floorclock.clock.splits import Split, Status
from floorclock.pace.grid import Array, Grid, log_times
from floorclock.pace.kinds import Kinds, Told
from floorclock.pace.mixed import (
    LATE,
    MixedFit,
    basis,
    drawn_precision,
    drawn_variance,
    expected_beyond,
    knots,
    loosened,
)
from floorclock.pace.model import KIND_DRIFT, KIND_LEVEL, NOISE, STEP, Model
from floorclock.pace.posterior import OF_CLASS, OWN
from floorclock.plan.work import Unit

WEIGHINGS = 3
"""What the class knows is weighed already; so many times are enough for a split that it does not know."""
ANY_LEVEL_SD = 10.0


@dataclass(frozen=True, slots=True)
class Course:
    """One athlete's line at one kind of work from now on: level, drift and settling, with their covariance."""

    mean: tuple[float, ...]
    cov: tuple[tuple[float, ...], ...]

    def at(self, round_number: int) -> tuple[float, float]:
        """Mean and variance in a round."""
        x = round_number - 1
        s = 0.5**x
        (ll, ld, ls), (_, dd, ds), (_, _, ss) = self.cov
        level, drift, settling = self.mean
        variance = ll + dd * x * x + ss * s * s + 2 * (ld * x + ls * s + ds * x * s)
        return level + drift * x + settling * s, max(0.0, variance)


@dataclass(frozen=True, slots=True)
class Personal:
    """One athlete: a course for each kind of work, and the fitted line at each of their splits by (station, interval).

    `last_round` is that of their latest split, `step_variance` by how much a line may move with each round after it,
    `noise_sd` the scale of chance.
    """

    courses: tuple[Course, ...]
    fitted: dict[tuple[int, int], float]
    last_round: float
    step_variance: float
    noise_sd: float
    drift: float
    drift_sd: float


@dataclass(slots=True)
class _Equations:
    """One row for each split and for each thing told of earlier classes; columns are what is drawn for the athlete.

    The columns are level, drift, settling, steps (`shared` of them), then level and drift at each kind of work. `of_class` has
    the columns of the class instead.
    """

    design: Array
    of_class: Array
    logs: Array
    precision: Array
    drawn: Array
    shared: int
    variance: Array


def personal(
    splits: Sequence[Split],
    kinds: Kinds,
    fit: MixedFit,
    told: Sequence[Told],
    model: Model,
    grid: Grid | None = None,
) -> Personal:
    """Works out one athlete from splits that count, all of kinds that are among `kinds`, and what earlier classes say.

    `grid` is what the class was fitted to, from which the weights of splits are taken that are in it.
    """
    theta, theta_cov = of_class_with_more(fit, len(kinds.usual), model)
    # A standard deviation that is not sure is larger on average than at its likeliest (the mean of a lognormal).
    sd = fit.sd * np.exp(0.5 * fit.unsure**2)
    sd[NOISE] = fit.sd[NOISE]
    places = [kinds.place[split.station, split.move, split.unit or Unit.REPS] for split in splits]
    rounds = np.array([split.round for split in splits], dtype=np.float64)
    system = _equations(splits, kinds, places, rounds, told, sd, len(fit.posterior.theta))
    if grid is not None and splits:
        known = grid.at(splits[0].athlete, places, [split.round for split in splits])
        system.precision[: len(splits)] *= [fit.weights[at] if at and grid.known[at] else 1.0 for at in known]
    effects, cov, fitted = _weighed(system, splits, theta, float(sd[NOISE]), fit.tie, model)
    means, covariance = _from_now_on(system, effects, cov, theta, theta_cov)
    courses = tuple(
        Course(tuple(means[at].tolist()), tuple(tuple(row) for row in covariance[at, at].tolist()))
        for at in (slice(start, start + OF_CLASS) for start in range(0, len(means), OF_CLASS))
    )
    average = np.zeros(len(means))
    mine = sorted(set(places)) or range(len(kinds.usual))
    average[[OF_CLASS * kind + 1 for kind in mine]] = 1 / max(1, len(mine))
    return Personal(
        courses,
        {(split.station, split.interval): float(line) for split, line in zip(splits, fitted, strict=False)},
        float(rounds.max(initial=0)),
        step_variance(float(sd[STEP]), model),
        float(sd[NOISE]),
        float(average @ means),
        math.sqrt(max(0.0, float(average @ covariance @ average))),
    )


def step_variance(sd: float, model: Model) -> float:
    """The variance of a step to come: Student's t has more than its scale says."""
    return sd**2 * max(1.0, model.step_freedom / max(1.0, model.step_freedom - 2)) if math.isfinite(model.step_freedom) else sd**2


def of_class_with_more(fit: MixedFit, n_kinds: int, model: Model) -> tuple[Array, Array]:
    """What is known of the class, with kinds of work behind that it has not done: those have its mean drift and no level."""
    known = fit.posterior.theta
    more = n_kinds - len(known)
    if not more:
        return known.ravel(), fit.posterior.theta_cov
    drift = float(known[:, 1].mean()) if len(known) else model.drift_mean
    theta = np.concatenate([known.ravel(), np.tile([0.0, drift, 0.0], more)])
    variances = [0.0, model.drift_sd**2 + model.kind_drift_sd**2, model.settling_sd**2]
    cov = np.diag(np.tile(variances, n_kinds))
    cov[: known.size, : known.size] = fit.posterior.theta_cov
    return theta, cov


def _equations(
    splits: Sequence[Split], kinds: Kinds, places: Sequence[int], rounds: Array, told: Sequence[Told], sd: Array, n_known: int
) -> _Equations:
    n, n_kinds = len(splits), len(kinds.usual)
    grown = np.unique(rounds)
    at = knots(grown)
    shared = OF_CLASS + len(at)
    height, rows, kind = n + OWN * len(told), np.arange(n), np.array(places, dtype=np.intp)
    design, of_class = np.zeros((height, shared + OWN * n_kinds)), np.zeros((height, OF_CLASS * n_kinds))
    design[:n, :shared] = basis(rounds, at)
    for j in range(OF_CLASS):
        of_class[rows, OF_CLASS * kind + j] = design[:n, j]
    for j in range(OWN):
        design[rows, shared + OWN * kind + j] = design[:n, j]
    logs, precision = np.empty(height), np.full(height, 1 / sd[NOISE] ** 2)
    logs[:n] = log_times(splits, kind, kinds)
    for i, one in enumerate(told):
        for j, (value, weight) in enumerate(((one.level, one.level_weight), (one.drift, one.drift_weight))):
            row = n + OWN * i + j
            design[row, j] = design[row, shared + OWN * one.kind + j] = of_class[row, OF_CLASS * one.kind + j] = 1
            logs[row], precision[row] = value, weight
    variance = drawn_variance(sd, grown, at)
    own = np.tile(sd[KIND_LEVEL : KIND_DRIFT + 1] ** 2, n_kinds)
    # Of work that nobody else has done, the level may be anything.
    own[OWN * n_known :: OWN] = ANY_LEVEL_SD**2
    return _Equations(design, of_class, logs, precision, np.diag(1 / np.concatenate([variance, own])), shared, variance)


def _weighed(
    system: _Equations, splits: Sequence[Split], theta: Array, noise_sd: float, tie: float, model: Model
) -> tuple[Array, Array, Array]:
    """What is drawn for the athlete, with covariance, and the fitted rows; the weights are left in the system."""
    n, shared, design = len(splits), system.shared, system.design
    late = [i for i, split in enumerate(splits) if split.status is Status.NOT_FINISHED]
    limits = system.logs[late]
    system.logs[late] += LATE
    base = system.of_class @ theta
    system.drawn[:shared, :shared] = drawn_precision(system.variance, np.ones(shared), tie)
    for weighing in range(WEIGHINGS):
        weighted = design.T * system.precision
        cov = np.asarray(np.linalg.inv(system.drawn + weighted @ design), dtype=np.float64)
        effects = cov @ (weighted @ (system.logs - base))
        fitted = base + design @ effects
        if not n or weighing == WEIGHINGS - 1:
            break
        for i, limit in zip(late, limits, strict=True):
            system.logs[i] = expected_beyond(float(limit), float(fitted[i]), noise_sd)[0]
        if math.isfinite(model.freedom):
            doubt = ((design[:n] @ cov) * design[:n]).sum(axis=1)
            squares = (system.logs - fitted)[:n] ** 2 + doubt
            system.precision[:n] = (model.freedom + 1) / (model.freedom * noise_sd**2 + squares)
            system.precision[late] = 1 / noise_sd**2
        squares = effects[:shared] ** 2 + np.diagonal(cov)[:shared]
        loose = loosened(squares, system.variance, model)
        system.drawn[:shared, :shared] = drawn_precision(system.variance, loose, tie)
    return effects, cov, fitted


def _from_now_on(system: _Equations, effects: Array, cov: Array, theta: Array, theta_cov: Array) -> tuple[Array, Array]:
    """Level, drift and settling at each kind of work after all steps so far, with covariance."""
    width, shared = len(theta), system.shared
    reach = np.zeros((width, len(effects)))
    reach[0::OF_CLASS, OF_CLASS:shared] = 1
    for j in range(OF_CLASS):
        reach[j::OF_CLASS, j] = 1
    for j in range(OWN):
        reach[np.arange(j, width, OF_CLASS), np.arange(shared + j, len(effects), OWN)] = 1
    carried = reach @ cov
    # What follows for the athlete if the class is off: it moves them less the more splits of their own they have.
    left = np.eye(width) - carried @ ((system.design.T * system.precision) @ system.of_class)
    return theta + reach @ effects, carried @ reach.T + left @ theta_cov @ left.T
