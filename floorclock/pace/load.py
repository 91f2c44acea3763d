"""Session load: how hard times how long.

Invariant: no effort, no load; what is not defined is said to be so, and never a number.

Load is effort times minutes; monotony is the mean of seven daily loads over their standard deviation, strain the load of the
week times the monotony, and a day of rest counts as 0 (Foster 1998, Medicine and Science in Sports and Exercise
30:1164-1168; Foster et al. 2001, Journal of Strength and Conditioning Research 15:109-115). The sources do not say which
standard deviation: it is the sample one here (n - 1). These are entries of a diary; nothing follows from them for anybody's
health.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState

DAYS_OF_WEEK = 7
MINUTE_MS = 60_000
CAUTION = (
    "Effort is the athlete's own word, and load is that word times minutes: a diary, no measure of health and no medical advice."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionLoad:
    """One athlete's class: `effort` from 0 to 10 (None where it was not rated) and the minutes they were in it."""

    name: str
    effort: float | None
    minutes: float

    @property
    def load(self) -> float | None:
        """Effort times minutes (Foster 1998); None without an effort."""
        return None if self.effort is None else self.effort * self.minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLoad:
    """One day of one athlete: how many classes they were in, and how many of those they did not rate."""

    day: date
    load: float = 0.0
    """The sum of the classes that were rated."""
    classes: int = 0
    unrated: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekLoad:
    """Seven days of one athlete, the oldest first.

    `load` is the sum of what was rated. `monotony` and `strain` are None where they are not defined or where a class was not
    rated; `because` then says why, and is empty otherwise.
    """

    days: tuple[DayLoad, ...]
    load: float
    monotony: float | None = None
    strain: float | None = None
    because: str = ""

    @property
    def rest_days(self) -> int:
        """How many of the days had no class; a day with an unrated one is unknown, never rest."""
        return sum(day.classes == 0 for day in self.days)

    @property
    def unrated(self) -> int:
        """How many classes of the week have no effort; with 0, `load` is all of it."""
        return sum(day.unrated for day in self.days)


def session_loads(state: ClassState) -> tuple[SessionLoad, ...]:
    """Everybody's class, in the order of the board; who did not rate it has no effort.

    Minutes run on the class clock from the start of the first part to the end of the last one that was begun, so a pause is
    not counted, and what lies between two parts is. A latecomer counts from their first interval, who left until the end of
    their last one. A class from paper has the times that the plan gives its parts, or the length that somebody said.
    """
    if not state.runs:
        return tuple(SessionLoad(name=name, effort=state.efforts.get(name), minutes=0.0) for name in state.athletes)
    begin_ms, end_ms = state.runs[0].begun_ms, _end_ms(state, state.runs[-1])
    if state.said_length_ms is not None:
        end_ms = begin_ms + state.said_length_ms
    found = []
    for name in state.athletes:
        left_ms = min(end_ms, _place_ms(state, state.away[name])) if name in state.away else end_ms
        here_ms = left_ms - begin_ms
        for first, back in state.absences.get(name, ()):
            here_ms -= _place_ms(state, back) - _place_ms(state, first)
        found.append(SessionLoad(name=name, effort=state.efforts.get(name), minutes=max(0, here_ms) / MINUTE_MS))
    return tuple(found)


def week_load(classes: Iterable[tuple[date, SessionLoad]], last_day: date) -> WeekLoad:
    """The seven days of one athlete that end with `last_day`; classes of other days are left out."""
    by_day: dict[date, list[SessionLoad]] = {last_day - timedelta(days=back): [] for back in range(DAYS_OF_WEEK - 1, -1, -1)}
    for day, session in classes:
        if day in by_day:
            by_day[day].append(session)
    days = tuple(_day(day, here) for day, here in by_day.items())
    loads = [day.load for day in days]
    week = math.fsum(loads)
    because = _why_undefined(days, loads)
    if because:
        return WeekLoad(days=days, load=week, because=because)
    mean = week / DAYS_OF_WEEK
    monotony = mean / math.sqrt(math.fsum((load - mean) ** 2 for load in loads) / (DAYS_OF_WEEK - 1))
    return WeekLoad(days=days, load=week, monotony=monotony, strain=week * monotony)


def _day(day: date, here: list[SessionLoad]) -> DayLoad:
    rated = [session.load for session in here if session.load is not None]
    return DayLoad(day=day, load=math.fsum(rated), classes=len(here), unrated=len(here) - len(rated))


def _why_undefined(days: tuple[DayLoad, ...], loads: list[float]) -> str:
    unrated = sum(day.unrated for day in days)
    if unrated:
        classes = "a class" if unrated == 1 else f"{unrated} classes"
        return f"{classes} of the week without an effort, so the week is not known in full"
    if not any(loads):
        return "no load in these seven days, so monotony and strain have no value"
    if math.isclose(min(loads), max(loads)):
        return "every day had the same load, so monotony and strain have no value"
    return ""


def _end_ms(state: ClassState, run: PartRun) -> int:
    return state.now_ms if run.ended_ms is None else run.ended_ms


def _place_ms(state: ClassState, place: tuple[int, int]) -> int:
    """The class time at which an interval of a part began; where it never did, the end of what was run."""
    part, interval = place
    run = state.run_of(part)
    if run is None:
        return _end_ms(state, state.runs[-1])
    if interval == 0:
        return run.begun_ms
    end_ms = _end_ms(state, run)
    if interval >= len(run.timeline.intervals):
        return end_ms
    return min(end_ms, _reached_ms(run, run.timeline.intervals[interval].start_ms))


def _reached_ms(run: PartRun, position_ms: int) -> int:
    """The class time at which a part first stood at a position, or was put beyond it."""
    pasts = [*(stretch.from_ms for stretch in run.stretches[1:]), math.inf]
    reached = [max(stretch.from_ms, stretch.moves_from_ms + position_ms - stretch.position_ms) for stretch in run.stretches]
    return min(there_ms for there_ms, past_ms in zip(reached, pasts, strict=True) if there_ms < past_ms)
