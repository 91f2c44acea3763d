"""A class and everybody in it, given how much they vary: a linear mixed model solved from the inside out.

Invariant: a function of the numbers given; places and rounds without weight have no part in it.

What belongs to one athlete at one kind of work is eliminated first (2 by 2), then each athlete, then the class is solved and
all are worked out on the way back (the usual normal equations of a mixed model, by blocks). The cost grows with the number of
athletes, not with its square.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from floorclock.pace.model.grid import Array, Grid

OF_CLASS = 3
"""What a kind of work has for everybody, and an athlete for every kind of work: level, drift and settling."""
OWN = 2
"""What an athlete has at one kind of work beyond that: level and drift."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What is taken as known here.

    `design` (round, width) says what one unit of everything of an athlete does to each round; its first columns are level,
    drift and settling. `precision` (athlete, place, round) is one over the variance of chance, 0 where nothing is known.
    `told_precision` (athlete, place, level and drift) is the same for what earlier classes say. `own_variance` are those of
    `OWN`. `of_athlete` (athlete, width, width) and `of_class` (kinds x `OF_CLASS`, squared) are
    precisions of what is drawn for an athlete, about zero, and of the class, about `class_mean`.
    """

    design: Array
    precision: Array
    told_precision: Array
    own_variance: Array
    of_athlete: Array
    of_class: Array
    class_mean: Array


@dataclass(frozen=True, slots=True)
class Posterior:
    """What follows.

    `theta` (kind, level, drift and settling) is the class, `theta_cov` how sure it is. `phi` (athlete, width) are the athletes,
    with `phi_cov`, which would be `spread` if the class were known; `own` (athlete, place, level and drift) is what they differ
    by at a kind of work, with its variances.
    `fitted` (athlete, place, round) are the lines, `doubt` their variances; `told_squares` (athlete, place, level and drift) are
    the expected squares of what the lines are off from what earlier classes say, 0 where they say nothing.
    """

    theta: Array
    theta_cov: Array
    phi: Array
    phi_cov: Array
    spread: Array
    own: Array
    own_variance: Array
    fitted: Array
    doubt: Array
    told_squares: Array


@dataclass(frozen=True, slots=True)
class _Inside:
    """Normal equations by (athlete, place): whole, and with what is the athlete's own at it eliminated."""

    gram: Array
    score: Array
    inverse: Array
    gain: Array
    left: Array
    left_score: Array


def posterior(grid: Grid, logs: Array, taken: Taken) -> Posterior:
    """Solves the class for given times (athlete, place, round)."""
    inside = _inside(grid, logs, taken)
    spread = np.linalg.inv(inside.left.sum(axis=1) + taken.of_athlete)
    score = inside.left_score.sum(axis=1)
    cross = _by_kind(grid, inside.left[..., :OF_CLASS])
    carried = spread @ cross
    theta, theta_cov = _class(grid, inside, cross, carried, score, taken)
    phi = (spread @ score[..., None])[..., 0] - carried @ theta
    carried_cov = carried @ theta_cov
    phi_cov = spread + carried_cov @ carried.transpose(0, 2, 1)
    line, line_cov = _lines(grid, theta, theta_cov, phi, phi_cov, carried_cov)
    own = (inside.inverse @ inside.score[..., :OWN, None] - inside.gain @ line[..., None])[..., 0]
    straight = taken.design[:, :OWN]
    # What is the athlete's own at a kind of work, then the fitted line in each round, as they follow class and athlete.
    reach = np.concatenate([inside.gain, taken.design - straight @ inside.gain], axis=-2)
    doubt = doubts(reach, line_cov)
    return Posterior(
        theta.reshape(grid.n_kinds, OF_CLASS),
        theta_cov,
        phi,
        phi_cov,
        spread,
        own,
        doubt[..., :OWN] + np.diagonal(inside.inverse, axis1=-2, axis2=-1),
        line @ taken.design.T + own @ straight.T,
        doubt[..., OWN:] + doubts(straight, inside.inverse),
        _told_squares(grid, inside, line, line_cov, own) if grid.told_weight.any() else np.zeros_like(own),
    )


def _told_squares(grid: Grid, inside: _Inside, line: Array, line_cov: Array, own: Array) -> Array:
    reach = np.eye(OWN, line.shape[-1]) - inside.gain
    doubt = doubts(reach, line_cov) + np.diagonal(inside.inverse, axis1=-2, axis2=-1)
    return np.asarray(np.where(grid.told_weight > 0, (grid.told - line[..., :OWN] - own) ** 2 + doubt, 0.0))


def _inside(grid: Grid, logs: Array, taken: Taken) -> _Inside:
    design, width = taken.design, taken.design.shape[1]
    square = (design[:, :, None] * design[:, None, :]).reshape(len(design), width * width)
    flat = taken.precision.reshape(math.prod(grid.kind.shape), len(design))
    gram = (flat @ square).reshape(*grid.kind.shape, width, width)
    score = (taken.precision * logs) @ design
    # What earlier classes say of level and drift counts like two more splits, one for each.
    for i in range(OWN):
        gram[..., i, i] += taken.told_precision[..., i]
    score[..., :OWN] += taken.told_precision * grid.told
    inverse = inverse_2x2(gram[..., :OWN, :OWN], taken.own_variance)
    gain = inverse @ gram[..., :OWN, :]
    left = gram - gram[..., :, :OWN] @ gain
    left_score = score - (score[..., None, :OWN] @ gain)[..., 0, :]
    return _Inside(gram, score, inverse, gain, left, left_score)


def _by_kind(grid: Grid, blocks: Array) -> Array:
    """Blocks (athlete, place, width, of class) put where their kinds are: (athlete, width, kinds x of class)."""
    athletes, _, width, _ = blocks.shape
    out = np.zeros((athletes, grid.n_kinds + 1, width, OF_CLASS))
    out[np.arange(athletes)[:, None], grid.kind] = blocks
    return out[:, :-1].transpose(0, 2, 1, 3).reshape(athletes, width, grid.n_kinds * OF_CLASS)


def _class(grid: Grid, inside: _Inside, cross: Array, carried: Array, score: Array, taken: Taken) -> tuple[Array, Array]:
    kinds, width = grid.n_kinds, score.shape[1]
    right = np.zeros((len(score), kinds + 1, OF_CLASS))
    right[np.arange(len(score))[:, None], grid.kind] = inside.left_score[..., :OF_CLASS]
    flat = carried.reshape(len(score) * width, kinds * OF_CLASS)
    normal = taken.of_class - cross.reshape(flat.shape).T @ flat
    square = normal.reshape(kinds, OF_CLASS, kinds, OF_CLASS)
    square[np.arange(kinds), :, np.arange(kinds), :] += (
        cross[:, :OF_CLASS].sum(axis=0).reshape(OF_CLASS, kinds, OF_CLASS).swapaxes(0, 1)
    )
    cov = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    found = right[:, :-1].sum(axis=0).ravel() - flat.T @ score.ravel()
    return cov @ (found + taken.of_class @ taken.class_mean), cov


def _lines(grid: Grid, theta: Array, theta_cov: Array, phi: Array, phi_cov: Array, carried_cov: Array) -> tuple[Array, Array]:
    """Class and athlete together at each of their kinds of work: coefficients (athlete, place, width) and covariance."""
    athletes, places = grid.kind.shape
    width, kinds = phi.shape[1], grid.n_kinds
    line = np.repeat(phi[:, None], places, axis=1)
    line[..., :OF_CLASS] += np.concatenate([theta.reshape(kinds, OF_CLASS), np.zeros((1, OF_CLASS))])[grid.kind]
    cov = np.repeat(phi_cov[:, None], places, axis=1)
    blocks = np.zeros((kinds + 1, OF_CLASS, OF_CLASS))
    blocks[:-1] = theta_cov.reshape(kinds, OF_CLASS, kinds, OF_CLASS)[np.arange(kinds), :, np.arange(kinds), :]
    between = np.zeros((athletes, kinds + 1, width, OF_CLASS))
    between[:, :-1] = carried_cov.reshape(athletes, width, kinds, OF_CLASS).transpose(0, 2, 1, 3)
    shared = between[np.arange(athletes)[:, None], grid.kind]
    cov[..., :OF_CLASS, :OF_CLASS] += blocks[grid.kind]
    cov[..., :, :OF_CLASS] -= shared
    cov[..., :OF_CLASS, :] -= shared.swapaxes(-1, -2)
    return line, cov


def doubts(reach: Array, cov: Array) -> Array:
    """The variances of sums (..., sum, width) of what has a covariance (..., width, width)."""
    return np.asarray(np.einsum("...ij,...ij->...i", reach @ cov, reach))


def inverse_2x2(matrix: Array, variance: Array) -> Array:
    """The inverses of symmetric 2 by 2 matrices with one over a variance (..., two) added to their diagonals."""
    a, b, c = matrix[..., 0, 0] + 1 / variance[..., 0], matrix[..., 0, 1], matrix[..., 1, 1] + 1 / variance[..., 1]
    determinant = a * c - b * b
    out = np.empty_like(matrix)
    out[..., 0, 0], out[..., 1, 1] = c / determinant, a / determinant
    out[..., 0, 1] = out[..., 1, 0] = -b / determinant
    return out
