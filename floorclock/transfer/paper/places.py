"""Where in a plan a row of paper belongs: its part, athlete, round, station and interval.

Invariant: a place is found or refused in words, with the nearest spelling; nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from floorclock.clock.run import PartRun
from floorclock.clock.state import new_state
from floorclock.live.plan_files import Plan
from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.names import nearest, plain
from floorclock.plan.quantities import parse_count
from floorclock.plan.roster import Assignment
from floorclock.plan.session import AnyPart, Windowed
from floorclock.plan.work import station_names
from floorclock.transfer.cells import unguarded

MOST_SPELT = 50
MOST_COUNTED = 10_000


@dataclass(frozen=True, slots=True)
class NamedStation:
    """A station (from 0) and, where the row names one of its options (or the move of one), that option."""

    index: int
    option: str | None = None


class Places:
    """A plan and roster to look things up in."""

    def __init__(self, plan: Plan) -> None:
        self.session = plan.session
        self.state = new_state(plan.session, plan.roster.athletes)
        self.runs = [self.state.planned_run(index) for index in range(len(plan.session.parts))]
        self._people = {_folded(name): name for name in self.state.athletes}
        self._stations = [_station_words(part) for part in plan.session.parts]
        self._intervals: dict[tuple[int, int], dict[tuple[int, int], int]] = {}
        self._spelt: dict[tuple[str, str], str] = {}

    def part(self, text: str) -> int:
        """A part (from 0) by its number."""
        parts = self.session.parts
        if not text:
            raise UnreadableError("nothing is written here", f"write the number of the part, 1 to {len(parts)}")
        if text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= len(parts):
            return int(text[:6]) - 1
        named = next((number for number, part in enumerate(parts, start=1) if _folded(part.title) == _folded(text)), None)
        has = f"it has {len(parts)}, the first is 1" if len(parts) > 1 else "it has one, 1"
        raise UnreadableError(
            f"the session has no part {shown(text)}", has if named is None else f"{shown(text)} is part {named}"
        )

    def athlete(self, text: str) -> str:
        """The name of an athlete as the roster has it."""
        if not text:
            raise UnreadableError("nothing is written here", "write the athlete's name")
        for word in (text, unguarded(text)):
            if _folded(word) in self._people:
                return self._people[_folded(word)]
        near = self._near(text, self._people.values(), "athlete")
        raise UnreadableError(f"nobody called {shown(text)} is on the roster", f"did you mean {near}?" if near else "")

    def round(self, part: int, text: str) -> int:
        """A round of a part, from 1."""
        if not text:
            raise UnreadableError("nothing is written here", "write the number of the round, from 1")
        last = max((interval.round for interval in self.runs[part].timeline.intervals), default=1)
        number = parse_count(text, 0, MOST_COUNTED)
        if not 1 <= number <= last:
            only = "has one round only" if last == 1 else f"has rounds 1 to {last}"
            raise UnreadableError(f"there is no round {number}", f"{shown(self.session.parts[part].title)} {only}")
        return number

    def station(self, part: int, text: str) -> NamedStation:
        """A station of a part by its name there (`squat`, `squat (2)`), or by an option or its move where only one has it."""
        if not text:
            raise UnreadableError("nothing is written here", "write the move of the station")
        known = self._stations[part]
        for word in (text, unguarded(text)):
            found = known.get(_folded(word), ())
            if len(found) == 1:
                return found[0]
            if found:
                names = station_names(self.session.parts[part].stations)
                where = " and ".join(names[station.index] for station in found)
                raise UnreadableError(f"{shown(text)} is an option at {where}", "write the name of the station")
        title, stations = shown(self.session.parts[part].title), self.session.parts[part].stations
        names = station_names(stations)
        moves = dict.fromkeys(option.move for station in stations for option in station.options)
        near = self._near(text, (*names, *moves), str(part))
        has = f"it has {', '.join(names)}" + (f"; as options {', '.join(moves)}" if moves else "")
        raise UnreadableError(f"{title} has no station {shown(text)}", f"did you mean {near}?" if near else has)

    def option_by_move(self, part: int, name: str, interval: int, move: str) -> str | None:
        """The option whose move an athlete did in an interval; empty for the station's own, None for what is theirs anyway."""
        run = self.runs[part]
        usual = self.state.assignment(name, run, interval)
        at = self.state.station_of(name, run, interval)
        if usual is None or at is None or _folded(unguarded(move)) == _folded(usual.move):
            return None
        station = self.session.parts[part].stations[at]
        if _folded(unguarded(move)) == _folded(station.move):
            return ""
        found = next((option.name for option in station.options if _folded(option.move) == _folded(unguarded(move))), None)
        if found is not None:
            return found
        has = ", ".join(dict.fromkeys([station.move, *(option.move for option in station.options)]))
        raise UnreadableError(
            f"nobody does {shown(move)} at {station_names(self.session.parts[part].stations)[at]}", f"it has {has}"
        )

    def is_rest(self, part: int, station: NamedStation) -> bool:
        """Whether nobody works there."""
        return self.session.parts[part].stations[station.index].is_rest

    def interval(self, part: int, name: str, round_number: int, station: NamedStation) -> int:
        """The interval in which an athlete is at a station in a round."""
        found = self.intervals_of(part, name).get((round_number, station.index))
        if found is not None:
            return found
        names = station_names(self.session.parts[part].stations)
        group = self.state.athletes[name].group
        there = [names[index] for round_there, index in self.intervals_of(part, name) if round_there == round_number]
        hint = f"start group {group} has {', '.join(there) or 'none'} in that round"
        raise UnreadableError(f"{name} is not at {names[station.index]} in round {round_number}", hint)

    def intervals_of(self, part: int, name: str) -> dict[tuple[int, int], int]:
        """The work of an athlete in a part: (round, station) to interval, in order."""
        run = self.runs[part]
        key = (part, self.state.athletes[name].group)
        if key not in self._intervals:
            self._intervals[key] = dict(self._work_of(run, name))
        return self._intervals[key]

    def loaded(self, part: int, name: str) -> list[Assignment]:
        """What somebody does in a part for time or rounds with a load, each move once."""
        choice = self.state.choice_of(name, part)
        stations = choice.work if choice and choice.work else self.session.parts[part].stations
        works = (self.state.assigned(name, station) for station in stations)
        return list({work.move: work for work in works if work.load is not None}.values())

    def _work_of(self, run: PartRun, name: str) -> Iterable[tuple[tuple[int, int], int]]:
        for index, interval in enumerate(run.timeline.intervals):
            station = self.state.station_of(name, run, index)
            if station is not None and not run.part.stations[station].is_rest:
                yield (interval.round, station), index

    def _near(self, word: str, among: Iterable[str], where: str) -> str:
        """The nearest spelling; for as many different words as anybody would read."""
        key = (word, where)
        if key not in self._spelt:
            if len(self._spelt) >= MOST_SPELT:
                return ""
            names = list(among)
            by_word = {piece: name for name in reversed(names) for piece in name.split()}
            # Who writes swing means the kettlebell swing.
            self._spelt[key] = nearest(word, names) or by_word.get(nearest(word, by_word), "")
        return self._spelt[key]


def is_scored_once(part: AnyPart) -> bool:
    """Whether one number stands for an athlete's whole part: so the plan says, or the part has no intervals to count in."""
    return part.score is not None and (part.score.each == "part" or not isinstance(part, Windowed))


def _folded(text: str) -> str:
    return plain(text).casefold()


def _station_words(part: AnyPart) -> dict[str, tuple[NamedStation, ...]]:
    """What the stations of a part can be called.

    The name of a station goes before the move of another one's option, and that before the name of an option.
    """
    words: dict[str, tuple[NamedStation, ...]] = {}
    for index, name in enumerate(station_names(part.stations)):
        words[_folded(name)] = (NamedStation(index),)
    options = [(index, option) for index, station in enumerate(part.stations) for option in station.options]
    for called in (
        [(_folded(option.move), at, option) for at, option in options],
        [(_folded(option.name), at, option) for at, option in options],
    ):
        named = set(words)
        for word, index, option in called:
            others = words.get(word, ())
            if word not in named and all(other.index != index for other in others):
                words[word] = (*others, NamedStation(index, option.name))
    return words
