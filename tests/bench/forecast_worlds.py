"""Invented classes whose truth is known: what forecasts, flags and advice are measured against.

Invariant: a class follows from its world, its size, its noise and its seed alone, and every time in it is told exactly:
`truth_ms` is what an athlete takes in a round whether or not anybody taps, `splits` is what the floor would know of it.

A time is `exp(level + talent at the station + drift x rounds gone + what the world adds + noise)`, times the work: the share
`setup_share` of the time at the reference amount stays as it is, the rest grows with the amount. The figures are common
practice, no source: 36 s of a minute in round 1, a margin of 15 s, one athlete in three slow enough to lose it by round 6.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from floorclock.clock.splits import Coming, Split, Status
from floorclock.clock.timeline import station_index
from floorclock.plan.session import Rotation
from floorclock.plan.work import Station, Target, Unit

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

ROUNDS: Final = 6
SEEN: Final = 3
"""The rounds after which a class is judged."""
WINDOW_MS: Final = 60_000
MARGIN_MS: Final = 15_000
USUAL_MS: Final = 36_000
NOISES: Final = (0.03, 0.05, 0.08)
SIZES: Final = (6, 12, 24, 40)
STATIONS: Final = (1, 2, 3, 4, 5)
STATION_SD: Final = 0.06
"""How much the stations differ in length, on the log scale."""
MOVES: Final = (
    ("kettlebell swing", Target(Fraction(14), Unit.REPS)),
    ("step-up", Target(Fraction(12), Unit.REPS)),
    ("row", Target(Fraction(150), Unit.METRES)),
    ("push-up", Target(Fraction(16), Unit.REPS)),
    ("ride", Target(Fraction(12), Unit.CALORIES)),
)
LADDER_STEPS: Final = (Fraction(1), Fraction(-1), Fraction(0), Fraction(1), Fraction(-1))
LADDER_START: Final = (-0.25, 0.08, 0.0, -0.25, 0.08)
"""A rising ladder begins shorter and a falling one longer than other work, on the log scale."""
OWN_AMOUNTS: Final = (Fraction(1), Fraction(1), Fraction(7, 8), Fraction(1), Fraction(9, 8))
"""In a world with ladders, every fifth athlete begins with an eighth less and every fifth with an eighth more."""
LOSSES: Final = np.log(np.linspace(1.15, 1.30, 1001))
"""What a sudden blow-up costs from its round on: any of these, on the log scale."""
LESSONS: Final = np.linspace(0.10, 0.25, 1001)
"""How much slower a learner begins, on the log scale."""
LEARNING_ROUNDS: Final = 1.5
"""After so many rounds a learner has all but a third (1/e) of it behind them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """What is true of everybody in it; all spreads are on the log scale.

    `tail_freedom` are the degrees of freedom of the noise (Student's t with the standard deviation of the class), None for
    a normal one. `blow_ups` and `learners` are shares of athletes, `missed` is the share of taps that nobody made.
    `station_drift_sd` lets an athlete wear down differently at each station.
    """

    name: str
    level_sd: float = 0.09
    talent_sd: float = 0.05
    drift_mean: float = 0.025
    drift_sd: float = 0.028
    station_drift_sd: float = 0.0
    tail_freedom: int | None = None
    blow_ups: float = 0.0
    learners: float = 0.0
    missed: float = 0.0
    ladder: bool = False
    setup_share: float = 0.0

    def extra_mean(self) -> Array:
        """By round: what blow-ups and lessons add on average."""
        blown = self.blow_ups * LOSSES.mean() * blown_by_round()
        return np.asarray(blown + self.learners * LESSONS.mean() * still_to_learn())

    def extra_covariance(self) -> Array:
        """Round by round: how what they add varies from athlete to athlete."""
        by_round, lesson = blown_by_round(), still_to_learn()
        mean = self.blow_ups * LOSSES.mean() * by_round
        blown = self.blow_ups * (LOSSES**2).mean() * np.minimum.outer(by_round, by_round) - np.outer(mean, mean)
        spread = self.learners * (LESSONS**2).mean() - (self.learners * LESSONS.mean()) ** 2
        return np.asarray(blown + spread * np.outer(lesson, lesson))

    def work_factor(self, ratio: Array | float) -> Array:
        """How the time grows with the amount, given as a multiple of the reference."""
        return np.asarray(self.setup_share + (1 - self.setup_share) * np.asarray(ratio, dtype=float))


NORMAL: Final = World(name="normal")
WORLDS: Final = (
    NORMAL,
    World(name="heavy-tailed", tail_freedom=4),
    World(name="blow-ups", blow_ups=1 / 8),
    World(name="learners", learners=1 / 4),
    World(name="30 % missing", missed=0.3),
    World(name="ladders", ladder=True),
)
"""Those that the targets are about."""
HARDER: Final = (
    World(name="ladders, set-up", ladder=True, setup_share=0.12),
    World(name="uneven stations", station_drift_sd=0.015),
)
"""Two that break what the model takes for granted: time in proportion to work, one drift for all stations."""


def blown_by_round() -> Array:
    """By round: the chance that who blows up has done so; in round 2 to 6 alike."""
    return np.arange(ROUNDS) / (ROUNDS - 1)


def still_to_learn() -> Array:
    """By round: the share of a lesson that is still to come."""
    return np.asarray(np.exp(-np.arange(ROUNDS) / LEARNING_ROUNDS))


@dataclass(frozen=True, kw_only=True)
class InventedClass:
    """One class of a world. Arrays are athlete by station by round, both from 0; `course` and `noise` are logarithms.

    `course` is the time in ms at the reference amount of the station without noise, `tapped` is False where nobody tapped.
    """

    world: World
    noise_sd: float
    part: Rotation
    names: tuple[str, ...]
    targets: tuple[tuple[Target, ...], ...]
    course: Array
    noise: Array
    tapped: Flags

    @property
    def size(self) -> int:
        """How many athletes."""
        return len(self.names)

    @property
    def stations(self) -> int:
        """How many stations."""
        return len(self.part.work)

    def station_at(self, athlete: int, interval: int) -> int:
        """Where an athlete is; start groups are dealt round the class."""
        return station_index(self.part, interval, 1 + athlete % self.stations)

    def amount_ratio(self, athlete: int, station: int, round_number: int, target: Target | None = None) -> float:
        """The amount in a round (from 1) as a multiple of the reference of the station."""
        given = (target or self.targets[athlete][station]).in_round(round_number)
        return float(given / MOVES[station][1].amount)

    def work_log(self) -> Array:
        """The logarithm of what the amounts do to the times."""
        first = np.array([[float(target.amount) for target in own] for own in self.targets])[..., None]
        step = np.array([[float(target.step) for target in own] for own in self.targets])[..., None]
        usual = np.array([float(MOVES[station][1].amount) for station in range(self.stations)])[:, None]
        return np.asarray(np.log(self.world.work_factor(np.maximum(0, first + step * np.arange(ROUNDS)) / usual)))

    def truth_ms(self, athlete: int, station: int, round_number: int, target: Target | None = None, noisy: bool = True) -> float:
        """What the athlete takes in that round (from 1), with another target if one is given."""
        place = athlete, station, round_number - 1
        factor = float(self.world.work_factor(self.amount_ratio(athlete, station, round_number, target)))
        return float(np.exp(self.course[place] + (self.noise[place] if noisy else 0.0))) * factor

    def splits(self, rounds: int = SEEN) -> tuple[Split, ...]:
        """What the floor knows after so many rounds, athlete by athlete."""
        return tuple(self._split(i, interval) for i in range(self.size) for interval in range(rounds * self.stations))

    def whole(self) -> dict[str, tuple[Coming, ...]]:
        """All the work of the part, by athlete."""
        return {
            name: tuple(self._coming(i, interval) for interval in range(ROUNDS * self.stations))
            for i, name in enumerate(self.names)
        }

    def coming(self, rounds: int = SEEN) -> dict[str, tuple[Coming, ...]]:
        """What of it is still to come after so many rounds."""
        return {name: work[rounds * self.stations :] for name, work in self.whole().items()}

    def _split(self, athlete: int, interval: int) -> Split:
        station, round_number = self.station_at(athlete, interval), interval // self.stations + 1
        target, took_ms = self.targets[athlete][station], round(self.truth_ms(athlete, station, round_number))
        status = Status.DONE if took_ms <= WINDOW_MS else Status.NOT_FINISHED
        if not self.tapped[athlete, station, round_number - 1]:
            status = Status.UNTAPPED
        return Split(
            athlete=self.names[athlete],
            part=0,
            interval=interval,
            round=round_number,
            station=station,
            window_ms=WINDOW_MS,
            margin_ms=MARGIN_MS,
            status=status,
            split_ms=took_ms if status is Status.DONE else None,
            move=self.part.work[station].move,
            amount=target.in_round(round_number),
            unit=target.unit,
        )

    def _coming(self, athlete: int, interval: int) -> Coming:
        station, round_number = self.station_at(athlete, interval), interval // self.stations + 1
        target = self.targets[athlete][station]
        return Coming(
            athlete=self.names[athlete],
            part=0,
            interval=interval,
            round=round_number,
            station=station,
            window_ms=WINDOW_MS,
            margin_ms=MARGIN_MS,
            move=self.part.work[station].move,
            amount=target.in_round(round_number),
            unit=target.unit,
            step=target.step,
        )


def invent(world: World, *, size: int, stations: int, noise_sd: float, seed: int) -> InventedClass:
    """A class of so many athletes at so many stations, six rounds of one minute each."""
    # The name of a world is part of what it is: two worlds with the same seed share no luck.
    dice = np.random.default_rng([seed, size, stations, round(noise_sd * 1000), *world.name.encode()])
    gone = np.arange(ROUNDS)
    base = np.log(USUAL_MS) + dice.normal(0, STATION_SD, stations)
    base = base + (np.array(LADDER_START[:stations]) if world.ladder else 0)
    level = dice.normal(0, world.level_sd, size)[:, None, None] + dice.normal(0, world.talent_sd, (size, stations))[:, :, None]
    drift = dice.normal(world.drift_mean, world.drift_sd, size)[:, None]
    drift = drift + dice.normal(0, 1, (size, stations)) * world.station_drift_sd
    shape = (size, stations, ROUNDS)
    return InventedClass(
        world=world,
        noise_sd=noise_sd,
        part=_part(world, stations),
        names=tuple(f"Athlete {i + 1}" for i in range(size)),
        targets=tuple(_targets(world, stations, i) for i in range(size)),
        course=base[None, :, None] + level + drift[:, :, None] * gone + _extra(world, size, dice)[:, None, :],
        noise=_noise(world, noise_sd, shape, dice),
        tapped=dice.random(shape) >= world.missed,
    )


def grid(
    world: World, sizes: Sequence[int] = SIZES, stations: Sequence[int] = STATIONS, first_seed: int = 0
) -> Iterator[InventedClass]:
    """Classes of all those sizes, stations and noises; of the small ones more, so that they weigh something."""
    for size, count, noise_sd in product(sizes, stations, NOISES):
        for seed in range(max(1, 24 // size)):
            yield invent(world, size=size, stations=count, noise_sd=noise_sd, seed=first_seed + seed)


def _part(world: World, stations: int) -> Rotation:
    written = tuple(Station(move=MOVES[j][0], target=_target(world, j, Fraction(1))) for j in range(stations))
    return Rotation(title="Round and round", every_ms=WINDOW_MS, rounds=ROUNDS, work=written, rest_margin_ms=MARGIN_MS)


def _targets(world: World, stations: int, athlete: int) -> tuple[Target, ...]:
    share = OWN_AMOUNTS[athlete % len(OWN_AMOUNTS)] if world.ladder else Fraction(1)
    return tuple(_target(world, j, share) for j in range(stations))


def _target(world: World, station: int, share: Fraction) -> Target:
    usual = MOVES[station][1]
    step = LADDER_STEPS[station] if world.ladder else Fraction(0)
    return Target(Fraction(round(usual.amount * share)), usual.unit, step)


def _extra(world: World, size: int, dice: np.random.Generator) -> Array:
    blown = (dice.random(size) < world.blow_ups) * dice.choice(LOSSES, size)
    begins = dice.integers(1, ROUNDS, size)
    lesson = (dice.random(size) < world.learners) * dice.choice(LESSONS, size)
    sudden = blown[:, None] * (np.arange(ROUNDS) >= begins[:, None])
    return np.asarray(sudden + lesson[:, None] * still_to_learn())


def _noise(world: World, noise_sd: float, shape: tuple[int, ...], dice: np.random.Generator) -> Array:
    if world.tail_freedom is None:
        return dice.normal(0, noise_sd, shape)
    return dice.standard_t(world.tail_freedom, shape) * noise_scale(world, noise_sd)


def noise_scale(world: World, noise_sd: float) -> float:
    """The scale of the noise: its standard deviation, or that of Student's t which has it."""
    if world.tail_freedom is None:
        return noise_sd
    return noise_sd * float(np.sqrt((world.tail_freedom - 2) / world.tail_freedom))
