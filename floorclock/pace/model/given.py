"""Athletes of a class that is taken as known: what is drawn for each of them, given their own splits.

Invariant: one athlete is worked out from their own splits, whoever else is worked out beside them; who has fewer rounds,
steps or splits than others is filled up with what has no weight.

It is the model of `mixed.py`. What belongs to one kind of work is eliminated first (2 by 2), as in `posterior.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from floorclock.pace.model.beyond import LATE, expected_beyond
from floorclock.pace.model.constants import NOISE, Model
from floorclock.pace.model.grid import Array, Flags, Grid, Whole, log_times
from floorclock.pace.model.kinds import Kinds
from floorclock.pace.model.mixed import MixedFit, basis, diagonal, drawn_precision, drawn_variance, knots, loosened, reliance
from floorclock.pace.model.posterior import OF_CLASS, OWN, doubts, inverse_2x2
from floorclock.pace.model.rows import Row

WEIGHINGS = 3
"""What the class knows is weighed already; so many times are enough for a split that it does not know."""

Batch = Sequence[tuple[str, Sequence[Row]]]
"""Athletes, each with the rows of their splits."""


@dataclass(slots=True)
class Own:
    """Splits of several athletes, one after the other, and what earlier classes say of them.

    By split: `who` (a row of the batch), `kind`, `column` (a place in `rounds`), `logs`, `over`, and the weight of it that the
    class knows. By (athlete, kind, level and drift): `told`, its precision, and the weight of that.
    """

    athletes: int
    rounds: Array
    who: Whole
    kind: Whole
    column: Whole
    logs: Array
    over: list[int]
    weight: Array
    told: Array
    told_precision: Array
    told_weight: Array


@dataclass(slots=True)
class Drawn:
    """What follows.

    `phi` (athlete, width) is drawn for each athlete, `own` (athlete, kind, level and drift) for each at a kind of work.
    `own` given `phi` has the covariance `inverse` and follows it by `gain`; `phi_cov` is that of `phi`. `gram` are the
    equations by kind of work, `lines` the fitted value at each split.
    """

    phi: Array
    phi_cov: Array
    own: Array
    inverse: Array
    gain: Array
    gram: Array
    lines: Array

    @property
    def moves(self) -> Array:
        """How `phi` follows the class (athlete, width, kinds x class)."""
        athletes, kinds, width, _ = self.gram.shape
        left = self.gram[..., :OF_CLASS] - self.gram[..., :, :OWN] @ self.gain[..., :OF_CLASS]
        return np.asarray(self.phi_cov @ left.transpose(0, 2, 1, 3).reshape(athletes, width, kinds * OF_CLASS))


def read_own(batch: Batch, kinds: Kinds, fit: MixedFit, grid: Grid) -> Own:
    """Lays out the splits of a batch; all their kinds of work are among `kinds`, whose first ones are those of the grid."""
    rows = [row for _, own in batch for row in own]
    who = np.repeat(np.arange(len(batch)), [len(own) for _, own in batch])
    kind = np.array([kinds.place[row.kind] for row in rows], dtype=np.intp)
    number = np.array([row.round for row in rows], dtype=np.float64)
    rounds = np.array(sorted(set(number.tolist())), dtype=np.float64)
    at = {name: index for index, name in enumerate(grid.athletes)}
    # The row behind the last one stands for who is not in the grid; so do the last kind and the last round.
    in_grid = np.array([at.get(name, len(at)) for name, _ in batch], dtype=np.intp)
    column = np.searchsorted(grid.rounds, number)
    column[np.append(grid.rounds, math.nan)[column] != number] = len(grid.rounds)
    known = fit.known
    its_kinds = np.minimum(np.arange(len(kinds.usual)), grid.n_kinds)
    return Own(
        len(batch),
        rounds,
        who,
        kind,
        np.searchsorted(rounds, number),
        log_times(rows, kind, kinds),
        [index for index, row in enumerate(rows) if row.over],
        known.weights[in_grid[who], its_kinds[kind], column],
        *known.told[:, in_grid[:, None], its_kinds],
    )


def designs(own: Own, sd: Array) -> tuple[Array, Array, Flags]:
    """What one unit of everything that is drawn for an athlete does to each round (athlete, round, width), with its variances.

    Steps happen at the athlete's own rounds. The flags say which columns are steps of theirs.
    """
    there = np.zeros((own.athletes, len(own.rounds)), dtype=bool)
    there[own.who, own.column] = True
    patterns: dict[bytes, int] = {}
    of = [patterns.setdefault(row.tobytes(), len(patterns)) for row in there]
    found = []
    for key in patterns:
        rounds = own.rounds[np.array([*key], dtype=bool)]
        at = knots(rounds)
        found.append((basis(own.rounds, at), drawn_variance(sd, rounds, at)))
    width = max(len(variance) for _, variance in found)
    design, variances = np.zeros((len(found), len(own.rounds), width)), np.ones((len(found), width))
    real = np.zeros((len(found), width), dtype=bool)
    for index, (one, variance) in enumerate(found):
        design[index, :, : len(variance)], variances[index, : len(variance)] = one, variance
        real[index, OF_CLASS : len(variance)] = True
    return design[of], variances[of], real[of]


def draw(
    own: Own, theta: Array, sd: Array, own_variance: Array, design: Array, variance: Array, tie: float, model: Model
) -> Drawn:
    """Works out a batch: `theta` (kind, class), `own_variance` (kind, level and drift), the rest as `designs` has it."""
    late, noise = own.over, float(sd[NOISE]) ** 2
    logs, precision, told_weight = own.logs.copy(), own.weight / noise, own.told_weight
    limits = logs[late].tolist()
    logs[late] += LATE
    base = np.einsum("ij,ij->i", design[own.who, own.column, :OF_CLASS], theta[own.kind])
    normal = _Normal(own, design, theta, base)
    drawn = drawn_precision(variance, np.ones_like(variance), tie)
    for weighing in range(WEIGHINGS):
        found = normal.solve(logs, precision, own.told_precision * told_weight, own_variance, drawn)
        if weighing == WEIGHINGS - 1:
            break
        for place, limit in zip(late, limits, strict=True):
            logs[place] = expected_beyond(limit, float(found.lines[place]), math.sqrt(noise))[0]
        if math.isfinite(model.freedom):
            squares = (logs - found.lines) ** 2 + normal.doubt(found)
            precision = (model.freedom + 1) / (model.freedom * noise + squares)
            precision[late] = 1 / noise
        if own.told_precision.any():
            told_weight = reliance(normal.told_squares(found) * own.told_precision, model)
        squares = found.phi**2 + diagonal(found.phi_cov)
        drawn = drawn_precision(variance, loosened(squares, variance, model), tie)
    return found


class _Normal:
    """The normal equations of a batch."""

    def __init__(self, own: Own, design: Array, theta: Array, base: Array) -> None:
        self.own, self.design, self.theta, self.base = own, design, theta, base
        self.shape = (len(design), len(theta), design.shape[1])
        self.cell = (own.who * len(theta) + own.kind) * design.shape[1] + own.column
        width = design.shape[2]
        self.square = (design[..., :, None] * design[..., None, :]).reshape(*design.shape[:2], width * width)
        self.straight = design[:, None, :, :OWN]

    def solve(self, logs: Array, precision: Array, told: Array, own_variance: Array, drawn: Array) -> Drawn:
        (athletes, kinds, _), width = self.shape, self.design.shape[2]
        gram = (self._by_cell(precision) @ self.square).reshape(athletes, kinds, width, width)
        score = self._by_cell(precision * (logs - self.base)) @ self.design
        # What earlier classes say of level and drift counts like two more splits, one for each.
        for i in range(OWN):
            gram[..., i, i] += told[..., i]
        score[..., :OWN] += told * (self.own.told - self.theta[:, :OWN])
        inverse = inverse_2x2(gram[..., :OWN, :OWN], own_variance)
        gain = inverse @ gram[..., :OWN, :]
        beside = gain.reshape(athletes, kinds * OWN, width)
        eliminated = gram[..., :OWN, :].reshape(athletes, kinds * OWN, width).swapaxes(1, 2) @ beside
        own_score = score[..., :OWN].reshape(athletes, kinds * OWN, 1)
        cov = np.linalg.inv(gram.sum(axis=1) - eliminated + drawn)
        phi = (cov @ (score.sum(axis=1)[..., None] - beside.swapaxes(1, 2) @ own_score))[..., 0]
        own = (inverse @ score[..., :OWN, None])[..., 0] - (gain @ phi[:, None, :, None])[..., 0]
        lines = (phi[:, None] @ self.design.swapaxes(1, 2)) + own @ self.design[..., :OWN].swapaxes(1, 2)
        return Drawn(phi, cov, own, inverse, gain, gram, self.base + lines.ravel()[self.cell])

    def doubt(self, found: Drawn) -> Array:
        """The variance of each fitted value."""
        reach = self.design[:, None] - self.straight @ found.gain
        flat = reach.reshape(len(reach), math.prod(self.shape[1:]), reach.shape[-1])
        own = doubts(self.straight, found.inverse)
        return np.asarray((doubts(flat, found.phi_cov).ravel() + own.ravel())[self.cell])

    def told_squares(self, found: Drawn) -> Array:
        """The expected squares of what level and drift are off from what was told."""
        reach = np.eye(OWN, found.phi.shape[1]) - found.gain
        flat = reach.reshape(len(reach), -1, reach.shape[-1])
        doubt = doubts(flat, found.phi_cov).reshape(found.own.shape)
        off = self.own.told - self.theta[:, :OWN] - found.phi[:, None, :OWN] - found.own
        return np.asarray(off**2 + doubt + diagonal(found.inverse))

    def _by_cell(self, values: Array) -> Array:
        summed: Array = np.bincount(self.cell, values, math.prod(self.shape)).astype(np.float64, copy=False)
        return summed.reshape(self.shape)
