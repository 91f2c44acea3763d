"""The work that a class has before it, with how long each athlete is likely to take: from history where there is some.

Invariant: a forecast from history is the one that the targets rest on; where nobody in the class has done the work before, it is
the usual pace of the move, and far less sure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Coming
from floorclock.clock.state import ClassState
from floorclock.clock.tally import whole_part
from floorclock.pace.model.forecast import USUAL_DRIFT, USUAL_DRIFT_SD, ClassFit, Forecast, fit_class, made
from floorclock.pace.prior import Prior
from floorclock.plan.roster import Assignment
from floorclock.plan.session import ForTime, Windowed
from floorclock.plan.shares import pattern_of
from floorclock.plan.work import Station
from floorclock.simulate.athletes import target_of, usual_s
from floorclock.simulate.coach import LONGEST_MS, course_of, whose_turn

GUESS_SD, GUESS_CHANCE_SD = 0.18, 0.06
"""How far off a usual pace may be for somebody, and one split of it: logarithms, common practice, no source."""


Work = tuple[Coming, Assignment, str]
"""A slot, what is done in it, and its pattern."""


@dataclass(frozen=True)
class AthleteWork:
    """One athlete's work in a part, in order. `guessed` are those of it that rest on no history at all."""

    name: str
    ahead: tuple[Forecast, ...]
    guessed: tuple[bool, ...]

    @cached_property
    def stations(self) -> tuple[int, ...]:
        """Where they work, in the order of the plan."""
        return tuple(sorted({forecast.slot.station for forecast in self.ahead}))

    @cached_property
    def at_station(self) -> npt.NDArray[np.int_]:
        """Which of the stations each interval is at."""
        return np.array([self.stations.index(forecast.slot.station) for forecast in self.ahead])


@dataclass(frozen=True, slots=True)
class TimedWork:
    """Work for time, of one athlete or of a team. `rounds` are the places of each member's rounds in their row, [first, past)."""

    members: tuple[AthleteWork, ...]
    rounds: tuple[tuple[tuple[int, int], ...], ...]
    delay_s: float
    rest_s: float


def work_by_athlete(state: ClassState, run: PartRun, prior: Prior) -> tuple[AthleteWork, ...]:
    """Everybody's work in a part timed by splits; of a team, each has the intervals in which it is their turn."""
    assert isinstance(run.part, Windowed)
    fit, part, intervals = fit_class((), prior), run.part, run.timeline.intervals
    teams = state.teams(run.index) or [(name,) for name in state.athletes]
    found = {}
    for team in teams:
        for name in team:
            slots = [slot for slot in whole_part(state, run, name) if whose_turn(part, intervals[slot.interval], team) == name]
            work = [_work_of(state, name, slot, part.stations[slot.station]) for slot in slots if slot.amount > 0]
            if work:
                found[name] = _row(state, fit, name, work)
    return tuple(found[name] for name in state.athletes if name in found)


def work_for_time(state: ClassState, run: PartRun, prior: Prior) -> tuple[TimedWork, ...]:
    """Everybody's work in a part for time."""
    assert isinstance(run.part, ForTime)
    fit = fit_class((), prior)
    found = []
    for team in state.teams(run.index) or [(name,) for name in state.athletes]:
        lined_up = [_lined_up(state, run.index, name) for name in team]
        rows = tuple(_row(state, fit, name, work) for name, (work, _) in zip(team, lined_up, strict=True))
        rounds = tuple(tuple(pairwise(ends)) for _, ends in lined_up)
        rest_s = run.part.round_rest_ms / 1000 * (len(rounds[0]) - 1)
        if rows[0].ahead:
            found.append(TimedWork(rows, rounds, state.start_delay_ms(team[0], run) / 1000, rest_s))
    return tuple(found)


def _work_of(state: ClassState, name: str, slot: Coming, station: Station) -> Work:
    work = state.assigned(name, station)
    return slot, work, pattern_of(station, work)


def _row(state: ClassState, fit: ClassFit, name: str, work: Sequence[Work]) -> AthleteWork:
    known = fit.pace_of(name, ()).forecasts([slot for slot, _, _ in work])
    level = state.athletes[name].level
    ahead = tuple(
        _guess(slot, assigned, level, pattern) if forecast is None else forecast
        for forecast, (slot, assigned, pattern) in zip(known, work, strict=True)
    )
    return AthleteWork(name, ahead, tuple(forecast is None for forecast in known))


def _guess(slot: Coming, work: Assignment, level: str, pattern: str) -> Forecast:
    """A usual pace for a level, slowing down as people usually do."""
    later = slot.round - 1
    variance = GUESS_SD**2 + (USUAL_DRIFT_SD * later) ** 2
    sd = math.sqrt(variance + GUESS_CHANCE_SD**2)
    log_s = math.log(usual_s(work, slot.amount, slot.unit, level, pattern)) + USUAL_DRIFT * later
    amount = float(slot.amount)
    return made(slot, log_s, sd, variance / sd**2, amount, amount)


def _lined_up(state: ClassState, index: int, name: str) -> tuple[list[Work], list[int]]:
    """What somebody has to do for time, item by item, and the places where rounds end, from 0 on."""
    course = course_of(state, index, name)
    work: list[Work] = []
    ends = [0]
    places: dict[str, int] = {}
    for number in range(1, (course.rounds or 0) + 1):
        before, after = course.buy_in * (number == 1), course.cash_out * (number == course.rounds)
        for item in (*before, *course.work, *after):
            target = target_of(item)
            slot = Coming(
                athlete=name,
                part=index,
                interval=len(work),
                # Nobody stops between rounds here, so that the drift of a minute with rest in it is too much: half of it.
                round=(number + 1) // 2,
                station=places.setdefault(item.move, len(places)),
                window_ms=LONGEST_MS,
                margin_ms=0,
                move=item.move,
                amount=target.in_round(number),
                unit=target.unit,
            )
            if slot.amount > 0:
                work.append((slot, item, ""))
        ends.append(len(work))
    return work, ends
