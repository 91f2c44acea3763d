"""Who is here today, and what each of them does at a station.

Invariant: names are unique in a roster; a tap key belongs to one athlete.
"""

from __future__ import annotations

import string
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from floorclock.plan.work import Option, Station, Target

SAFE_KEYS = string.ascii_lowercase + string.digits + string.ascii_uppercase
"""Tap keys given out by the tool, in this order. Commands use none of them, so that no key can mean two things."""


@dataclass(frozen=True, kw_only=True)
class Athlete:
    """One person in the class. `options` maps a move to an option name, `targets` a move to a target.

    `rest_margin_ms` overrides every other margin; `group` is the start group, from 1.
    """

    name: str
    key: str = ""
    level: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    targets: Mapping[str, Target] = field(default_factory=dict)
    experienced: frozenset[str] = frozenset()
    group: int = 1
    rest_margin_ms: int | None = None


@dataclass(frozen=True, kw_only=True)
class Roster:
    """The athletes of a class, in the order of the board."""

    title: str
    athletes: tuple[Athlete, ...]


@dataclass(frozen=True, slots=True)
class Assignment:
    """What one athlete does at one station: after options, own targets and gates.

    `option` is the name of the option in force, empty for the move as written. `gated` is true when the move is
    guarded and nobody has said yes for this athlete: the coach has to.
    """

    move: str
    target: Target | None
    option: str = ""
    gated: bool = False


def assign(athlete: Athlete, station: Station) -> Assignment:
    """What `athlete` does at `station`.

    A guarded move falls back on the first option that is not guarded; without one it stays, marked `gated`.
    """
    chosen = _chosen_option(athlete, station)
    move, target, guarded = station.move, station.target, station.guarded
    if chosen is not None:
        move, target, guarded = chosen.move, chosen.target or station.target, chosen.guarded
    own = athlete.targets.get(move)
    if own is not None and target is not None and own.unit is target.unit:
        target = replace(own, step=own.step or target.step)
    elif own is not None:
        target = own
    gated = guarded and move not in athlete.experienced
    return Assignment(move, target, chosen.name if chosen else "", gated)


def _chosen_option(athlete: Athlete, station: Station) -> Option | None:
    wanted = athlete.options.get(station.move)
    for option in station.options:
        if option.name == wanted:
            return option
    if station.guarded and station.move not in athlete.experienced:
        return next((option for option in station.options if not option.guarded), None)
    return None


def give_keys(athletes: Iterable[Athlete]) -> tuple[Athlete, ...]:
    """Every athlete with a tap key: their own where they have one, else the first free of their name, else the first free."""
    people = list(athletes)
    taken = {person.key for person in people if person.key}
    given = []
    for person in people:
        if not person.key:
            key = next(_wishes(person.name, taken), "")
            taken.add(key)
            person = replace(person, key=key)
        given.append(person)
    return tuple(given)


def _wishes(name: str, taken: set[str]) -> Iterator[str]:
    own = [letter for letter in name.lower() if letter in SAFE_KEYS]
    yield from (letter for letter in [*own, *SAFE_KEYS] if letter not in taken)
