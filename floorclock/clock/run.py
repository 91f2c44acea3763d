"""One part while it is run: its timeline, where its clock stands, and what was taken in it.

Invariant: the position is a function of the class time alone (stretches of `from_ms -> position_ms`), so that a tap
stamped a moment ago still falls where it belongs.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from floorclock.clock.cues import Cue, CueName
from floorclock.clock.events import ResultEntered
from floorclock.clock.splits import Mark, Status
from floorclock.clock.timeline import IntervalKind, PartTimeline
from floorclock.plan.session import AnyPart
from floorclock.plan.work import Load


@dataclass(frozen=True, slots=True)
class Stretch:
    """From class time `from_ms` on the part stands at `position_ms`; it moves on after a silent lead and a count.

    Without a count it starts where somebody put it on purpose: the cue at its first instant sounds. After one it does not
    sound again.
    """

    from_ms: int
    position_ms: int
    lead_ms: int = 0
    count_ms: int = 0

    @property
    def hold_ms(self) -> int:
        """How long the part stands still."""
        return self.lead_ms + self.count_ms

    @property
    def moves_from_ms(self) -> int:
        """The class time from which the part moves."""
        return self.from_ms + self.hold_ms


Taken = dict[tuple[str, int, int, int | None], "TakenTap"]
"""Taps that counted, in the order they were taken, each by its athlete, part, interval and lap."""


@dataclass(frozen=True, slots=True)
class TakenTap:
    """A tap that counted, and what stood in its place before."""

    athlete: str
    part: int
    interval: int
    at_ms: int
    before: Mark | None = None
    lap_ms: int | None = None

    @property
    def place(self) -> tuple[str, int, int, int | None]:
        """What tells it from every other tap that counts."""
        return self.athlete, self.part, self.interval, self.lap_ms


@dataclass
class PartRun:
    """The run of one part. Only the fold (`fold.py`) and `advance` change it."""

    index: int
    part: AnyPart
    timeline: PartTimeline
    begun_ms: int
    stretches: list[Stretch]
    ended_ms: int | None = None
    ended_by_coach: bool = False
    cut_short: set[int] = field(default_factory=set)
    """Intervals that the coach left before their end: nobody can have worked them in full."""
    marks: dict[tuple[str, int], Mark] = field(default_factory=dict)
    """By (athlete, interval). Read it; `set_mark` changes it."""
    laps: dict[str, list[int]] = field(default_factory=dict)
    finishes: dict[str, int] = field(default_factory=dict)
    entered: dict[str, ResultEntered] = field(default_factory=dict)
    """What the coach entered last, by athlete."""
    not_finished: set[str] = field(default_factory=set)
    scores: dict[tuple[str, int], Fraction] = field(default_factory=dict)
    """What was counted, by (athlete, interval); the interval is -1 where the part is scored once."""
    score_loads: dict[tuple[str, int], Load] = field(default_factory=dict)
    """What was on the bar when a number was entered."""
    unscored: set[tuple[str, int]] = field(default_factory=set)
    """Where the coach said that there is no number."""
    teams: list[tuple[str, ...]] = field(default_factory=list)
    """Who works together; empty where everybody works alone. What a team takes stands under the name of its first."""

    _splits: dict[str, list[int]] = field(default_factory=dict, repr=False, compare=False)
    """The splits in `marks` by athlete, the shortest first: a tap must not have to look at everybody's."""
    _missed: dict[str, list[int]] = field(default_factory=dict, repr=False, compare=False)
    """The intervals that they did not finish, in order."""

    def set_mark(self, name: str, interval: int, mark: Mark | None) -> None:
        """Puts a mark in the place of the one that is there; None takes it away."""
        before = self.marks.pop((name, interval), None)
        if before is not None and before.split_ms is not None:
            _drop(self._splits[name], before.split_ms)
        if before is not None and before.status is Status.NOT_FINISHED:
            _drop(self._missed[name], interval)
        if mark is None:
            return
        self.marks[name, interval] = mark
        if mark.split_ms is not None:
            insort(self._splits.setdefault(name, []), mark.split_ms)
        if mark.status is Status.NOT_FINISHED:
            insort(self._missed.setdefault(name, []), interval)

    def shortest_split_ms(self, name: str) -> int | None:
        """An athlete's shortest split so far."""
        return next(iter(self._splits.get(name, ())), None)

    def first_missed(self, name: str) -> int | None:
        """The first interval that an athlete did not finish."""
        return next(iter(self._missed.get(name, ())), None)

    def recorded_as(self, name: str) -> str:
        """Under whose name stands what this athlete does: the first of their team, or their own."""
        return next((team[0] for team in self.teams if name in team), name)

    def position_ms(self, class_ms: int) -> int:
        """Where the part's clock stands at a class time; negative in the count-in. It stops where the part ended."""
        if self.ended_ms is not None:
            class_ms = min(class_ms, self.ended_ms)
        stretch = self._stretch(class_ms)
        passed_ms = class_ms - stretch.from_ms
        return stretch.position_ms + passed_ms - min(stretch.hold_ms, max(0, passed_ms))

    def hold_until_ms(self, class_ms: int) -> int | None:
        """The class time at which a count after a pause is over; None where nobody counts.

        In the lead before it, the count still lies whole ahead, as if it began now: nobody should see a fourth second of three.
        """
        stretch = self._stretch(class_ms)
        counts = stretch.from_ms <= class_ms < stretch.moves_from_ms
        return min(stretch.moves_from_ms, class_ms + stretch.count_ms) if counts else None

    def interval_at(self, class_ms: int) -> int | None:
        """The index of the interval that runs at a class time."""
        return self.timeline.interval_at(self.position_ms(class_ms))

    def natural_end_ms(self) -> int | None:
        """The class time at which the part ends by itself, as things stand; None where only the coach ends it."""
        if self.timeline.length_ms is None:
            return None
        last = self.stretches[-1]
        return max(last.from_ms, last.moves_from_ms + self.timeline.length_ms - last.position_ms)

    def move_to(self, class_ms: int, position_ms: int, *, lead_ms: int = 0, count_ms: int = 0) -> None:
        """From `class_ms` on the part stands at `position_ms`; it moves on after a silent lead and a count."""
        self.stretches = [stretch for stretch in self.stretches if stretch.from_ms < class_ms]
        self.stretches.append(Stretch(class_ms, position_ms, lead_ms, count_ms))

    def cues_between(self, after_ms: int, through_ms: int) -> Iterator[Cue]:
        """The cues in the class-time window (after_ms, through_ms], at class times, in order."""
        bounds = [stretch.from_ms for stretch in self.stretches[1:]] + [None]
        for stretch, next_from in zip(self.stretches, bounds, strict=True):
            past = through_ms + 1 if next_from is None else min(next_from, through_ms + 1)
            if self.ended_ms is not None:
                past = min(past, self.ended_ms + (not self.ended_by_coach))
            for cue in self._hold_cues(stretch):
                if after_ms < cue.at_ms < past:
                    yield cue
            first = max(after_ms + 1, stretch.moves_from_ms + bool(stretch.hold_ms))
            shift = stretch.moves_from_ms - stretch.position_ms
            for cue in self.timeline.cues_between(first - shift, past - shift):
                yield Cue(cue.at_ms + shift, cue.name)
        told_early = self.ended_by_coach and self.part.kind != "open"
        if told_early and self.ended_ms is not None and after_ms < self.ended_ms <= through_ms:
            yield Cue(self.ended_ms, CueName.END)

    def _stretch(self, class_ms: int) -> Stretch:
        return self.stretches[max(0, bisect_right(self.stretches, class_ms, key=lambda stretch: stretch.from_ms) - 1)]

    def _hold_cues(self, stretch: Stretch) -> Iterator[Cue]:
        if not stretch.count_ms:
            return
        until_ms = stretch.moves_from_ms
        for k in range(min(3, stretch.count_ms // 1_000), 0, -1):
            yield Cue(until_ms - k * 1_000, CueName.COUNT)
        index = self.timeline.interval_at(stretch.position_ms)
        resting = index is not None and self.timeline.intervals[index].kind is IntervalKind.REST
        # Nobody should start to work because a pause in the middle of a rest is over.
        yield Cue(until_ms, CueName.REST if resting else CueName.GO)


def _drop(values: list[int], value: int) -> None:
    del values[bisect_left(values, value)]
