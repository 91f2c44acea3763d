"""The usual moves of a class: about how long each takes, what it needs, what to mind.

Invariant: these are guesses of a coach (`moves.yaml` says where each is from); they may raise a warning, never an error. Nothing
measured is ever mixed with them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from floorclock.plan.work import Unit

USUAL_LEVEL = "regular"
_NO_LETTERS = re.compile(r"[\W_]+")


def move_key(name: str) -> str:
    """A name as moves are compared: `Push-ups`, `push up` and `pushup` are one move."""
    return "".join(re.sub(r"(?<=[^s])s$", "", word) for word in _NO_LETTERS.split(name.casefold()) if word != "s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One move. `each_ms` is how long one rep (metre, calorie) takes, by level; `set_up_ms` goes by before the first counts.

    `options` are moves that stand in for it, from the hardest to the easiest. `grip` is true where the hands give out first.
    `guarded` moves are for those who are known to do them well; `each_side` ones are usually written so.
    """

    name: str
    also: tuple[str, ...] = ()
    pattern: str = ""
    grip: bool = False
    kit: tuple[tuple[str, int], ...] = ()
    guarded: bool = False
    each_side: bool = False
    set_up_ms: int = 0
    each_ms: Mapping[Unit, Mapping[str, int]] = field(default_factory=dict)
    standards: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    caution: str = ""
    source: str = ""

    def ms_of_one(self, unit: Unit, level: str = "") -> int | None:
        """About how long one unit takes somebody of a level; None where nobody could say. A second of work takes a second."""
        if unit is Unit.SECONDS:
            return 1000
        by_level = self.each_ms.get(unit)
        if not by_level:
            return None
        middle = list(by_level.values())[len(by_level) // 2]
        return by_level.get(level, by_level.get(USUAL_LEVEL, middle))


@dataclass(frozen=True)
class Moves:
    """Moves by name; a name that is in it twice means the later one."""

    all: tuple[Move, ...]

    @cached_property
    def _by_key(self) -> Mapping[str, Move]:
        return {move_key(name): move for move in self.all for name in (*move.also, move.name)}

    @cached_property
    def _middles(self) -> dict[tuple[Unit, str], int]:
        return {}

    def find(self, name: str) -> Move | None:
        """The move of this name, however it is written; None where there is none."""
        return self._by_key.get(move_key(name))

    def pattern_of(self, name: str, written: str = "") -> str:
        """The pattern as written, else the usual one of the move; empty where nobody knows."""
        known = None if written else self.find(name)
        return written if known is None else known.pattern

    def ms_of_one(self, name: str, unit: Unit, pattern: str = "", level: str = "") -> int:
        """As the move's own; where that is not known, the middle of its pattern, or of all moves: for shares and inventions."""
        known = self.find(name)
        own = known.ms_of_one(unit, level) if known is not None else None
        return self._middle(unit, pattern.strip().casefold()) if own is None else own

    def _middle(self, unit: Unit, pattern: str) -> int:
        if (unit, pattern) not in self._middles:
            alike = [move for move in self.all if move.pattern == pattern] if pattern else self.all
            found = sorted(ms for move in alike if (ms := move.ms_of_one(unit)) is not None)
            self._middles[unit, pattern] = found[len(found) // 2] if found else self._middle(unit, "") if pattern else 1000
        return self._middles[unit, pattern]
