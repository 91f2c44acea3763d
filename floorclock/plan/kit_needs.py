"""How much kit is in use at once, for the start groups of a roster.

Invariant: everybody counts with the kit of what they really do at a station, after options and gates.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from floorclock.plan.roster import Athlete, Roster, assign, make_teams
from floorclock.plan.session import Amrap, AnyPart, ForTime, Intervals, Rotation, Session
from floorclock.plan.totals import interval_count
from floorclock.plan.work import Station


@dataclass(frozen=True)
class KitNeed:
    """The most of one kind of kit that a part needs at once. `has` is None where the session does not say."""

    part: int
    kit: str
    needed: int
    has: int | None
    stations: tuple[int, ...]
    """The stations that use it, by index."""
    interval: int = 0
    """The first interval (from 1) with so much of it; 0 where that is the whole part."""


def kit_of(athlete: Athlete, station: Station) -> tuple[tuple[str, int], ...]:
    """The kit that an athlete uses at a station."""
    if station.items:
        return tuple(use for item in station.items for use in kit_of(athlete, item))
    if not station.kit and not station.options:
        return ()
    taken = assign(athlete, station).option
    return next((option.kit for option in station.options if option.name == taken), station.kit)


def kit_needs(session: Session, roster: Roster) -> tuple[KitNeed, ...]:
    """The peak of every kind of kit in every part."""
    needs = []
    for number, part in enumerate(session.parts):
        stations = _users(part)
        windows = _in_use(part, _at_work(part, roster.athletes))
        peak: Counter[str] = Counter()
        for now in windows:
            peak |= now
        for kit, needed in sorted(peak.items()):
            has = session.kit.get(kit, 0) if session.kit else None
            when = next(number for number, now in enumerate(windows, 1) if now[kit] == needed) if len(windows) > 1 else 0
            needs.append(KitNeed(number, kit, needed, has, stations.get(kit, ()), when))
    return tuple(needs)


def all_kit(station: Station) -> tuple[str, ...]:
    """The names of the kit of a station and its options."""
    if station.items:
        return tuple(dict.fromkeys(name for item in station.items for name in all_kit(item)))
    every = [station.kit, *(option.kit for option in station.options)]
    return tuple(dict.fromkeys(name for used in every for name, _ in used))


def _users(part: AnyPart) -> Mapping[str, tuple[int, ...]]:
    users: dict[str, tuple[int, ...]] = {}
    for index, station in enumerate(part.stations):
        for kit in all_kit(station):
            users[kit] = (*users.get(kit, ()), index)
    return users


def _at_work(part: AnyPart, athletes: Sequence[Athlete]) -> Sequence[Athlete]:
    """Who needs kit at once: of a team in which one works at a time, only one."""
    if part.team_size == 1 or part.turns == "same time":
        return athletes
    firsts = {team[0] for team in make_teams(athletes, part.team_size)}
    return [athlete for athlete in athletes if athlete.name in firsts]


def _in_use(part: AnyPart, athletes: Sequence[Athlete]) -> Sequence[Counter[str]]:
    """What is in use in each interval of a round, or all at once in a part that has none."""
    if isinstance(part, Rotation | Intervals):
        return _in_turn(part, athletes)
    return [_together(part, athletes)] if isinstance(part, ForTime | Amrap) else []


def _in_turn(part: Rotation | Intervals, athletes: Sequence[Athlete]) -> Sequence[Counter[str]]:
    """Start group g begins at station g, and everybody moves on together."""
    stations = part.stations
    windows = [Counter[str]() for _ in range(min(len(stations), interval_count(part)))]
    for index, station in enumerate(stations):
        for athlete in athletes if all_kit(station) else ():
            window = index if part.moves_together else (index - (athlete.group - 1)) % len(stations)
            if window < len(windows):
                windows[window].update(dict(kit_of(athlete, station)))
    return windows


def _together(part: ForTime | Amrap, athletes: Sequence[Athlete]) -> Counter[str]:
    """Everybody keeps what they use until they are done: the most of each that any item of their work needs."""
    peak: Counter[str] = Counter()
    for athlete in athletes:
        work = next((c.work for c in part.choose if c.name == athlete.options.get(part.written) and c.work), part.work)
        own: Counter[str] = Counter()
        for station in (*part.buy_in, *work, *part.cash_out):
            own |= Counter(dict(kit_of(athlete, station)))
        peak += own
    return peak
