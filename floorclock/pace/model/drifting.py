"""How much the drifts of a class differ, where too little is known to say one number: every answer is weighed.

Invariant: the more alike the drifts of a class are, the less is kept of what each athlete's own splits say of theirs.

Six people seen for three rounds cannot tell whether all hold their pace or some wear down. One best guess, whichever it is, is
wrong in half of the classes: it takes chance for a drift, or a drift for chance. So every standard deviation is taken in turn, as
likely as its prior and the drifts seen make it (a class that holds its pace is one of two kinds that there are); what they keep
of a drift is averaged, and the standard deviation that keeps as much stands for all of them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from floorclock.pace.model.constants import DRIFT, KIND_DRIFT, Model
from floorclock.pace.model.grid import Array

TRIED = np.geomspace(0.001, 0.1, 24)
"""The standard deviations that are taken in turn."""
LEAST_TOLD = 1e-6
"""Splits say at least so much of a drift, as a share of all that is known of it: nothing at all has no inverse."""


def is_weighed(model: Model) -> bool:
    """Whether drifts are dealt with here: without a prior, the likeliest standard deviation is all that there is."""
    return model.usual_sd[DRIFT] > 0 and math.isfinite(model.sure[DRIFT]) and model.steady > 0


@lru_cache(maxsize=16)
def without_own_drifts(model: Model) -> Model:
    """Who works at one station only has no drift there beside their own: two names for one thing would keep each other up."""
    usual = list(model.usual_sd)
    usual[KIND_DRIFT] = 0.0
    return replace(model, usual_sd=tuple(usual))


def weighed(drifts: Array, variances: Array, sd: float, common: float, model: Model) -> tuple[float, float]:
    """The standard deviation that keeps as much of a drift as all do on average, and how unsure that is, as a share of it.

    `drifts` with `variances` are those of the athletes about that of the class, which is taken to be `common`, as they follow
    with a standard deviation `sd`.
    """
    told = np.maximum(LEAST_TOLD, 1 - variances / sd**2)
    seen, chance = drifts / told, variances / told
    precision = 1 / (TRIED[:, None] ** 2 + chance)
    # The mean drift of the class, unsure as it is, is integrated out: it is one more drift that was seen.
    sure, off = 1 / model.drift_sd**2, model.drift_mean - common
    whole = precision.sum(axis=1) + sure
    mean = ((precision * seen).sum(axis=1) + sure * off) / whole
    squares = (precision * (seen - mean[:, None]) ** 2).sum(axis=1) + sure * (off - mean) ** 2
    logs = 0.5 * (np.log(precision).sum(axis=1) - np.log(whole) - squares)
    weights = np.exp(logs - logs.max()) * _prior(model)
    weights /= weights.sum()
    usual = 1 / float((1 / chance).mean())
    kept = TRIED**2 / (TRIED**2 + usual)
    share = float(weights @ kept)
    return math.sqrt(usual * share / (1 - share)), math.sqrt(float(weights @ (kept - share) ** 2)) / share


def _prior(model: Model) -> Array:
    """How likely each is beforehand: of a class that holds its pace, or of one that does not."""
    some = _bell(model.usual_sd[DRIFT], model.sure[DRIFT])
    return np.asarray(model.steady * _bell(model.steady_sd, model.steady_sure) + (1 - model.steady) * some)


def _bell(middle: float, sure: float) -> Array:
    return np.asarray(np.exp(-0.5 * (np.log(TRIED / middle) / sure) ** 2) / sure)
