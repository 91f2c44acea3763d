"""Who is here today, and what each of them does at a station.

Invariant: names are unique in a roster; a tap key belongs to one athlete.
"""

from __future__ import annotations

import string
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from floorclock.plan.names import SIGN_KEYS
from floorclock.plan.work import Load, Option, Station, Target

SAFE_KEYS = string.ascii_lowercase + string.digits + SIGN_KEYS + string.ascii_uppercase
"""Tap keys in the order in which the tool gives them out: forty that caps lock does not change come first.

Commands use none of them, so that no key can mean two things.
"""


@dataclass(frozen=True, kw_only=True)
class Athlete:
    """One person in the class. `options` maps a move to an option name, `targets` a move to a target, `loads` to a load.

    `rest_margin_ms` overrides every other margin; `group` is the start group, from 1. `best` is the most they moved once, by
    move. `avoid` are moves and patterns that they stay away from. `note` is for the coach's eyes only. `together` and `apart` are
    the names of others, for start groups and teams that are made before the class: a record has neither.
    """

    name: str
    key: str = ""
    level: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    targets: Mapping[str, Target] = field(default_factory=dict)
    experienced: frozenset[str] = frozenset()
    group: int = 1
    rest_margin_ms: int | None = None
    loads: Mapping[str, Load] = field(default_factory=dict)
    best: Mapping[str, Load] = field(default_factory=dict)
    avoid: frozenset[str] = frozenset()
    team: int | None = None
    note: str = ""
    together: frozenset[str] = frozenset()
    apart: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class Roster:
    """The athletes of a class, in the order of the board."""

    title: str
    athletes: tuple[Athlete, ...]
    grouped: frozenset[str] = field(default=frozenset(), compare=False)
    """Whose start group somebody wrote down; everybody else is in the first one."""


@dataclass(frozen=True, slots=True)
class Assignment:
    """What one athlete does at one station: after options, own targets and gates.

    `option` is the name of the option in force, empty for the move as written. `gated` is true when the move is
    guarded and nobody has said yes for this athlete: the coach has to. `avoided` is true when they stay away from it and the
    station has nothing else. `items` are those of a station with several moves.
    """

    move: str
    target: Target | None
    option: str = ""
    gated: bool = False
    load: Load | None = None
    avoided: bool = False
    items: tuple[Assignment, ...] = ()

    def words(self, round_number: int = 1) -> str:
        """What they do in a round, without the move: `14`, `5 at 70 kg`; of several moves each with its name."""
        if self.items:
            return " + ".join(f"{item.words(round_number)} {item.move}".strip() for item in self.items)
        goal = self.target.words(round_number) if self.target is not None else ""
        load = self.load.words() if self.load is not None else ""
        return f"{goal} at {load}" if goal and load else goal or load


def assign(athlete: Athlete, station: Station, load_step: Load | None = None) -> Assignment:
    """What `athlete` does at `station`.

    A guarded move falls back on the first option that is not guarded, one that they avoid on the first that they do not;
    without one it stays, marked `gated` or `avoided`. `load_step` is what a percentage of their best is rounded to.
    """
    if station.items:
        items = tuple(assign(athlete, item, load_step) for item in station.items)
        gated, avoided = any(item.gated for item in items), any(item.avoided for item in items)
        return Assignment(station.move, station.target, "", gated, None, avoided, items)
    chosen = _chosen_option(athlete, station)
    work: Station | Option = station if chosen is None else chosen
    written = work.target or station.target
    target = written.for_level(athlete.level) if written is not None else None
    own = athlete.targets.get(station.own(work.move)) or athlete.targets.get(work.move)
    if target is not None and target.most:
        own = None  # As many as possible is nobody's number.
    if own is not None and target is not None and own.unit is target.unit:
        target = replace(own, step=own.step or target.step, each_side=target.each_side)
    elif own is not None:
        target = own
    load = athlete.loads.get(station.own(work.move)) or athlete.loads.get(work.move)
    if load is None and work.load is not None:
        load = work.load.for_level(athlete.level).of_best(athlete.best.get(work.move), load_step)
    gated = work.guarded and work.move not in athlete.experienced
    return Assignment(work.move, target, chosen.name if chosen else "", gated, load, avoids(athlete, work))


def avoids(athlete: Athlete, work: Station | Option) -> bool:
    """True for a move, or a pattern, that the athlete stays away from."""
    return work.move.casefold() in athlete.avoid or work.pattern.casefold() in athlete.avoid


def _chosen_option(athlete: Athlete, station: Station) -> Option | None:
    wanted = athlete.options.get(station.move)
    for option in station.options:
        if option.name == wanted:
            return option
    gated = station.guarded and station.move not in athlete.experienced
    if not gated and not avoids(athlete, station):
        return None
    open_to_them = (option for option in station.options if not option.guarded and not avoids(athlete, option))
    return next(open_to_them, None)


def give_keys(athletes: Iterable[Athlete]) -> tuple[Athlete, ...]:
    """Every athlete with a tap key: their own where they have one, else the first free of their name, else the first free."""
    people = list(athletes)
    taken = {person.key for person in people if person.key}
    given = []
    for person in people:
        if not person.key:
            own = [letter for letter in person.name.lower() if letter in SAFE_KEYS and letter not in SIGN_KEYS]
            key = next((letter for letter in (*own, *SAFE_KEYS) if letter not in taken), "")
            taken.add(key)
            person = replace(person, key=key)
        given.append(person)
    return tuple(given)


def make_teams(athletes: Sequence[Athlete], size: int) -> list[tuple[str, ...]]:
    """Teams of `size` by name, in the order of the board: those of the roster first, then level by level.

    Everybody without a team is placed so that the levels spread over the teams. Who is one too many makes a team larger; no team
    is smaller than `size` unless there are too few people for one.
    """
    named: dict[int, list[str]] = {}
    for athlete in athletes:
        if athlete.team is not None:
            named.setdefault(athlete.team, []).append(athlete.name)
    levels = list(dict.fromkeys(athlete.level for athlete in athletes))
    free = sorted((athlete for athlete in athletes if athlete.team is None), key=lambda athlete: levels.index(athlete.level))
    made: list[list[str]] = [[] for _ in range(max(1, len(free) // size) if free else 0)]
    for place, athlete in enumerate(free):
        made[place % len(made)].append(athlete.name)
    return in_board_order(athletes, [*named.values(), *made])


def in_board_order(athletes: Sequence[Athlete], teams: Iterable[Iterable[str]]) -> list[tuple[str, ...]]:
    """Teams by name, all of them and each by itself in the order of the board."""
    order = {athlete.name: place for place, athlete in enumerate(athletes)}
    ordered = [tuple(sorted(team, key=order.__getitem__)) for team in teams]
    return sorted(ordered, key=lambda team: order[team[0]])


def clusters(athletes: Sequence[Athlete], teams: Iterable[Sequence[str]] = ()) -> list[tuple[str, ...]]:
    """Who has to be together with whom, by `together` and as a team: by name, in the order of the board, loners too."""
    home = {athlete.name: {athlete.name} for athlete in athletes}
    known = {name.casefold(): name for name in home}
    wished = [
        (athlete.name, known[name.casefold()]) for athlete in athletes for name in athlete.together if name.casefold() in known
    ]
    for first, *others in (*wished, *teams):
        for other in others:
            if home[first] is not home[other]:
                home[first] |= home[other]
                home.update(dict.fromkeys(home[other], home[first]))
    together = {id(members): members for members in home.values()}
    return [tuple(name for name in home if name in members) for members in together.values()]


def apart_pairs(athletes: Sequence[Athlete]) -> list[tuple[str, str]]:
    """Who must not be together with whom, each pair once."""
    known = {athlete.name.casefold(): athlete.name for athlete in athletes}
    pairs = {(athlete.name, known.get(name.casefold(), athlete.name)) for athlete in athletes for name in athlete.apart}
    return sorted({(min(pair), max(pair)) for pair in pairs if pair[0] != pair[1]})


def with_latecomer(teams: Sequence[tuple[str, ...]], name: str) -> list[tuple[str, ...]]:
    """The teams with one more: in the smallest, the last of those, so that a late pair is soonest whole."""
    if not teams:
        return []
    smallest = min(len(team) for team in teams)
    joined = max(place for place, team in enumerate(teams) if len(team) == smallest)
    return [(*team, name) if place == joined else team for place, team in enumerate(teams)]
