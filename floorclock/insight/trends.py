"""A coach's view over weeks: which sessions and stations make people fade, who comes, who holds, what gets easier.

Invariant: nothing is called a trend, and nothing is ranked, on fewer cases than is said here; a share stands with the span it is
known to, and is ranked by a share that few cases cannot move far.

A case is one athlete in one class (or at one station of it) who was tapped or did not finish. The same people come again, so the
spans are a little too narrow: they are for a coach's eye, not for proof.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from floorclock.insight.athlete import monday_of
from floorclock.insight.intervals import BY_CHANCE, Course, Interval, course, wilson
from floorclock.insight.tallies import NOBODY, ClassTally, StationTally, Tally, class_tallies, people_there, station_tallies
from floorclock.pace.load import DAYS_OF_WEEK
from floorclock.store import ask
from floorclock.store.answers import StationOf
from floorclock.store.engine import Store

WEEKS_SHOWN = 12
"""The view goes so far back, where nobody asks for more."""
LEAST_CASES = 10
"""Fewer cases say nothing of a session or a station."""
LEAST_CASES_OF_A_CLASS = 5
"""Fewer cases make no share of a class or a week."""
LEAST_CLASSES = 6
MOST_CLASSES = 60
"""A course is that of the newest so many classes of a session."""
WORTH = 10
"""What all cases together say of a share counts like so many cases of its own."""
MS = 1000
_EARLIEST, _LATEST = date(1970, 1, 2), date(9000, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """One session (`part` and `move` are empty then), or one station of it, and what it does to people.

    `flagged` is the share (0..1) of cases with any flag with its Wilson interval (80 %); `shrunk` the same share drawn
    towards that of all, which is what it is ranked by. `drift_percent` is by how much a split grows with each round.
    """

    session: str
    part: str = ""
    move: str = ""
    classes: int
    tally: Tally
    flagged: Interval
    shrunk: float
    drift_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekTally:
    """Monday to Sunday: how many classes, how many times somebody came, and the tally of who was measured."""

    monday: date
    classes: int
    visits: int
    tally: Tally

    @property
    def week(self) -> str:
        """The week by its number, `2026-W09` (ISO 8601)."""
        year, number, _ = self.monday.isocalendar()
        return f"{year}-W{number:02d}"

    @property
    def held(self) -> float | None:
        """The share (0..1) that held margin and pace; None where too few were measured."""
        return self.tally.held / self.tally.cases if self.tally.cases >= LEAST_CASES_OF_A_CLASS else None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationCourse:
    """One station of a session from class to class: the course of its median rest, in seconds.

    Who did not finish has no rest: `not_finished` says how many cases that were, in these classes.
    """

    session: str
    part: str
    move: str
    course: Course
    not_finished: int = 0

    @property
    def words(self) -> str:
        """`easier` where people have more rest left than they had, `harder` where less; else `cannot be told`."""
        if not self.course.is_told:
            return "cannot be told"
        return "easier" if self.course.change > 0 else "harder"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trends:
    """From `since` to the day before `until`. `sessions` and `stations` have the hardest first; those with too few cases are
    counted in `too_few_sessions` and `too_few_stations`. `held` is the course of the share that held (0..1), from class to class
    within each session.
    """

    since: date | None
    until: date | None
    classes: int
    visits: int
    people: int
    tally: Tally
    weeks: tuple[WeekTally, ...]
    held: Course | None
    sessions: tuple[Ranked, ...]
    stations: tuple[Ranked, ...]
    too_few_sessions: int
    too_few_stations: int
    courses: tuple[StationCourse, ...]

    @property
    def changed(self) -> tuple[StationCourse, ...]:
        """The stations that got easier or harder, the largest change first."""
        found = [one for one in self.courses if one.course.is_told]
        return tuple(sorted(found, key=lambda one: -abs(one.course.change)))

    @property
    def changed_by_chance(self) -> float:
        """How many would be told so if nothing had changed at any of them."""
        return BY_CHANCE * len(self.courses)


def trends(store: Store, since: date | None = None, until: date | None = None) -> Trends:
    """What classes from day `since` on and before day `until` show; without them, all classes.

    Days begin at midnight of this machine's zone.

    Raises:
        ResourceError: the store refuses.
    """
    first, past = _midnight(since), _midnight(until)
    every = class_tallies(store, first, past)
    fared = ask.station_rows(store, since=first, until=past)
    whole = sum((one.tally for one in every), NOBODY)
    by_session: dict[str, list[ClassTally]] = {}
    for one in every:
        by_session.setdefault(one.session, []).append(one)
    sessions = [
        StationTally(
            session=title,
            part="",
            move="",
            classes=sum(one.tally.cases > 0 for one in here),
            tally=sum((one.tally for one in here), NOBODY),
        )
        for title, here in by_session.items()
    ]
    sessions = [one for one in sessions if one.tally.cases]
    stations = station_tallies(store, first, past)
    return Trends(
        since=since,
        until=until,
        classes=len(every),
        visits=sum(one.athletes for one in every),
        people=people_there(store, first, past),
        tally=whole,
        weeks=weeks_of(every),
        held=held_course(every),
        sessions=ranked(sessions),
        stations=ranked(stations, _drifts(fared)),
        too_few_sessions=sum(one.tally.cases < LEAST_CASES for one in sessions),
        too_few_stations=sum(one.tally.cases < LEAST_CASES for one in stations),
        courses=courses_of(fared),
    )


def ranked(tallies: Sequence[StationTally], drifts: Mapping[tuple[str, str, str], float] | None = None) -> tuple[Ranked, ...]:
    """Those with enough cases, the hardest first."""
    cases = sum(one.tally.cases for one in tallies)
    usual = sum(one.tally.flagged for one in tallies) / cases if cases else 0.0
    found = [
        Ranked(
            session=one.session,
            part=one.part,
            move=one.move,
            classes=one.classes,
            tally=one.tally,
            flagged=wilson(one.tally.flagged, one.tally.cases),
            shrunk=shrunk(one.tally.flagged, one.tally.cases, usual),
            drift_percent=(drifts or {}).get((one.session, one.part, one.move)),
        )
        for one in tallies
        if one.tally.cases >= LEAST_CASES
    ]
    return tuple(sorted(found, key=lambda one: (-one.shrunk, one.session, one.part, one.move)))


def shrunk(count: int, of: int, usual: float) -> float:
    """A share drawn towards the usual one, the more so the fewer cases there are: the mean of a beta distribution.

    The prior is worth `WORTH` cases (common practice, no source).
    """
    return (count + WORTH * usual) / (of + WORTH)


def weeks_of(every: Iterable[ClassTally]) -> tuple[WeekTally, ...]:
    """Every week from the first class to the last one, also those without a class."""
    by_monday: dict[date, list[ClassTally]] = {}
    for one in every:
        by_monday.setdefault(monday_of(one.started.date()), []).append(one)
    if not by_monday:
        return ()
    first, last = min(by_monday), max(by_monday)
    mondays = (first + timedelta(days=days) for days in range(0, (last - first).days + 1, DAYS_OF_WEEK))
    return tuple(
        WeekTally(
            monday=monday,
            classes=len(here),
            visits=sum(one.athletes for one in here),
            tally=sum((one.tally for one in here), NOBODY),
        )
        for monday in mondays
        for here in [by_monday.get(monday, [])]
    )


def held_course(every: Iterable[ClassTally]) -> Course | None:
    """Whether the share that held rises or falls, classes compared with others of the same session; None from too few classes."""
    series: dict[str, list[tuple[int, float]]] = {}
    for one in every:
        if one.tally.cases >= LEAST_CASES_OF_A_CLASS:
            series.setdefault(one.session, []).append((one.started.date().toordinal(), one.tally.held / one.tally.cases))
    repeated = [here[-MOST_CLASSES:] for here in series.values() if len(here) > 1]
    return course(repeated) if sum(map(len, repeated)) >= LEAST_CLASSES else None


def courses_of(fared: Iterable[StationOf]) -> tuple[StationCourse, ...]:
    """The course of the median rest at each station that enough classes were at; `fared` has the oldest first."""
    series: dict[tuple[str, str, int, str], list[StationOf]] = {}
    for one in fared:
        key = (one.session, one.station.part_title, one.station.station, one.station.move)
        series.setdefault(key, []).append(one)
    found = []
    for (session, part, _, move), here in series.items():
        newest = here[-MOST_CLASSES:]
        rests = [(one.started.date().toordinal(), one.station.median_rest_ms) for one in newest]
        told = [(day, rest / MS) for day, rest in rests if rest is not None]
        made = course([told]) if len(told) >= LEAST_CLASSES else None
        if made is not None:
            unfinished = sum(one.station.not_finished for one in newest)
            found.append(StationCourse(session=session, part=part, move=move, course=made, not_finished=unfinished))
    return tuple(found)


def _drifts(fared: Iterable[StationOf]) -> dict[tuple[str, str, str], float]:
    """The mean drift at each station in per cent, classes weighted by their splits."""
    sums: dict[tuple[str, str, str], tuple[float, int]] = {}
    for one in fared:
        row = one.station
        if row.mean_drift is not None:
            key = (one.session, row.part_title, row.move)
            total, splits = sums.get(key, (0.0, 0))
            sums[key] = total + row.mean_drift * row.tapped, splits + row.tapped
    return {key: 100 * total / splits for key, (total, splits) in sums.items() if splits}


def _midnight(day: date | None) -> datetime | None:
    """No class is older or newer than these bounds, at which no zone leads out of the calendar."""
    return None if day is None else datetime.combine(min(max(day, _EARLIEST), _LATEST), time()).astimezone()
