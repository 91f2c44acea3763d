"""How a number still to come is spread: a normal part for what is not known yet, a heavy-tailed one for chance.

Invariant: symmetric about its centre, continuous and increasing, so that every share has exactly one quantile.

Chance is Student's t, written as a mixture of normals of different precision; the sum of it and a normal is then again a
mixture of normals, whose distribution function is a handful of error functions. The t is good to 0.001 in probability from
5 degrees of freedom on (0.004 with 3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from math import erfc, exp, sqrt

ROOT_2 = math.sqrt(2)
ROOT_2_PI = math.sqrt(2 * math.pi)
STEPS = 60
NEXT_TO_NOTHING = math.ulp(1.0)
NODES = 8
LEAST_SHARE = 1e-5
"""Normals of a mixture that are rarer cost time and change nothing."""

Nodes = tuple[tuple[float, float], ...]
"""(share, precision) of each normal of a mixture; the shares add up to 1."""

NORMAL: Nodes = ((1.0, 1.0),)


@dataclass(frozen=True, slots=True)
class Spread:
    """`centre` plus a normal of `variance` plus chance of `scale`, shaped by `nodes`; in the unit of the centre."""

    centre: float
    variance: float
    scale: float
    nodes: Nodes = NORMAL

    def below(self, value: float) -> float:
        """The share of cases that are under a value."""
        off, below = (self.centre - value) / ROOT_2, 0.0
        for share, sd in self._normals():
            below += share * erfc(off / sd)
        return below / 2

    def quantile(self, share: float) -> float:
        """The value that a share of cases, strictly between 0 and 1, stays under.

        Raises:
            ValueError: the share is not between 0 and 1.
        """
        if not 0 < share < 1:
            raise ValueError("a quantile needs a share between 0 and 1")
        upper = max(share, 1 - share)
        off = self._upper(upper) if upper > 0.5 else 0.0
        return self.centre + (off if share > 0.5 else -off)

    def moved(self, by: float, variance: float = 0.0) -> Spread:
        """The same further on, and less sure by a variance."""
        return Spread(self.centre + by, self.variance + variance, self.scale, self.nodes)

    def _normals(self) -> list[tuple[float, float]]:
        variance, square = self.variance, self.scale * self.scale
        return [(share, sqrt(variance + square / precision) or NEXT_TO_NOTHING) for share, precision in self.nodes]

    def _upper(self, share: float) -> float:
        """How far above the centre a share over one half lies: Newton's steps, held between two bounds that close in."""
        normals = self._normals()
        low, high = 0.0, 40 * max(sd for _, sd in normals)
        off = 1.3 * sqrt(self.variance + 1.3 * self.scale * self.scale)
        for _ in range(STEPS):
            missing, steep = share, 0.0
            for part, sd in normals:
                z = off / sd
                missing -= part * erfc(-z / ROOT_2) / 2
                steep += part / sd * exp(-0.5 * z * z)
            low, high = (off, high) if missing > 0 else (low, off)
            step = off + ROOT_2_PI * missing / steep if steep > 0 else high
            off, before = (step if low < step < high else (low + high) / 2), off
            # The error after a step of Newton's goes with the square of the step.
            if abs(off - before) <= 1e-5 * off and off == step:
                break
        return off


@cache
def t_nodes(freedom: float) -> Nodes:
    """Student's t as a mixture of normals: shares and precisions by Gauss's quadrature for the gamma distribution.

    The nodes are the eigenvalues of the recurrence of the generalised Laguerre polynomials (Golub and Welsch 1969,
    Mathematics of Computation 23:221-230; from memory).
    """
    if not math.isfinite(freedom):
        return NORMAL
    import numpy as np

    order, shape = np.arange(NODES), freedom / 2 - 1
    off = np.sqrt(order[1:] * (order[1:] + shape))
    values, vectors = np.linalg.eigh(np.diag(2 * order + 1 + shape) + np.diag(off, 1) + np.diag(off, -1))
    pairs = zip((vectors[0] ** 2).tolist(), (values * 2 / freedom).tolist(), strict=True)
    kept = [(share, precision) for share, precision in pairs if share > LEAST_SHARE]
    total = math.fsum(share for share, _ in kept)
    return tuple((share / total, precision) for share, precision in kept)
