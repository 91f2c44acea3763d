"""Athletes of a fitted class, from their own splits: where their lines are, and how sure that is.

Invariant: the class is taken as fitted; only how far each athlete is from it follows from their splits.

What is drawn for an athlete is worked out in `given.py`; how far the class may be off, which moves athletes less the more
splits of their own they have, is added here.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from floorclock.pace.model.constants import DRIFT, KIND_DRIFT, KIND_LEVEL, NOISE, STEP, Model
from floorclock.pace.model.given import Batch, Drawn, Own, designs, draw, read_own
from floorclock.pace.model.grid import Array, Flags, Grid
from floorclock.pace.model.kinds import Kinds
from floorclock.pace.model.mixed import MixedFit
from floorclock.pace.model.posterior import OF_CLASS, OWN, doubts
from floorclock.pace.model.spread import Spread, t_nodes

ANY_LEVEL_SD = 10.0
WIDER = 1.4
"""How much less sure a drift is than by what of it is kept: the other standard deviations may be off too (measured)."""


@dataclass(frozen=True, slots=True)
class Personal:
    """One athlete from now on: level, drift and settling at each kind of work, with their covariance.

    `means` are by (kind, three), `covs` by (kind, three, three). `lines` are the fitted values at the splits, in their order.
    `last_round` is that of their latest split, `step_variance` by how much a line may move with each round after it,
    `noise_sd` the scale of chance.
    """

    means: Array
    covs: Array
    lines: Array
    last_round: float
    step_variance: float
    noise_sd: float
    drift: float
    drift_sd: float


def persons(batch: Batch, kinds: Kinds, fit: MixedFit, grid: Grid, model: Model) -> list[Personal]:
    """Works out athletes whose splits are of kinds that are among `kinds`; the class was fitted to `grid`."""
    theta, theta_cov = of_class_with_more(fit, len(kinds.usual), model)
    sd = probable(fit)
    own = read_own(batch, kinds, fit, grid)
    own_variance = np.tile(sd[KIND_LEVEL : KIND_DRIFT + 1] ** 2, (len(theta), 1))
    # Of work that nobody else has done, the level may be anything.
    own_variance[len(fit.posterior.theta) :, 0] = ANY_LEVEL_SD**2
    design, variance, steps = designs(own, sd)
    drawn = draw(own, theta, sd, own_variance, design, variance, fit.tie, model)
    mine = np.zeros((len(batch), len(theta)))
    mine[own.who, own.kind] = 1
    mine[~mine.any(axis=1)] = 1
    means, covs, drift, drift_sd = _from_now_on(drawn, theta, theta_cov, steps, mine)
    covs, drift_sd = _less_sure(covs, drift_sd, WIDER * float(fit.unsure[DRIFT]) * drawn.phi[:, 1], own)
    ends = np.cumsum([0, *(len(rows) for _, rows in batch)]).tolist()
    step = step_variance(float(sd[STEP]), model.step_freedom)
    return [
        Personal(
            means[i],
            covs[i],
            drawn.lines[ends[i] : ends[i + 1]],
            float(max((row.round for row in rows), default=0)),
            step,
            float(sd[NOISE]),
            float(drift[i]),
            float(drift_sd[i]),
        )
        for i, (_, rows) in enumerate(batch)
    ]


def probable(fit: MixedFit) -> Array:
    """The standard deviations to go by: one that is not sure is larger on average than at its likeliest (a lognormal's mean).

    Of chance and steps, which are Student's t, and of drifts, which are averaged already, that is taken care of elsewhere.
    """
    sd = fit.sd * np.exp(0.5 * fit.unsure**2)
    as_they_are = [NOISE, DRIFT, STEP]
    sd[as_they_are] = fit.sd[as_they_are]
    return np.asarray(sd)


@lru_cache(maxsize=64)
def step_variance(sd: float, freedom: float) -> float:
    """The variance of a step to come: that of a normal of which as much lies between the ends of a forecast."""
    return (sd * Spread(0.0, 0.0, 1.0, t_nodes(freedom)).quantile(0.9) / Spread(0.0, 1.0, 0.0).quantile(0.9)) ** 2


def _less_sure(covs: Array, drift_sd: Array, by: Array, own: Own) -> tuple[Array, Array]:
    """Covariances where each drift, about the middle of the rounds that were seen, is less sure by a standard deviation."""
    many = np.maximum(1, np.bincount(own.who, minlength=own.athletes))
    gone = np.bincount(own.who, own.rounds[own.column] - 1, own.athletes) / many
    turn = by[:, None] * np.stack([-gone, np.ones_like(gone), np.zeros_like(gone)], axis=1)
    return covs + (turn[:, :, None] * turn[:, None, :])[:, None], np.hypot(drift_sd, by)


def of_class_with_more(fit: MixedFit, n_kinds: int, model: Model) -> tuple[Array, Array]:
    """What is known of the class, with kinds of work behind that it has not done: those have its mean drift and no level."""
    known = fit.posterior.theta
    more = n_kinds - len(known)
    if not more:
        return known, fit.posterior.theta_cov
    drift = float(known[:, 1].mean()) if len(known) else model.drift_mean
    theta = np.concatenate([known, np.tile([0.0, drift, 0.0], (more, 1))])
    variances = [0.0, model.drift_sd**2 + model.kind_drift_sd**2, model.settling_sd**2]
    cov = np.diag(np.tile(variances, n_kinds))
    cov[: known.size, : known.size] = fit.posterior.theta_cov
    return theta, cov


def _from_now_on(drawn: Drawn, theta: Array, theta_cov: Array, steps: Flags, mine: Array) -> tuple[Array, Array, Array, Array]:
    """Level, drift and settling at each kind of work after all steps so far, with covariance; and the drift over what is `mine`.

    Given the class, what is the athlete's own at a kind of work follows `phi` by `gain`; `left` is what of an error of the class
    is still in the sum of both.
    """
    athletes, kinds, _, width = drawn.gain.shape
    total = np.zeros((athletes, 1, OF_CLASS, width))
    total[:, 0, range(OF_CLASS), range(OF_CLASS)] = 1
    total[:, 0, 0] += steps
    means = theta + (total @ drawn.phi[:, None, :, None])[..., 0]
    means[..., :OWN] += drawn.own
    reach = np.repeat(total, kinds, axis=1)
    reach[..., :OWN, :] -= drawn.gain
    everywhere = reach.reshape(athletes, kinds * OF_CLASS, width)
    left = -(everywhere @ drawn.moves).reshape(athletes, kinds, OF_CLASS, kinds, OF_CLASS)
    each = np.arange(kinds)
    left[:, each, :, each] += np.eye(OF_CLASS)
    left[:, each, :OWN, each] -= drawn.gain[..., :OF_CLASS].swapaxes(0, 1)
    left = left.reshape(athletes, kinds, OF_CLASS, kinds * OF_CLASS)
    reach_cov = (everywhere @ drawn.phi_cov).reshape(reach.shape)
    left_cov = (left.reshape(athletes, kinds * OF_CLASS, -1) @ theta_cov).reshape(left.shape)
    covs = reach_cov @ reach.swapaxes(-1, -2) + left_cov @ left.swapaxes(-1, -2)
    covs[..., :OWN, :OWN] += drawn.inverse
    share = mine / mine.sum(axis=1, keepdims=True)
    drift = (share * means[..., 1]).sum(axis=1)
    along, off = (share[:, None] @ reach[:, :, 1])[:, 0], (share[:, None] @ left[:, :, 1])[:, 0]
    variance = doubts(along[:, None], drawn.phi_cov)[:, 0] + doubts(off, theta_cov)
    variance += (share**2 * drawn.inverse[..., 1, 1]).sum(axis=1)
    return means, covs, drift, np.sqrt(np.maximum(0.0, variance))
