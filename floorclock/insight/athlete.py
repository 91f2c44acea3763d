"""One athlete over a year: when they were there, their pace at each move, what they held, load by week, results, what next.

Invariant: the page follows from the records alone; untapped is in no figure, an unrated class in no load, a rehearsal nowhere.
A pace is seconds for one unit of work in the middle round of a class, so that a changed target or a ladder turns nothing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import Any, ClassVar, Final

from floorclock.insight.as_json import ANSWER, Amount, Counts, Figure, Instant, Seconds
from floorclock.insight.lifts import LiftHistory, lift_histories, monday_of, week_volumes
from floorclock.insight.statistics import over_time
from floorclock.insight.targets import Key, NextTarget, next_targets
from floorclock.insight.whose import who_is_meant
from floorclock.pace.flags import Flag
from floorclock.pace.load import DAYS_OF_WEEK, SessionLoad, WeekLoad, week_load
from floorclock.pace.model.work import log_ratio
from floorclock.plan.session import PartKind, ScoreUnit
from floorclock.plan.work import LoadUnit, Unit
from floorclock.store.questions import AthleteLine, Visit, history_of
from floorclock.store.rows import PaceRow, ResultRow
from floorclock.store.store import Store

DAYS_SHOWN: Final = 365
"""A page goes so far back, where nobody asks for more."""
LEAST_FOR_A_TREND: Final = 6
"""A trend is called from so many classes on."""
MOST_FOR_A_TREND: Final = 40
"""It is that of the newest so many."""
MOST_OFFSET: Final = timedelta(hours=24)
"""No place is further from UTC."""
GOES_ON: Final = "the week goes on, so monotony and strain have no value yet"


class PaceVerdict(StrEnum):
    """What became of a pace."""

    FASTER = "faster"
    SLOWER = "slower"
    UNTOLD = "too close to call"
    TOO_LITTLE = "too little to tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassOfAthlete:
    """A class they were in. `timed` is whether any split was tapped or not finished, `flags` all that were raised in it.

    `load` is effort times minutes; None without an effort.
    """

    id: str
    session: str
    started: Instant
    minutes: Figure[float]
    effort: float | None
    load: Figure[float | None]
    timed: bool
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One station of one class.

    `s_per_unit` is the pace in the middle round; None for work without a target, and where nothing was tapped.
    """

    class_: str
    started: Instant
    amount: Amount[Fraction | None]
    median_split_ms: Seconds[float | None]
    s_per_unit: Figure[float | None]
    least_rest_ms: Seconds[int | None]
    drift_percent_per_round: Figure[float | None]
    flags: tuple[Flag, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveTrend:
    """Whether they get faster: the change of the pace in per cent over `days` (below 0 is faster), and how likely by chance."""

    says: PaceVerdict
    percent: Figure[float]
    days: int
    classes: int
    p: Figure[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveHistory:
    """A move in one unit (None without a target), the oldest point first; `trend` is None from too few classes."""

    move: str
    unit: Unit | None
    points: tuple[Point, ...]
    trend: MoveTrend | None
    next_target: NextTarget | None = None

    @property
    def even_s(self) -> tuple[float | None, ...]:
        """The pace of each point as the newest target would have it, so that points of other targets compare."""
        return even_paces(self.points)

    @property
    def classes(self) -> int:
        """In how many classes they did it."""
        return len({point.class_ for point in self.points})


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekOfAthlete:
    """Monday to Sunday, by its number: the load of what was rated, as in `pace.load.WeekLoad`, and in how many classes they were.

    `unrated` counts the classes without an effort; `because` says why there is no monotony. `volume_load` is reps times load of
    what they lifted alone, in the page's `load_unit`.
    """

    week: str
    monday: date
    classes: int
    load: Figure[float]
    monotony: Figure[float | None]
    strain: Figure[float | None]
    because: str
    rest_days: int
    unrated: int
    volume_load: Figure[Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartResult:
    """What one person reached in a part with a result, as in `clock.splits.Result`; `choice` is None for the work as written."""

    kind: PartKind
    choice: str | None
    time_ms: Seconds[int | None]
    rounds: int | None
    reps: int | None
    not_finished: bool
    score_unit: ScoreUnit | None
    scores: Counts[tuple[tuple[int, Fraction], ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultOfAthlete(PartResult):
    """The same with where and when."""

    class_: str
    started: Instant
    session: str
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TotalAttendance:
    """How often they were there ever, and when."""

    classes: int
    first: Instant
    last: Instant


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldClasses:
    """In how many classes they were timed, in how many of those no flag was raised, and in how many which was."""

    timed: int
    held: int
    fading: int
    tight: int
    not_finished: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AthletePage:
    """Everything but `in_all` is from `since` to `until`, the oldest first; the moves of most classes come first."""

    name: str
    spellings: tuple[str, ...]
    in_all: TotalAttendance
    since: date
    until: date
    classes: tuple[ClassOfAthlete, ...]
    held: HeldClasses
    moves: tuple[MoveHistory, ...]
    weeks: tuple[WeekOfAthlete, ...]
    results: tuple[ResultOfAthlete, ...]
    lifts: tuple[LiftHistory, ...]
    load_unit: LoadUnit
    __pydantic_config__: ClassVar[dict[str, Any]] = ANSWER

    def with_flag(self, flag: Flag) -> int:
        """In how many classes a flag was raised."""
        return sum(flag in here.flags for here in self.classes)


def athlete_page(store: Store, name: str, today: date, since: date | None = None, *, home: Path | None = None) -> AthletePage:
    """The page of one athlete, by any spelling of the name, in small letters, or by the start of it.

    Args:
        store: an open store, up to date.
        name: as somebody typed it.
        today: classes after it are left out, and the week it is in goes on.
        since: the first day; without it, a year ago.
        home: the data folder with the records that next targets are made from; without it there are none.

    Raises:
        NotFound: nobody or several people are meant.
        ResourceError: the store refuses.
    """
    whose = who_is_meant(store, name)
    first = today - timedelta(days=DAYS_SHOWN) if since is None else since
    # A class is on the day of its own place, which is known only when it is read.
    early = datetime.combine(first, time(), UTC) - MOST_OFFSET if first > date.min + MOST_OFFSET else None
    history = [here for here in history_of(store, whose.name, since=early) if first <= here.started.date() <= today]
    before = datetime.combine(today, time(), UTC) + 2 * MOST_OFFSET
    targets = {} if home is None else next_targets(store, home, history, before)
    return page_of(whose, first, today, history, targets)


def page_of(
    whose: AthleteLine, since: date, until: date, history: Sequence[Visit], targets: Mapping[Key, NextTarget]
) -> AthletePage:
    """The page that comes of the classes somebody was in from `since` to `until`, the oldest first."""
    classes = tuple(_class_of(here) for here in history if here.attendance)
    lifts = lift_histories(history)
    load_unit = LoadUnit.LB if {lift.unit for lift in lifts} == {LoadUnit.LB} else LoadUnit.KG
    timed = [here.flags for here in classes if here.timed]
    return AthletePage(
        name=whose.name,
        spellings=whose.spellings,
        in_all=TotalAttendance(classes=whose.classes, first=whose.first, last=whose.last),
        since=since,
        until=until,
        classes=classes,
        held=HeldClasses(
            timed=len(timed),
            held=sum(not flags for flags in timed),
            fading=sum(Flag.FADING in flags for flags in timed),
            tight=sum(Flag.TIGHT in flags for flags in timed),
            not_finished=sum(Flag.NOT_FINISHED in flags for flags in timed),
        ),
        moves=move_histories(history, targets),
        weeks=weeks_of(classes, until, week_volumes(history, load_unit)),
        results=tuple(
            ResultOfAthlete(
                class_=here.class_id, started=here.started, session=here.session, part=row.title, **asdict(part_result(row))
            )
            for here in history
            for row in here.results
        ),
        lifts=lifts,
        load_unit=load_unit,
    )


def _class_of(here: Visit) -> ClassOfAthlete:
    """Who was on the board of a class under two spellings was in it once."""
    bits, timed = 0, False
    for row in here.paces:
        if row.tapped or row.not_finished:
            bits, timed = bits | row.flags, True
    minutes = max(row.minutes for row in here.attendance)
    effort = next((row.effort for row in here.attendance if row.effort is not None), None)
    return ClassOfAthlete(
        id=here.class_id,
        session=here.session,
        started=here.started,
        minutes=minutes,
        effort=effort,
        load=None if effort is None else effort * minutes,
        timed=timed,
        flags=flags_of(bits),
    )


def part_result(row: ResultRow) -> PartResult:
    """A result without whose it is."""
    values = {field.name: getattr(row, field.name) for field in fields(PartResult)}
    return PartResult(**{**values, "choice": row.choice or None})


def weeks_of(classes: Iterable[ClassOfAthlete], today: date, volumes: Mapping[date, Fraction]) -> tuple[WeekOfAthlete, ...]:
    """Every week from the first class to today, also those without a class; `volumes` are volume loads by Monday."""
    by_monday: dict[date, list[tuple[date, SessionLoad]]] = {}
    for here in classes:
        day = here.started.date()
        load = SessionLoad(name="", effort=here.effort, minutes=here.minutes)
        by_monday.setdefault(monday_of(day), []).append((day, load))
    if not by_monday:
        return ()
    monday, found = min(by_monday), []
    while monday <= today:
        found.append(_week(monday, by_monday.get(monday, []), today, volumes.get(monday, Fraction(0))))
        monday += timedelta(days=DAYS_OF_WEEK)
    return tuple(found)


def week_name(monday: date) -> str:
    """A week by its number, `2026-W09` (ISO 8601)."""
    year, number, _ = monday.isocalendar()
    return f"{year}-W{number:02d}"


def _week(monday: date, here: Sequence[tuple[date, SessionLoad]], today: date, volume_load: Fraction) -> WeekOfAthlete:
    sunday = monday + timedelta(days=DAYS_OF_WEEK - 1)
    load = week_load(here, sunday)
    if today < sunday and not load.unrated:
        # The days to come are no days of rest.
        days = tuple(day for day in load.days if day.day <= today)
        load = WeekLoad(days=days, load=load.load, because=GOES_ON)
    return WeekOfAthlete(
        week=week_name(monday),
        monday=monday,
        classes=len(here),
        load=load.load,
        monotony=load.monotony,
        strain=load.strain,
        because=load.because,
        rest_days=load.rest_days,
        unrated=load.unrated,
        volume_load=volume_load,
    )


def way_of(change: float, *, is_told: bool) -> PaceVerdict:
    """What a change of the time for one unit of work means."""
    if not is_told:
        return PaceVerdict.UNTOLD
    return PaceVerdict.FASTER if change < 0 else PaceVerdict.SLOWER


def percent(logarithm: float) -> float:
    """The change in per cent behind a difference of logarithms."""
    return 100 * math.expm1(logarithm)


def flags_of(bits: int) -> tuple[Flag, ...]:
    """The flags behind the bits of a row, the most urgent first."""
    return tuple(flag for place, flag in enumerate(Flag) if bits >> place & 1)


def middle_pace_s(row: PaceRow) -> float | None:
    """Seconds for one unit of work in the middle round, by the line through all of them."""
    if row.level is None:
        return None
    return math.exp(row.level + (row.drift or 0.0) * (row.rounds - 1) / 2)


def move_histories(history: Iterable[Visit], targets: Mapping[Key, NextTarget]) -> tuple[MoveHistory, ...]:
    """The moves of one athlete, those of most classes first. `history` has the oldest class first."""
    found: dict[Key, list[Point]] = {}
    for here in history:
        for row in here.paces:
            if row.tapped or row.not_finished:
                found.setdefault((row.move, row.unit), []).append(_point(here, row))
    histories = [
        MoveHistory(move=move, unit=unit, points=tuple(points), trend=_trend(points), next_target=targets.get((move, unit)))
        for (move, unit), points in found.items()
    ]
    return tuple(sorted(histories, key=lambda move: (-move.classes, move.move, move.unit or "")))


def even_paces(points: Sequence[Point]) -> tuple[float | None, ...]:
    """Seconds for one unit of work as the newest target would take them: a part of every split is setting up."""
    amounts = [float(point.amount) for point in points if point.amount]
    if len(set(amounts)) < 2:
        return tuple(point.s_per_unit for point in points)
    # What setting up takes goes by the amount most often given, the smallest of several, as in a class.
    times = Counter(amounts)
    usual = min(times, key=lambda amount: (-times[amount], amount))
    return tuple(_even(point, amounts[-1], usual) for point in points)


def _even(point: Point, newest: float, usual: float) -> float | None:
    amount = float(point.amount or 0)
    if point.s_per_unit is None or not amount:
        return point.s_per_unit
    return point.s_per_unit * amount / newest * math.exp(log_ratio(newest, amount, usual))


def _point(here: Visit, row: PaceRow) -> Point:
    return Point(
        class_=here.class_id,
        started=here.started,
        amount=row.amount,
        median_split_ms=row.median_split_ms,
        s_per_unit=middle_pace_s(row),
        least_rest_ms=row.least_rest_ms,
        drift_percent_per_round=None if row.drift is None else percent(row.drift),
        flags=flags_of(row.flags),
    )


def _trend(points: Sequence[Point]) -> MoveTrend | None:
    """Over classes: two stations with the same move in one class are one value."""
    by_class: dict[str, tuple[int, list[float]]] = {}
    for point, pace_s in zip(points, even_paces(points), strict=True):
        if pace_s is not None:
            here = by_class.setdefault(point.class_, (point.started.date().toordinal(), []))
            here[1].append(math.log(pace_s))
    taken = list(by_class.values())[-MOST_FOR_A_TREND:]
    if len(taken) < LEAST_FOR_A_TREND:
        return None
    # Equal paces stay equal, whatever the last digit says.
    told = over_time([[(day, round(math.fsum(logs) / len(logs), 9)) for day, logs in taken]])
    if told is None:
        return None
    says = way_of(told.change, is_told=told.is_told)
    return MoveTrend(says=says, percent=percent(told.change), days=told.days, classes=told.n, p=told.p)
