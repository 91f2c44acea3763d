"""A class as a linear mixed model of the logarithms of its times: estimated once, then asked about one athlete at a time.

Invariant: an estimate is a function of the numbers given. It starts from the same place and takes the same steps each time, so
that a class fitted interval by interval is the class fitted at once.

The logarithm of a time in round r of athlete a at kind of work k is

    level of k + drift x + settling 2^-x                       the class
    + level of a + drift of a x                                the athlete, at whatever they do
    + level of a at k + drift of a at k x                      the athlete at this
    + chance,                                                  x = r - 1

All but the first line are drawn from normal distributions about zero (Laird and Ware 1982, Biometrics 38:963-974). Settling is
what wears off within two or three rounds: a move that is learned, a start too fast. Chance is Student's t, fitted by weights
(Lange, Little and Taylor 1989, Journal of the American Statistical Association 84:881-896), so that one odd split loses its
weight; so is what earlier classes say, so that a history that is sure and wrong gives way. Work not finished counts as what is
to be expected beyond the interval. The variances are found by a few steps of expectation and maximisation, each with a prior
that counts like so many draws. (Sources from memory.)

Beyond the rounds that were seen nobody knows how a loss goes on: it may level off, go on or grow. So the drift goes on by an
average over shapes whose steps shrink or grow (`steps_ahead`), and what the shapes differ by adds to the variance. The class
itself says which of them are likelier: where its loss bends upwards, those whose steps grow, where it began with a jump, those
whose steps shrink.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from floorclock.pace.model.work import Kinds, PriorPace, Row

Array = npt.NDArray[np.float64]

# Standard deviations on the log scale, by round where it is a drift: common practice, no source, and tuned on invented classes.
USUAL_SD = np.array([0.05, 0.10, 0.028, 0.06, 0.012])
"""Chance; level and drift of an athlete; level and drift of an athlete at a kind of work."""
WORTH = np.array([12.0, 6.0, 2.0, 8.0, 8.0])
"""How many draws each of these counts as."""
CLASS_LEVEL_SD = 1000.0
CLASS_DRIFT, CLASS_DRIFT_SD = 0.015, 0.02
CLASS_SETTLING_SD = 0.08
ANY_LEVEL_SD = 10.0
"""Of work that nobody else has done, the level may be anything."""
FREEDOM = 5.0
"""Degrees of freedom of chance."""
WIDER = 1.33
"""What a normal's variance must be for as much of it to lie in the middle 80 % as of Student's t with these."""
EARLIER_FREEDOM = 8.0
STEPS = 5
WEIGHINGS = 2
LATE = 0.05
"""The first guess at how far beyond the interval work was that was not finished, and a third of the most: logarithms."""
RESTLESS = 0.008
"""By how much the slope of a line may change with each round to come."""
SHAPES = ((0.45, 0.25), (0.7, 0.25), (0.85, 0.22), (1.0, 0.2), (1.4, 0.08))
"""The ratio of each step of a loss to the one before, and how likely it is."""
BENDS, LEAST_BEND, MOST_BEND = 40.0, -3.6, 1.0
"""How much the shapes' likelihood goes by what wears off in the class, and its limits: powers of their ratios. Upwards it counts
less, for a class that has learned a move bends like one whose loss accelerates."""
MOST_STEP = 2.5
"""A step never grows to more than this multiple of those that were seen."""
GOES_ON = 0.89
"""How likely a loss goes on at all after the last round that was seen."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Times with their designs, by row, for several athletes at once or for one.

    `logs` and `weight` are (athlete, row): times at the usual amount, and one over their variance (for splits as a multiple of
    that of chance), 0 where there is none. `over` marks times that are only known to be more. `of_class` and `own` are
    (row, width): what one unit of everything does to the row. `earlier` marks rows of earlier classes.
    """

    logs: Array
    weight: Array
    over: npt.NDArray[np.bool_]
    of_class: Array
    own: Array
    earlier: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Lines:
    """What follows for each athlete: `own` given the class, with its covariance, and how it follows an error of the class."""

    own: Array
    cov: Array
    carried: Array

    def at(self, of_class: Array, own: Array, theta: Array, theta_cov: Array) -> tuple[Array, Array]:
        """Mean and variance (athlete, row) of rows of a design."""
        left = of_class - own @ self.carried
        variance = ((own @ self.cov) * own).sum(axis=-1) + ((left @ theta_cov) * left).sum(axis=-1)
        return of_class @ theta + self.own @ own.T, variance


@dataclass(frozen=True, slots=True)
class MixedFit:
    """A class: `theta` (level of each kind, drift, settling), its covariance, and the variances as in `USUAL_SD`."""

    theta: Array
    theta_cov: Array
    variances: Array

    @property
    def bend(self) -> float:
        """The power of its ratio by which a shape is likelier: over 0 where the loss of the class bends upwards."""
        return round(max(LEAST_BEND, min(MOST_BEND, BENDS * float(self.theta[-1]))), 1)


@dataclass(frozen=True, slots=True)
class Person:
    """One athlete of a fitted class, from their own splits: `lines` for them alone, and up to which round they were seen."""

    fit: MixedFit
    lines: Lines
    kinds: int
    last_round: int
    fitted: Array

    @property
    def drift(self) -> tuple[float, float]:
        """The change of the logarithm of a time with each round, and its standard deviation."""
        everywhere = np.full((1, self.kinds), 1 / max(1, self.kinds))
        mean, variance = self._at(everywhere, np.zeros(1), np.ones(1), np.zeros(1))
        return float(mean[0]), math.sqrt(variance[0])

    def ahead(self, kinds: Sequence[int], rounds: Sequence[int]) -> tuple[Array, Array]:
        """Mean and variance, chance aside, of the logarithms of times to come, by kind of work and round."""
        steps = [steps_ahead(number, self.last_round, self.fit.bend) for number in rounds]
        x, spread, beyond = np.array(steps).T
        each, one, none = np.eye(self.kinds)[list(kinds)], np.ones(len(x)), np.zeros(len(x))
        mean, variance = self._at(each, one, x, 0.5 ** (np.array(rounds) - 1.0))
        drift, drift_variance = self._at(each, none, one, none)
        # The variance of a sum of slopes each of which is off by the sum of all changes before it.
        wander = beyond * (beyond + 1) * (2 * beyond + 1) / 6
        return mean, variance + spread * (drift**2 + drift_variance) + wander * RESTLESS**2

    def _at(self, kinds: Array, level: Array, x: Array, settling: Array) -> tuple[Array, Array]:
        of_class, own = _design(kinds, level, x, settling, len(self.fit.theta) - 2)
        mean, variance = self.lines.at(of_class, own, self.fit.theta, self.fit.theta_cov)
        return mean[0], variance[0]


@lru_cache(maxsize=1024)
def steps_ahead(number: int, last_round: int, bend: float = 0.0) -> tuple[float, float, int]:
    """How many drifts lie between round 1 and this one: mean and variance over the shapes, and how many rounds are not seen.

    `bend` is that of the class: each shape's weight is multiplied by its ratio to this power.
    With no round seen all that is known of a drift is from whole classes: then it goes on as it is.
    """
    beyond = number - last_round
    if beyond <= 0 or not last_round:
        return number - 1.0, 0.0, max(0, beyond)
    tilted = [(ratio, share * ratio**bend) for ratio, share in SHAPES]
    total = sum(share for _, share in tilted) / GOES_ON
    reach = [(share / total, sum(min(ratio**step, MOST_STEP) for step in range(1, beyond + 1))) for ratio, share in tilted]
    mean = sum(share * far for share, far in reach)
    return last_round - 1 + mean, sum(share * far**2 for share, far in reach) - mean**2, beyond


def fit_mixed(rows: Sequence[Row], earlier: Sequence[PriorPace], kinds: Kinds) -> MixedFit:
    """Estimates a class."""
    seen = _lay_out(rows, earlier, kinds)
    variances = USUAL_SD**2
    n_kinds = len(kinds.usual)
    precision = np.diag([1 / CLASS_LEVEL_SD**2] * n_kinds + [1 / CLASS_DRIFT_SD**2, 1 / CLASS_SETTLING_SD**2])
    start = precision @ np.array([0.0] * n_kinds + [CLASS_DRIFT, 0.0])
    logs, weight, hidden = np.where(seen.over, seen.logs + LATE, seen.logs), seen.weight, np.zeros_like(seen.logs)
    for step in range(STEPS + 1):
        lines, theta_cov, score = _solve(seen, logs, _precision(seen, weight, variances), variances, precision)
        theta = theta_cov @ (start + score)
        lines = Lines(lines.own - lines.carried @ theta, lines.cov, lines.carried)
        if step < STEPS:
            fitted, doubt = lines.at(seen.of_class, seen.own, theta, theta_cov)
            logs, hidden = _beyond(seen, fitted, math.sqrt(variances[0]))
            squares = (logs - fitted) ** 2 + doubt + hidden
            weight = _weigh(seen, squares, float(variances[0]))
            variances = _variances(seen, weight, squares, lines, theta_cov)
    return MixedFit(theta, theta_cov, variances)


def person_of(fit: MixedFit, rows: Sequence[Row], earlier: Sequence[PriorPace], kinds: Kinds) -> Person:
    """One athlete; `kinds` are those of the fit, and behind them what only they did."""
    seen = _rows_of_one(rows, earlier, kinds, len(fit.theta) - 2)
    logs, weight = np.where(seen.over, seen.logs + LATE, seen.logs), seen.weight
    for weighing in range(WEIGHINGS):
        scaled = _precision(seen, weight, fit.variances)
        cov, carried, own = _given_class(seen, logs, scaled, _own_variances(fit.variances, seen.own.shape[1], len(fit.theta) - 2))
        lines = Lines(own - carried @ fit.theta, cov, carried)
        fitted, doubt = lines.at(seen.of_class, seen.own, fit.theta, fit.theta_cov)
        if weighing < WEIGHINGS - 1:
            logs, hidden = _beyond(seen, fitted, math.sqrt(fit.variances[0]))
            weight = _weigh(seen, (logs - fitted) ** 2 + doubt + hidden, float(fit.variances[0]))
    return Person(fit, lines, len(kinds.usual), max((row.round for row in rows), default=0), fitted[0, : len(rows)])


def _lay_out(rows: Sequence[Row], earlier: Sequence[PriorPace], kinds: Kinds) -> Seen:
    """Everybody: a row of the design for each kind of work and round, and two for what earlier classes say of each kind."""
    names = {name: at for at, name in enumerate(sorted({row.athlete for row in rows} | {pace.athlete for pace in earlier}))}
    numbers = {number: at for at, number in enumerate(sorted({row.round for row in rows}))}
    n_kinds, n_rounds = len(kinds.usual), len(numbers)
    logs = np.zeros((len(names), n_kinds * (n_rounds + 2)))
    weight, over = np.zeros_like(logs), np.zeros(logs.shape, dtype=bool)
    for row in rows:
        kind = kinds.place[row.kind]
        place = names[row.athlete], kind * n_rounds + numbers[row.round]
        logs[place] = row.log_s - kinds.log_work(kind, row.amount)
        weight[place], over[place] = 1.0, row.over
    for pace in earlier:
        level = n_kinds * n_rounds + 2 * pace.kind
        logs[names[pace.athlete], level : level + 2] = pace.level, pace.drift
        weight[names[pace.athlete], level : level + 2] = pace.level_weight, pace.drift_weight
    each = np.arange(n_kinds)
    rounds = np.tile(np.array([*numbers], dtype=float), n_kinds)
    of_class, own = _designs(np.repeat(each, n_rounds), rounds, each, n_kinds, n_kinds)
    return Seen(logs, weight, over, of_class, own, np.arange(logs.shape[1]) >= n_kinds * n_rounds)


def _rows_of_one(rows: Sequence[Row], earlier: Sequence[PriorPace], kinds: Kinds, of_class: int) -> Seen:
    """One athlete: a row of the design for each split, and two for each kind of work of which earlier classes tell."""
    place = [kinds.find(row.kind) or 0 for row in rows]
    logs = [row.log_s - kinds.log_work(kind, row.amount) for row, kind in zip(rows, place, strict=True)]
    rounds, earlier_kinds = np.array([float(row.round) for row in rows]), np.array([pace.kind for pace in earlier], dtype=int)
    of_class_rows, own_rows = _designs(np.array(place, dtype=int), rounds, earlier_kinds, len(kinds.usual), of_class)
    said = [value for pace in earlier for value in (pace.level, pace.drift)]
    sure = [value for pace in earlier for value in (pace.level_weight, pace.drift_weight)]
    over = [row.over for row in rows] + [False] * len(said)
    weight, is_earlier = np.array([[1.0] * len(rows) + sure]), np.arange(len(over)) >= len(rows)
    return Seen(np.array([logs + said]), weight, np.array([over], dtype=bool), of_class_rows, own_rows, is_earlier)


def _design(kinds: Array, level: Array, x: Array, settling: Array, of_class: int) -> tuple[Array, Array]:
    """Rows of the class (level of its kinds, drift, settling) and own ones (level, drift, both again for each kind)."""
    by_kind, by_kind_x = kinds * level[:, None], kinds * x[:, None]
    return np.column_stack([by_kind[:, :of_class], x, settling]), np.column_stack([level, x, by_kind, by_kind_x])


def _designs(
    kind: npt.NDArray[np.int_], number: Array, earlier: npt.NDArray[np.int_], n_kinds: int, of_class: int
) -> tuple[Array, Array]:
    """Rows for splits of these kinds and rounds; then two for each kind that earlier classes tell of: its level, its drift."""
    x, is_level = number - 1, np.tile([1.0, 0.0], len(earlier))
    level, drift = np.concatenate([np.ones_like(x), is_level]), np.concatenate([x, 1 - is_level])
    settling = np.concatenate([0.5**x, 0 * is_level])
    return _design(np.eye(n_kinds)[np.concatenate([kind, np.repeat(earlier, 2)])], level, drift, settling, of_class)


def _precision(seen: Seen, weight: Array, variances: Array) -> Array:
    return np.where(seen.earlier, weight, weight / variances[0])


def _own_variances(variances: Array, width: int, of_class: int) -> Array:
    """Those of level and drift, then of the levels and the drifts at each kind of work."""
    n_kinds = width // 2 - 1
    found = np.concatenate([variances[1:3], np.repeat(variances[3:], n_kinds)])
    found[2 + of_class : 2 + n_kinds] = ANY_LEVEL_SD**2
    return found


def _given_class(seen: Seen, logs: Array, precision: Array, own_variances: Array) -> tuple[Array, Array, Array]:
    """The athletes if the class were known: covariance, how they follow the class, and where they are with a class of zeros."""
    own_t = seen.own.T * precision[:, None, :]
    cov = np.asarray(np.linalg.inv(own_t @ seen.own + np.diag(1 / own_variances)), dtype=np.float64)
    return cov, cov @ (own_t @ seen.of_class), (cov @ (own_t @ logs[..., None]))[..., 0]


def _solve(seen: Seen, logs: Array, precision: Array, variances: Array, of_class: Array) -> tuple[Lines, Array, Array]:
    """The usual normal equations, with the athletes eliminated: lines for a class of zeros, covariance and score of the class."""
    cov, carried, own = _given_class(
        seen, logs, precision, _own_variances(variances, seen.own.shape[1], seen.of_class.shape[1] - 2)
    )
    class_t = seen.of_class.T * precision[:, None, :]
    across = class_t @ seen.own
    normal = (class_t @ seen.of_class - across @ carried).sum(axis=0) + of_class
    score = (class_t @ logs[..., None] - across @ own[..., None]).sum(axis=0)[:, 0]
    return Lines(own, cov, carried), np.linalg.inv(normal), score


def _weigh(seen: Seen, squares: Array, noise: float) -> Array:
    """The weights of Student's t, by the expected squares of what each row is off."""
    chance = (FREEDOM + 1) / (FREEDOM + squares / noise)
    reliance = (EARLIER_FREEDOM + 1) / (EARLIER_FREEDOM + squares * seen.weight)
    return seen.weight * np.where(seen.over, 1.0, np.where(seen.earlier, reliance, chance))


def _variances(seen: Seen, weight: Array, squares: Array, lines: Lines, theta_cov: Array) -> Array:
    """One step of expectation and maximisation, drawn towards what is usual."""
    splits = (seen.weight > 0) & ~seen.earlier
    drawn = lines.own**2 + np.diagonal(lines.cov, axis1=1, axis2=2) + ((lines.carried @ theta_cov) * lines.carried).sum(axis=-1)
    n_kinds = drawn.shape[1] // 2 - 1
    worked = (weight[..., None] * (seen.own[:, 2 : 2 + n_kinds] > 0)).sum(axis=1) > 0
    at_kinds = [drawn[:, 2 : 2 + n_kinds][worked].sum(), drawn[:, 2 + n_kinds :][worked].sum()]
    sums = np.array([(weight * squares)[splits].sum(), drawn[:, 0].sum(), drawn[:, 1].sum(), *at_kinds])
    many = np.array([splits.sum(), len(drawn), len(drawn), worked.sum(), worked.sum()])
    if n_kinds == 1:
        # At a single kind of work what is theirs there and what is theirs everywhere are two names for one thing.
        sums[3:], many[3:] = 0.0, 0.0
    return np.asarray((WORTH * USUAL_SD**2 + sums) / (WORTH + many))


def _beyond(seen: Seen, fitted: Array, scale: float) -> tuple[Array, Array]:
    """The times with what is to be expected in place of work not finished, and the variance that hides there.

    That is the mean of a normal that is known to lie above a limit (the textbook formula, from memory), kept near the limit: an
    interval that somebody gave up on should not count as an hour.
    """
    logs, hidden = seen.logs, np.zeros_like(seen.logs)
    if not seen.over.any():
        return logs, hidden
    logs = logs.copy()
    for place in zip(*np.nonzero(seen.over), strict=True):
        limit, mean = float(seen.logs[place]), float(fitted[place])
        z = min(6.0, (limit - mean) / scale)
        hazard = math.exp(-z * z / 2) / math.sqrt(2 * math.pi) / (math.erfc(z / math.sqrt(2)) / 2)
        logs[place] = min(max(limit, mean + scale * hazard), limit + 3 * LATE)
        hidden[place] = max(scale**2 * (1 + z * hazard - hazard**2), 0.0)
    return logs, hidden
