"""Invented athletes who tap by themselves, for the demo, for rehearsals and for tests.

Invariant: what an athlete does follows from the seed, the name and the occasion alone; who is asked first, and how often,
changes nothing. How long a unit of work takes is said by the usual moves; all other figures are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from itertools import cycle
from random import Random
from typing import Literal

from floorclock.clock.splits import Status
from floorclock.plan.moves import Moves
from floorclock.plan.roster import Assignment, Athlete, Roster
from floorclock.plan.session import Paced, Turns
from floorclock.plan.work import Target, Unit


class PacingStyle(StrEnum):
    """How an athlete paces: keeps the pace, loses a little each round, or starts too fast and pays for it."""

    HOLDS = "holds"
    FADES = "fades"
    SINKS = "sinks"


DECK = (PacingStyle.HOLDS, PacingStyle.FADES, PacingStyle.SINKS, PacingStyle.HOLDS, PacingStyle.FADES, PacingStyle.HOLDS)
"""Dealt round a roster, so that every class has somebody to look after."""

DRIFT_PER_ROUND = {PacingStyle.HOLDS: (-0.003, 0.004), PacingStyle.FADES: (0.03, 0.05), PacingStyle.SINKS: (0.07, 0.10)}
"""The share by which a split grows from round to round: from, to."""

SETTING_UP_S = 4.0
NOISE = 0.03
TAIL_FREEDOM = 4
"""Degrees of freedom of the noise (Student's t): now and then a rep is missed or a bell dropped."""
MISSED_TAP = 0.025
ALL_OUT = 0.7
"""Of the usual time for one unit, when it is as many as possible in a short window."""
MOST_ROUNDS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedAthlete:
    """An invented athlete: `pace` is a factor on every time per unit, `drift` the share added with each round.

    `level` says which of the usual times are theirs, `moves` which moves there are; None for those that come with floorclock.
    """

    name: str
    seed: int
    style: PacingStyle
    pace: float
    drift: float
    noise: float = NOISE
    level: str = ""
    moves: Moves | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class Attempt:
    """What an athlete did in an interval; `split_ms` is set where the status is done, `amount` where they did not finish."""

    status: Status
    split_ms: int | None = None
    amount: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The work of one athlete in a part against the clock. Without `rounds` there are as many as fit.

    `rest_ms` is their own rest after a round. `buy_in` and `cash_out` are done once.
    """

    work: tuple[Assignment, ...]
    rounds: int | None = None
    buy_in: tuple[Assignment, ...] = ()
    cash_out: tuple[Assignment, ...] = ()
    rest_ms: int = 0


Member = tuple[SimulatedAthlete, Course]
"""Somebody of a team (who works alone is a team of their own) and what is theirs to do."""


@dataclass(frozen=True, slots=True)
class Laps:
    """The ends of whole rounds from the own start, and the reps done beyond the last of them when time was up.

    `amounts` is all that was done, by unit.
    """

    ends_ms: tuple[int, ...]
    reps: int = 0
    amounts: Mapping[Unit, Fraction] = field(default_factory=dict)


def simulated_athletes(roster: Roster, seed: int, moves: Moves | None = None) -> tuple[SimulatedAthlete, ...]:
    """One for each athlete of a roster, with every style dealt out evenly."""
    luck = {athlete.name: _dice(seed, athlete.name, "deal").random() for athlete in roster.athletes}
    styles = dict(zip(sorted(luck, key=luck.__getitem__), cycle(DECK), strict=False))
    return tuple(simulated_athlete(athlete, seed, styles[athlete.name], moves) for athlete in roster.athletes)


def simulated_athlete(
    athlete: Athlete, seed: int, style: PacingStyle | None = None, moves: Moves | None = None
) -> SimulatedAthlete:
    """One athlete, such as a latecomer; without a style they draw their own."""
    dice = _dice(seed, athlete.name, "character")
    drawn = dice.choice(DECK)
    chosen = drawn if style is None else style
    return SimulatedAthlete(
        name=athlete.name,
        seed=seed,
        style=chosen,
        pace=math.exp(dice.gauss(0, 0.03)),
        drift=dice.uniform(*DRIFT_PER_ROUND[chosen]),
        level=athlete.level,
        moves=moves,
    )


def attempt(
    athlete: SimulatedAthlete,
    work: Assignment,
    round_number: int,
    window_ms: int,
    *,
    pattern: str = "",
    occasion: str = "",
) -> Attempt:
    """What an athlete does in an interval of `window_ms`.

    `occasion` tells apart what would otherwise be the same: two parts with the same move, say. Work without an amount
    fills the interval and nobody taps.
    """
    if work.target is None or work.target.most:
        return Attempt(Status.UNTAPPED)
    dice = _dice(athlete.seed, athlete.name, "split", work.move, str(round_number), occasion)
    missed = dice.random() < MISSED_TAP
    seconds = SETTING_UP_S + _work_s(athlete, work, round_number, pattern)
    seconds *= (1 + athlete.drift) ** (round_number - 1) * math.exp(athlete.noise * _heavy_tailed(dice))
    split_ms = round(seconds * 1000)
    if split_ms > window_ms:
        return Attempt(Status.NOT_FINISHED, None, math.floor(work.target.in_round(round_number) * window_ms / split_ms))
    return Attempt(Status.UNTAPPED) if missed else Attempt(Status.DONE, max(1, split_ms))


def most_in(
    athlete: SimulatedAthlete, work: Assignment, unit: Unit, round_number: int, window_ms: int, *, occasion: str = ""
) -> int:
    """How many units of a move an athlete does in a window when it is as many as possible."""
    dice = _dice(athlete.seed, athlete.name, "most", work.move, str(round_number), occasion)
    within_ms = work.target.within_ms if work.target is not None else None
    tired = (1 + athlete.drift) ** (round_number - 1) * math.exp(athlete.noise * _heavy_tailed(dice))
    each_s = ALL_OUT * _amount_s(athlete, work.move, Fraction(1), unit, "") * tired
    return math.floor((window_ms if within_ms is None else within_ms) / 1000 / each_s)


def laps(team: Sequence[Member], limit_ms: int, *, turns: Turns = "shared", occasion: str = "") -> Laps:
    """The ends of the rounds of a part against the clock, as many as fit under its limit; the last of all `rounds` is the finish.

    A team of several has one round each in turn, or each round takes as long as that of the slowest (at the same time), or as
    long as that of them all on average (shared, one works).
    """
    course = team[0][1]
    out_s = sum(seconds for seconds, _, _ in _team_items(team, "cash_out", 1, turns, occasion))
    # Who has no number of rounds to do stops in time for what comes after them.
    limit_s = limit_ms / 1000 - (out_s if course.rounds is None else 0)
    ends: list[int] = []
    amounts: dict[Unit, Fraction] = {}
    now_s = 0.0
    last = MOST_ROUNDS if course.rounds is None else course.rounds
    for number in range(1, last + 1):
        reps = 0
        for seconds, amount, unit in _lap(team, number, last, turns, occasion):
            left_s = max(0.0, limit_s - now_s)
            share = Fraction(1) if seconds <= left_s else Fraction(left_s / seconds)
            amounts[unit] = amounts.get(unit, Fraction(0)) + amount * share
            reps += math.floor(amount * share) if unit is Unit.REPS else 0
            if share < 1:
                return Laps(tuple(ends), reps, amounts)
            now_s += seconds
        ends.append(max(round(now_s * 1000), (ends[-1] if ends else 0) + 1))
        now_s += course.rest_ms / 1000
    return Laps(tuple(ends), 0, amounts)


def drop_out_ms(athlete: SimulatedAthlete, part: Paced, length_ms: int, *, occasion: str = "") -> int | None:
    """When an athlete stops in a `paced` part; None when they stay to its end.

    Nearly everybody keeps up with a beat. A shuttle ladder speeds up until nobody can, so nearly everybody stops.
    """
    dice = _dice(athlete.seed, athlete.name, "paced", occasion)
    staying = 0.62 if part.shuttle is not None else 1.6
    share = staying / athlete.pace**2 * (1 - 3 * max(0.0, athlete.drift)) * math.exp(0.15 * _heavy_tailed(dice))
    return None if share >= 1 else max(1_000, round(share * length_ms))


Item = tuple[float, Fraction, Unit]
"""How long a piece of work takes, and how much of what it is."""


def _lap(team: Sequence[Member], number: int, last: int, turns: Turns, occasion: str) -> list[Item]:
    """The items of a round, with what comes before the first and after the last of a fixed number."""
    before = _team_items(team, "buy_in", 1, turns, occasion) if number == 1 else []
    after = _team_items(team, "cash_out", last, turns, occasion) if number == team[0][1].rounds else []
    return [*before, *_team_items(team, "work", number, turns, occasion), *after]


def _team_items(
    team: Sequence[Member], which: Literal["work", "buy_in", "cash_out"], number: int, turns: Turns, occasion: str
) -> list[Item]:
    if turns == "each round" and which == "work":
        athlete, course = team[(number - 1) % len(team)]
        # In their turn, nobody has more rounds behind them than they did themselves.
        return list(_items(athlete, course.work, number, (number - 1) // len(team) + 1, occasion))
    place = occasion if which == "work" else f"{occasion}/{which}"
    each = [list(_items(athlete, getattr(course, which), number, number, place)) for athlete, course in team]
    items = []
    for same in zip(*each, strict=False):
        times = [seconds for seconds, _, _ in same]
        items.append((max(times) if turns == "same time" else sum(times) / len(times), *same[0][1:]))
    return items


def _items(athlete: SimulatedAthlete, work: Sequence[Assignment], number: int, own: int, occasion: str) -> Iterator[Item]:
    """The items of round `number`, the `own`-th of this athlete."""
    dice = _dice(athlete.seed, athlete.name, "lap", str(number), occasion)
    # Nobody stops between rounds here, so the drift of a minute with rest in it is too much for a lap.
    tired = (1 + athlete.drift / 2) ** (own - 1)
    for item in work:
        target = target_of(item)
        amount = target.in_round(number)
        seconds = SETTING_UP_S / 2 + _amount_s(athlete, item.move, amount, target.unit, "")
        yield seconds * tired * math.exp(athlete.noise * _heavy_tailed(dice)), amount, target.unit


def target_of(item: Assignment) -> Target:
    """What an item of a lap comes to; one without an amount is one minute."""
    if item.target is None or item.target.most:
        within_ms = None if item.target is None else item.target.within_ms
        return Target(Fraction(within_ms or 60_000, 1000), Unit.SECONDS)
    return item.target


def _work_s(athlete: SimulatedAthlete, work: Assignment, round_number: int, pattern: str) -> float:
    """The seconds of work in round 1, before noise; several moves one after the other."""
    if work.items:
        moves = sum(_work_s(athlete, item, round_number, "") for item in work.items)
        share = 1.0 if work.target is None else float(work.target.in_round(round_number))
        return share * (moves + SETTING_UP_S / 2 * (len(work.items) - 1))
    if work.target is None:
        return 0.0
    if work.target.most:
        return (work.target.within_ms or 0) / 1000
    return _amount_s(athlete, work.move, work.target.in_round(round_number), work.target.unit, pattern)


def _amount_s(athlete: SimulatedAthlete, move: str, amount: Fraction, unit: Unit, pattern: str) -> float:
    # Here and not above: the floor imports this room before it needs a reader.
    from floorclock.plan.read_moves import usual_moves

    talent = math.exp(_dice(athlete.seed, athlete.name, "talent", move).gauss(0, 0.05))
    factor = athlete.pace * talent
    each_s = (athlete.moves or usual_moves()).ms_of_one(move, unit, pattern, athlete.level) / 1000
    # Forty seconds of a plank are forty seconds; who is slow takes breaks.
    return float(amount) * each_s * (max(1.0, factor) if unit is Unit.SECONDS else factor)


def usual_s(work: Assignment, amount: Fraction, unit: Unit, level: str, pattern: str = "") -> float:
    """How long so much of some work usually takes somebody of a level in the first round, with setting up."""
    from floorclock.plan.read_moves import usual_moves

    pieces = [(work.move, amount, unit, pattern)]
    if unit is Unit.WHOLE:
        targets = ((item.move, item.target) for item in work.items)
        pieces = [
            (move, target.in_round(1), target.unit, "") for move, target in targets if target is not None and not target.most
        ]
    moves = usual_moves()
    each = sum(SETTING_UP_S / 2 + float(much) * moves.ms_of_one(move, of, kind, level) / 1000 for move, much, of, kind in pieces)
    return SETTING_UP_S / 2 + (float(amount) if unit is Unit.WHOLE else 1.0) * each


def _heavy_tailed(dice: Random) -> float:
    """A draw from Student's t, scaled to a standard deviation of one."""
    chi_squared = dice.gammavariate(TAIL_FREEDOM / 2, 2)
    return dice.gauss(0, 1) / math.sqrt(chi_squared / TAIL_FREEDOM) / math.sqrt(TAIL_FREEDOM / (TAIL_FREEDOM - 2))


def _dice(seed: int, *names: str) -> Random:
    return Random("\x1f".join([str(seed), *names]))
