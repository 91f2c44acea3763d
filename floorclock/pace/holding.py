"""How likely several rounds all keep the margin.

Invariant: never more than the least likely of them, never less than if each had to be drawn anew.

Rounds of one athlete at one station share the level and the drift that nobody knows exactly, so that they hold together
or go together; the chances of single rounds must not be multiplied. They are joined by one shared normal draw, which makes
up that share of the spread of each round which is not chance (a one-factor normal copula).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from floorclock.pace.forecast import Forecast

USUALLY_SHARED = 0.5
"""The share of the variance that rounds have in common, where a forecast does not say what of it is chance."""
_POINTS = 17
_SURE = 1e-9


def chance_all_hold(ahead: Sequence[Forecast]) -> float:
    """How likely every one of these rounds leaves at least the margin, 0..1; 1 where there is none."""
    return joined([1 - one.chance_tight() for one in ahead], [shared_part(one) for one in ahead])


def all_hold(ahead: Iterable[Forecast], sure: float) -> bool:
    """Whether the chance that all of these rounds leave the margin reaches `sure`; soon answered with the worst first."""
    seen, chances, product = [], [], 1.0
    for one in ahead:
        chance = 1 - one.chance_tight()
        if chance < sure:
            return False
        seen.append(one)
        chances.append(chance)
        product *= chance
    return product >= sure or joined(chances, [shared_part(one) for one in seen]) >= sure


def shared_part(forecast: Forecast) -> float:
    """The share of a forecast's variance that other rounds at the station have in common with it."""
    spread = forecast.spread
    if spread is None:
        return USUALLY_SHARED
    everything = spread.variance + spread.scale**2
    return spread.variance / everything if everything > 0 else 0.0


def joined(chances: Sequence[float], shared: Sequence[float]) -> float:
    """How likely all of several events happen that each happen with their own chance and share so much of their luck."""
    if any(chance <= _SURE for chance in chances):
        return 0.0
    height_of, nodes = _normal()
    open_ones = [
        (height_of(chance), math.sqrt(part), math.sqrt(0.5 / max(_SURE, 1 - part)))
        for chance, part in zip(chances, shared, strict=True)
        if chance < 1 - _SURE
    ]
    if len(open_ones) < 2:
        return min(chances, default=1.0)
    total, erfc = 0.0, math.erfc
    for node in nodes:
        together = 1.0
        for height, pull, steep in open_ones:
            together *= erfc((pull * node - height) * steep) / 2
        total += together
    return min(total / _POINTS, *chances)


@cache
def _normal() -> tuple[Callable[[float], float], tuple[float, ...]]:
    """The normal quantile, and the middles of equally likely slices of the shared draw."""
    # The module is slow to import, and a floor that starts has no use for it.
    from statistics import NormalDist

    height_of = NormalDist().inv_cdf
    return height_of, tuple(height_of((number + 0.5) / _POINTS) for number in range(_POINTS))
