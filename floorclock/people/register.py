"""The file of who is the same person: `people.jsonl`, one decision a line, each undone by a later one.

Invariant: the file only says which spellings belong together, so that undoing one line gives back what was there before. A name
stands for one other name at most and the names never lead in a circle: a line that would make them is passed over.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, TypeGuard

from floorclock.errors import NotFound, WrongUsage
from floorclock.journal.disk import Disk
from floorclock.journal.instants import instant_or_none, instant_text
from floorclock.journal.kept_lines import append_lines, lock_lines, read_lines
from floorclock.live.conductor import SystemClock
from floorclock.plan.names import is_refused, plain

FILE = "people.jsonl"
SAME, NOT_SAME, FORGOTTEN = "same person", "not the same", "forgotten"


@dataclass(frozen=True)
class Register:
    """What the file says: for a name, the one it stands for; pairs that are two people; how often somebody was forgotten."""

    stands_for: Mapping[str, str] = field(default_factory=dict)
    apart: frozenset[frozenset[str]] = frozenset()
    forgotten: tuple[str, ...] = ()
    """When, as RFC 3339."""

    def canonical(self, name: str) -> str:
        """The name that a name counts as."""
        while name in self.stands_for:
            name = self.stands_for[name]
        return name

    def spellings(self, name: str) -> tuple[str, ...]:
        """All names of the person who is called so; the one they count as first."""
        first = self.canonical(name)
        return (first, *sorted(other for other in self.stands_for if self.canonical(other) == first))


def people_path(home: Path) -> Path:
    """Where the file is."""
    return home / FILE


def read_register(home: Path) -> Register:
    """What has been decided.

    Raises:
        ResourceError: the disk does not give the file.
    """
    return register_of(read_lines(people_path(home)))


def register_of(lines: Iterable[Mapping[str, Any]]) -> Register:
    """What lines say, each by the rules that it was written by; one that would break them is passed over."""
    stands_for: dict[str, str] = {}
    apart: set[frozenset[str]] = set()
    forgotten: list[str] = []
    for line in lines:
        event, name, other = (line.get(key) for key in ("event", "name", "is"))
        if event == FORGOTTEN and instant_or_none(line.get("at")) is not None:
            forgotten.append(line["at"])
        elif not _is_name(name) or not _is_name(other):
            continue
        elif event == NOT_SAME:
            apart.add(frozenset((name, other)))
            if stands_for.get(name) == other:
                del stands_for[name]
        elif event == SAME and not _why_not(Register(stands_for), name, other):
            stands_for[name] = other
            apart.discard(frozenset((name, other)))
    return Register(stands_for, frozenset(apart), tuple(forgotten))


def canonical_names(home: Path) -> Mapping[str, str]:
    """For each spelling that was merged, the name that it counts as; a name that is not here counts as itself.

    Raises:
        ResourceError: the disk does not give the file.
    """
    register = read_register(home)
    return {name: register.canonical(name) for name in register.stands_for}


def spellings_of(home: Path, name: str) -> tuple[str, ...]:
    """All names of a person, the one they count as first; the name alone where nothing was merged."""
    return read_register(home).spellings(plain(name))


def merge(home: Path, name: str, into: str, *, wall: datetime | None = None, disk: Disk | None = None) -> str:
    """From now on `name` counts as `into`, with everything that was merged into it before; no journal is changed.

    Whether the names stand in any class is the caller's to ask (`known_names`).

    Returns:
        What to tell the coach.

    Raises:
        WrongUsage: they are one already, or one of them stands for another name; says what to do.
        ResourceError: the disk refuses, or somebody else is changing the file.
    """
    name, into = plain(name), plain(into)
    with lock_lines(people_path(home)):
        if because := _why_not(read_register(home), name, into):
            raise WrongUsage(because)
        others = ", ".join(_noted(home, SAME, name, into, wall, disk).spellings(into)[1:])
    return f"{into} is one person now, also written {others}; to take that back, undo {name}"


def undo(home: Path, name: str, *, wall: datetime | None = None, disk: Disk | None = None) -> str:
    """Takes a merge back: `name` is a person of their own again, with what was merged into it. They are not offered again.

    Returns:
        What to tell the coach.

    Raises:
        NotFound: the name was not merged into another.
        ResourceError: the disk refuses, or somebody else is changing the file.
    """
    name = plain(name)
    with lock_lines(people_path(home)):
        register = read_register(home)
        other = register.stands_for.get(name)
        if other is None:
            merged = register.spellings(name)[1:]
            hint = f": {', '.join(merged)} was merged into it" if merged else ""
            raise NotFound(f"{name} was not merged into another name{hint}")
        _noted(home, NOT_SAME, name, other, wall, disk)
    return f"{name} and {other} are two people again"


def keep_apart(home: Path, name: str, other: str, *, wall: datetime | None = None, disk: Disk | None = None) -> str:
    """The coach says that two names are two people: they are not offered again, and a merge of the two ends.

    Returns:
        What to tell the coach.

    Raises:
        WrongUsage: it is one name.
        ResourceError: the disk refuses, or somebody else is changing the file.
    """
    name, other = plain(name), plain(other)
    if name == other:
        raise WrongUsage(f"{name} is one name")
    with lock_lines(people_path(home)):
        turned = read_register(home).stands_for.get(other) == name
        pair = (other, name) if turned else (name, other)
        _noted(home, NOT_SAME, *pair, wall, disk)
    return f"{name} and {other} are two people"


@dataclass(frozen=True, slots=True)
class TakenDecisions:
    """How many decisions from elsewhere were new and were taken, and how many go against what was decided here."""

    taken: int = 0
    left: int = 0


def take_decisions(home: Path, other: Register, *, wall: datetime | None = None, disk: Disk | None = None) -> TakenDecisions:
    """Takes what another file of the same kind says, where nothing here says otherwise.

    Raises:
        ResourceError: the disk refuses, or somebody else is changing the file.
    """
    path, at = people_path(home), instant_text(wall or SystemClock().wall())
    with lock_lines(path):
        here = read_register(home)
        stands_for, left = dict(here.stands_for), 0
        fresh: list[dict[str, Any]] = []
        for name, into in other.stands_for.items():
            now = Register(stands_for)
            if now.canonical(name) == now.canonical(into):
                continue
            if frozenset((name, into)) in here.apart or _why_not(now, name, into):
                left += 1
            else:
                stands_for[name] = into
                fresh.append({"at": at, "event": SAME, "name": name, "is": into})
        for first, second in sorted((min(pair), max(pair)) for pair in other.apart - here.apart):
            if here.canonical(first) == here.canonical(second):
                left += 1
            else:
                fresh.append({"at": at, "event": NOT_SAME, "name": first, "is": second})
        fresh += [{"at": when, "event": FORGOTTEN} for when in other.forgotten if when not in here.forgotten]
        if fresh:
            append_lines(path, fresh, disk)
        return TakenDecisions(len(fresh), left)


def _is_name(value: object) -> TypeGuard[str]:
    return isinstance(value, str) and not any(is_refused(letter) for letter in value)


def _why_not(register: Register, name: str, into: str) -> str:
    if not name or not into:
        return "name two people"
    if name == into:
        return f"{name} is one name already"
    if name in register.stands_for:
        return f"{name} counts as {register.canonical(name)} already; undo that first"
    if into in register.stands_for:
        first = register.canonical(into)
        if first == name:
            return f"{into} counts as {name} already; to turn it round, undo {into} first"
        return f"{into} counts as {first}; merge {name} into {first} instead"
    return ""


def _noted(home: Path, event: str, name: str, other: str, wall: datetime | None, disk: Disk | None) -> Register:
    """Adds one decision; whoever calls holds the lock."""
    line = {"at": instant_text(wall or SystemClock().wall()), "event": event, "name": name, "is": other}
    append_lines(people_path(home), [line], disk)
    return read_register(home)
