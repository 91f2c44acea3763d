"""How likely several rounds all keep the margin.

Invariant: never more than the least likely of them, never less than if each had to be drawn anew.

Rounds of one athlete at one station share the level and the drift that nobody knows exactly, so that they hold together
or go together; the chances of single rounds must not be multiplied. They are joined by one shared normal draw, which makes
up that share of the spread of each round which is not chance (a one-factor normal copula).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import cache

from floorclock.pace.model.forecast import Forecast, normal_quantile, normal_share

Hold = tuple[float, float]
"""The chance of an event, and the share of its luck (0..1) that others have in common with it."""
_POINTS = 17
_SURE = 1e-9


def chance_all_hold(ahead: Iterable[Forecast]) -> float:
    """How likely all of these rounds leave at least the margin."""
    return joined([forecast.hold() for forecast in ahead])


def joined(holds: Sequence[Hold]) -> float:
    """How likely all of several events happen that each happen with their own chance and share so much of their luck."""
    least = min((chance for chance, _ in holds), default=1.0)
    open_ones = [hold for hold in holds if hold[0] < 1 - _SURE]
    if least <= _SURE or len(open_ones) < 2:
        return least if least > _SURE else 0.0
    together = [1.0] * _POINTS
    for chance, part in open_ones:
        height, pull, rest = normal_quantile(chance), math.sqrt(part), math.sqrt(max(_SURE, 1 - part))
        together = [so_far * normal_share((height - pull * node) / rest) for so_far, node in zip(together, _nodes(), strict=True)]
    # A few slices are a coarse measure where the luck is nearly all shared.
    return min(max(sum(together) / _POINTS, math.prod(chance for chance, _ in open_ones)), least)


@cache
def _nodes() -> tuple[float, ...]:
    """The middles of equally likely slices of the shared draw."""
    return tuple(normal_quantile((number + 0.5) / _POINTS) for number in range(_POINTS))
