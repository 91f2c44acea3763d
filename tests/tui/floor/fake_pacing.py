"""A pacing that says what it is told to, and remembers what it was asked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import cast

from floorclock.clock.splits import Coming, Split
from floorclock.pace.advice import Advice, Way
from floorclock.pace.flags import Flag, Standing
from floorclock.pace.pacing import Outlook, PartPacing
from floorclock.pace.prior import Prior
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart
from floorclock.plan.work import Target, Unit


@dataclass
class FakePacing:
    """`says` gives the outlook of an athlete by name and the number of intervals settled."""

    says: Callable[[str, int], Outlook] = lambda name, settled: Outlook()
    settled: list[tuple[int, int]] = field(default_factory=list)
    """(interval, how many splits it was given), in the order of the calls."""
    looked: list[str] = field(default_factory=list)
    made: int = 0

    def of(self, part: AnyPart, prior: Prior, confidence: int) -> PartPacing:
        """Stands in for the making of a pacing."""
        self.made += 1
        return cast(PartPacing, self)

    def settle(self, interval: int, splits: Sequence[Split]) -> None:
        assert all(split.interval <= interval for split in splits)
        self.settled.append((interval, len(splits)))

    def look(self, splits: Sequence[Split], whole: Sequence[Coming], coming: Sequence[Coming], athlete: Athlete) -> Outlook:
        self.looked.append(athlete.name)
        return self.says(athlete.name, len({interval for interval, _ in self.settled}))


def advice(name: str, amount: int = 8, *, station: int = 0, way: Way = Way.LESS, move: str = "kettlebell swing") -> Advice:
    """Another amount of a move."""
    return Advice(
        athlete=name,
        part=0,
        station=station,
        move=move,
        way=way,
        target=Target(Fraction(amount), Unit.REPS),
        words=f"drop to {amount} reps?",
        because="rest 34, 33 s",
        chance=0.9,
    )


def needs(name: str, flag: Flag = Flag.TIGHT, *advised: Advice) -> Outlook:
    """An outlook with a flag that stands."""
    standing = Standing(
        flag,
        f"rest 12 s at kettlebell swing; {name}",
        0,
        (flag,),
        rests="rest 12 s",
        move="kettlebell swing",
        margin_ms=15_000,
        latest_rest_ms=12_000,
    )
    return Outlook(standing=standing, advice=advised or (advice(name),))
