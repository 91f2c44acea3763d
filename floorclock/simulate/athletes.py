"""Invented athletes who tap by themselves, for the demo, for rehearsals and for tests.

Invariant: what an athlete does follows from the seed, the name and the occasion alone; who is asked first, and how often,
changes nothing. Every time per unit of work here is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import cycle
from random import Random

from floorclock.clock.splits import Status
from floorclock.plan.roster import Assignment, Athlete, Roster
from floorclock.plan.session import Paced
from floorclock.plan.work import Unit


class Temper(StrEnum):
    """How an athlete paces: keeps the pace, loses a little each round, or starts too fast and pays for it."""

    HOLDS = "holds"
    FADES = "fades"
    SINKS = "sinks"


DECK = (Temper.HOLDS, Temper.FADES, Temper.SINKS, Temper.HOLDS, Temper.FADES, Temper.HOLDS)
"""Dealt round a roster, so that every class has somebody to look after."""

DRIFT_PER_ROUND = {Temper.HOLDS: (-0.003, 0.004), Temper.FADES: (0.03, 0.05), Temper.SINKS: (0.07, 0.10)}
"""The share by which a split grows from round to round: from, to."""

LEVEL_FACTOR = {"new": 1.08, "returning": 1.04, "regular": 1.0, "strong": 0.92}
SETTING_UP_S = 4.0
NOISE = 0.03
TAIL_FREEDOM = 4
"""Degrees of freedom of the noise (Student's t): now and then a rep is missed or a bell dropped."""
MISSED_TAP = 0.025
MOST_ROUNDS = 500

SECONDS_PER_REP = {
    "burpee": 4.0,
    "thruster": 3.2,
    "step-up": 2.6,
    "swing": 2.3,
    "deadlift": 2.5,
    "jump": 2.7,
    "push-up": 2.3,
    "sit-up": 2.2,
    "lunge": 2.4,
    "squat": 2.3,
    "row": 2.3,
}
SECONDS_PER_METRE = {"row": 0.25, "run": 0.30, "ride": 0.12, "bike": 0.12, "carry": 0.65}
SECONDS_PER_CALORIE = {"row": 3.6, "ride": 3.2, "bike": 3.2}
_TABLES = {
    Unit.REPS: (SECONDS_PER_REP, 2.4),
    Unit.METRES: (SECONDS_PER_METRE, 0.45),
    Unit.CALORIES: (SECONDS_PER_CALORIE, 4.0),
    Unit.SECONDS: ({}, 1.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedAthlete:
    """An invented athlete: `pace` is a factor on every time per unit, `drift` the share added with each round."""

    name: str
    seed: int
    temper: Temper
    pace: float
    drift: float
    noise: float = NOISE


@dataclass(frozen=True, slots=True)
class Attempt:
    """What an athlete did in an interval; `split_ms` is set where the status is done."""

    status: Status
    split_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Laps:
    """The ends of whole rounds from the athlete's own start, and the reps done beyond the last of them when time was up."""

    ends_ms: tuple[int, ...]
    reps: int = 0


def simulated_athletes(roster: Roster, seed: int) -> tuple[SimulatedAthlete, ...]:
    """One for each athlete of a roster, with every temper dealt out evenly."""
    luck = {athlete.name: _dice(seed, athlete.name, "deal").random() for athlete in roster.athletes}
    tempers = dict(zip(sorted(luck, key=luck.__getitem__), cycle(DECK), strict=False))
    return tuple(simulated_athlete(athlete, seed, tempers[athlete.name]) for athlete in roster.athletes)


def simulated_athlete(athlete: Athlete, seed: int, temper: Temper | None = None) -> SimulatedAthlete:
    """One athlete, such as a latecomer; without a temper they draw their own."""
    dice = _dice(seed, athlete.name, "character")
    drawn = dice.choice(DECK)
    chosen = drawn if temper is None else temper
    return SimulatedAthlete(
        name=athlete.name,
        seed=seed,
        temper=chosen,
        pace=LEVEL_FACTOR.get(athlete.level, 1.0) * math.exp(dice.gauss(0, 0.03)),
        drift=dice.uniform(*DRIFT_PER_ROUND[chosen]),
    )


def attempt(
    athlete: SimulatedAthlete,
    move: str,
    amount: Fraction | None,
    unit: Unit | None,
    round_number: int,
    window_ms: int,
    *,
    pattern: str = "",
    occasion: str = "",
) -> Attempt:
    """What an athlete does in an interval of `window_ms`.

    `occasion` tells apart what would otherwise be the same: two parts with the same move, say. Work without a target
    fills the interval and nobody taps.
    """
    if amount is None or unit is None:
        return Attempt(Status.UNTAPPED)
    dice = _dice(athlete.seed, athlete.name, "split", move, str(round_number), occasion)
    missed = dice.random() < MISSED_TAP
    seconds = SETTING_UP_S + _work_s(athlete, move, amount, unit, pattern)
    seconds *= (1 + athlete.drift) ** (round_number - 1) * math.exp(athlete.noise * _heavy_tailed(dice))
    split_ms = round(seconds * 1000)
    if split_ms > window_ms:
        return Attempt(Status.NOT_FINISHED)
    return Attempt(Status.UNTAPPED) if missed else Attempt(Status.DONE, max(1, split_ms))


def for_time_laps(athlete: SimulatedAthlete, work: Sequence[Assignment], rounds: int, cap_ms: int, *, occasion: str = "") -> Laps:
    """The ends of the rounds of a `for_time` part, as many as fit under the cap; the last of `rounds` is the finish."""
    return _laps(athlete, work, rounds, cap_ms, occasion)


def amrap_laps(athlete: SimulatedAthlete, work: Sequence[Assignment], time_ms: int, *, occasion: str = "") -> Laps:
    """The ends of the rounds of an `amrap` part."""
    return _laps(athlete, work, None, time_ms, occasion)


def drop_out_ms(athlete: SimulatedAthlete, part: Paced, length_ms: int, *, occasion: str = "") -> int | None:
    """When an athlete stops in a `paced` part; None when they stay to its end.

    Nearly everybody keeps up with a beat. A shuttle ladder speeds up until nobody can, so nearly everybody stops.
    """
    dice = _dice(athlete.seed, athlete.name, "paced", occasion)
    staying = 0.62 if part.shuttle is not None else 1.6
    share = staying / athlete.pace**2 * (1 - 3 * max(0.0, athlete.drift)) * math.exp(0.15 * _heavy_tailed(dice))
    return None if share >= 1 else max(1_000, round(share * length_ms))


def _laps(athlete: SimulatedAthlete, work: Sequence[Assignment], rounds: int | None, limit_ms: int, occasion: str) -> Laps:
    ends: list[int] = []
    now_s = 0.0
    for round_number in range(1, MOST_ROUNDS + 1 if rounds is None else rounds + 1):
        reps = 0
        for seconds, amount, unit in _items(athlete, work, round_number, occasion):
            left_s = limit_ms / 1000 - now_s
            if seconds > left_s:
                reps += math.floor(amount * Fraction(left_s / seconds)) if unit is Unit.REPS else 0
                return Laps(tuple(ends), reps)
            reps += math.floor(amount) if unit is Unit.REPS else 0
            now_s += seconds
        ends.append(max(round(now_s * 1000), (ends[-1] if ends else 0) + 1))
    return Laps(tuple(ends))


def _items(
    athlete: SimulatedAthlete, work: Sequence[Assignment], round_number: int, occasion: str
) -> Iterator[tuple[float, Fraction, Unit]]:
    """The items of one round: how long each takes, and how much of what it is. An item without a target is one minute."""
    dice = _dice(athlete.seed, athlete.name, "lap", str(round_number), occasion)
    # Nobody stops between rounds here, so the drift of a minute with rest in it is too much for a lap.
    tired = (1 + athlete.drift / 2) ** (round_number - 1)
    for item in work:
        target = item.target
        amount, unit = (target.in_round(round_number), target.unit) if target else (Fraction(60), Unit.SECONDS)
        seconds = SETTING_UP_S / 2 + _work_s(athlete, item.move, amount, unit, "")
        yield seconds * tired * math.exp(athlete.noise * _heavy_tailed(dice)), amount, unit


def _work_s(athlete: SimulatedAthlete, move: str, amount: Fraction, unit: Unit, pattern: str) -> float:
    """The seconds of work in round 1, before noise."""
    talent = math.exp(_dice(athlete.seed, athlete.name, "talent", move).gauss(0, 0.05))
    factor = athlete.pace * talent
    # Forty seconds of a plank are forty seconds; who is slow takes breaks.
    return float(amount) * seconds_per_unit(move, unit, pattern) * (max(1.0, factor) if unit is Unit.SECONDS else factor)


def seconds_per_unit(move: str, unit: Unit, pattern: str = "") -> float:
    """How long one unit takes a regular athlete, by a word in the name of the move or by its pattern."""
    table, usual = _TABLES[unit]
    words = move.lower().split()
    known = next((seconds for start, seconds in table.items() if any(word.startswith(start) for word in words)), None)
    return table.get(pattern, usual) if known is None else known


def _heavy_tailed(dice: Random) -> float:
    """A draw from Student's t, scaled to a standard deviation of one."""
    chi_squared = dice.gammavariate(TAIL_FREEDOM / 2, 2)
    return dice.gauss(0, 1) / math.sqrt(chi_squared / TAIL_FREEDOM) / math.sqrt(TAIL_FREEDOM / (TAIL_FREEDOM - 2))


def _dice(seed: int, *names: str) -> Random:
    return Random("\x1f".join([str(seed), *names]))
