"""How much a class varies: the standard deviations of a linear mixed model, estimated from its splits.

Invariant: a fit is a function of the numbers given; the order of athletes changes nothing but the last digits.

The logarithm of a time in round r of athlete a at kind of work k is

    level of k + drift of k x + settling of k 2^-x                       the class
    + level of a + drift of a x + settling of a 2^-x + steps of a to r   the athlete, at whatever they do
    + level of a at k + drift of a at k x                                the athlete at this
    + chance,                                                            x = r - 1

All but the first line are drawn from distributions about zero. Their standard deviations, and how level and drift go together
(who starts fast may fade), are estimated by restricted maximum likelihood: the class is integrated out; a weak prior on each
makes a small class behave. Settling is what wears off within two or three rounds: a move that is learned, a start too fast. A
step is a change that stays: a sudden collapse is one, and where a class shows steps its recent rounds count for more.

Chance, settling, steps and what earlier classes say are Student's t, fitted by weights (Lange, Little and Taylor 1989, Journal
of the American Statistical Association 84:881-896; from memory): one odd split loses its weight, one athlete who collapses does
not make everybody unsure, a history that is sure and wrong gives way. Work not finished counts as what is to be expected beyond
the interval.

How much drifts differ is averaged (`drifting.py`). The rest is estimated by Fisher's scoring, each parameter on its own, from
the posterior of what is drawn (Laird and Ware 1982, Biometrics 38:963-974, give the expectations; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from floorclock.pace.model.beyond import LATE, beyond
from floorclock.pace.model.constants import COACHED, DRIFT, KIND_DRIFT, KIND_LEVEL, LEVEL, NOISE, SETTLING, STEP, TIE, Model
from floorclock.pace.model.drifting import is_weighed, weighed, without_own_drifts
from floorclock.pace.model.grid import Array, Grid
from floorclock.pace.model.posterior import OF_CLASS, OWN, Posterior, Taken, posterior

MOST_STEPS = 6
"""So many steps are told apart; in longer parts one stands for several rounds."""
NOTHING = 1e-12
"""The variance of what is switched off."""
FLOOR = math.log(1e-4)
"""No estimated standard deviation goes under this (the logarithm of 0.01 %), be the splits ever so equal."""
LARGEST_MOVE = 0.7
"""No standard deviation more than doubles in one scoring."""


@dataclass(frozen=True, slots=True)
class Known:
    """What a fit found of single splits and of what earlier classes say, by kind of work in place of the places of a grid.

    `weights` (athlete, kind, round) are those of chance, `told` (three, athlete, kind, level and drift) is what was told, its
    precisions and the weights of it. Behind the last athlete, kind and round there is one that nothing is known of.
    """

    weights: Array
    told: Array


@dataclass(frozen=True, slots=True)
class MixedFit:
    """`sd` by place; `unsure`, the standard deviation of the logarithm of each; the correlation `tie`; and what follows.

    `weights` (athlete, place, round) are those of chance, `scorings` how many it took.
    """

    sd: Array
    unsure: Array
    tie: float
    weights: Array
    known: Known
    posterior: Posterior
    scorings: int

    @property
    def parameters(self) -> Array:
        """Where a later fit may start."""
        return np.append(np.log(np.maximum(self.sd, math.sqrt(NOTHING))), math.atanh(self.tie))


@dataclass(slots=True)
class _Guess:
    """Where the estimation stands; `loose` (athlete, width) are the weights of what is drawn for an athlete."""

    parameters: Array
    weights: Array
    told_weights: Array
    loose: Array
    logs: Array
    hidden: Array
    pace: Array = field(default_factory=lambda: np.ones(TIE + 1))
    before: Array = field(default_factory=lambda: np.zeros(TIE + 1))


def knots(rounds: Array) -> Array:
    """The rounds at which a step may happen: each after the first, or evenly chosen ones, the last always among them."""
    later = rounds[1:]
    if len(later) <= MOST_STEPS:
        return later
    chosen: Array = later[np.linspace(0, len(later) - 1, MOST_STEPS).round().astype(np.intp)]
    return chosen


def basis(rounds: Array, at: Array) -> Array:
    """By round: what one unit of level, drift, settling and each step does to it."""
    out = np.empty((len(rounds), OF_CLASS + len(at)))
    out[:, 0], out[:, 1], out[:, 2] = 1.0, rounds - 1, 0.5 ** (rounds - 1)
    out[:, OF_CLASS:] = rounds[:, None] >= at
    return out


def drawn_variance(sd: Array, rounds: Array, at: Array) -> Array:
    """The variances of level, drift, settling and each step; a step stands for all rounds since the one before it."""
    out = np.empty(OF_CLASS + len(at))
    out[:OF_CLASS] = sd[LEVEL : SETTLING + 1] ** 2
    if len(at):
        out[OF_CLASS] = sd[STEP] ** 2 * (at[0] - rounds[0])
        out[OF_CLASS + 1 :] = sd[STEP] ** 2 * (at[1:] - at[:-1])
    return out


def diagonal(matrices: Array) -> Array:
    """The diagonals of the last two axes, to read or to write."""
    found: Array = np.einsum("...ii->...i", matrices)
    return found


def drawn_precision(variance: Array, loose: Array, tie: float) -> Array:
    """The precision (..., width, width) of what is drawn for an athlete, by `loose` (..., width) and `variance` of its width."""
    width = variance.shape[-1]
    precision = np.zeros((*loose.shape[:-1], width, width))
    diagonal(precision)[...] = loose / variance
    if tie:
        free = 1 - tie**2
        precision[..., 0, 0] /= free
        precision[..., 1, 1] /= free
        precision[..., 0, 1] = precision[..., 1, 0] = -tie / (free * np.sqrt(variance[..., 0] * variance[..., 1]))
    return precision


def loosened(squares: Array, variance: Array, model: Model) -> Array:
    """The weights of what is drawn for an athlete, from its expected squares: 1 for level and drift, Student's for the rest."""
    weights = np.ones_like(squares)
    if math.isfinite(model.step_freedom):
        weights[..., OWN:] = (model.step_freedom + 1) / (model.step_freedom + squares[..., OWN:] / variance[..., OWN:])
    return weights


def reliance(ratios: Array, model: Model) -> Array:
    """The weights of what earlier classes say, from the expected squares of what it is off by its variance: Student's."""
    if not math.isfinite(model.told_freedom):
        return np.ones_like(ratios)
    return np.asarray((model.told_freedom + 1) / (model.told_freedom + ratios))


def fit_mixed(grid: Grid, model: Model = COACHED, start: Array | None = None) -> MixedFit:
    """Estimates a class, beginning at the parameters of an earlier fit if there is one."""
    if grid.kind.shape[1] == 1:
        model = without_own_drifts(model)
    centre, _ = _prior(model)
    at = knots(grid.rounds)
    design = basis(grid.rounds, at)
    guess = _Guess(
        centre if start is None else np.where(start > np.log(math.sqrt(NOTHING)) + 1, start, centre),
        np.ones_like(grid.known),
        np.ones_like(grid.told_weight),
        np.ones((len(grid.athletes), design.shape[1])),
        np.where(grid.over, grid.logs + LATE, grid.logs),
        np.zeros_like(grid.logs),
    )
    scorings, unsure = 0, np.zeros(TIE + 1)
    for scorings in range(1, model.scorings + 1):
        found = _solve(grid, guess, design, at, model)
        sd = _sd(guess.parameters, model)
        if grid.over.any():
            guess.logs, guess.hidden = beyond(grid, found.fitted, float(sd[NOISE]))
        squares = grid.known * ((guess.logs - found.fitted) ** 2 + found.doubt + guess.hidden)
        moves, unsure = _scoring(grid, guess, found, squares, drawn_variance(sd, grid.rounds, at), model)
        _reweigh(grid, guess, found, squares, drawn_variance(sd, grid.rounds, at), float(sd[NOISE]), model)
        # From an earlier fit it is known where to start, but not yet which splits are odd.
        if start is None or scorings > 1:
            _move(guess, moves)
        # What nobody can know well need not be found well.
        if scorings > 2 and (np.abs(guess.pace * guess.before) < model.tolerance * (1 + 10 * unsure)).all():
            break
    found = _solve(grid, guess, design, at, model)
    sd, tie = _sd(guess.parameters, model), math.tanh(guess.parameters[TIE])
    return MixedFit(sd, unsure[:TIE], tie, guess.weights, _known(grid, guess), found, scorings)


def _known(grid: Grid, guess: _Guess) -> Known:
    (athletes, _, rounds), kinds = grid.logs.shape, grid.n_kinds
    weights, told = np.ones((athletes + 1, kinds + 1, rounds + 1)), np.zeros((3, athletes + 1, kinds + 1, OWN))
    everybody = np.arange(athletes)[:, None]
    weights[everybody, grid.kind, :-1] = np.where(grid.known > 0, guess.weights, 1.0)
    told[:, everybody, grid.kind] = grid.told, grid.told_weight, guess.told_weights
    # The last kind is where empty places were put.
    weights[:, -1], told[:, :, -1] = 1.0, 0.0
    return Known(weights, told)


def _prior(model: Model) -> tuple[Array, Array]:
    """Middle and precision of the parameters."""
    usual, sure = np.array(model.usual_sd), np.array([*model.sure, model.tie_sd or 1.0])
    centre = np.append(np.log(np.where(usual > 0, usual, math.sqrt(NOTHING))), 0.0)
    return centre, np.where(np.isfinite(sure), 1 / sure**2, 0.0)


def _sd(parameters: Array, model: Model) -> Array:
    return np.where(np.array(model.usual_sd) > 0, np.exp(parameters[:TIE]), math.sqrt(NOTHING))


def _solve(grid: Grid, guess: _Guess, design: Array, at: Array, model: Model) -> Posterior:
    sd = _sd(guess.parameters, model)
    precision, mean = class_prior(grid.n_kinds, model)
    taken = Taken(
        design,
        grid.known * guess.weights / sd[NOISE] ** 2,
        grid.told_weight * guess.told_weights,
        sd[KIND_LEVEL : KIND_DRIFT + 1] ** 2,
        drawn_precision(drawn_variance(sd, grid.rounds, at), guess.loose, math.tanh(guess.parameters[TIE])),
        precision,
        mean,
    )
    return posterior(grid, guess.logs, taken)


@lru_cache(maxsize=16)
def class_prior(kinds: int, model: Model) -> tuple[Array, Array]:
    """Precision and mean of what the class has in common: any level; drifts and settlings that are alike from kind to kind."""
    precision = np.zeros((OF_CLASS * kinds, OF_CLASS * kinds))
    precision[0::OF_CLASS, 0::OF_CLASS] = np.eye(kinds) / model.level_sd**2
    precision[1::OF_CLASS, 1::OF_CLASS] = _alike(kinds, model.drift_sd, model.kind_drift_sd)
    precision[2::OF_CLASS, 2::OF_CLASS] = _alike(kinds, model.settling_sd, model.kind_settling_sd)
    return precision, np.tile([0.0, model.drift_mean, 0.0], kinds)


def _alike(kinds: int, shared_sd: float, apart_sd: float) -> Array:
    """The precision of numbers that have something in common; none at all where that may be anything."""
    if not math.isfinite(shared_sd):
        return np.zeros((kinds, kinds))
    apart, shared = max(apart_sd**2, NOTHING), max(shared_sd**2, NOTHING)
    return np.eye(kinds) / apart - shared / (apart * (apart + kinds * shared))


def _scoring(grid: Grid, guess: _Guess, found: Posterior, squares: Array, variance: Array, model: Model) -> tuple[Array, Array]:
    """How far to move each parameter, and how unsure it is (0 where it is switched off).

    For a standard deviation the gradient is the sum of (expected square / variance - 1) over all that was drawn with it, the
    information twice the sum of the squares of what the data say of each (0 nothing, 1 everything).
    """
    noise = math.exp(2 * guess.parameters[NOISE])
    there = (grid.known.sum(axis=-1) + grid.told_weight.sum(axis=-1)) > 0
    who = there.any(axis=1)
    phi, phi_cov, loose = found.phi[who], found.phi_cov[who], guess.loose[who]
    doubt = loose * diagonal(phi_cov) / variance
    ratio, sure = loose * phi**2 / variance + doubt, 1 - doubt
    own_variance = _sd(guess.parameters, model)[KIND_LEVEL : KIND_DRIFT + 1] ** 2
    own_doubt = found.own_variance[there] / own_variance
    own_ratio, own_sure = found.own[there] ** 2 / own_variance + own_doubt, 1 - own_doubt
    chance_sure = grid.known * (1 - guess.weights * found.doubt / noise)
    # A step is one of several drawn with the same standard deviation.
    excess, certain = (ratio - 1).sum(axis=0), (sure**2).sum(axis=0)
    gradient = np.array([
        (guess.weights * squares).sum() / noise - grid.known.sum(),
        *excess[:OF_CLASS], *(own_ratio - 1).sum(axis=0), excess[OF_CLASS:].sum(), 0.0,
    ])  # fmt: skip
    information = np.array([
        2 * (chance_sure**2).sum(), *(2 * certain[:OF_CLASS]), *(2 * (own_sure**2).sum(axis=0)),
        2 * certain[OF_CLASS:].sum(), (sure[:, 0] * sure[:, 1]).sum(),
    ])  # fmt: skip
    both = (phi[:, 0] * phi[:, 1] + phi_cov[:, 0, 1]).sum() / math.sqrt(variance[0] * variance[1])
    _tie_in(gradient, both, ratio[:, :OWN].sum(axis=0), len(phi), math.tanh(guess.parameters[TIE]))
    centre, tight = _prior(model)
    on = np.array([*[usual > 0 for usual in model.usual_sd], model.tie_sd > 0])
    information = information + tight + 1e-9
    moves = np.where(on, (gradient + tight * (centre - guess.parameters)) / information, 0.0)
    unsure = np.where(on, 1 / np.sqrt(information), 0.0)
    if is_weighed(model) and len(phi):
        sd, unsure[DRIFT] = weighed(
            phi[:, 1], found.spread[who][:, 1, 1], math.sqrt(variance[1]), float(found.theta[:, 1].mean()), model
        )
        moves[DRIFT] = math.log(sd) - guess.parameters[DRIFT]
    return moves, unsure


def _tie_in(gradient: Array, both: float, squares: Array, n: int, tie: float) -> None:
    """The gradients of two standard deviations and of the tie between what was drawn with them (bivariate normal)."""
    free = 1 - tie**2
    gradient[LEVEL] = (squares[0] - tie * both) / free - n
    gradient[DRIFT] = (squares[1] - tie * both) / free - n
    gradient[TIE] = n * tie + (both * (1 + tie**2) - tie * squares.sum()) / free


def _reweigh(grid: Grid, guess: _Guess, found: Posterior, squares: Array, variance: Array, noise_sd: float, model: Model) -> None:
    if math.isfinite(model.freedom):
        odd = (model.freedom + 1) / (model.freedom + squares / noise_sd**2)
        guess.weights = np.where(grid.over, 1.0, odd)
    guess.told_weights = reliance(found.told_squares * grid.told_weight, model)
    guess.loose = loosened(found.phi**2 + diagonal(found.phi_cov), variance, model)


def _move(guess: _Guess, moves: Array) -> None:
    """Takes one scoring. What varies competes: a parameter that swings back goes on in smaller steps."""
    moves = np.clip(moves, -LARGEST_MOVE, LARGEST_MOVE)
    guess.pace = np.where(moves * guess.before < 0, guess.pace / 2, np.minimum(1.0, guess.pace * 1.2))
    guess.parameters = np.maximum(guess.parameters + guess.pace * moves, FLOOR)
    guess.before = moves
