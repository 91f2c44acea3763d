"""What must fit together in a session file, beyond the shape of each mapping.

Invariant: works on any tree, however broken; a value that cannot be read is silently passed over here, since the shapes
have already complained about it. So all problems come at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from typing import TypeVar

from floorclock.errors import Problem
from floorclock.plan.document import Document, Path, Tree
from floorclock.plan.durations import DAY_MS, duration_words, parse_duration_ms, shown
from floorclock.plan.quantities import (
    parse_beat,
    parse_count,
    parse_length_mm,
    parse_speed_kmh,
    parse_step,
    parse_target,
    shuttles_nearest,
)

MOST_INTERVALS = 10_000
MOST_BEATS = 20_000
_SHORT_FORM = ("start", "step", "stage", "count")
_T = TypeVar("_T")
_Mapping = Mapping[str, Tree]


def session_problems(document: Document) -> list[Problem]:
    """Everything across keys that does not fit, for a whole session."""
    tree = document.tree
    parts = tree.get("parts") if isinstance(tree, dict) else None
    if not isinstance(parts, list):
        return []
    problems: list[Problem] = []
    for number, part in enumerate(parts):
        if isinstance(part, dict):
            problems += _PartRules(document, ("parts", number), part).problems()
    return problems


def _value(mapping: _Mapping, key: str, parse: Callable[[str], _T]) -> _T | None:
    """A value where it can be read, None where it is left out or wrong."""
    text = mapping.get(key)
    if not isinstance(text, str):
        return None
    try:
        return parse(text)
    except ValueError:
        return None


def _count(mapping: _Mapping, key: str) -> int | None:
    return _value(mapping, key, lambda text: parse_count(text, 1))


def _mappings(mapping: _Mapping, key: str) -> Iterator[tuple[Path, _Mapping]]:
    """The items of a list that are mappings, each with its steps."""
    items = mapping.get(key)
    if isinstance(items, list):
        yield from (((key, index), item) for index, item in enumerate(items) if isinstance(item, dict))


class _PartRules:
    """The rules of one part; `say` collects what they find."""

    def __init__(self, document: Document, path: Path, part: _Mapping) -> None:
        self.document = document
        self.path = path
        self.part = part
        self.found: list[Problem] = []

    def problems(self) -> list[Problem]:
        rules: dict[str, Callable[[], None]] = {
            "open": self._open,
            "rotation": self._rotation,
            "intervals": self._intervals,
            "for_time": self._for_time,
            "amrap": self._amrap,
            "paced": self._paced,
        }
        kind = self.part.get("kind")
        rule = rules.get(kind.strip()) if isinstance(kind, str) else None
        if rule is not None:
            rule()
        return self.found

    def say(self, steps: Path, message: str, hint: str = "", *, at_key: bool = False) -> None:
        self.found.append(self.document.problem((*self.path, *steps), message, hint, at_key=at_key))

    def duration(self, key: str) -> int | None:
        return _value(self.part, key, parse_duration_ms)

    def _open(self) -> None:
        longest = self.duration("max")
        for key in ("time", "min"):
            value = self.duration(key)
            if value is not None and longest is not None and value > longest:
                self.say((key,), f"`{key}` is longer than `max`", f"at most {duration_words(longest)}")

    def _rotation(self) -> None:
        every = self.duration("every")
        if "rounds" in self.part and "for" in self.part:
            self.say(("for",), "`rounds` and `for` say the same thing twice", "keep one of them", at_key=True)
        elif "rounds" not in self.part and "for" not in self.part:
            self.say((), "how long it lasts is missing", "write rounds: 5, or for: 20:00")
        elif "for" in self.part:
            self._whole_number_of(every)
        else:
            self._not_too_long(every)
        self._stations("stations", every)

    def _whole_number_of(self, every: int | None) -> None:
        length = self.duration("for")
        if not every or not length:
            return
        if length % every:
            below, above = length // every * every, (length // every + 1) * every
            near = " or ".join(duration_words(value) for value in (below, above) if 0 < value <= DAY_MS)
            self.say(("for",), f"`for` is no whole number of `every` ({duration_words(every)})", f"write {near}")
        elif length // every > MOST_INTERVALS:
            self.say(("for",), f"{length // every:,} intervals are too many", f"at most {MOST_INTERVALS:,} in a part")

    def _not_too_long(self, every: int | None) -> None:
        rounds, stations = _count(self.part, "rounds"), self.part.get("stations")
        if not rounds or not isinstance(stations, list):
            return
        count = rounds * len(stations)
        if count > MOST_INTERVALS:
            self.say(("rounds",), f"{count:,} intervals are too many", f"at most {MOST_INTERVALS:,} in a part")
        elif every and count * every > DAY_MS:
            self.say(("rounds",), "the part would last longer than a day", "fewer rounds, or a shorter `every`")

    def _intervals(self) -> None:
        work, rest, sets = self.duration("work"), self.duration("rest"), _count(self.part, "sets")
        if work and rest is not None and sets and sets * (work + rest) > DAY_MS:
            self.say(("sets",), "the part would last longer than a day", "fewer sets, or shorter ones")
        self._stations("stations", work)

    def _for_time(self) -> None:
        cap, wave = self.duration("cap"), self.duration("wave_every")
        if cap and wave is not None and wave >= cap:
            self.say(("wave_every",), "the second wave would start when the cap is over", f"less than {duration_words(cap)}")
        self._rounds_of_work((), self.part, None)
        self._stations("work", cap)
        self._choices()
        for steps, choice in _mappings(self.part, "choose"):
            self._rounds_of_work(steps, choice, self.part)
            if "rounds" not in choice and "work" not in choice:
                self.say(steps, "this alternative changes nothing", "give it `rounds`, `work`, or both")

    def _rounds_of_work(self, steps: Path, mapping: _Mapping, fallback: _Mapping | None) -> None:
        rounds = _count(mapping, "rounds") or (_count(fallback, "rounds") if fallback else None)
        work = mapping.get("work", fallback.get("work") if fallback else None)
        if rounds and isinstance(work, list) and rounds * len(work) > MOST_INTERVALS:
            where = (*steps, "rounds") if "rounds" in mapping else steps
            self.say(where, f"{rounds * len(work):,} pieces of work are too many", f"at most {MOST_INTERVALS:,} in a part")

    def _amrap(self) -> None:
        self._stations("work", self.duration("time"))
        self._choices()
        for steps, choice in _mappings(self.part, "choose"):
            if "rounds" in choice:
                self.say((*steps, "rounds"), "an amrap has no number of rounds", "take it out", at_key=True)
            if "work" not in choice:
                self.say(steps, "`work` is missing", "write work: and under it a list, each beginning with - move:")

    def _choices(self) -> None:
        self._unique_names("choose", self.part, ())
        for steps, choice in _mappings(self.part, "choose"):
            for inner, station in _mappings(choice, "work"):
                self._station((*steps, *inner), station, None)
            self._distinct((*steps, "work"), choice.get("work"))

    def _stations(self, key: str, window_ms: int | None) -> None:
        """Rules of the list under `key`, whose windows are `window_ms` long."""
        stations = self.part.get(key)
        if not isinstance(stations, list):
            return
        if key == "stations" and stations and all(isinstance(slot, str) and slot.strip().lower() == "rest" for slot in stations):
            self.say((key,), "nobody works here", "a station begins with - move:")
        self._margin((), self.part, window_ms)
        for steps, station in _mappings(self.part, key):
            self._station(steps, station, window_ms)
        self._distinct((key,), stations)

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
                self.say((*steps, index, "move"), f"two stations would be called {shown(name)}", "give one another name")
            names.add(name)

    def _station(self, steps: Path, station: _Mapping, window_ms: int | None) -> None:
        for at, mapping in ((steps, station), *(((*steps, *inner), option) for inner, option in _mappings(station, "options"))):
            move = mapping.get("move")
            if isinstance(move, str) and move.strip().lower() == "rest":
                self.say((*at, "move"), "`rest` is no move", "in a rotation a rest is written as `- rest`")
            self._ladder((*at, "target"), mapping.get("target"))
        self._margin(steps, station, window_ms)
        self._unique_names("options", station, steps)
        for inner, option in _mappings(station, "options"):
            if "move" not in option and "target" not in option:
                self.say((*steps, *inner), "this option changes nothing", "give it a `move`, a `target`, or both")

    def _margin(self, steps: Path, mapping: _Mapping, window_ms: int | None) -> None:
        margin = _value(mapping, "rest_margin", parse_duration_ms)
        if margin is not None and window_ms and margin >= window_ms:
            limit = duration_words(window_ms)
            self.say((*steps, "rest_margin"), f"no time to work is left of {limit}", f"a rest margin is shorter than {limit}")

    def _ladder(self, steps: Path, target: Tree | None) -> None:
        if not isinstance(target, dict):
            return
        start, step = _value(target, "start", parse_target), _value(target, "step", parse_step)
        if start and step and step[1] is not None and step[1] is not start.unit:
            self.say((*steps, "step"), f"the step is in {step[1]}, the start in {start.unit}", f"write {float(step[0]):g}")

    def _unique_names(self, key: str, mapping: _Mapping, steps: Path) -> None:
        seen: set[str] = set()
        for inner, item in _mappings(mapping, key):
            name = item.get("name")
            if isinstance(name, str) and name in seen:
                self.say((*steps, *inner, "name"), f"the name {shown(name)} is taken", "give each its own name")
            elif isinstance(name, str):
                seen.add(name)

    def _paced(self) -> None:
        if "beat" in self.part and "shuttle" in self.part:
            self.say(("shuttle",), "a part has a `beat` or a `shuttle`, not both", "take one out", at_key=True)
        elif "shuttle" in self.part:
            for key in ("time", "beats_per_rep"):
                if key in self.part:
                    self.say((key,), f"`{key}` means nothing with a `shuttle`", "take it out", at_key=True)
            self._shuttle()
        elif "beat" not in self.part:
            self.say((), "the pace is missing", "write beat: 96 per minute and time: 3:00, or shuttle: and its stages")
        else:
            self._beats()

    def _beats(self) -> None:
        beat, time = _value(self.part, "beat", parse_beat), self.duration("time")
        if "time" not in self.part:
            self.say((), "`time` is missing", "write time: 3:00")
        elif beat and time and beat * time / 60_000 > MOST_BEATS:
            self.say(("time",), f"{int(beat * time / 60_000):,} beats are too many", f"at most {MOST_BEATS:,} in a part")

    def _shuttle(self) -> None:
        shuttle = self.part.get("shuttle")
        if not isinstance(shuttle, dict):
            return
        used = [key for key in _SHORT_FORM if key in shuttle]
        if "stages" in shuttle and used:
            message = f"`stages` are written out, so `{used[0]}` means nothing"
            self.say(("shuttle", used[0]), message, "keep one of the two forms", at_key=True)
        elif "stages" not in shuttle:
            for key in _SHORT_FORM:
                if key not in shuttle and used:
                    self.say(("shuttle",), f"`{key}` is missing", "the short form has start, step, stage and count")
            if not used:
                self.say(("shuttle",), "the stages are missing", "write stages:, or start, step, stage and count")
        self._speeds(shuttle)
        self._not_too_many(sum(_count(stage, "shuttles") or 0 for _, stage in _mappings(shuttle, "stages")), "stages")

    def _speeds(self, shuttle: _Mapping) -> None:
        start, step = (_value(shuttle, key, lambda text: parse_speed_kmh(text, Fraction(0))) for key in ("start", "step"))
        count, stage = (
            _value(shuttle, "count", lambda text: parse_count(text, 1, 100)),
            _value(shuttle, "stage", parse_duration_ms),
        )
        if start is None or step is None or not count:
            return
        fastest = start + step * (count - 1)
        if fastest > 50:
            self.say(("shuttle", "count"), f"the last stage would be at {float(fastest):g} km/h", "at most 50 km/h")
        distance = _value(shuttle, "distance", parse_length_mm)
        if distance and stage:
            speeds = [start + step * number for number in range(count)]
            self._not_too_many(sum(shuttles_nearest(distance / 1000, speed, stage) for speed in speeds), "count")

    def _not_too_many(self, shuttles: int, key: str) -> None:
        if shuttles > MOST_INTERVALS:
            self.say(("shuttle", key), f"{shuttles:,} shuttles are too many", f"at most {MOST_INTERVALS:,} in a part")
