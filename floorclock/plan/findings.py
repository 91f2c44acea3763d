"""What `check` finds: where it is, why it matters, what to change, and what can be changed at once.

Invariant: a finding of the plan is a warning or a note, never an error, and always says what to write instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from floorclock.errors import Fix, Problem, Severity
from floorclock.plan.document import Path, Place, path_words
from floorclock.plan.moves import Moves
from floorclock.plan.names import first_few
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Session

MOST_ALIKE, MOST_LINES = 3, 12
"""More of a kind are summed up, with the lines of so many."""

EVEN = 0.5
"""Who is less likely than this to keep the margin to the end will not make it."""
WHY: Mapping[str, str] = {
    "hour": "what runs over takes the time from the end: from the talk afterwards, or from the next class",
    "window": "who is not done in time has no rest, and begins the next interval tired",
    "rest": "how long the rest is decides what is trained",
    "chance": "who will not make it needs another number or another option before the class, not in it",
    "pace": "without a usual time nobody can say beforehand whether the work fits",
    "rounds": "who does one round more cannot be compared with the others",
    "muscles": "what is tired from the station before is slower and less safe at this one",
    "volume": "much more than somebody is used to makes very sore, and now and then breaks muscle down (rhabdomyolysis)",
    "experience": "a move that has to be learnt is not learnt against the clock",
    "option": "who has nothing to do instead does it anyway, or stands there",
    "kit": "who waits for kit has lost the work or the rest",
    "wall": "what cannot be read is asked for in the middle of the work",
    "load": "a percentage is no weight that anybody can pick up",
    "plan": "what the file says is not what will happen",
    "roster": "what does not fit this session is passed over",
}
"""By the kind of a finding."""


@dataclass(frozen=True, slots=True)
class Chance:
    """How likely an athlete keeps the margin in all rounds of a station, 0..1, and the first round that is likelier not to."""

    keeps: float
    first_round: int | None = None


@dataclass(frozen=True, kw_only=True)
class Records:
    """What earlier classes say of a roster at a plan: who is in them at all, when they did a move last, what is likely.

    `chances` is by part, station and name; who has no history at a station is not in it.
    """

    today: date
    people: frozenset[str] = frozenset()
    last_done: Mapping[tuple[str, str], date] = field(default_factory=dict)
    chances: Mapping[tuple[int, int, str], Chance] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class CheckContext:
    """What there is to look at. `athletes` is empty without a roster, `records` None where nothing is known."""

    session: Session
    athletes: Sequence[Athlete]
    moves: Moves
    file: str
    places: Mapping[Path, Place]
    records: Records | None = None

    def is_written(self, path: Path) -> bool:
        """Whether something stands at a place of the file."""
        return bool(path) and path in self.places

    def finding(
        self, kind: str, path: Path, message: str, hint: str, severity: Severity = "warning", fix: Fix | None = None
    ) -> Problem:
        """One thing to think about, at its place or at that of what is around it. `kind` is one of `WHY`."""
        around = [path[:steps] for steps in range(len(path), 0, -1)]
        line, column = next((self.places[place] for place in around if place in self.places), (0, 0))
        return Problem(self.file, line, column, path_words(path), message, hint, severity, kind, fix)


def summed_up(problems: Iterable[Problem]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Problems as lines by kind, in the order in which the kinds come up, each with why it matters.

    Where more than a few are alike, the first stands for them and a line says where the others are.
    """
    kinds: dict[str, list[Problem]] = {}
    for problem in problems:
        kinds.setdefault(problem.kind, []).append(problem)
    return tuple((WHY.get(kind, ""), _lines(alike)) for kind, alike in kinds.items())


def _lines(alike: Sequence[Problem]) -> tuple[str, ...]:
    if len(alike) <= MOST_ALIKE:
        return tuple(str(problem) for problem in alike)
    first, *others = alike
    files: dict[str, list[str]] = {}
    for problem in others:
        files.setdefault(problem.file, []).append(str(problem.line))
    where = "; ".join(f"{file}, lines {first_few([*dict.fromkeys(lines)], MOST_LINES)}" for file, lines in files.items())
    return str(first), f"and {len(others)} more like it: {where} (--json has them all)"
