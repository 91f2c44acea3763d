"""The work of one station: a move with a target, its options, its kit.

Invariant: amounts are exact (`Fraction`), in the unit that the coach wrote.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Unit(StrEnum):
    """The units a target can have. The value is the word shown beside the amount."""

    REPS = "reps"
    METRES = "m"
    CALORIES = "cal"
    SECONDS = "s"


@dataclass(frozen=True, slots=True)
class Target:
    """How much work: `amount` of `unit` in round 1, `step` more in each round after it."""

    amount: Fraction
    unit: Unit
    step: Fraction = Fraction(0)

    def in_round(self, round_number: int) -> Fraction:
        """The amount in a round counted from 1; a falling ladder stops at zero."""
        return max(Fraction(0), self.amount + self.step * (round_number - 1))

    def words(self, round_number: int = 1) -> str:
        """What a coach would say: `14`, `200 m`, `12 cal`, `0:40`; reps go without a word."""
        return amount_words(self.in_round(round_number), self.unit)


def amount_words(amount: Fraction, unit: Unit) -> str:
    """An amount as a coach would say it; reps go without a word, seconds as a duration."""
    if unit is Unit.SECONDS:
        whole = round(amount)
        return f"{whole // 60}:{whole % 60:02d}"
    number = str(amount.numerator) if amount.denominator == 1 else f"{float(amount):g}"
    return number if unit is Unit.REPS else f"{number} {unit}"


def amount_said(amount: Fraction, unit: Unit) -> str:
    """An amount with its unit in every case: `14 reps`, `1 rep`, `200 m`, `0:40`."""
    words = amount_words(amount, unit)
    return f"{words} rep{'' if amount == 1 else 's'}" if unit is Unit.REPS else words


@dataclass(frozen=True, slots=True)
class Option:
    """A substitute for the move and target of a station, chosen for an athlete by `name`."""

    name: str
    move: str
    target: Target | None
    kit: tuple[tuple[str, int], ...] = ()
    pattern: str = ""
    guarded: bool = False


@dataclass(frozen=True, slots=True)
class Station:
    """One slot of a rotation, or one item of the work of a `for_time` or `amrap` part.

    A rest has an empty `move`. `kit` is (name, how many) for one athlete.
    `rest_margin_ms` overrides the part's and the session's. `least` is the smallest amount that advice may come to, in the
    unit of the target; None leaves it to the tool.
    """

    move: str
    target: Target | None = None
    kit: tuple[tuple[str, int], ...] = ()
    pattern: str = ""
    standards: tuple[str, ...] = ()
    caution: str = ""
    guarded: bool = False
    options: tuple[Option, ...] = ()
    rest_margin_ms: int | None = None
    least: Fraction | None = None

    @property
    def is_rest(self) -> bool:
        """True for a station where nobody works."""
        return not self.move


def under_least(station: Station, target: Target | None) -> tuple[str, str] | None:
    """What a target gives in round 1 and the least that a station wants, both said, where it gives less."""
    least, planned = station.least, station.target
    if least is None or target is None or planned is None or target.unit is not planned.unit or target.amount >= least:
        return None
    return amount_said(target.amount, target.unit), amount_said(least, target.unit)


REST = Station(move="")


def station_names(stations: Sequence[Station]) -> tuple[str, ...]:
    """A name for each station, unique in its part: the move, `rest`, or `squat (2)` for the second squat."""
    seen: dict[str, int] = {}
    names = []
    for station in stations:
        name = station.move or "rest"
        seen[name] = seen.get(name, 0) + 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return tuple(names)
