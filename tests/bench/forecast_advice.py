"""Whether who takes the advice after three of six rounds keeps the margin to the end, and how much work that cost.

    python -m tests.bench.forecast_advice

A case is one advice for one athlete at one station. The rounds to come are played with the advised target and the luck that
they would have had anyway; the margin is kept when it is kept in every one of them. How time follows the amount is not told to
the advice: in proportion, or with `SETUP_SHARE` of the time at the reference amount spent on setting up, whatever the amount.

Taking half away from everybody would keep the margin too. So the work that was taken beyond what hindsight needed is compared
with that of one cut for all who were advised, chosen after the fact to keep the margin in as many cases.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

import numpy as np

from floorclock.pace.advice import Advice, Way
from floorclock.plan.work import Target
from tests.bench.common import Figure, print_table
from tests.bench.forecast_flags import called_at, looked_at
from tests.bench.forecast_worlds import HARDER, MARGIN_MS, ROUNDS, SEEN, WINDOW_MS, WORLDS, InventedClass, World

SETUP_SHARE: Final = 0.125
MOST_LOST: Final = 15.0
"""Of 100 cases in which the advice was given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """An advice that was taken: whether it kept the margin, and the amounts as shares of what was planned.

    `sufficient` is the largest whole amount that would have kept the margin, in hindsight; at most the planned one.
    """

    kept: bool
    promised: float
    given: float
    sufficient: float


def taken(world: World, way: Way, setup_share: float) -> list[Taken]:
    """All advice that goes that way in the classes of a world."""
    found = []
    for made, outlooks in looked_at(world):
        played = replace(made, world=replace(world, setup_share=setup_share))
        for who, name in enumerate(made.names):
            for advice in outlooks[name].advice:
                if (advice.way is Way.MORE) == (way is Way.MORE) and advice.target is not None:
                    found.append(_take(played, who, advice, advice.target))
    return found


def _take(made: InventedClass, who: int, advice: Advice, target: Target) -> Taken:
    planned = made.targets[who][advice.station]
    return Taken(
        kept=keeps(made, who, advice.station, target),
        promised=advice.chance,
        given=share_of(target, planned),
        sufficient=share_of(sufficient(made, who, advice.station), planned),
    )


def unadvised(world: World) -> Figure:
    """The share of stations where `runs out` stands and nothing is advised."""
    called = advised = 0
    for made, outlooks in looked_at(world):
        at = {(name, one.station) for name in made.names for one in outlooks[name].advice if one.way is not Way.MORE}
        for who, station in zip(*np.nonzero(called_at(made, outlooks)), strict=True):
            called, advised = called + 1, advised + ((made.names[who], int(station)) in at)
    return Figure(
        what=f"{world.name}: `runs out` without advice, of {called}", value=100 * (1 - advised / max(1, called)), unit="%"
    )


def share_of(target: Target, planned: Target) -> float:
    """A target as a share of the planned one, over the rounds to come."""
    given, asked = (sum(one.in_round(r) for r in range(SEEN + 1, ROUNDS + 1)) for one in (target, planned))
    return float(given / asked)


def keeps(made: InventedClass, who: int, station: int, target: Target) -> bool:
    """Whether the margin is kept in every round to come."""
    rounds = range(SEEN + 1, ROUNDS + 1)
    return all(made.truth_ms(who, station, number, target) <= WINDOW_MS - MARGIN_MS for number in rounds)


def sufficient(made: InventedClass, who: int, station: int) -> Target:
    """The largest whole amount, in hindsight, with the step of the plan; the planned one where nothing need go."""
    planned = made.targets[who][station]
    for amount in _down_from(planned):
        if keeps(made, who, station, amount):
            return amount
    return replace(planned, amount=Fraction(0))


def _down_from(planned: Target) -> Iterator[Target]:
    for amount in range(int(planned.amount), 0, -1):
        yield replace(planned, amount=Fraction(amount))


def less_figures(words: str, found: Sequence[Taken]) -> list[Figure]:
    """How many kept the margin, what they were promised, and what it cost."""
    if not found:
        return [Figure(what=f"{words}: no advice was given", value=100, unit="%", most=MOST_LOST)]
    lost = 100 * float(np.mean([not one.kept for one in found]))
    promised = 100 * float(np.mean([one.promised for one in found]))
    needed = np.array([1 - one.sufficient for one in found])
    excess = float(np.mean([one.sufficient - one.given for one in found]))
    # One cut for everybody that keeps as many: all who needed no more than it.
    alike = float(np.quantile(needed, min(1.0, 1 - lost / 100)))
    return [
        Figure(what=f"{words}: lost, of {len(found)} (promised {promised:.0f} %)", value=lost, unit="%", most=MOST_LOST),
        Figure(
            what=f"{words}: over need, by one cut for all",
            value=100 * excess,
            unit="%",
            baseline=100 * float(np.mean(alike - needed)),
            most_times=1.0,
        ),
    ]


def more_figures(words: str, found: Sequence[Taken]) -> list[Figure]:
    """How many who were given more lost the margin by it, and how much more it was."""
    if not found:
        return [Figure(what=f"{words}: nobody was given more", value=0, unit="%")]
    lost = 100 * float(np.mean([not one.kept for one in found]))
    more = 100 * float(np.mean([one.given - 1 for one in found]))
    return [Figure(what=f"{words}: lost with {more:.0f} % more, of {len(found)}", value=lost, unit="%", most=MOST_LOST)]


def figures() -> list[Figure]:
    """The table."""
    found: list[Figure] = []
    together: dict[tuple[str, Way], list[Taken]] = {}
    for world in (*WORLDS, *HARDER):
        found.append(unadvised(world))
        # What was seen of a ladder depends on the set-up, so such a world has its own.
        kinds = {"set-up": world.setup_share} if world.ladder and world.setup_share else {"no set-up": 0.0}
        if not world.ladder:
            kinds["set-up"] = SETUP_SHARE
        for kind, share in kinds.items():
            name = f"{world.name}, {kind}" if kind not in world.name else world.name
            less, more = taken(world, Way.LESS, share), taken(world, Way.MORE, share)
            found += [*less_figures(name, less), *more_figures(name, more)]
            together.setdefault((kind, Way.LESS), []).extend(less if world in WORLDS else [])
            together.setdefault((kind, Way.MORE), []).extend(more if world in WORLDS else [])
    for kind in ("no set-up", "set-up"):
        found += less_figures(f"all worlds, {kind}", together[kind, Way.LESS])
        found += more_figures(f"all worlds, {kind}", together[kind, Way.MORE])
    return found


def main() -> None:
    """Measures and prints."""
    print_table(figures())


if __name__ == "__main__":
    main()
