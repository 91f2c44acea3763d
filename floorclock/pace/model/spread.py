"""How a number still to come is spread: a normal part for what is not known yet, a heavy-tailed one for chance.

Invariant: symmetric about its centre, continuous and increasing, so that every share has exactly one quantile.

Chance is Student's t, written as a mixture of normals of different precision; the sum of it and a normal is then again a
mixture of normals, whose distribution function is a handful of error functions. The t is good to 0.001 in probability from
5 degrees of freedom on (0.004 with 3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from math import erfc, exp, sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from floorclock.pace.model.grid import Array

ROOT_2 = math.sqrt(2)
ROOT_2_PI = math.sqrt(2 * math.pi)
STEPS = 60
NEXT_TO_NOTHING = math.ulp(1.0)
NODES = 8
LEAST_SHARE = 1e-5
"""Normals of a mixture that are rarer cost time and change nothing."""
ROWS, PER_SD = 32, 40
WIDE = 16 * PER_SD
"""The rows of a table of shares, its columns for each standard deviation, and the last of them."""
TABLE, EXACT = 4096, 24
"""The steps of a table of quantiles, and how many points of it are worked out."""

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

    def under(self, value: float) -> float:
        """As `below`, from a table and so cheaper: right to 0.0001."""
        if not self.variance + self.scale * self.scale:
            return self.below(value)
        return under(value - self.centre, self.variance, self.scale, self.nodes)

    def reach(self, share: float) -> float:
        """How far above the centre a share, from one half on, lies: as `quantile`, from a table and so much cheaper."""
        total = self.variance + self.scale * self.scale
        if not total or share <= 0.5:
            return 0.0
        table, _ = _table(self.nodes, share)
        place = TABLE * (self.variance / total)
        before = int(place)
        low = table[before]
        return sqrt(total) * (low + (place - before) * (table[before + 1] - low))

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


def reaches(variance: Array, scale: Array, nodes: Nodes, share: float) -> Array:
    """`Spread.reach` of many, none of them certain."""
    import numpy as np

    total = variance + scale * scale
    place = TABLE * (variance / total)
    before = place.astype(np.intp)
    _, table = _table(nodes, share)
    low = table[before]
    return np.asarray(np.sqrt(total) * (low + (place - before) * (table[before + 1] - low)))


def under(off: float, variance: float, scale: float, nodes: Nodes) -> float:
    """`Spread.under` so far `off` the centre of a spread that is not certain."""
    total = variance + scale * scale
    off /= sqrt(total)
    across = PER_SD * abs(off)
    left = int(across) if across < WIDE else WIDE
    down = ROWS * (variance / total)
    above = int(down)
    across, down = min(across - left, 1.0), down - above
    shares, _ = _shares(nodes)
    upper, lower = shares[above], shares[above + 1]
    share = upper[left] + across * (upper[left + 1] - upper[left])
    share += down * (lower[left] + across * (lower[left + 1] - lower[left]) - share)
    return share if off > 0 else 1 - share


def unders(off: Array, variance: Array, scale: Array, nodes: Nodes) -> Array:
    """`Spread.under` of many, none of them certain, each so far `off` its centre."""
    import numpy as np

    total = variance + scale * scale
    across = np.minimum(PER_SD * np.abs(off) / np.sqrt(total), WIDE)
    down = ROWS * (variance / total)
    left, above = across.astype(np.intp), down.astype(np.intp)
    across, down = across - left, down - above
    _, shares = _shares(nodes)
    upper = shares[above, left] + across * (shares[above, left + 1] - shares[above, left])
    lower = shares[above + 1, left] + across * (shares[above + 1, left + 1] - shares[above + 1, left])
    share = upper + down * (lower - upper)
    return np.asarray(np.where(off > 0, share, 1 - share))


@lru_cache(maxsize=8)
def _shares(nodes: Nodes) -> tuple[list[list[float]], Array]:
    """The share of cases under a value above the centre: rows by how much of the variance is not chance, in `ROWS` steps.

    Columns are the distance in steps of a standard deviation by `PER_SD`, as far as nothing is left beyond. Twice, for one and
    for many; the last row and column stand twice, so that there is always a next one.
    """
    import numpy as np

    # The normal itself, a hundred times as fine as it is asked.
    fine = np.linspace(0, 8, 4001)
    normal = np.array([1 - erfc(z / ROOT_2) / 2 for z in fine.tolist()])
    off = np.minimum(np.arange(WIDE + 2), WIDE) / PER_SD
    part = np.minimum(np.arange(ROWS + 2), ROWS)[:, None] / ROWS
    shares = np.zeros((len(part), len(off)))
    for share, precision in nodes:
        z = off / np.sqrt(np.maximum(part + (1 - part) / precision, NEXT_TO_NOTHING))
        shares += share * np.interp(z, fine, normal, right=1.0)
    return shares.tolist(), shares


@lru_cache(maxsize=32)
def _table(nodes: Nodes, share: float) -> tuple[list[float], Array]:
    """By how much of the variance is not chance, in `TABLE` steps: how many standard deviations above the centre a share lies.

    The same twice, for one and for many. That is so smooth that the polynomial through `EXACT` points (Chebyshev's) is right to
    a millionth, and a straight line from step to step is too.
    """
    import numpy as np
    from numpy.polynomial import Chebyshev

    def exact(parts: Array) -> Array:
        return np.array([Spread(0, part, sqrt(1 - part), nodes).quantile(share) for part in parts.tolist()])

    found = Chebyshev.interpolate(exact, EXACT - 1, (0, 1))
    values = found(np.linspace(0, 1, TABLE + 1))
    both = np.append(values, values[-1])
    return both.tolist(), both


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
