"""What must fit together in a session file, beyond the shape of each mapping.

Invariant: works on any tree, however broken; a value that cannot be read is silently passed over here, since the shapes
have already complained about it. So all problems come at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from math import ceil
from typing import TypeVar

from floorclock.errors import Problem
from floorclock.plan import quantities as q
from floorclock.plan.document import Document, Path, Tree
from floorclock.plan.durations import DAY_MS, duration_words, parse_duration_ms, shown
from floorclock.plan.fileformat import kind_of
from floorclock.plan.work import Target, Unit, amount_said

MOST_INTERVALS = 10_000
MOST_BEATS = 20_000
_SHORT_FORM = ("start", "step", "stage", "count")
Mapped = Mapping[str, Tree]
_T = TypeVar("_T")


def session_problems(document: Document) -> list[Problem]:
    """Everything across keys that does not fit, for a whole session."""
    parts = document.tree.get("parts") if isinstance(document.tree, dict) else None
    return [
        problem
        for path, part in _every_part(("parts",), parts if isinstance(parts, list) else [])
        for problem in _PartRules(document, path, part).problems()
    ]


def _every_part(path: Path, parts: list[Tree]) -> Iterator[tuple[Path, Mapped]]:
    """The parts, those of a `repeat` too, each with its path."""
    for number, part in enumerate(parts):
        if not isinstance(part, dict):
            continue
        inner = part.get("parts")
        if kind_of(part) == "repeat" and isinstance(inner, list):
            yield from _every_part((*path, number, "parts"), inner)
        else:
            yield (*path, number), part


def _readable(mapping: Mapped, key: str, parse: Callable[[str], _T]) -> _T | None:
    """A value where it can be read, None where it is left out or wrong."""
    text = mapping.get(key)
    try:
        return parse(text) if isinstance(text, str) else None
    except ValueError:
        return None


def _whole_number(mapping: Mapped, key: str, most: int = 10_000) -> int | None:
    """A whole number above zero, None where it is left out or wrong."""
    return _readable(mapping, key, lambda text: q.parse_count(text, 1, most))


def _mappings(mapping: Mapped, key: str) -> Iterator[tuple[Path, Mapped]]:
    """The items of a list that are mappings, each with its steps."""
    items = mapping.get(key)
    if isinstance(items, list):
        yield from (((key, index), item) for index, item in enumerate(items) if isinstance(item, dict))


def _target(tree: Tree | None) -> Target | None:
    """A target, a ladder too, where it can be read; None for one by level."""
    if not isinstance(tree, dict):
        return _readable({"": tree or ""}, "", q.parse_target)
    start, step = _readable(tree, "start", q.parse_target), _readable(tree, "step", q.parse_step)
    return replace(start, step=step[0]) if start and step else None


class _PartRules:
    """The rules of one part; `_say` collects what they find."""

    def __init__(self, document: Document, path: Path, part: Mapped) -> None:
        self.document = document
        self.path = path
        self.part = part
        self.kind = kind_of(part)
        self.found: list[Problem] = []

    def problems(self) -> list[Problem]:
        match self.kind:
            case "open":
                self._open()
            case "rotation":
                self._rotation()
            case "intervals":
                self._intervals()
            case "for_time" | "amrap":
                self._piece()
            case "paced":
                self._paced()
        return self.found

    def _say(self, steps: Path, message: str, hint: str = "", *, at_key: bool = False) -> None:
        """Something at `steps` of the part does not fit."""
        self.found.append(self.document.problem((*self.path, *steps), message, hint, at_key=at_key))

    def _too_many(self, steps: Path, count: int, what: str, most: int = MOST_INTERVALS) -> bool:
        if count > most:
            self._say(steps, f"{count:,} {what} are too many", f"at most {most:,} in a part")
        return count > most

    def _duration(self, key: str) -> int | None:
        """A duration of the part, None where it is left out or wrong."""
        return _readable(self.part, key, parse_duration_ms)

    def _open(self) -> None:
        longest = self._duration("max")
        for key in ("time", "min"):
            value = self._duration(key)
            if value is not None and longest is not None and value > longest:
                self._say((key,), f"`{key}` is longer than `max`", f"at most {duration_words(longest)}")

    def _rotation(self) -> None:
        every = self._duration("every")
        if "rounds" in self.part and "for" in self.part:
            self._say(("for",), "`rounds` and `for` say the same thing twice", "keep one of them", at_key=True)
        elif "rounds" not in self.part and "for" not in self.part:
            self._say((), "how long it lasts is missing", "write rounds: 5, or for: 20:00")
        elif "for" in self.part and any("time" in station for _, station in _mappings(self.part, "stations")):
            self._say(("for",), "stations with a time of their own do not fill a `for`", "write rounds: 5", at_key=True)
        elif "for" in self.part:
            self._whole_number_of(every)
        else:
            self._not_too_long(every)
        self._stations("stations", every)

    def _whole_number_of(self, every: int | None) -> None:
        length = self._duration("for")
        if not every or not length:
            return
        if length % every:
            below, above = length // every * every, (length // every + 1) * every
            near = " or ".join(duration_words(value) for value in (below, above) if 0 < value <= DAY_MS)
            self._say(("for",), f"`for` is no whole number of `every` ({duration_words(every)})", f"write {near}")
        else:
            self._too_many(("for",), length // every, "intervals")

    def _not_too_long(self, every: int | None) -> None:
        rounds, stations = _whole_number(self.part, "rounds"), self.part.get("stations")
        if not rounds or not isinstance(stations, list):
            return
        count = rounds * len(stations)
        if not self._too_many(("rounds",), count, "intervals") and every and count * every > DAY_MS:
            self._say(("rounds",), "the part would last longer than a day", "fewer rounds, or a shorter `every`")

    def _intervals(self) -> None:
        work, rest, sets = self._duration("work"), self._duration("rest"), _whole_number(self.part, "sets")
        if work and rest is not None and sets and sets * (work + rest) > DAY_MS:
            self._say(("sets",), "the part would last longer than a day", "fewer sets, or shorter ones")
        self._stations("stations", work)

    def _piece(self) -> None:
        """A `for_time` or an `amrap`, and its alternatives."""
        for_time = self.kind == "for_time"
        limit = self._duration("cap" if for_time else "time")
        if for_time:
            wave = self._duration("wave_every")
            if limit and wave is not None and wave >= limit:
                hint = f"less than {duration_words(limit)}"
                self._say(("wave_every",), "the second wave would start when the cap is over", hint)
            self._rounds_of_work((), self.part)
        self._stations("work", limit)
        self._unique_names("choose", self.part, ())
        for steps, choice in _mappings(self.part, "choose"):
            for inner, station in _mappings(choice, "work"):
                self._station((*steps, *inner), station, None)
            self._distinct((*steps, "work"), choice.get("work"))
            if for_time:
                self._rounds_of_work(steps, choice)
                if "rounds" not in choice and "work" not in choice:
                    self._say(steps, "this alternative changes nothing", "give it `rounds`, `work`, or both")
                continue
            if "rounds" in choice:
                self._say((*steps, "rounds"), "an amrap has no number of rounds", "take it out", at_key=True)
            if "work" not in choice:
                self._say(steps, "`work` is missing", "write work: and under it a list, each beginning with - move:")

    def _rounds_of_work(self, steps: Path, choice: Mapped) -> None:
        whole = {**self.part, **choice}
        rounds, work = _whole_number(whole, "rounds"), whole.get("work")
        if rounds and isinstance(work, list):
            self._too_many((*steps, "rounds") if "rounds" in choice else steps, rounds * len(work), "pieces of work")

    def _paced(self) -> None:
        if "beat" in self.part and "shuttle" in self.part:
            self._say(("shuttle",), "a part has a `beat` or a `shuttle`, not both", "take one out", at_key=True)
        elif "shuttle" in self.part:
            for key in ("time", "beats_per_rep"):
                if key in self.part:
                    self._say((key,), f"`{key}` means nothing with a `shuttle`", "take it out", at_key=True)
            if isinstance(self.part["shuttle"], dict):
                self._shuttle(self.part["shuttle"])
        elif "beat" not in self.part:
            self._say((), "the pace is missing", "write beat: 96 per minute and time: 3:00, or shuttle: and its stages")
        elif "time" not in self.part:
            self._say((), "`time` is missing", "write time: 3:00")
        else:
            beats = (_readable(self.part, "beat", q.parse_beat) or 0) * (self._duration("time") or 0) / 60_000
            self._too_many(("time",), int(beats), "beats", MOST_BEATS)

    def _shuttle(self, shuttle: Mapped) -> None:
        used = [key for key in _SHORT_FORM if key in shuttle]
        if "stages" in shuttle and used:
            message = f"`stages` are written out, so `{used[0]}` means nothing"
            self._say(("shuttle", used[0]), message, "keep one of the two forms", at_key=True)
        elif "stages" not in shuttle:
            for key in _SHORT_FORM:
                if key not in shuttle and used:
                    self._say(("shuttle",), f"`{key}` is missing", "the short form has start, step, stage and count")
            if not used:
                self._say(("shuttle",), "the stages are missing", "write stages:, or start, step, stage and count")
        self._speeds(shuttle)
        lengths = sum(_whole_number(stage, "shuttles") or 0 for _, stage in _mappings(shuttle, "stages"))
        self._too_many(("shuttle", "stages"), lengths, "shuttles")

    def _speeds(self, shuttle: Mapped) -> None:
        start, step = (_readable(shuttle, key, lambda text: q.parse_speed_kmh(text, Fraction(0))) for key in ("start", "step"))
        many = _whole_number(shuttle, "count", 100)
        if start is None or step is None or not many:
            return
        speeds = [start + step * number for number in range(many)]
        if speeds[-1] > 50:
            self._say(("shuttle", "count"), f"the last stage would be at {float(speeds[-1]):g} km/h", "at most 50 km/h")
        distance, stage = _readable(shuttle, "distance", q.parse_length_mm), _readable(shuttle, "stage", parse_duration_ms)
        if distance and stage:
            lengths = sum(q.shuttles_nearest(distance / 1000, speed, stage) for speed in speeds)
            self._too_many(("shuttle", "count"), lengths, "shuttles")

    def _stations(self, key: str, window_ms: int | None) -> None:
        """Rules of the list under `key`, whose windows are `window_ms` long."""
        stations = self.part.get(key)
        if not isinstance(stations, list):
            return
        if key == "stations" and stations and all(isinstance(slot, str) and slot.strip().lower() == "rest" for slot in stations):
            self._say((key,), "nobody works here", "a station begins with - move:")
        self._margin((), self.part, window_ms)
        for steps, station in _mappings(self.part, key):
            own_ms = _readable(station, "time", parse_duration_ms)
            if key == "work" and "time" in station:
                self._say((*steps, "time"), "a piece of this work has no window of its own", "take it out", at_key=True)
            self._station(steps, station, window_ms if own_ms is None else own_ms)
            for inner, item in _mappings(station, "work"):
                self._item((*steps, *inner), item)
        self._distinct((key,), stations)
        for once in ("buy_in", "cash_out"):
            for steps, station in _mappings(self.part, once):
                self._station(steps, station, None)

    def _item(self, steps: Path, item: Mapped) -> None:
        """One of several moves in a window: the window and its rest are the station's."""
        for key in ("time", "rest_margin", "least"):
            if key in item:
                self._say((*steps, key), f"`{key}` belongs to the station, not to one of its moves", "take it out", at_key=True)
        self._station(steps, item, None)

    def _distinct(self, steps: Path, stations: Tree | None) -> None:
        """Station names are unique in a part; `squat (2)` is what the second squat is called."""
        seen: dict[str, int] = {}
        names: set[str] = set()
        for index, slot in enumerate(stations if isinstance(stations, list) else []):
            move = slot.get("move") if isinstance(slot, dict) else None
            if not isinstance(move, str):
                continue
            seen[move] = seen.get(move, 0) + 1
            name = move if seen[move] == 1 else f"{move} ({seen[move]})"
            if name in names:
                self._say((*steps, index, "move"), f"two stations would be called {shown(name)}", "give one another name")
            names.add(name)

    def _station(self, steps: Path, station: Mapped, window_ms: int | None) -> None:
        for at, mapping in ((steps, station), *(((*steps, *inner), option) for inner, option in _mappings(station, "options"))):
            move = mapping.get("move")
            if isinstance(move, str) and move.strip().lower() == "rest":
                self._say((*at, "move"), "`rest` is no move", "in a rotation a rest is written as `- rest`")
            self._ladder((*at, "target"), mapping.get("target"))
        self._margin(steps, station, window_ms)
        self._least(steps, station)
        self._unique_names("options", station, steps)
        for inner, option in _mappings(station, "options"):
            if "move" not in option and "target" not in option:
                self._say((*steps, *inner), "this option changes nothing", "give it a `move`, a `target`, or both")

    def _margin(self, steps: Path, mapping: Mapped, window_ms: int | None) -> None:
        margin = _readable(mapping, "rest_margin", parse_duration_ms)
        if margin is not None and window_ms and margin >= window_ms:
            limit = duration_words(window_ms)
            self._say((*steps, "rest_margin"), f"no time to work is left of {limit}", f"a rest margin is shorter than {limit}")

    def _ladder(self, steps: Path, target: Tree | None) -> None:
        if not isinstance(target, dict):
            return
        start, step = _readable(target, "start", q.parse_target), _readable(target, "step", q.parse_step)
        if start and step and step[1] is not None and step[1] is not start.unit:
            self._say((*steps, "step"), f"the step is in {step[1]}, the start in {start.unit}", f"write {float(step[0]):g}")

    def _least(self, steps: Path, station: Mapped) -> None:
        """`least` is of the kind of the target, and the target is nowhere under it."""
        if "least" not in station:
            return
        at = (*steps, "least")
        if self.kind in ("for_time", "amrap"):
            self._say(at, "`least` means nothing here: nobody is advised on their laps", "take it out", at_key=True)
            return
        if "target" not in station:
            self._say(at, "`least` means nothing without a target", "give the station a target, or take it out", at_key=True)
        least, target = _readable(station, "least", q.parse_least), _target(station.get("target"))
        if least is None or target is None or target.most:
            return
        amount, unit = least
        if unit not in (None, target.unit):
            self._say(at, f"`least` is in {unit}, the target in {target.unit}", f"write an amount in {target.unit}")
        elif target.unit is Unit.REPS and amount.denominator != 1:
            self._say(at, f"{shown(str(station['least']))} is no amount: a rep is whole", "write it like 6 reps")
        else:
            self._under_the_target(at, amount, target)

    def _under_the_target(self, at: Path, least: Fraction, target: Target) -> None:
        lowest, first = min(target.amounts, default=target.amount), 1
        if target.step < 0:
            # A round in which the ladder has nothing left asks nothing of anybody.
            lowest = target.in_round(min(self._rounds(), ceil(target.amount / -target.step)))
            first = 1 if least > target.amount else int((target.amount - least) // -target.step) + 2
        if least > lowest:
            most, asked = amount_said(lowest, target.unit), amount_said(target.in_round(first), target.unit)
            where = f"round {first} asks for {asked}" if target.step else f"the target is {most}"
            self._say(at, f"`least` is {amount_said(least, target.unit)}, and {where}", f"at most {most}")

    def _rounds(self) -> int:
        """How many rounds the stations of the part have, the last one perhaps not whole; 1 where that cannot be read."""
        stations = self.part.get("stations")
        many = len(stations) if isinstance(stations, list) and stations else 1
        if self.kind == "rotation" and "rounds" in self.part:
            return _whole_number(self.part, "rounds") or 1
        windows = (self._duration("for") or 0) // (self._duration("every") or 1)
        return ceil(Fraction(_whole_number(self.part, "sets") or windows or 1, many))

    def _unique_names(self, key: str, mapping: Mapped, steps: Path) -> None:
        seen: set[str] = set()
        for inner, item in _mappings(mapping, key):
            name = item.get("name")
            if isinstance(name, str) and name in seen:
                self._say((*steps, *inner, "name"), f"the name {shown(name)} is taken", "give each its own name")
            elif isinstance(name, str):
                seen.add(name)
