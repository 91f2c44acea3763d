"""Many rehearsals of one class at once: how likely each round keeps the margin, and when the last one is done.

Invariant: a single chance is that of the forecast (`Forecast.chance_tight`), so that a rehearsal never says anything else than
the targets and the floor. What somebody draws follows from the seed and their name alone: who else is there changes nothing, and
two plans are compared with the same luck. Chances are shares of all rehearsals, 0..1.

The logarithm of a split is the middle of its forecast plus its sd times luck. Of the luck that rounds have in common a part is
the day's, which all people share (a hot room, a late hour), a part the athlete's everywhere, the rest theirs at the station; what
rounds do not have in common is drawn for each. People rehearsed independently of each other make a class look too certain.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState
from floorclock.pace.model.forecast import Forecast
from floorclock.pace.prior import Prior
from floorclock.plan.session import ForTime, Rotation, Windowed
from floorclock.plan.totals import count_in_ms, planned_ms
from floorclock.plan.work import station_names
from floorclock.simulate.ahead import AthleteWork, TimedWork, work_by_athlete, work_for_time

if TYPE_CHECKING:
    from numpy.random import Generator

Logs = npt.NDArray[np.float32]

# How the luck that rounds share is divided: common practice, no source.
DAY, PERSON = 0.3, 0.3
GUESSED_DAY = 0.5
"""Where nobody has done the work before, the guess at its pace is wrong for everybody alike."""
BATCH = 10_000
"""So many rehearsals are played at a time: their numbers stay in the processor's cache."""
MS = 1000
Progress = Callable[[int, int], None]
"""Called with how much has been played, and of how much."""


@dataclass(frozen=True, slots=True)
class Span:
    """The middle (median) of what the rehearsals came to, and what 80 of 100 lie between."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StationChance:
    """How likely (0..1) less than the margin is left in each of an athlete's `rounds` at a station, and in `any` of them.

    `written` is what the plan calls the station, `move` what they do there.
    """

    station: int
    written: str
    move: str
    rounds: tuple[int, ...]
    chances: tuple[float, ...]
    any: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteChance:
    """One athlete in a part: `any` is the chance of at least one round under the margin. `guessed`: without any history."""

    name: str
    any: float
    guessed: bool
    stations: tuple[StationChance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """Who does a piece of work for time alone or as a team: how likely under the cap, and after how many seconds."""

    name: str
    team: tuple[str, ...]
    guessed: bool
    in_time: float
    finish_s: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class PartChances:
    """One part: `athletes` where it is timed by splits, `finishes` where it is for time.

    `in_trouble` is how many athletes drop under the margin at least once in one class (with `until_out`, are out before its end);
    `last_s` when the last one is done, or the cap came.
    """

    part: int
    title: str
    kind: str
    until_out: bool = False
    athletes: tuple[AthleteChance, ...] = ()
    in_trouble: Span | None = None
    finishes: tuple[Finish, ...] = ()
    last_s: Span | None = None

    @property
    def is_guessed(self) -> bool:
        """Whether anybody's work in it rests on no earlier class."""
        return any(athlete.guessed for athlete in self.athletes) or any(finish.guessed for finish in self.finishes)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassChances:
    """Some rehearsals of a class. `hour_s` is the whole of it, count-ins included, a part for time ended by its last athlete."""

    times: int
    seed: int
    parts: tuple[PartChances, ...]
    hour_s: Span


def rehearse_many(
    state: ClassState, prior: Prior, times: int, seed: int, progress: Progress = lambda done, of: None
) -> ClassChances:
    """Plays a class that has not begun so many times.

    Args:
        state: from `new_state`.
        prior: what earlier classes say of its athletes; who has none does the work at a usual pace, which is less sure.
        times: how many rehearsals.
        seed: another number, other luck.
        progress: told after each athlete.
    """
    tallies: list[_Rows | _Pieces] = []
    fixed_ms = 0
    for index, part in enumerate(state.session.parts):
        run = state.planned_run(index)
        fixed_ms += count_in_ms(part, state.session)
        made = _tally(state, run, prior)
        tallies += [made] if made is not None else []
        if made is None or not made.ends_early:
            fixed_ms += planned_ms(part) if run.timeline.length_ms is None else run.timeline.length_ms
    batches, done = range(0, times, BATCH), count(1)
    steps = len(batches) * sum(tally.steps for tally in tallies)

    def told() -> None:
        progress(next(done), steps)

    batch_dice = (_Dice(seed, number, min(BATCH, times - first), told) for number, first in enumerate(batches))
    hours = [_play(tallies, dice, fixed_ms / MS) for dice in batch_dice]
    parts = tuple(tally.chances(times) for tally in tallies)
    return ClassChances(times=times, seed=seed, parts=parts, hour_s=_span(np.concatenate(hours)))


def _tally(state: ClassState, run: PartRun, prior: Prior) -> _Rows | _Pieces | None:
    """The part to be played; None where nothing in it is left to chance."""
    if isinstance(run.part, ForTime):
        pieces = work_for_time(state, run, prior)
        return _Pieces(run, pieces) if pieces else None
    rows = work_by_athlete(state, run, prior) if isinstance(run.part, Windowed) else ()
    return _Rows(run, rows) if rows else None


def _play(tallies: Sequence[_Rows | _Pieces], dice: _Dice, fixed_s: float) -> Logs:
    """One batch; how long each class is."""
    hour = np.full(dice.times, fixed_s, np.float32)
    for tally in tallies:
        last = tally.play(dice)
        if last is not None:
            hour += last
    return hour


class _Dice:
    """The dice of one batch."""

    def __init__(self, seed: int, batch: int, times: int, told: Callable[[], None]) -> None:
        self.times, self._told, self._seed = times, told, (seed, batch)
        self._day = self._dice("").standard_normal(times, np.float32)

    def _dice(self, name: str, part: int = -1) -> Generator:
        words = [*self._seed, part + 1, zlib.crc32(name.encode())]
        return np.random.Generator(np.random.SFC64(np.random.SeedSequence(words)))

    def logs(self, row: AthleteWork, part: int) -> Logs:
        """The logarithms of the seconds of somebody's work, (interval, rehearsal)."""
        ahead, dice = row.ahead, self._dice(row.name, part)
        person = self._dice(row.name).standard_normal(self.times, np.float32)
        stations = dice.standard_normal((len(row.stations), self.times), np.float32)
        found = dice.standard_normal((len(ahead), self.times), np.float32)
        for luck, forecast, guessed, place in zip(found, ahead, row.guessed, row.at_station, strict=True):
            day = GUESSED_DAY if guessed else DAY
            shares = forecast.shared * np.array([day, PERSON, 1 - day - PERSON])
            on_day, on_person, on_station = (forecast.sd * np.sqrt(shares)).astype(np.float32)
            luck *= np.float32(forecast.sd * math.sqrt(1 - forecast.shared))
            luck += on_day * self._day + on_person * person + on_station * stations[place] + np.float32(forecast.log_s)
        self._told()
        return found


class _Rows:
    """A part timed by splits, counted up batch by batch."""

    def __init__(self, run: PartRun, work: tuple[AthleteWork, ...]) -> None:
        self.run, self.work, self.steps = run, work, len(work)
        self.ends_early = isinstance(run.part, Rotation) and run.part.until_out
        self._tight = [np.zeros(len(row.ahead), np.int64) for row in work]
        self._at_station = [np.zeros(len(row.stations), np.int64) for row in work]
        self._once = np.zeros(len(work), np.int64)
        self._in_trouble: list[Logs] = []

    def play(self, dice: _Dice) -> Logs | None:
        """One batch; when the last one is out, where the part goes on until then."""
        in_trouble = np.zeros(dice.times, np.float32)
        last = np.zeros(dice.times, np.float32) if self.ends_early else None
        for at, row in enumerate(self.work):
            tight = dice.logs(row, self.run.index) > _room(row.ahead)
            if last is not None:
                np.logical_or.accumulate(tight, axis=0, out=tight)
                np.maximum(last, self._ends_s(row)[np.count_nonzero(~tight, axis=0)], out=last)
            here = np.array([tight[row.at_station == place].any(axis=0) for place in range(len(row.stations))])
            self._tight[at] += np.count_nonzero(tight, axis=1)
            self._at_station[at] += np.count_nonzero(here, axis=1)
            once = here.any(axis=0)
            self._once[at] += np.count_nonzero(once)
            in_trouble += once
        self._in_trouble.append(in_trouble)
        return last

    def _ends_s(self, row: AthleteWork) -> Logs:
        """When an athlete is done who is out in the first, the second, ... of their intervals, or in none."""
        ends = [self.run.timeline.intervals[forecast.slot.interval].end_ms for forecast in row.ahead]
        return np.array([*ends, self.run.timeline.length_ms or 0], np.float32) / np.float32(MS)

    def chances(self, times: int) -> PartChances:
        """What it came to."""
        part = self.run.part
        return PartChances(
            part=self.run.index,
            title=part.title,
            kind=part.kind,
            until_out=self.ends_early,
            athletes=tuple(self._athlete(at, times) for at in range(len(self.work))),
            in_trouble=_span(np.concatenate(self._in_trouble)),
        )

    def _athlete(self, at: int, times: int) -> AthleteChance:
        row, names = self.work[at], station_names(self.run.part.stations)
        stations = []
        for place, station in enumerate(row.stations):
            own = np.flatnonzero(row.at_station == place).tolist()
            stations.append(
                StationChance(
                    station=station,
                    written=names[station],
                    move=row.ahead[own[0]].slot.move,
                    rounds=tuple(row.ahead[interval].slot.round for interval in own),
                    chances=tuple(_share(self._tight[at][interval], times) for interval in own),
                    any=_share(self._at_station[at][place], times),
                )
            )
        return AthleteChance(name=row.name, any=_share(self._once[at], times), guessed=any(row.guessed), stations=tuple(stations))


class _Pieces:
    """A part for time."""

    ends_early = True

    def __init__(self, run: PartRun, work: tuple[TimedWork, ...]) -> None:
        assert isinstance(run.part, ForTime)
        self.run, self.part, self.work = run, run.part, work
        self.steps = sum(len(piece.members) for piece in work)
        self._own: list[list[Logs]] = [[] for _ in work]
        self._last: list[Logs] = []

    def play(self, dice: _Dice) -> Logs:
        """One batch; when the last one is done, or the cap came."""
        last = np.zeros(dice.times, np.float32)
        for piece, so_far in zip(self.work, self._own, strict=True):
            own = self._together([self._rounds(dice, *member) for member in zip(piece.members, piece.rounds, strict=True)])
            own += np.float32(piece.rest_s)
            so_far.append(own)
            np.maximum(last, np.minimum(own, self.part.cap_ms / MS) + piece.delay_s, out=last)
        self._last.append(last)
        return last

    def _rounds(self, dice: _Dice, row: AthleteWork, places: Sequence[tuple[int, int]]) -> list[Logs]:
        """How long each round takes one of those who do a piece together."""
        seconds = np.exp(dice.logs(row, self.run.index))
        return [seconds[first:past].sum(axis=0) for first, past in places]

    def _together(self, rounds: Sequence[list[Logs]]) -> Logs:
        """How long all rounds take: each in turn, all at once (the slowest counts), or shared (what it takes them on average)."""
        if self.part.turns == "each round":
            taken = np.array([rounds[number % len(rounds)][number] for number in range(len(rounds[0]))])
        elif self.part.turns == "same time":
            taken = np.maximum.reduce(rounds)
        else:
            taken = np.add.reduce(rounds) / np.float32(len(rounds))
        return np.asarray(taken.sum(axis=0), np.float32)

    def chances(self, times: int) -> PartChances:
        """What it came to."""
        finishes = []
        for piece, batches in zip(self.work, self._own, strict=True):
            own = np.concatenate(batches)
            names = tuple(row.name for row in piece.members)
            finishes.append(
                Finish(
                    name=names[0],
                    team=names if len(names) > 1 else (),
                    guessed=any(any(row.guessed) for row in piece.members),
                    in_time=_share(np.count_nonzero(own <= self.part.cap_ms / MS), times),
                    finish_s=_span(own),
                )
            )
        part, last = self.part, _span(np.concatenate(self._last))
        return PartChances(part=self.run.index, title=part.title, kind=part.kind, finishes=tuple(finishes), last_s=last)


def _room(ahead: Sequence[Forecast]) -> Logs:
    """The logarithm of the seconds that leave just the margin, one row each; where there are none, nothing leaves it."""
    room_s = np.array([(forecast.slot.window_ms - forecast.slot.margin_ms) / MS for forecast in ahead], np.float32)
    return np.log(np.maximum(room_s, 1e-30, dtype=np.float32))[:, None]


def _share(many: int | np.integer[Any], times: int) -> float:
    return round(int(many) / times, 4)


def _span(values: Logs) -> Span:
    low, middle, high = (round(float(value), 1) for value in np.quantile(values, (0.1, 0.5, 0.9)))
    return Span(low, middle, high)
