"""The best that could be known after three rounds by somebody to whom the world was told, for the benchmarks to compare with.

Invariant: it shares no line with what it judges; it works from the arrays of an `InventedClass` and from the spreads that its
world has by construction.

It is the best linear unbiased predictor on the log scale. Told to it are every variance, the work factors, and mean and
covariance over the rounds of what blow-ups and lessons add; not told are the lengths of the stations and the mean drift of
this class, which it estimates by generalised least squares. In a heavy-tailed world it also knows the degrees of freedom and
the scale of the noise, and weighs each split by how likely so odd a one is (expectation and maximisation for Student's t).
A split that nobody tapped or that was over the window is absent. Who blows up or learns it does not recognise beyond what is
linear: a mixture could do a little better there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import stats

from tests.bench.forecast_worlds import ROUNDS, SEEN, WINDOW_MS, Array, Flags, InventedClass, noise_scale

ROUNDS_OF_WEIGHING = 12
QUADRATURE = 41


@dataclass(frozen=True, slots=True)
class Foreseen:
    """Athlete by station by round, all six: the logarithm of the split in ms, its middle and an 80 % interval."""

    middle: Array
    low: Array
    high: Array


def foresee(made: InventedClass, rounds: int = SEEN) -> Foreseen:
    """What the oracle says of every round after it saw the first ones."""
    covariance = _covariance(made)
    design = _design(made)
    shape = (made.size, made.stations * ROUNDS)
    mean = made.work_log().reshape(shape) + np.tile(made.world.extra_mean(), made.stations)
    seen = _seen(made, rounds).reshape(shape)
    logs = (made.course + made.noise + made.work_log()).reshape(shape) - mean
    scale, freedom = noise_scale(made.world, made.noise_sd), made.world.tail_freedom
    weights = np.ones(shape)
    for _ in range(ROUNDS_OF_WEIGHING if freedom else 0):
        level, variance = _predict(covariance, design, logs, seen, scale**2 / weights)
        odd = ((logs - level) ** 2 + variance) / scale**2
        weights = (freedom + 1) / (freedom + odd) if freedom else weights
    level, _ = _predict(covariance, design, logs, seen, scale**2 / weights)
    # How sure it is follows from what a split tells on average; weights found from the data themselves would make it too sure.
    told = (freedom + 3) / (freedom + 1) if freedom else 1.0
    _, variance = _predict(covariance, design, logs, seen, np.full(shape, scale**2 * told))
    half = _half_width(variance, scale, freedom)
    full = level + mean
    cube = made.course.shape
    return Foreseen(full.reshape(cube), (full - half).reshape(cube), (full + half).reshape(cube))


def _seen(made: InventedClass, rounds: int) -> Flags:
    took = made.course + made.noise + made.work_log()
    return np.asarray(made.tapped & (took <= np.log(WINDOW_MS)) & (np.arange(ROUNDS) < rounds))


def _design(made: InventedClass) -> Array:
    """What is the same for everybody: a length for each station, and the mean drift."""
    stations = np.kron(np.eye(made.stations), np.ones((ROUNDS, 1)))
    return np.column_stack([stations, np.tile(np.arange(ROUNDS), made.stations)])


def _covariance(made: InventedClass) -> Array:
    """How the noise-free times of one athlete vary together, over stations and rounds."""
    world, gone = made.world, np.arange(ROUNDS)
    drift = np.outer(gone, gone)
    shared = world.level_sd**2 + world.drift_sd**2 * drift + world.extra_covariance()
    own = world.talent_sd**2 + world.station_drift_sd**2 * drift
    return np.asarray(np.kron(np.ones((made.stations, made.stations)), shared) + np.kron(np.eye(made.stations), own))


def _predict(covariance: Array, design: Array, logs: Array, seen: Flags, noise: Array) -> tuple[Array, Array]:
    """Mean and variance of every noise-free time, with the error of the estimated means in it."""
    width = design.shape[1]
    # A wide prior in place of none: a station that nobody has been seen at must not make the equations singular.
    normal, right = np.eye(width) * 1e-6, np.zeros(width)
    gains = []
    for who in range(len(logs)):
        at = seen[who]
        inverse = np.linalg.inv(covariance[np.ix_(at, at)] + np.diag(noise[who, at]))
        normal += design[at].T @ inverse @ design[at]
        right += design[at].T @ inverse @ logs[who, at]
        gains.append(covariance[:, at] @ inverse)
    spread = np.linalg.inv(normal)
    fixed = spread @ right
    level, variance = np.empty_like(logs), np.empty_like(logs)
    for who, gain in enumerate(gains):
        at = seen[who]
        left = design - gain @ design[at]
        level[who] = design @ fixed + gain @ (logs[who, at] - design[at] @ fixed)
        variance[who] = np.diag(covariance - gain @ covariance[at]) + np.einsum("ij,jk,ik->i", left, spread, left)
    return level, variance


def _half_width(variance: Array, scale: float, freedom: int | None) -> Array:
    """Half of the interval that holds 80 of 100 splits: normal knowledge of the course, and the noise of one split."""
    if freedom is None:
        return np.asarray(stats.norm.ppf(0.9) * np.sqrt(variance + scale**2))
    ratios, halves = _ninetieth(freedom)
    return np.asarray(scale * np.interp(np.sqrt(variance) / scale, ratios, halves))


@lru_cache
def _ninetieth(freedom: int) -> tuple[Array, Array]:
    """The ninetieth percentile of a normal error and a Student's t together, by the size of the first to the second."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(QUADRATURE)
    ratios = np.linspace(0, 12, 481)
    low, high = np.zeros_like(ratios), 3 * (ratios + 1)
    for _ in range(40):
        middle = (low + high) / 2
        below = stats.t.cdf(middle[:, None] - ratios[:, None] * nodes, freedom) @ (weights / weights.sum())
        low, high = np.where(below < 0.9, middle, low), np.where(below < 0.9, high, middle)
    return ratios, high
