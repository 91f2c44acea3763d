"""One athlete over a year: when they were there, their pace at each move, what they held, load by week, results, what next.

Invariant: the page follows from the records alone; untapped is in no figure, an unrated class in no load, a rehearsal nowhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from floorclock.insight.moves import MoveHistory, flags_of, move_histories
from floorclock.insight.next_target import next_targets
from floorclock.insight.whose import Whose, who_is_meant
from floorclock.pace.flags import Flag
from floorclock.pace.load import DAYS_OF_WEEK, SessionLoad, WeekLoad, week_load
from floorclock.store import ask
from floorclock.store.answers import AthleteClass, PaceOf, ResultOf
from floorclock.store.engine import Store

DAYS_SHOWN = 365
"""A page goes so far back, where nobody asks for more."""
_MOST_OFFSET = timedelta(hours=24)
GOES_ON = "the week goes on, so monotony and strain have no value yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassOfAthlete:
    """A class they were in. `timed` is whether any split was tapped or not finished, `flags` all that were raised in it."""

    id: str
    session: str
    started: datetime
    minutes: float
    effort: float | None
    timed: bool = False
    flags: tuple[Flag, ...] = ()

    @property
    def load(self) -> float | None:
        """Effort times minutes; None without an effort."""
        return None if self.effort is None else self.effort * self.minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekOfAthlete:
    """Monday to Sunday: the load of it, and how many classes they were in."""

    monday: date
    load: WeekLoad
    classes: int

    @property
    def week(self) -> str:
        """The week by its number, `2026-W09` (ISO 8601)."""
        year, number, _ = self.monday.isocalendar()
        return f"{year}-W{number:02d}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AthletePage:
    """Everything but `whose` is from `since` to `today`, the oldest first; the moves of most classes come first."""

    whose: Whose
    since: date
    today: date
    classes: tuple[ClassOfAthlete, ...]
    moves: tuple[MoveHistory, ...]
    weeks: tuple[WeekOfAthlete, ...]
    results: tuple[ResultOf, ...]

    @property
    def name(self) -> str:
        """The name that counts."""
        return self.whose.name

    @property
    def timed(self) -> int:
        """How many classes have a split of theirs."""
        return sum(one.timed for one in self.classes)

    @property
    def held(self) -> int:
        """How many of those raised no flag: margin and pace were held."""
        return sum(one.timed and not one.flags for one in self.classes)

    def with_flag(self, flag: Flag) -> int:
        """In how many classes a flag was raised."""
        return sum(flag in one.flags for one in self.classes)


def athlete_page(store: Store, name: str, today: date, since: date | None = None) -> AthletePage:
    """The page of one athlete, by any spelling of the name, in small letters, or by the start of it.

    Args:
        store: an open store, up to date.
        name: as somebody typed it.
        today: classes after it are left out, and the week it is in goes on.
        since: the first day; without it, a year ago.

    Raises:
        NotFound: nobody or several people are meant.
        ResourceError: the store refuses.
    """
    whose = who_is_meant(store, name)
    first = today - timedelta(days=DAYS_SHOWN) if since is None else since
    # A class is on the day of its own place, which is known only when it is read.
    early = datetime.combine(first, time(), UTC) - _MOST_OFFSET if first > date.min + _MOST_OFFSET else None
    there = [one for one in ask.athlete_classes(store, whose.name, since=early) if first <= one.started.date() <= today]
    paces = [one for one in ask.athlete_paces(store, whose.name, since=early) if first <= one.started.date() <= today]
    reached = [one for one in ask.athlete_results(store, whose.name, since=early) if first <= one.started.date() <= today]
    before = datetime.combine(today, time(), UTC) + 2 * _MOST_OFFSET
    past = [one for one in ask.past_splits(store, (whose.name,), before=before) if one.started.date() <= today]
    classes = classes_of(there, paces)
    return AthletePage(
        whose=whose,
        since=first,
        today=today,
        classes=classes,
        moves=move_histories(paces, next_targets(past, paces)),
        weeks=weeks_of(classes, today),
        results=tuple(reversed(reached)),
    )


def classes_of(there: Iterable[AthleteClass], paces: Iterable[PaceOf]) -> tuple[ClassOfAthlete, ...]:
    """The classes somebody was in, the oldest first; who was on the board of one under two spellings was in it once."""
    bits: dict[str, int] = {}
    for one in paces:
        if one.pace.tapped or one.pace.not_finished:
            bits[one.class_id] = bits.get(one.class_id, 0) | one.pace.flags
    found: dict[str, ClassOfAthlete] = {}
    for line in there:
        before = found.get(line.class_id)
        if before is not None:
            effort = line.effort if before.effort is None else before.effort
            found[line.class_id] = replace(before, minutes=max(before.minutes, line.minutes), effort=effort)
            continue
        found[line.class_id] = ClassOfAthlete(
            id=line.class_id,
            session=line.session,
            started=line.started,
            minutes=line.minutes,
            effort=line.effort,
            timed=line.class_id in bits,
            flags=flags_of(bits.get(line.class_id, 0)),
        )
    return tuple(sorted(found.values(), key=lambda one: (one.started, one.id)))


def weeks_of(classes: Iterable[ClassOfAthlete], today: date) -> tuple[WeekOfAthlete, ...]:
    """Every week from the first class to today, also those without a class."""
    by_monday: dict[date, list[tuple[date, SessionLoad]]] = {}
    for one in classes:
        day = one.started.date()
        load = SessionLoad(name="", effort=one.effort, minutes=one.minutes)
        by_monday.setdefault(monday_of(day), []).append((day, load))
    if not by_monday:
        return ()
    monday, found = min(by_monday), []
    while monday <= today:
        found.append(_week(monday, by_monday, today))
        monday += timedelta(days=DAYS_OF_WEEK)
    return tuple(found)


def monday_of(day: date) -> date:
    """The first day of a week."""
    return day - timedelta(days=day.weekday())


def _week(monday: date, by_monday: Mapping[date, list[tuple[date, SessionLoad]]], today: date) -> WeekOfAthlete:
    here = by_monday.get(monday, [])
    sunday = monday + timedelta(days=DAYS_OF_WEEK - 1)
    load = week_load(here, sunday)
    if today < sunday and not load.unrated:
        # The days to come are no days of rest.
        load = replace(
            load, days=tuple(day for day in load.days if day.day <= today), monotony=None, strain=None, because=GOES_ON
        )
    return WeekOfAthlete(monday=monday, load=load, classes=len(here))
