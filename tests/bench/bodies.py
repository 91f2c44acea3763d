"""Invented classes that forecasts, flags and advice are held against: bodies at work, and plain shapes of times.

Invariant: a class follows from its world and its seed alone, and can be played again with other amounts of work and the same
luck.

A body works at a power it chose. What is above its critical power drains a reserve (Monod and Scherrer 1965, Ergonomics 8:329);
below it the reserve comes back, the faster the further below (Skiba et al. 2012, Med Sci Sports Exerc 44:1526; from memory).
Each pattern of movement tires by itself and recovers in minutes. On top of that come what is learned, habits of pacing, breaks,
a collapse, set-up that no amount changes, and taps that are late, wrong or missing. All figures are common practice, no source:
about 36 s of a minute in round 1, a margin of 15 s.

Half of the worlds (`TUNING`) are there to choose constants by; what is reported is measured on the others (`REPORTED`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt

from floorclock.clock.splits import Coming, Split, Status
from floorclock.plan.session import Rotation
from floorclock.plan.work import Station, Target, Unit

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Found = TypeVar("Found")

WINDOW_S: Final = 60.0
MARGIN_S: Final = 15.0
MOVES: Final = (
    ("kettlebell swing", 14, Unit.REPS, 0),
    ("step-up", 12, Unit.REPS, 1),
    ("row", 150, Unit.METRES, 2),
    ("push-up", 16, Unit.REPS, 3),
    ("ride", 12, Unit.CALORIES, 1),
    ("kettlebell deadlift", 14, Unit.REPS, 0),
)
"""Move, amount, unit, and which pattern tires by it."""
PATTERNS: Final = 4
REFILLS_S: Final = 360.0
"""The time constant with which a reserve comes back at rest: 546 exp(-0.01 x 250 W) + 316 s is 361 (Skiba 2012)."""
SHAPES: Final[Mapping[str, Callable[[Array], Array]]] = {
    "none": lambda x: 0 * x,
    "linear": lambda x: x,
    "levelling": lambda x: (1 - 0.6**x) / 0.4,
    "plateau": lambda x: np.minimum(x, 2.0),
    "accelerating": lambda x: x**1.7 / 2**0.7,
}
"""How a loss goes on: 1 or so from the first round to the second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """What is true of everybody in it; spreads of people are on the log scale.

    Taps: `noise` of a split, `late_s` on average, `wrong` and `untapped` as shares. Classes: people, stations and rounds.
    Bodies: `effort` is the chosen power as a multiple of the critical one, `reserve_s` how long one whole critical power lasts,
    `soft` how early an emptier reserve slows, `tires` what a minute of work takes off a pattern, `recovers_s` its time constant.
    `fast_start`, `spurt`, `hurry` are shares of power more; `learns` is the share of work more in round 1; `collapses` a share
    of people; `breaks` how many a minute with an empty reserve; `set_up_s` seconds. Shapes: `shape` names one, `drift` and
    `drift_sd` are by round; `learners` begin slower, `tail` are the degrees of freedom of the noise.
    """

    name: str
    shape: str = ""
    people: tuple[int, int] = (4, 24)
    stations: tuple[int, int] = (1, 5)
    rounds: tuple[int, int] = (4, 10)
    talent: float = 0.12
    level_s: float = 36.0
    noise: float = 0.04
    late_s: float = 0.4
    wrong: float = 0.0
    untapped: float = 0.03
    ladder: bool = False
    effort: float = 1.15
    effort_sd: float = 0.10
    reserve_s: float = 60.0
    soft: float = 1.0
    tires: float = 0.02
    recovers_s: float = 240.0
    fast_start: float = 0.0
    spurt: float = 0.0
    hurry: float = 0.0
    learns: float = 0.0
    collapses: float = 0.0
    breaks: float = 0.0
    set_up_s: float = 2.0
    drift: float = 0.025
    drift_sd: float = 0.028
    learners: float = 0.0
    tail: float = 0.0


@dataclass(frozen=True, kw_only=True)
class InventedClass:
    """One class. Arrays are (athlete, station, round), all from 0; `luck` are the dice of each kind, thrown once.

    `amounts` are as planned, in the unit of the station, `took_s` what the work took (never rounded, also beyond the interval),
    `tapped_s` what the tap said; NaN where nobody tapped.
    """

    world: World
    part: Rotation
    names: tuple[str, ...]
    amounts: Array
    luck: Mapping[str, Array]
    took_s: Array = field(default_factory=lambda: np.empty(0))
    tapped_s: Array = field(default_factory=lambda: np.empty(0))

    @property
    def rounds(self) -> int:
        """How many."""
        return int(self.amounts.shape[2])

    def played(self, amounts: Array) -> Array:
        """What the work takes with other amounts (athlete, station, round) and the same luck, in s."""
        return (_shape_s if self.world.shape else _bodies_s)(self, amounts) * np.exp(self.luck["noise"])

    def splits(self, rounds: int) -> list[Split]:
        """What the floor knows after so many rounds, athlete by athlete in order of the intervals."""
        found = []
        for name, slots in self.whole().items():
            for slot in slots[: rounds * self.amounts.shape[1]]:
                tapped_s = self.tapped_s[self.names.index(name), slot.station, slot.round - 1]
                done = tapped_s <= WINDOW_S
                status = Status.DONE if done else Status.UNTAPPED if np.isnan(tapped_s) else Status.NOT_FINISHED
                common = {key: getattr(slot, key) for key in _SHARED}
                found.append(Split(**common, status=status, split_ms=round(1000 * tapped_s) if done else None))
        return found

    def whole(self) -> dict[str, tuple[Coming, ...]]:
        """All the work of the part, by athlete; start groups are dealt round the class."""
        return {name: tuple(self._slots(who, name)) for who, name in enumerate(self.names)}

    def coming(self, rounds: int) -> dict[str, tuple[Coming, ...]]:
        """What of it is still to come after so many rounds."""
        return {name: slots[rounds * self.amounts.shape[1] :] for name, slots in self.whole().items()}

    def _slots(self, who: int, name: str) -> list[Coming]:
        stations = self.amounts.shape[1]
        found = []
        for interval in range(stations * self.rounds):
            station, number = (who + interval) % stations, interval // stations
            given = self.amounts[who, station]
            found.append(
                Coming(
                    athlete=name, part=0, interval=interval, round=number + 1, station=station,
                    window_ms=int(1000 * WINDOW_S), margin_ms=int(1000 * MARGIN_S), move=MOVES[station][0],
                    amount=Fraction(int(given[number])), unit=MOVES[station][2], step=Fraction(int(given[1] - given[0])),
                )
            )  # fmt: skip
        return found


_SHARED: Final = (
    "athlete", "part", "interval", "round", "station", "window_ms", "margin_ms", "move", "amount", "unit",
)  # fmt: skip


def invent(world: World, seed: int) -> InventedClass:
    """A class of a world."""
    # The name of a world is part of what it is: two worlds with the same seed share no luck.
    dice = np.random.default_rng([seed, *world.name.encode()])
    people, stations, rounds = (int(dice.integers(low, high + 1)) for low, high in (world.people, world.stations, world.rounds))
    usual = np.array([MOVES[station][1] for station in range(stations)])
    step = np.array([(1 if station % 2 == 0 else -1) * (1 + usual[station] // 40) for station in range(stations)])
    begins = np.where(step > 0, np.round(0.8 * usual), usual) if world.ladder else usual
    amounts = begins[:, None] + (step[:, None] * np.arange(rounds) if world.ladder else 0)
    shape = people, stations, rounds
    noise = dice.standard_t(world.tail, shape) * np.sqrt(1 - 2 / world.tail) if world.tail else dice.normal(size=shape)
    luck = {
        "noise": world.noise * noise,
        "person": dice.normal(size=(8, people)),
        "share": dice.random((4, people)),
        "own": dice.normal(size=(people, stations)),
        "station": dice.normal(size=stations),
        "breaks": dice.random((rounds * stations, int(WINDOW_S), people)),
    }
    made = InventedClass(
        world=world,
        part=_part(begins, step if world.ladder else 0 * step, rounds),
        names=tuple(f"Athlete {i + 1}" for i in range(people)),
        amounts=np.broadcast_to(np.maximum(amounts, 1.0), shape).copy(),
        luck=luck,
    )
    return _tapped(made, dice)


def by_world(judge: Callable[[World], Found], worlds: Sequence[World]) -> dict[World, Found]:
    """What is found in each world, two at a time."""
    with ProcessPoolExecutor(2) as pool:
        return dict(zip(worlds, pool.map(judge, worlds), strict=True))


def next_week(made: InventedClass, week: int, amounts: Array) -> InventedClass:
    """The same people in another class with other amounts: what they are is the same, the day and all luck are not."""
    dice = np.random.default_rng([week, *made.world.name.encode(), *(1000 * made.luck["share"][0]).astype(int).tolist()])
    person = made.luck["person"].copy()
    person[0] += dice.normal(0, 0.03 / made.world.talent, person.shape[1])
    noise = made.world.noise * dice.normal(size=amounts.shape)
    luck = {**made.luck, "person": person, "noise": noise, "breaks": dice.random(made.luck["breaks"].shape)}
    return _tapped(replace(made, luck=luck, amounts=amounts), dice)


def _tapped(made: InventedClass, dice: np.random.Generator) -> InventedClass:
    """With what it took and what the taps say of it."""
    world, took_s = made.world, made.played(made.amounts)
    shape = took_s.shape
    tapped_s = np.maximum(2.0, took_s + dice.exponential(world.late_s, shape))
    tapped_s = np.where(dice.random(shape) < world.wrong, tapped_s * dice.uniform(0.5, 1.5, shape), tapped_s)
    return replace(made, took_s=took_s, tapped_s=np.where(dice.random(shape) < world.untapped, np.nan, tapped_s))


def _part(begins: Array, step: Array, rounds: int) -> Rotation:
    stations = tuple(
        Station(move=MOVES[at][0], target=Target(Fraction(int(first)), MOVES[at][2], Fraction(int(more))))
        for at, (first, more) in enumerate(zip(begins, step, strict=True))
    )
    return Rotation(
        title="Round and round", every_ms=int(1000 * WINDOW_S), rounds=rounds, work=stations, rest_margin_ms=int(1000 * MARGIN_S)
    )


def _relative(made: InventedClass, amounts: Array) -> Array:
    return np.asarray(amounts / np.array([MOVES[station][1] for station in range(amounts.shape[1])])[:, None])


def _shape_s(made: InventedClass, amounts: Array) -> Array:
    """Level times a loss that goes on by a shape, the same at all stations; the set-up is a share of the usual time."""
    world, luck, gone = made.world, made.luck, np.arange(made.rounds, dtype=float)
    person = luck["person"]
    loss = (world.drift + world.drift_sd * person[1])[:, None] * SHAPES[world.shape](gone)
    starts = np.ceil(luck["share"][1] * (made.rounds - 1))[:, None]
    loss += np.where(luck["share"][0] < world.collapses, 0.14 + 0.1 * luck["share"][2], 0.0)[:, None] * (gone >= starts)
    loss += np.where(luck["share"][3] < world.learners, 0.1 + 0.13 * luck["share"][2], 0.0)[:, None] * np.exp(-gone / 1.5)
    level = np.log(world.level_s) + world.talent * person[0]
    own = 0.05 * luck["own"] + 0.06 * luck["station"]
    share = world.set_up_s / world.level_s
    work = share + (1 - share) * _relative(made, amounts)
    return np.asarray(np.exp(level[:, None, None] + own[:, :, None] + loss[:, None, :]) * work)


def _bodies_s(made: InventedClass, amounts: Array) -> Array:
    """Everybody second by second."""
    world, luck = made.world, made.luck
    people, stations, rounds = amounts.shape
    person, everybody = luck["person"], np.arange(people)
    critical, effort = np.ones(people), world.effort * np.exp(world.effort_sd * person[1])
    reserve_s = world.reserve_s * np.exp(0.25 * person[2])
    empty, tired = np.zeros(people), np.zeros((people, PATTERNS))
    pattern = np.array([MOVES[station][3] for station in range(stations)])
    tires = world.tires * np.exp(0.5 * person[3])
    collapse = np.where(luck["share"][0] < world.collapses, np.ceil(luck["share"][1] * (rounds - 1)), rounds)
    usual = world.level_s * world.effort * np.exp(world.talent * person[0])
    work = usual[:, None] * np.exp(0.05 * luck["own"] + 0.06 * luck["station"])
    took = np.empty(amounts.shape)
    for interval in range(stations * rounds):
        number, at = interval // stations, (everybody + interval) % stations
        habit = 1 + world.fast_start * 0.5**number * np.exp(0.4 * person[4]) + world.spurt * (number == rounds - 1)
        learned = 1 + world.learns * np.exp(0.5 * person[5]) * np.exp(-number / 1.5)
        done = _relative(made, amounts)[everybody, at, number] * work[everybody, at] * learned
        limit = critical * np.where(collapse <= number, 0.78, 1.0)
        left, time, pause, power = done, np.zeros(people), np.zeros(people), limit
        for second in range(int(WINDOW_S)):
            full = np.clip(1 - empty / reserve_s, 0, 1)
            strength = np.exp(-tired[everybody, pattern[at]])
            late = 1 + world.hurry * (second > 0.75 * (WINDOW_S - MARGIN_S))
            power = strength * limit * (1 + np.maximum(0, effort * habit * late - 1) * full**world.soft)
            power = np.where(effort * habit < 1, strength * limit * effort * habit * late, power)
            pause = np.where(luck["breaks"][interval, second] < world.breaks / 60 * (1 - full), 4.0, pause - 1)
            working = (left > 0) & (second >= world.set_up_s) & (pause <= 0)
            share = np.where(working, np.minimum(1.0, left / power), 0.0)
            time += np.where(left > 0, np.where(working, share, 1.0), 0.0)
            spent = np.where(working, share * power, 0.0)
            left = np.maximum(0.0, left - spent)
            above = spent - limit
            empty = np.where(above > 0, empty + above, empty * np.exp(above / REFILLS_S))
            tired *= np.exp(-1 / world.recovers_s)
            tired[everybody, pattern[at]] += tires * spent / 60 * (1 + (1 - full))
        # Whoever is not done goes on as they were, for the record; the class moves on.
        took[everybody, at, number] = time + left / power
    return took


def _old(name: str, **what: float | bool) -> World:
    """The worlds that the forecast was first drawn for: a straight line for each athlete, six rounds."""
    rest = {"talent": 0.09, "noise": 0.05, "late_s": 0.0, "untapped": 0.0, "set_up_s": 0.0, **what}
    return World(name=name, shape="linear", people=(6, 40), rounds=(6, 6), **rest)  # type: ignore[arg-type]


OLD: Final = (
    _old("old: normal"),
    _old("old: heavy-tailed", tail=4),
    _old("old: collapses", collapses=1 / 8),
    _old("old: learners", learners=1 / 4),
    _old("old: 30 % untapped", untapped=0.3),
    _old("old: ladders", ladder=True),
)
TUNING: Final = (
    World(name="mild", soft=0.5),
    World(name="reserve", effort=1.25, reserve_s=110, soft=0.4),
    World(name="cliff", effort=1.35, reserve_s=120, soft=0.15, breaks=3),
    World(name="tiring", tires=0.08, recovers_s=900, effort=1.05),
    World(name="learning", learns=0.25, tires=0.03),
    World(name="collapse", collapses=0.2, tires=0.04, soft=0.5),
    World(name="messy", effort=1.25, reserve_s=100, soft=0.5, untapped=0.3, wrong=0.04, late_s=1.5),
    World(name="spurt", effort=1.2, soft=0.5, tires=0.03, fast_start=0.06, spurt=0.15, hurry=0.1),
    World(name="set-up", set_up_s=9, tires=0.07, recovers_s=600, level_s=30),
    World(name="ladder", ladder=True, tires=0.05, set_up_s=4),
    World(name="large", people=(30, 40), stations=(2, 4), effort=1.2, reserve_s=100, soft=0.4),
    World(name="few", people=(4, 7), effort=1.25, reserve_s=90, soft=0.4, tires=0.04, noise=0.06),
    World(name="linear", shape="linear"),
    World(name="levelling", shape="levelling", drift=0.05),
    World(name="plateau", shape="plateau", drift=0.04, drift_sd=0.03),
    World(name="accelerating", shape="accelerating", drift=0.015, drift_sd=0.015),
    World(name="none", shape="none"),
)
REPORTED: Final = (
    World(name="mild, reported", effort=1.1, tires=0.015, noise=0.03),
    World(name="reserve, reported", effort=1.3, reserve_s=140, soft=0.5, rounds=(6, 8)),
    World(name="cliff, reported", effort=1.4, reserve_s=170, soft=0.1, breaks=5),
    World(name="tiring, reported", tires=0.12, recovers_s=500, effort=1.05, stations=(1, 3)),
    World(name="learning, reported", learns=0.18, effort=1.2, reserve_s=100, soft=0.5),
    World(name="collapse, reported", collapses=0.3, effort=1.15, soft=0.5),
    World(name="messy, reported", tires=0.07, recovers_s=700, untapped=0.25, wrong=0.06, late_s=1.0),
    World(name="spurt, reported", effort=1.15, tires=0.05, recovers_s=500, fast_start=0.1, spurt=0.1, hurry=0.15),
    World(name="set-up, reported", set_up_s=12, effort=1.3, reserve_s=120, soft=0.5, level_s=27),
    World(name="ladder, reported", ladder=True, effort=1.2, reserve_s=80, soft=0.5, set_up_s=3),
    World(name="large, reported", people=(24, 40), stations=(3, 6), effort=1.2, tires=0.06, recovers_s=600),
    World(name="few, reported", people=(4, 6), stations=(1, 2), tires=0.08, recovers_s=600, noise=0.05),
    World(name="linear, reported", shape="linear", drift=0.03, noise=0.03),
    World(name="levelling, reported", shape="levelling", drift=0.06, drift_sd=0.04, noise=0.03),
    World(name="plateau, reported", shape="plateau", drift=0.05, drift_sd=0.03, noise=0.05),
    World(name="accelerating, reported", shape="accelerating", drift=0.02, drift_sd=0.02, noise=0.05),
    World(name="none, reported", shape="none", noise=0.06),
)
