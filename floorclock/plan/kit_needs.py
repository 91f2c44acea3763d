"""Which kit is in use when, for start groups, waves and teams.

Invariant: everybody counts with the kit of what they really do at a station, after options and gates. There is no other count:
start groups are made from this one and counted again by it.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from floorclock.plan.roster import Athlete, Roster, assign, make_teams
from floorclock.plan.session import Amrap, Piece, Session, Windowed
from floorclock.plan.shares import own_seconds
from floorclock.plan.totals import choice_of, interval_count
from floorclock.plan.work import LoadUnit, Station

SLOT_S = 5
"""Work in waves is looked at in slots of this length."""
SPREAD = 0.08
"""How far the time for one item lies from the guess, as a share of it: common practice, no source."""
NINE_IN_TEN = 1.28
"""Standard deviations of a normal law to either side; 0.8997 lie below the upper one (handbook tables)."""


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

    @property
    def short(self) -> int:
        """How many are missing."""
        return 0 if self.has is None else max(0, self.needed - self.has)


class KitUse(NamedTuple):
    """Kit in use at a moment of a part: a window of a rotation, a slot of work in waves, or 0 where it is held to the end.

    `load` is what is on it, in words; empty where nobody can say. `station` is -1 where kit stays where it is.
    """

    part: int
    moment: int
    station: int
    kit: str
    load: str = ""


@dataclass(frozen=True, slots=True)
class Carried:
    """Kit that has to be carried from one station to another, or loaded anew, between two windows of a part."""

    part: int
    kit: str
    pieces: int
    stations: tuple[int, ...]


class StationKit(NamedTuple):
    """A kind of kit in a part that could stay at its stations, and how many there are."""

    part: int
    kit: str
    has: int


class KitCount:
    """What the athletes of a class use, in whatever start groups they are.

    A `worker` is an athlete, or a team in which one works at a time: it uses what its member with the most needs.
    """

    def __init__(self, session: Session, athletes: Sequence[Athlete]) -> None:
        self.session = session
        self.workers: list[tuple[tuple[str, ...], Counter[KitUse]]] = []
        by_name = {athlete.name: athlete for athlete in athletes}
        for number, part in enumerate(session.parts):
            alone = part.team_size == 1 or part.turns == "same time"
            for team in [(athlete.name,) for athlete in athletes] if alone else make_teams(athletes, part.team_size):
                uses: Counter[KitUse] = Counter()
                for name in team:
                    uses |= own_uses(session, number, by_name[name])
                self.workers.append((team, uses))

    def in_groups(self, groups: Mapping[str, int]) -> Counter[KitUse]:
        """All kit in use, everybody in their start group."""
        total: Counter[KitUse] = Counter()
        for team, uses in self.workers:
            total.update(in_group(self.session, uses, groups[team[0]]))
        return total


def kit_needs(session: Session, roster: Roster) -> tuple[KitNeed, ...]:
    """The peak of every kind of kit in every part."""
    groups = {athlete.name: athlete.group for athlete in roster.athletes}
    return needs_of(session, KitCount(session, roster.athletes).in_groups(groups))


def needs_of(session: Session, uses: Mapping[KitUse, int]) -> tuple[KitNeed, ...]:
    """The peak of every kind of kit in every part, of what is in use."""
    now: dict[tuple[int, str], Counter[int]] = defaultdict(Counter)
    has: dict[str, int | None] = {}
    of: dict[str, str] = {}
    for use, many in uses.items():
        for kind, there in session.kit_counts(use.kit, use.load):
            now[use.part, kind][use.moment] += many
            has[kind], of[kind] = there, use.kit
    needs = []
    for (number, kind), moments in sorted(now.items(), key=lambda item: item[0]):
        part, needed = session.parts[number], max(moments.values())
        in_turn = isinstance(part, Windowed) and len(part.stations) > 1
        first = 1 + min(moment for moment, many in moments.items() if many == needed) if in_turn else 0
        users = tuple(index for index, station in enumerate(part.stations) if of[kind] in all_kit(station))
        needs.append(KitNeed(number, kind, needed, has[kind], users, first))
    return tuple(needs)


def fitting_group(session: Session, athletes: Sequence[Athlete], latecomer: Athlete, groups: Sequence[int]) -> int:
    """The start group for somebody at the door, who moves nobody else: least waiting for kit, then the smallest, then the first.

    `athletes` are those who are here, each in the group where they are now; `groups` are those that there could be.
    """
    here = {athlete.name: athlete.group for athlete in athletes}
    sizes = Counter(here.values())
    if len(sizes) < 2:
        return next(iter(sizes), 1)
    count = KitCount(session, [*athletes, latecomer])

    def waits(group: int) -> tuple[int, int, int]:
        needs = needs_of(session, count.in_groups({**here, latecomer.name: group}))
        return sum(need.short for need in needs), sizes[group], group

    return min(groups, key=waits)


def carried_in(session: Session, uses: Mapping[KitUse, int]) -> tuple[Carried, ...]:
    """What does not stay where it was put: the peaks of all its places together are more than there is of it."""
    peaks: dict[StationKit, dict[tuple[int, str], Counter[int]]] = defaultdict(lambda: defaultdict(Counter))
    for use, many in uses.items():
        kept = place_of(session, use)
        if kept is not None:
            peaks[kept][use.station, use.load][use.moment] += many
    found = []
    for kept, places in sorted(peaks.items()):
        over = sum(max(moments.values()) for moments in places.values()) - kept.has
        if over > 0 and len(places) > 1:
            found.append(Carried(kept.part, kept.kit, over, tuple(sorted({station for station, _ in places}))))
    return tuple(found)


def place_of(session: Session, use: KitUse) -> StationKit | None:
    """Whose places a use is one of, by station and load; None for what has one place only, and for what nobody counted."""
    # The last kind is the narrowest: by its load, where the coach counts those.
    kind = None if use.station < 0 else [*session.kit_counts(use.kit, use.load)][-1:]
    return StationKit(use.part, kind[0][0], kind[0][1]) if kind and kind[0][1] is not None else None


def in_group(session: Session, uses: Mapping[KitUse, int], group: int) -> dict[KitUse, int]:
    """What somebody of `own_uses` uses who is in a start group."""
    moved = {}
    for number in {use.part for use in uses}:
        part = session.parts[number]
        stations = windows = back = later = 0
        if isinstance(part, Windowed):
            stations, windows = len(part.stations), interval_count(part)
            back = 0 if part.moves_together else group - 1
        elif isinstance(part, Piece):
            later = (group - 1) * part.wave_every_ms // (1000 * SLOT_S)
        for use, many in uses.items():
            moment = (use.moment - back) % stations if stations else use.moment + later
            if use.part == number and (not stations or moment < windows):
                moved[KitUse(number, moment, use.station, use.kit, use.load)] = many
    return moved


def own_uses(session: Session, number: int, athlete: Athlete) -> Counter[KitUse]:
    """What an athlete uses in a part, as of the first start group."""
    part = session.parts[number]
    own: Counter[KitUse] = Counter()
    if isinstance(part, Windowed):
        together = part.moves_together
        for index, station in enumerate(part.stations):
            for kit, load, many in _kit_of(session, athlete, station):
                own[KitUse(number, index, -1 if together else index, kit, load)] += many
    elif isinstance(part, Piece):
        for first, end, station in _visits(session, part, athlete):
            at_once = Counter({(kit, load): many for kit, load, many in _kit_of(session, athlete, station)})
            for moment in range(first, end):
                own |= Counter({KitUse(number, moment, -1, kit, load): many for (kit, load), many in at_once.items()})
    return own


def all_kit(station: Station) -> tuple[str, ...]:
    """The names of the kit of a station and its options."""
    if station.items:
        return tuple(dict.fromkeys(name for item in station.items for name in all_kit(item)))
    every = [station.kit, *(option.kit for option in station.options)]
    return tuple(dict.fromkeys(name for used in every for name, _ in used))


def _kit_of(session: Session, athlete: Athlete, station: Station) -> Iterator[tuple[str, str, int]]:
    """The kit that an athlete uses at a station, with what is on it."""
    for item in station.items or (station,):
        if item.kit or item.options:
            work = assign(athlete, item, session.load_step)
            used = next((option.kit for option in item.options if option.name == work.option), item.kit)
            load = "" if work.load is None or work.load.unit is LoadUnit.PERCENT else work.load.words()
            yield from ((kit, load, many) for kit, many in used)


def _visits(session: Session, part: Piece, athlete: Athlete) -> Iterator[tuple[int, int, Station]]:
    """From which slot to which an athlete may be at each item of their work.

    In waves from a fast guess of when they come to a slow guess of when they leave; spreads add up along the way. Where all start
    at once, everybody keeps what they use until they are done.
    """
    choice = choice_of(part, athlete)
    work = choice.work if choice is not None and choice.work else part.work
    if not part.wave_every_ms:
        yield from ((0, 1, station) for station in (*part.buy_in, *work, *part.cash_out))
        return
    rounds = 0 if isinstance(part, Amrap) else part.rounds if choice is None or choice.rounds is None else choice.rounds
    limit_s = part.limit_ms / 1000
    usual_s = spread = 0.0
    for station, number in _course(part, work, rounds):
        begin_s = max(0.0, usual_s - NINE_IN_TEN * math.sqrt(spread))
        if begin_s >= limit_s:
            return
        lasts = _usual_s(session, athlete, station, number)
        usual_s += limit_s if lasts is None else lasts
        spread += (SPREAD * (lasts or 0)) ** 2
        end_s = min(limit_s, usual_s + NINE_IN_TEN * math.sqrt(spread))
        yield int(begin_s // SLOT_S), math.ceil(end_s / SLOT_S), station


def _course(part: Piece, work: Sequence[Station], rounds: int) -> Iterator[tuple[Station, int]]:
    """Every item with its round; without a number of rounds there is no end."""
    yield from ((station, 1) for station in part.buy_in)
    number = 1
    while not rounds or number <= rounds:
        yield from ((station, number) for station in work)
        number += 1
    yield from ((station, rounds) for station in part.cash_out)


def _usual_s(session: Session, athlete: Athlete, station: Station, number: int) -> float | None:
    """About how long an athlete takes for an item; None where it has no amount and lasts as long as the part."""
    total = Fraction(0)
    for item in station.items or (station,):
        work = assign(athlete, item, session.load_step)
        lasts = own_seconds(item, work, number)
        if not lasts and (work.target is None or work.target.most):
            return None
        total += lasts
    return float(total) or None
