"""What is taken for granted of a class before it begins.

Invariant: figures only; no numpy, so that whoever asks before the first split pays for none.
"""

from __future__ import annotations

from dataclasses import dataclass

NOISE, LEVEL, DRIFT, SETTLING, KIND_LEVEL, KIND_DRIFT, STEP = range(7)
"""The places of the standard deviations: of chance, and of the six things drawn for an athlete."""
TIE = STEP + 1
"""The place, behind them, of how level and drift go together: the hyperbolic arc tangent of their correlation."""

LEAST_NOISE = 0.005
"""A tap by a busy hand is off by a fifth of a second, be the splits ever so equal (common practice, no source)."""
UNSURE_OF_AMOUNT = 0.1
"""How far off the rule for amounts may be: the sd of the log split, by the logarithm of how much more or less the work is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """What is taken for granted before a class begins. Standard deviations are on the log scale, drifts by round.

    `usual_sd` and `sure` are the prior of each standard deviation: its middle, and the standard deviation of its logarithm;
    infinity leaves it to the data, a `usual_sd` of 0 switches it off. `tie_sd` is the same for the tie, about 0.
    `steady` is how likely a class is one that holds its pace: then the standard deviation of its drifts has the prior `steady_sd`
    and `steady_sure` in place of its own (`drifting.py`); 0 leaves that out.
    `level_sd` is that of the levels of the class: so wide that it says nothing and only keeps an empty class from being singular.
    `drift_mean` is the drift to be expected of a class, `drift_sd` how far off that may be, `kind_drift_sd` how far kinds of
    work differ in it; likewise for settling. `freedom` are the degrees of freedom of chance, `step_freedom` those of settling
    and steps, `told_freedom` those of what earlier classes say.
    """

    usual_sd: tuple[float, ...] = (0.042, 0.10, 0.025, 0.014, 0.06, 0.008, 0.006)
    sure: tuple[float, ...] = (0.5, 0.7, 0.4, 1.0, 0.6, 0.7, 0.6)
    steady: float = 0.45
    steady_sd: float = 0.002
    steady_sure: float = 0.5
    tie_sd: float = 0.3
    level_sd: float = 1000.0
    drift_mean: float = 0.015
    drift_sd: float = 0.02
    kind_drift_sd: float = 0.003
    settling_sd: float = 0.022
    kind_settling_sd: float = 0.003
    freedom: float = 5.0
    step_freedom: float = 3.0
    told_freedom: float = 8.0
    scorings: int = 12
    tolerance: float = 0.02


COACHED = Model()
"""What is sensible of a coached class: common practice, no source."""
