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
from typing import Any, ClassVar, Final

from floorclock.insight.as_json import ANSWER, Figure
from floorclock.insight.athlete import week_name
from floorclock.insight.lifts import monday_of
from floorclock.insight.statistics import BY_CHANCE, SHARE_OF_SHARES, OverTime, over_time, wilson
from floorclock.pace.load import DAYS_OF_WEEK
from floorclock.store.questions import StationOf, station_rows
from floorclock.store.store import Store
from floorclock.store.tallies import ClassTally, StationTally, Tally, class_tallies, people_there, station_tallies, total

WEEKS_SHOWN: Final = 12
"""The view goes so far back, where nobody asks for more."""
LEAST_CASES: Final = 10
"""Fewer cases say nothing of a session or a station."""
LEAST_CASES_OF_A_CLASS: Final = 5
"""Fewer cases make no share of a class or a week."""
LEAST_CLASSES: Final = 6
MOST_CLASSES: Final = 60
"""A trend is that of the newest so many classes of a session."""
WORTH: Final = 10
"""What all cases together say of a share counts like so many cases of its own."""
UNTOLD: Final = "too close to call"
MS: Final = 1000
_EARLIEST, _LATEST = date(1970, 1, 2), date(9000, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedSession(Tally):
    """One session, and what it does to people.

    `flagged_share` is the share (0..1) of cases with any flag with its Wilson interval (80 %); `ranked_by` the same share drawn
    towards that of all.
    """

    session: str
    classes: int
    flagged_share: Figure[float]
    low: Figure[float]
    high: Figure[float]
    ranked_by: Figure[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedStation(RankedSession):
    """One station of it; the drift is by how much a split grows with each round there."""

    part: str
    move: str
    drift_percent_per_round: Figure[float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekTally(Tally):
    """Monday to Sunday: how many classes, how many times somebody came, and the tally of who was measured.

    `held_share` (0..1) held margin and pace; None where too few were measured.
    """

    week: str
    monday: date
    classes: int
    visits: int
    held_share: Figure[float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldTrend:
    """Whether the share that held `rises` or `falls` from class to class within each session, by `change` (0..1) in `days`."""

    says: str
    change: Figure[float]
    days: int
    classes: int
    p: Figure[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StationTrend:
    """One station of a session from class to class: by how many seconds its median rest changed in `days`.

    It `says` `easier` where people have more rest left than they had, `harder` where less. Who did not finish has no rest:
    `not_finished` says how many cases that were, in these classes.
    """

    session: str
    part: str
    move: str
    says: str
    rest_change_s: Figure[float]
    days: int
    classes: int
    p: Figure[float]
    not_finished: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFew:
    """How many had too few cases to be ranked."""

    sessions: int
    stations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Trends:
    """From `since` to the day before `until`. `sessions` and `stations` have the hardest first; spans are for a `share` of cases.

    If nothing had changed at any station, `expected_by_chance` of the `station_trends` would say so.
    """

    since: date | None
    until: date | None
    classes: int
    visits: int
    people: int
    all: Tally
    share: float = SHARE_OF_SHARES
    weeks: tuple[WeekTally, ...]
    held_trend: HeldTrend | None
    sessions: tuple[RankedSession, ...]
    stations: tuple[RankedStation, ...]
    too_few: TooFew
    station_trends: tuple[StationTrend, ...]
    expected_by_chance: Figure[float]
    __pydantic_config__: ClassVar[dict[str, Any]] = ANSWER

    @property
    def changed(self) -> tuple[StationTrend, ...]:
        """The stations that got easier or harder, the largest change first."""
        found = [trend for trend in self.station_trends if trend.says != UNTOLD]
        return tuple(sorted(found, key=lambda trend: -abs(trend.rest_change_s)))


def trends(store: Store, since: date | None = None, until: date | None = None) -> Trends:
    """What classes from day `since` on and before day `until` show; without them, all classes.

    Days begin at midnight of this machine's zone.

    Raises:
        ResourceError: the store refuses.
    """
    first, past = _midnight(since), _midnight(until)
    every = class_tallies(store, first, past)
    fared = station_rows(store, since=first, until=past)
    sessions = _by_session(every)
    stations = station_tallies(store, first, past)
    changes = station_trends(fared)
    return Trends(
        since=since,
        until=until,
        classes=len(every),
        visits=sum(tally.athletes for tally in every),
        people=people_there(store, first, past),
        all=total(every),
        weeks=weeks_of(every),
        held_trend=held_trend(every),
        sessions=ranked_sessions(sessions),
        stations=ranked_stations(stations, _drifts(fared)),
        too_few=TooFew(
            sessions=sum(tally.cases < LEAST_CASES for tally in sessions),
            stations=sum(tally.cases < LEAST_CASES for tally in stations),
        ),
        station_trends=changes,
        expected_by_chance=BY_CHANCE * len(changes),
    )


def _by_session(every: Iterable[ClassTally]) -> list[StationTally]:
    """The sessions in which anybody was measured, each as one station."""
    by_session: dict[str, list[ClassTally]] = {}
    for tally in every:
        if tally.cases:
            by_session.setdefault(tally.session, []).append(tally)
    return [
        StationTally(session=title, part="", move="", classes=len(here), **total(here).counts())
        for title, here in by_session.items()
    ]


def ranked_sessions(tallies: Sequence[StationTally]) -> tuple[RankedSession, ...]:
    """Those with enough cases, the hardest first."""
    found = [RankedSession(**_ranked(tally, tallies)) for tally in tallies if tally.cases >= LEAST_CASES]
    return tuple(sorted(found, key=lambda ranked: (-ranked.ranked_by, ranked.session)))


def ranked_stations(tallies: Sequence[StationTally], drifts: Mapping[tuple[str, str, str], float]) -> tuple[RankedStation, ...]:
    """Those with enough cases, the hardest first; `drifts` are in per cent, by session, part and move."""
    found = [
        RankedStation(
            part=tally.part,
            move=tally.move,
            drift_percent_per_round=drifts.get((tally.session, tally.part, tally.move)),
            **_ranked(tally, tallies),
        )
        for tally in tallies
        if tally.cases >= LEAST_CASES
    ]
    return tuple(sorted(found, key=lambda ranked: (-ranked.ranked_by, ranked.session, ranked.part, ranked.move)))


def _ranked(tally: StationTally, everything: Sequence[StationTally]) -> dict[str, Any]:
    cases = sum(tally.cases for tally in everything)
    usual = sum(tally.flagged for tally in everything) / cases if cases else 0.0
    share = wilson(tally.flagged, tally.cases)
    return {
        "session": tally.session,
        "classes": tally.classes,
        "flagged_share": share.middle,
        "low": share.low,
        "high": share.high,
        "ranked_by": shrunk(tally.flagged, tally.cases, usual),
        **tally.counts(),
    }


def shrunk(count: int, of: int, usual: float) -> float:
    """A share drawn towards the usual one, the more so the fewer cases there are: the mean of a beta distribution.

    The prior is worth `WORTH` cases (common practice, no source).
    """
    return (count + WORTH * usual) / (of + WORTH)


def weeks_of(every: Iterable[ClassTally]) -> tuple[WeekTally, ...]:
    """Every week from the first class to the last one, also those without a class."""
    by_monday: dict[date, list[ClassTally]] = {}
    for tally in every:
        by_monday.setdefault(monday_of(tally.started.date()), []).append(tally)
    if not by_monday:
        return ()
    first, last = min(by_monday), max(by_monday)
    mondays = (first + timedelta(days=days) for days in range(0, (last - first).days + 1, DAYS_OF_WEEK))
    return tuple(_week(monday, by_monday.get(monday, [])) for monday in mondays)


def _week(monday: date, here: Sequence[ClassTally]) -> WeekTally:
    tally = total(here)
    return WeekTally(
        week=week_name(monday),
        monday=monday,
        classes=len(here),
        visits=sum(tally.athletes for tally in here),
        held_share=tally.held / tally.cases if tally.cases >= LEAST_CASES_OF_A_CLASS else None,
        **tally.counts(),
    )


def held_trend(every: Iterable[ClassTally]) -> HeldTrend | None:
    """Whether the share that held rises or falls, classes compared with others of the same session; None from too few classes."""
    series: dict[str, list[tuple[int, float]]] = {}
    for tally in every:
        if tally.cases >= LEAST_CASES_OF_A_CLASS:
            series.setdefault(tally.session, []).append((tally.started.date().toordinal(), tally.held / tally.cases))
    repeated = [here[-MOST_CLASSES:] for here in series.values() if len(here) > 1]
    made = over_time(repeated) if sum(map(len, repeated)) >= LEAST_CLASSES else None
    if made is None:
        return None
    says = _says(made, "rises", "falls")
    return HeldTrend(says=says, change=made.change, days=made.days, classes=made.n, p=made.p)


def _says(made: OverTime, more: str, less: str) -> str:
    if not made.is_told:
        return UNTOLD
    return more if made.change > 0 else less


def station_trends(fared: Iterable[StationOf]) -> tuple[StationTrend, ...]:
    """The trend of the median rest at each station that enough classes were at; `fared` has the oldest first."""
    series: dict[tuple[str, str, int, str], list[StationOf]] = {}
    for entry in fared:
        key = (entry.session, entry.station.part_title, entry.station.station, entry.station.move)
        series.setdefault(key, []).append(entry)
    found = []
    for (session, part, _, move), here in series.items():
        newest = here[-MOST_CLASSES:]
        rests = [(entry.started.date().toordinal(), entry.station.median_rest_ms) for entry in newest]
        told = [(day, rest / MS) for day, rest in rests if rest is not None]
        made = over_time([told]) if len(told) >= LEAST_CLASSES else None
        if made is not None:
            found.append(
                StationTrend(
                    session=session,
                    part=part,
                    move=move,
                    says=_says(made, "easier", "harder"),
                    rest_change_s=made.change,
                    days=made.days,
                    classes=made.n,
                    p=made.p,
                    not_finished=sum(entry.station.not_finished for entry in newest),
                )
            )
    return tuple(found)


def _drifts(fared: Iterable[StationOf]) -> dict[tuple[str, str, str], float]:
    """The mean drift at each station in per cent, classes weighted by their splits."""
    sums: dict[tuple[str, str, str], tuple[float, int]] = {}
    for entry in fared:
        row = entry.station
        if row.mean_drift is not None:
            key = (entry.session, row.part_title, row.move)
            total, splits = sums.get(key, (0.0, 0))
            sums[key] = total + row.mean_drift * row.tapped, splits + row.tapped
    return {key: 100 * total / splits for key, (total, splits) in sums.items() if splits}


def _midnight(day: date | None) -> datetime | None:
    """No class is older or newer than these bounds, at which no zone leads out of the calendar."""
    return None if day is None else datetime.combine(min(max(day, _EARLIEST), _LATEST), time()).astimezone()
