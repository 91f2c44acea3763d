"""What a paper sheet says of a class: splits, results, numbers, who was there and with whom.

Invariant: nothing is in it that nobody wrote down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from floorclock.plan.names import counted, first_few, listed
from floorclock.plan.work import Load

MOST_NAMED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperEntry:
    """Something that was written down of one athlete (or the team they are the first of) in a part (from 0)."""

    athlete: str
    part: int
    load: Load | None = None
    """What it says they moved, of the one move that has a load; None where it says nothing: then it was the planned load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSplit(PaperEntry):
    """One athlete in one interval (from 0) of a part; without a split they did not finish.

    `option` is the option that the row says they did, None where it names the station: then they did what the roster says.
    """

    interval: int
    split_ms: int | None
    move: str
    option: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperResult(PaperEntry):
    """What one athlete reached or counted in a part; `choice` names the alternative to its work that they did."""

    time_ms: int | None = None
    rounds: int | None = None
    reps: int | None = None
    not_finished: bool = False
    choice: str | None = None
    score: Fraction | None = None
    """What was counted in the whole part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperScore(PaperEntry):
    """What one athlete counted in one interval (from 0) of a part."""

    interval: int
    amount: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeSheet:
    """All that a paper sheet says, in the order of the file; what nobody wrote down is not in it.

    `form` says how the file was read, in a few words. `absent` are those on the roster without any row: they are taken as
    not there. `unfilled` have rows, but nothing stands in them: they were there, and nothing is known of them. `minutes` is how
    long the class was, None where nobody said so.
    """

    splits: tuple[PaperSplit, ...]
    results: tuple[PaperResult, ...]
    scores: tuple[PaperScore, ...] = ()
    minutes: int | None = None
    form: str = ""
    absent: tuple[str, ...] = ()
    unfilled: tuple[str, ...] = ()
    teams: Mapping[int, tuple[tuple[str, ...], ...]] = field(default_factory=dict)
    """Who worked together, by part: as written, else as the plan has it without those who were not there."""

    @property
    def last_part(self) -> int:
        """The last part (from 0) that anything was written down in."""
        return max(entry.part for entry in self._entries)

    def last_interval(self, part: int) -> int | None:
        """The last interval of a part that anything was written down in: the class stopped after it, or went on."""
        taken: tuple[PaperSplit | PaperScore, ...] = (*self.splits, *self.scores)
        return max((entry.interval for entry in taken if entry.part == part), default=None)

    @property
    def _entries(self) -> tuple[PaperEntry, ...]:
        return (*self.splits, *self.results, *self.scores)

    @property
    def words(self) -> str:
        """What was found, to be told: `612 splits and 12 results of 24 athletes`, and who is taken as not there."""
        found = {"split": self.splits, "result": self.results, "score": self.scores}
        counts = [counted(len(entries), word) for word, entries in found.items() if entries]
        words = f"{listed(counts)} of {counted(len({entry.athlete for entry in self._entries}), 'athlete')}"
        if self.absent:
            has, are = ("has", "is") if len(self.absent) == 1 else ("have", "are")
            words += f"; {len(self.absent)} of the roster {has} no row and {are} taken as not there: "
            words += first_few(self.absent, MOST_NAMED)
        if self.unfilled:
            has = "has" if len(self.unfilled) == 1 else "have"
            words += f"; {len(self.unfilled)} {has} empty rows only, there but untapped: {first_few(self.unfilled, MOST_NAMED)}"
        return words
