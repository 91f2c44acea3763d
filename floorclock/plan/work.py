"""The work of one station: a move with a target, its options, its kit.

Invariant: amounts are exact (`Fraction`), in the unit that the coach wrote.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction


class Unit(StrEnum):
    """The units a target can have. The value is the word shown beside the amount."""

    REPS = "reps"
    METRES = "m"
    CALORIES = "cal"
    SECONDS = "s"
    WHOLE = "whole"
    """The work of a station that has several moves: 1 is all of it as written."""


@dataclass(frozen=True, slots=True)
class Target:
    """How much work: `amount` of `unit` in round 1, `step` more in each round after it.

    `amounts`, where there are any, are those of rounds 1, 2, ... instead; beyond their end the last one stands. `upper` is the
    upper end where the athlete chooses (`amount` is the lower). With `each_side` the amounts are of both sides together.
    With `most` there is no amount: as much as possible in the window, or in its first `within_ms`.
    `levels` are targets by an athlete's level, in the order of the file; the target itself is then that of the middle one.
    """

    amount: Fraction
    unit: Unit
    step: Fraction = Fraction(0)
    amounts: tuple[Fraction, ...] = ()
    upper: Fraction | None = None
    each_side: bool = False
    most: bool = False
    within_ms: int | None = None
    levels: tuple[tuple[str, Target], ...] = ()

    def in_round(self, round_number: int) -> Fraction:
        """The amount in a round counted from 1; a falling ladder stops at zero."""
        if self.amounts:
            return self.amounts[min(round_number, len(self.amounts)) - 1]
        return max(Fraction(0), self.amount + self.step * (round_number - 1)) if self.step else self.amount

    def for_level(self, level: str) -> Target:
        """The target of somebody of this level; where there is none for it, the middle one."""
        return dict(self.levels).get(level, self)

    @property
    def sides(self) -> int:
        """How many sides the amounts are of, together."""
        return 2 if self.each_side else 1

    @property
    def varies(self) -> bool:
        """True where rounds differ."""
        return bool(self.step) or len(set(self.amounts)) > 1

    def words(self, round_number: int = 1) -> str:
        """What a coach would say: `14`, `200 m`, `12 cal`, `0:40`, `10 each side`, `8 to 10 cal`, `max reps in 0:40`."""
        if self.most:
            within = "" if self.within_ms is None else f" in {amount_words(Fraction(self.within_ms, 1000), Unit.SECONDS)}"
            return f"max {self.unit}{within}"
        amount = self.in_round(round_number)
        if self.each_side:
            return f"{amount_words(amount / 2, self.unit)} each side"
        if self.upper is not None:
            return f"{amount_words(amount, Unit.REPS)} to {amount_words(self.upper, self.unit)}"
        return amount_words(amount, self.unit)

    def plan_words(self) -> str:
        """All of it, as on the brief: levels one after the other, a list round by round, a ladder with its step."""
        if self.levels:
            return ", ".join(f"{level} {target.plan_words()}" for level, target in self.levels)
        if self.amounts:
            unit = "" if self.unit is Unit.REPS else f" {self.unit}"
            return "-".join(amount_words(amount, Unit.REPS) for amount in self.amounts) + unit
        if self.step:
            sign = "+" if self.step > 0 else "-"
            return f"{self.words()}, {sign}{amount_words(abs(self.step), self.unit)} each round"
        return self.words()


def amount_words(amount: Fraction, unit: Unit) -> str:
    """An amount as a coach would say it; reps go without a word, seconds as a duration."""
    if unit is Unit.SECONDS:
        whole = round(amount)
        return f"{whole // 60}:{whole % 60:02d}"
    if unit is Unit.WHOLE:
        return "all of it" if amount == 1 else f"{float(100 * amount):.0f} % of it"
    number = str(amount.numerator) if amount.denominator == 1 else f"{float(amount):g}"
    return number if unit is Unit.REPS else f"{number} {unit}"


def amount_said(amount: Fraction, unit: Unit, sides: int = 1) -> str:
    """An amount with its unit in every case: `14 reps`, `1 rep`, `200 m`, `0:40`; of two sides together `7 reps each side`."""
    words = amount_words(amount / sides, unit)
    words += f" rep{'' if amount == sides else 's'}" if unit is Unit.REPS else ""
    return f"{words} each side" if sides > 1 else words


class LoadUnit(StrEnum):
    """The units of a load, as written."""

    KG = "kg"
    LB = "lb"
    PERCENT = "%"
    """Of the athlete's best in the move."""


KG_PER_LB = Fraction(45359237, 100_000_000)
"""Exact (international avoirdupois pound, 1959)."""


@dataclass(frozen=True, slots=True)
class Load:
    """The weight moved: `amount` of `unit`, by level as in `Target`."""

    amount: Fraction
    unit: LoadUnit
    levels: tuple[tuple[str, Load], ...] = ()

    def for_level(self, level: str) -> Load:
        """The load of somebody of this level; where there is none for it, the middle one."""
        return dict(self.levels).get(level, self)

    def of_best(self, best: Load | None, step: Load | None = None) -> Load:
        """A percentage of a best as a load, to the nearest step (2.5 kg or 5 lb), halves up; as it is where there is no best."""
        if self.unit is not LoadUnit.PERCENT or best is None:
            return self
        exact = best.amount * self.amount / 100
        usual = Load(Fraction(5, 2), LoadUnit.KG) if best.unit is LoadUnit.KG else Load(Fraction(5), LoadUnit.LB)
        by = (step if step is not None and step.unit is best.unit else usual).amount
        return Load((exact / by + Fraction(1, 2)) // 1 * by, best.unit)

    @property
    def in_kg(self) -> Fraction | None:
        """In kilograms, exactly; None for a percentage of an unknown best."""
        return {LoadUnit.KG: self.amount, LoadUnit.LB: self.amount * KG_PER_LB}.get(self.unit)

    def in_unit(self, unit: LoadUnit) -> Fraction:
        """In kilograms or pounds, exactly; never ask it of a percentage."""
        kg = self.in_kg
        assert kg is not None
        return kg / KG_PER_LB if unit is LoadUnit.LB else kg

    def words(self) -> str:
        """`24 kg`, `53 lb`, `70 %`."""
        return f"{float(self.amount):g} {self.unit}"

    def plan_words(self) -> str:
        """All of it: `strong 24 kg, regular 16 kg`."""
        return ", ".join(f"{level} {load.words()}" for level, load in self.levels) or self.words()


@dataclass(frozen=True, slots=True)
class Option:
    """A substitute for the move and target of a station, chosen for an athlete by `name`."""

    name: str
    move: str
    target: Target | None
    kit: tuple[tuple[str, int], ...] = ()
    pattern: str = ""
    guarded: bool = False
    load: Load | None = None


@dataclass(frozen=True, slots=True)
class Station:
    """One slot of a rotation, or one item of the work of a `for_time` or `amrap` part.

    A rest has an empty `move`. `kit` is (name, how many) for one athlete.
    `rest_margin_ms` overrides the part's and the session's. `least` is the smallest amount that advice may come to, in the
    unit of the target; None leaves it to the tool. `time_ms` is its own window, where the part gives one to each station.
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
    load: Load | None = None
    time_ms: int | None = None
    items: tuple[Station, ...] = ()
    """Several moves in one window, one tap for all of them; then the station has no move of its own but their names."""
    number: int = 0
    """Which one it is (from 1) of the stations of its part that have the same move; 0 where it is the only one."""

    @property
    def is_rest(self) -> bool:
        """True for a station where nobody works."""
        return not self.move

    def own(self, move: str) -> str:
        """What an athlete's target or load for a move at this station stands under: `squat`, or `squat (2)` at the second one."""
        return f"{move} ({self.number})" if self.number else move


def under_least(station: Station, target: Target | None) -> tuple[str, str] | None:
    """What a target gives in round 1 and the least that a station wants, both said, where it gives less."""
    least, planned = station.least, station.target
    if least is None or target is None or planned is None or target.unit is not planned.unit or target.amount >= least:
        return None
    return amount_said(target.amount, target.unit), amount_said(least, target.unit)


REST = Station(move="")


def numbered(stations: Sequence[Station]) -> tuple[Station, ...]:
    """The stations of a part, those with the same move told apart."""
    moves = [station.move for station in stations]
    return tuple(
        replace(station, number=moves[: at + 1].count(station.move))
        if station.move and not station.items and moves.count(station.move) > 1
        else station
        for at, station in enumerate(stations)
    )


def station_names(stations: Sequence[Station]) -> tuple[str, ...]:
    """A name for each station, unique in its part: the move, `rest`, or `squat (2)` for the second squat."""
    seen: dict[str, int] = {}
    names = []
    for station in stations:
        name = station.move or "rest"
        seen[name] = seen.get(name, 0) + 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return tuple(names)
