"""How likely several rounds all keep the margin.

Invariant: never more than the least likely of them, never less than if each had to be drawn anew.

Rounds of one athlete at one station share the level and the drift that nobody knows exactly, so that they hold together
or go together; the chances of single rounds must not be multiplied. They are joined by one shared normal draw, which makes
up that share of the spread of each round which is not chance (a one-factor normal copula).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import cache, lru_cache
from operator import mul
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from floorclock.pace.model.forecast import Forecast

USUALLY_SHARED = 0.5
"""The share of the variance that rounds have in common, where a forecast does not say what of it is chance."""
Hold = tuple[float, float]
"""The chance of an event, and the share of its luck (0..1) that others have in common with it."""
_POINTS = 17
_SURE = 1e-9


def all_hold(ahead: Iterable[Forecast], sure: float) -> bool:
    """Whether all of these rounds leave at least the margin with a chance of `sure`; soon answered with the worst round first."""
    return reaches((hold_of(one) for one in ahead), sure)


def hold_of(forecast: Forecast) -> Hold:
    """How likely a round leaves at least the margin, and how much of its luck is that of the others."""
    return 1 - forecast.chance_tight(), shared_part(forecast)


def hold_with(forecast: Forecast) -> Callable[[Fraction], Hold]:
    """The same with other amounts of the work."""
    if forecast.spread is None:
        return lambda amount: hold_of(forecast.with_amount(amount))
    tight_with = forecast.trial()

    def hold(amount: Fraction) -> Hold:
        tight, shared = tight_with(amount)
        return 1 - tight, shared

    return hold


def reaches(holds: Iterable[Hold], sure: float) -> bool:
    """Whether events all happen with a chance of `sure` or more; asks for no more of them than it takes to know."""
    seen, product = [], 1.0
    for one in holds:
        if one[0] < sure:
            return False
        seen.append(one)
        product *= one[0]
    return product >= sure or joined(seen) >= sure


def shared_part(forecast: Forecast) -> float:
    """The share of a forecast's variance that other rounds at the station have in common with it."""
    spread = forecast.spread
    if spread is None:
        return USUALLY_SHARED
    everything = spread.variance + spread.scale**2
    return spread.variance / everything if everything > 0 else 0.0


def joined(holds: Sequence[Hold]) -> float:
    """How likely all of several events happen that each happen with their own chance and share so much of their luck."""
    least = min((chance for chance, _ in holds), default=1.0)
    if least <= _SURE:
        return 0.0
    open_ones = [one for one in holds if one[0] < 1 - _SURE]
    if len(open_ones) < 2:
        return least
    together = _given_shared(*open_ones[0])
    for chance, part in open_ones[1:]:
        together = list(map(mul, together, _given_shared(chance, part)))
    # A few slices are a coarse measure where the luck is nearly all shared.
    anew = math.prod(chance for chance, _ in open_ones)
    return min(max(sum(together) / _POINTS, anew), least)


@lru_cache(maxsize=512)
def _given_shared(chance: float, part: float) -> list[float]:
    """How likely an event happens given each slice of the shared draw; asked for again with other events beside it."""
    height_of, nodes = _normal()
    height, pull, steep, erfc = height_of(chance), math.sqrt(part), math.sqrt(0.5 / max(_SURE, 1 - part)), math.erfc
    return [erfc((pull * node - height) * steep) / 2 for node in nodes]


@cache
def _normal() -> tuple[Callable[[float], float], tuple[float, ...]]:
    """The normal quantile, and the middles of equally likely slices of the shared draw."""
    # The module is slow to import, and a floor that starts has no use for it.
    from statistics import NormalDist

    height_of = NormalDist().inv_cdf
    return height_of, tuple(height_of((number + 0.5) / _POINTS) for number in range(_POINTS))
