"""What a coach would want to know about a roster before the class: warnings, never errors.

Invariant: only complains about what is written in the roster, at its place, and says what to write instead.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from floorclock.errors import Problem
from floorclock.plan.document import Document, Path, Tree
from floorclock.plan.durations import duration_words, shown
from floorclock.plan.fileformat import MOST_ATHLETES
from floorclock.plan.names import MOST_NAMES, listed, nearest, plain
from floorclock.plan.roster import Athlete, Roster, assign, clusters
from floorclock.plan.session import ForTime, Session, Windowed
from floorclock.plan.work import Station, Target, Unit, amount_said, station_names, under_least

Concern = tuple[Path, str, str]
"""Where, what, and what to write instead."""


def people(document: Document) -> list[tuple[Path, Mapping[str, Tree]]]:
    """The athletes as they are written, each with their place: a name alone is a mapping of a name."""
    athletes = document.tree.get("athletes") if isinstance(document.tree, dict) else None
    return [
        (("athletes", index), {"name": person} if isinstance(person, str) else person)
        for index, person in enumerate(athletes[:MOST_ATHLETES] if isinstance(athletes, list) else [])
        if not isinstance(person, list)
    ]


def twin_keys(document: Document, roster: Roster) -> list[Problem]:
    """Tap keys that differ in nothing but their case. Said once."""
    seen: dict[str, Athlete] = {}
    twins: list[tuple[int, Athlete, Athlete]] = []
    for index, athlete in enumerate(roster.athletes):
        folded = athlete.key.casefold()
        if folded and folded in seen:
            twins.append((index, athlete, seen[folded]))
        else:
            seen[folded] = athlete
    if not twins:
        return []
    index, athlete, other = twins[0]
    message = f"{athlete.name} taps with {athlete.key} and {other.name} with {other.key}: with caps lock on the two change places"
    if len(twins) > 1:
        message += f"; {len(twins) - 1} more pairs are like that" if len(twins) > 2 else "; 1 more pair is like that"
    return [_warning(document, ("athletes", index, "key"), message, "keep caps lock off, and tell whoever taps")]


def wish_concerns(document: Document, roster: Roster) -> list[Problem]:
    """Wishes for company (`with`, `not_with`) that name nobody who is here, or that cannot all be kept."""
    known = {athlete.name.casefold(): athlete.name for athlete in roster.athletes}
    together = {name: unit for unit in clusters(roster.athletes) for name in unit}
    found: list[Concern] = []
    for athlete, (where, written) in zip(roster.athletes, people(document), strict=True):
        for key in ("with", "not_with"):
            names, path = written.get(key, []), (*where, key)
            for name in names if isinstance(names, list) else [names]:
                other = known.get(plain(str(name)).casefold())
                if other is None:
                    near = nearest(str(name), known.values())
                    hint = f"did you mean {near}?" if near else "leave it where they come another day"
                    found.append((path, f"nobody here is called {shown(str(name))}", hint))
                elif other == athlete.name:
                    found.append((path, f"this is the name of {athlete.name} themselves", "name somebody else"))
                elif key == "not_with" and other in together[athlete.name]:
                    company = listed([one for one in together[athlete.name] if one != athlete.name], MOST_NAMES)
                    message = f"{athlete.name} is to be with {company}, and not with {other}"
                    found.append((path, message, "take one of the two out"))
    return [_warning(document, *concern) for concern in found]


def roster_concerns(document: Document, roster: Roster, session: Session) -> list[Problem]:
    """What in a roster that could be read goes badly with a session."""
    plan = _Plan(session)
    found = [
        ((*path, *steps), message, hint)
        for athlete, (path, written) in zip(roster.athletes, people(document), strict=True)
        for steps, message, hint in (*plan.targets(athlete, written), *plan.margin(athlete))
    ]
    return [_warning(document, path, message, hint) for path, message, hint in (*found, *plan.groups(roster.athletes))]


class _Plan:
    """What a session has for everybody, looked up for one athlete after the other."""

    def __init__(self, session: Session) -> None:
        self.planned: dict[str, dict[Unit, Target]] = {}
        self.floors: dict[str, list[Station]] = {}
        for station in session.moves():
            for move, target in ((station.move, station.target), *((option.move, option.target) for option in station.options)):
                for name in dict.fromkeys((move, station.own(move))):
                    if target is not None:
                        self.planned.setdefault(name, {}).setdefault(target.unit, target)
                    if station.least is not None:
                        self.floors.setdefault(name, []).append(station)
        self.parts = [part for part in session.parts if isinstance(part, Windowed)]
        self.waves = any(isinstance(part, ForTime) and part.wave_every_ms for part in session.parts)

    def targets(self, athlete: Athlete, written: Mapping[str, Tree]) -> Iterator[Concern]:
        """Targets of their own in another unit than the plan's, or under the least that the plan wants."""
        own = written.get("targets")
        for move in own if isinstance(own, dict) else ():
            target, path = athlete.targets.get(plain(move)), ("targets", move)
            planned = self.planned.get(plain(move), {})
            if target is not None and planned and target.unit not in planned:
                said, words = next(iter(planned.items())), amount_said(target.amount, target.unit)
                example = amount_said(said[1].amount, said[0])
                message = f"{athlete.name} is to do {words} of {shown(plain(move))}, and the plan counts it in {said[0]}"
                yield path, message, f"write it like {example}, unless you mean it: no other round compares with it then"
            elif target is not None:
                yield from ((path, *words) for words in self._under_the_least(athlete, plain(move), target))

    def _under_the_least(self, athlete: Athlete, move: str, target: Target) -> Iterator[tuple[str, str]]:
        for station in self.floors.get(move, ()):
            short = under_least(station, target)
            if short is not None and move in (done := assign(athlete, station).move, station.own(done)):
                given, wanted = short
                message = f"{athlete.name} is to do {given} of {shown(move)}, under the least of {wanted}"
                yield message, f"write {wanted} or more, or a smaller `least` at {station.move}"
                return

    def margin(self, athlete: Athlete) -> Iterator[Concern]:
        """A rest margin of their own that leaves no time to work."""
        own = athlete.rest_margin_ms
        windows = [
            (part.window_ms(index), part.title)
            for part in self.parts
            for index, station in enumerate(part.stations)
            if station.target is not None
        ]
        if own is None or not windows or own < min(windows)[0]:
            return
        shortest, title = min(windows)
        message = f"{athlete.name}'s rest margin of {duration_words(own)} leaves no time to work in {duration_words(shortest)}"
        yield ("rest_margin",), f"{message} ({title})", f"less than {duration_words(shortest)}, or leave it out"

    def groups(self, athletes: Sequence[Athlete]) -> Iterator[Concern]:
        """Start groups that there is no station for, in no part; groups that are waves are another matter. Said once."""
        part = max(self.parts, key=lambda one: len(one.stations), default=None)
        most = len(part.stations) if part else 0
        over = sorted({athlete.group for athlete in athletes if athlete.group > most})
        if part is None or self.waves or most < 2 or not over:
            return
        first = next(index for index, athlete in enumerate(athletes) if athlete.group > most)
        group = athletes[first].group
        place = (group - 1) % most
        message = f"start group {group} begins with group {place + 1}, at {station_names(part.stations)[place]}"
        others = f"; so do {len(over) - 1} more groups with others" if len(over) > 1 else ""
        hint = f"write a group from 1 to {most}, or leave it where it is meant"
        yield ("athletes", first, "group"), f"{message}: {part.title} has {most} stations{others}", hint


def _warning(document: Document, path: Path, message: str, hint: str) -> Problem:
    return document.problem(path, message, hint, "warning", kind="roster")
