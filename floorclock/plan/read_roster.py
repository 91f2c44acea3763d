"""A roster file, YAML or CSV, into a `Roster`, or into everything that is wrong with it.

Invariant: a roster comes out if and only if there is no problem of severity `error`. Of the moves and options that a
session knows only those written in the roster are looked at: what the session offers and nobody takes is no problem. What a
coach would want to know besides is a warning, at its place, with what to write instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import PurePath
from typing import cast

from floorclock.errors import Fix, Problem
from floorclock.plan.document import Document, Path, Tree, in_order
from floorclock.plan.durations import duration_words, shown
from floorclock.plan.fileformat import MOST_ATHLETES, RosterFile
from floorclock.plan.names import LONGEST_TITLE, MOST_NAMES, clean_name, first_few, listed, nearest, plain, plural, surely
from floorclock.plan.reader import read_yaml
from floorclock.plan.roster import Athlete, Roster, assign, clusters, give_keys
from floorclock.plan.roster_csv import looks_like_csv, read_csv
from floorclock.plan.session import ForTime, Paced, Piece, Session, Windowed
from floorclock.plan.wording import shape_of
from floorclock.plan.work import Station, Target, Unit, amount_said, station_names, under_least

MOST_SPELT = 50
"""Of so many different words the nearest known one is looked for."""
Written = list[tuple[Path, Mapping[str, Tree]]]
Concern = tuple[Path, str, str]
"""Where, what, and what to write instead."""


def read_roster(text: str | bytes, file: str, session: Session | None = None) -> tuple[Roster | None, tuple[Problem, ...]]:
    """The roster of a file and all problems at once; the roster is None if and only if one of them is an error.

    CSV is known by the file's name (`.csv`) or by its first line. With a session, an option that its move does not have is
    an error, and a move that the session does not have a warning: a roster may serve many sessions. Everybody comes back
    with a tap key.
    """
    document, problems = (read_csv if looks_like_csv(text, file) else read_yaml)(text, file)
    if document is None:
        return None, tuple(problems)
    shape, wrong = shape_of(document, RosterFile)
    problems += [*wrong, *_doubles(document)]
    if session is not None:
        problems += _Lookup(document, session).problems()
    if shape is None or any(problem.severity == "error" for problem in problems):
        return None, in_order(problems)
    athletes = give_keys(cast(list[Athlete], shape.athletes))
    written = _people(document)
    grouped = frozenset(athlete.name for athlete, (_, keys) in zip(athletes, written, strict=True) if "group" in keys)
    roster = Roster(title=shape.roster or _title(file), athletes=athletes, grouped=grouped)
    concerns = [*_twin_keys(roster), *_wishes(roster, written)]
    if session is not None:
        concerns += _Plan(session).concerns(roster, written)
    problems += [document.problem(*concern, "warning", kind="roster") for concern in concerns]
    return roster, in_order(problems)


def _title(file: str) -> str:
    """A title from the file's name, where the file gives none."""
    try:
        return clean_name(PurePath(file).stem.replace("-", " ").replace("_", " ").capitalize(), LONGEST_TITLE)
    except ValueError:
        return "Roster"


def _people(document: Document) -> Written:
    """The athletes as they are written, each with their place: a name alone is a mapping of a name."""
    athletes = document.tree.get("athletes") if isinstance(document.tree, dict) else None
    return [
        (("athletes", index), {"name": person} if isinstance(person, str) else person)
        for index, person in enumerate(athletes[:MOST_ATHLETES] if isinstance(athletes, list) else [])
        if not isinstance(person, list)
    ]


def _doubles(document: Document) -> list[Problem]:
    """Names and keys that two athletes share; `ali` and `Ali` cannot be told apart by calling them."""
    lines: dict[tuple[str, str], int] = {}
    problems = []
    for path, written in _people(document):
        for step, what, hint in (
            ("name", "name", "add the first letter of the family name"),
            ("key", "tap key", "give another, or leave it out"),
        ):
            value = written.get(step)
            if not isinstance(value, str) or not value.strip():
                continue
            tidy = plain(value)
            known = (step, tidy.casefold() if step == "name" else tidy)
            if known in lines:
                message = f"the {what} {shown(tidy)} is taken by the athlete on line {lines[known]}"
                problems.append(document.problem((*path, step), message, hint))
            else:
                lines[known] = document.place((*path, step))[0]
    return problems


class _Lookup:
    """Looks up what a roster names in a session; spelling only for as many different words as anybody would read.

    A roster serves many sessions: an option is an error, and a move a warning, only where a slip of the pen is likely.
    """

    def __init__(self, document: Document, session: Session) -> None:
        self.document = document
        self.found: list[Problem] = []
        self.others: dict[str, Path] = {}
        """Moves of other sessions, each with where it stands first."""
        self.spelt: dict[tuple[str, str], str] = {}
        self.moves: set[str] = set()
        self.options: dict[str, set[str]] = {}
        """By the move, or by the title of a part with `choose`, what can be chosen there."""
        for station in session.moves():
            self.moves |= {station.move, station.own(station.move)}
            self.options.setdefault(station.move, set()).update(option.name for option in station.options)
            self.moves.update(name for option in station.options for name in (option.move, station.own(option.move)))
        for part in session.parts:
            if isinstance(part, Piece) and part.choose:
                self.options.setdefault(part.written, set()).update(choice.name for choice in part.choose)
            if isinstance(part, Paced) and part.move:
                self.moves.add(part.move)

    def problems(self) -> list[Problem]:
        """Options that their move does not have, moves that the session does not have; those of other sessions in one note."""
        for path, written in _people(self.document):
            options, targets, experienced = (written.get(key) for key in ("options", "targets", "experienced"))
            for move, option in options.items() if isinstance(options, dict) else ():
                self._option((*path, "options", move), move, option)
            for move in targets if isinstance(targets, dict) else ():
                if plain(move) not in self.moves:
                    self._no_move((*path, "targets", move), move, self.moves)
            # Experience in other moves is no mistake, unless it is nearly one of these.
            for index, done in enumerate(experienced if isinstance(experienced, list) else [experienced]):
                if isinstance(done, str) and plain(done) not in self.moves and self._near(done, self.moves):
                    self._no_move((*path, "experienced", index), done, self.moves)
        if self.others:
            names = list(self.others)
            message = f"the session has no {plural('move', len(names))} {first_few(list(map(shown, names)))}"
            hint = f"this session does without {'it' if len(names) == 1 else 'them'}"
            at = self.others[names[0]]
            self.found.append(self.document.problem(at, message, hint, "note", at_key=True, kind="roster"))
        return self.found

    def _near(self, word: str, among: Iterable[str], where: str = "") -> str:
        if (word, where) not in self.spelt:
            if len(self.spelt) >= MOST_SPELT:
                return ""
            self.spelt[word, where] = nearest(word, sorted(among))
        return self.spelt[word, where]

    def _option(self, path: Path, move: str, option: Tree) -> None:
        there = self.options.get(plain(move))
        if there is None:
            self._no_move(path, move, self.options)
        elif isinstance(option, str) and plain(option) not in there:
            near = self._near(option, there, move)
            message = f"{shown(move)} has no option {shown(option)}"
            if near:
                fix = Fix(path, near) if surely(option, near) else None
                self.found.append(self.document.problem(path, message, f"did you mean {near}?", fix=fix))
            else:
                has = f"it has {', '.join(sorted(there))}" if there else "it has no options"
                self.found.append(self.document.problem(path, message, f"{has}; as written then", "warning", kind="roster"))

    def _no_move(self, path: Path, move: str, known: Iterable[str]) -> None:
        near = self._near(move, known)
        if not near:
            self.others.setdefault(plain(move), path)
            return
        message = f"the session has no move {shown(move)}"
        self.found.append(self.document.problem(path, message, f"did you mean {near}?", "warning", at_key=True, kind="roster"))


def _twin_keys(roster: Roster) -> Iterator[Concern]:
    """Tap keys that differ in nothing but their case. Said once."""
    seen: dict[str, Athlete] = {}
    twins: list[tuple[int, Athlete, Athlete]] = []
    for index, athlete in enumerate(roster.athletes):
        other = seen.setdefault(athlete.key.casefold(), athlete)
        if athlete.key and other is not athlete:
            twins.append((index, athlete, other))
    if twins:
        index, athlete, other = twins[0]
        message = (
            f"{athlete.name} taps with {athlete.key} and {other.name} with {other.key}: with caps lock on the two change places"
        )
        more = len(twins) - 1
        if more:
            message += f"; {more} more {plural('pair', more)} {'is' if more == 1 else 'are'} like that"
        yield ("athletes", index, "key"), message, "keep caps lock off, and tell whoever taps"


def _wishes(roster: Roster, people: Written) -> Iterator[Concern]:
    """Wishes for company (`with`, `not_with`) that name nobody who is here, or that cannot all be kept."""
    known = {athlete.name.casefold(): athlete.name for athlete in roster.athletes}
    together = {name: unit for unit in clusters(roster.athletes) for name in unit}
    for athlete, (where, written) in zip(roster.athletes, people, strict=True):
        for key in ("with", "not_with"):
            names, path = written.get(key, []), (*where, key)
            for name in names if isinstance(names, list) else [names]:
                other = known.get(plain(str(name)).casefold())
                if other is None:
                    near = nearest(str(name), known.values())
                    hint = f"did you mean {near}?" if near else "leave it where they come another day"
                    yield path, f"nobody here is called {shown(str(name))}", hint
                elif other == athlete.name:
                    yield path, f"this is the name of {athlete.name} themselves", "name somebody else"
                elif key == "not_with" and other in together[athlete.name]:
                    company = listed([partner for partner in together[athlete.name] if partner != athlete.name], MOST_NAMES)
                    yield path, f"{athlete.name} is to be with {company}, and not with {other}", "take one of the two out"


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
        windows = (
            (part.window_ms(index), part.title)
            for part in self.parts
            for index, station in enumerate(part.stations)
            if station.target is not None
        )
        self.shortest = min(windows, default=None)
        """The shortest time for work, and the title of its part."""
        self.waves = any(isinstance(part, ForTime) and part.wave_every_ms for part in session.parts)

    def concerns(self, roster: Roster, people: Written) -> Iterator[Concern]:
        """What in a roster that could be read goes badly with the session."""
        for athlete, (path, written) in zip(roster.athletes, people, strict=True):
            for steps, message, hint in (*self._targets(athlete, written), *self._margin(athlete)):
                yield (*path, *steps), message, hint
        yield from self._groups(roster.athletes)

    def _targets(self, athlete: Athlete, written: Mapping[str, Tree]) -> Iterator[Concern]:
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
                yield from self._under_the_least(path, athlete, plain(move), target)

    def _under_the_least(self, path: Path, athlete: Athlete, move: str, target: Target) -> Iterator[Concern]:
        for station in self.floors.get(move, ()):
            short = under_least(station, target)
            if short is not None and move in (done := assign(athlete, station).move, station.own(done)):
                given, wanted = short
                message = f"{athlete.name} is to do {given} of {shown(move)}, under the least of {wanted}"
                yield path, message, f"write {wanted} or more, or a smaller `least` at {station.move}"
                return

    def _margin(self, athlete: Athlete) -> Iterator[Concern]:
        """A rest margin of their own that leaves no time to work."""
        own = athlete.rest_margin_ms
        if own is None or self.shortest is None or own < self.shortest[0]:
            return
        shortest, title = self.shortest
        message = f"{athlete.name}'s rest margin of {duration_words(own)} leaves no time to work in {duration_words(shortest)}"
        yield ("rest_margin",), f"{message} ({title})", f"less than {duration_words(shortest)}, or leave it out"

    def _groups(self, athletes: Sequence[Athlete]) -> Iterator[Concern]:
        """Start groups that there is no station for, in no part; groups that are waves are another matter. Said once."""
        part = max(self.parts, key=lambda part: len(part.stations), default=None)
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
