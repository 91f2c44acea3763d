"""A part as intervals and cues on its own clock, zero at the go.

Invariant: every instant is start + offset, computed exactly and rounded once to the millisecond; nothing is accumulated.
Intervals follow each other without gaps; the count-in lies before zero and is no interval. Cues are placed from the intervals
alone, so that a stretched interval moves its cues with it. A cue that would fall into the interval before the one it speaks of is
left out, except the count, which belongs there.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from functools import cached_property

from floorclock.clock.cues import Cue, CueName
from floorclock.plan.session import AnyPart, Cues, OpenPart, Paced, Piece, RestPart, Session, Shuttle, Windowed
from floorclock.plan.totals import windows
from floorclock.plan.work import Station

SECOND_MS = 1_000
LONG_ENOUGH_MS = 30_000
"""An interval shorter than this gets neither `last_ten` nor `half`: there the count is near enough."""
LAST_ROUND_BEFORE_MS = 6_000
"""`last_round` is told this long before its go: after `last_ten`, before the count."""


class IntervalKind(StrEnum):
    """What an interval is for. `ready`: the coach decides when it is over, or people get ready."""

    WORK = "work"
    REST = "rest"
    READY = "ready"


@dataclass(frozen=True, slots=True)
class Interval:
    """One timed window [start_ms, end_ms) of a part.

    `round` counts from 1. `window` counts the work windows of the part from 0 (-1 where nobody works):
    it decides which station a start group is at.
    """

    start_ms: int
    end_ms: int
    kind: IntervalKind
    round: int = 1
    window: int = -1
    within_ms: int | None = None
    """Where the work of everybody in it has the first so much of it only: `max cal in 2:00`."""

    @property
    def length_ms(self) -> int:
        """How long it is."""
        return self.end_ms - self.start_ms


@dataclass(frozen=True, slots=True)
class CuePlan:
    """Which cues a part gets. `waves_ms` are later starts within its only interval; pace beats end at the margin."""

    cues: Cues = field(default_factory=Cues)
    margin_ms: int = 0
    waves_ms: tuple[int, ...] = ()
    count_between: int | None = None
    """Pips before the intervals after the first, where they differ from `count`."""


@dataclass(frozen=True)
class PartTimeline:
    """The intervals and cues of one part; `length_ms` is None where only the coach ends it."""

    intervals: tuple[Interval, ...]
    cues: tuple[Cue, ...]
    length_ms: int | None
    count_in_ms: int = 0
    plan: CuePlan = field(default_factory=CuePlan)

    @cached_property
    def _starts(self) -> list[int]:
        return [interval.start_ms for interval in self.intervals]

    @cached_property
    def _cue_times(self) -> list[int]:
        return [cue.at_ms for cue in self.cues]

    def interval_at(self, position_ms: int) -> int | None:
        """The index of the interval that holds a position; None before the first and after the last."""
        index = bisect_right(self._starts, position_ms) - 1
        if index < 0 or position_ms >= self.intervals[index].end_ms:
            return None
        return index

    def cues_between(self, first_ms: int, past_ms: int) -> Sequence[Cue]:
        """The cues at positions in [first_ms, past_ms)."""
        return self.cues[bisect_left(self._cue_times, first_ms) : bisect_left(self._cue_times, past_ms)]

    def stretched(self, index: int, delta_ms: int) -> PartTimeline:
        """The same part with interval `index` longer by `delta_ms` and everything after it moved."""
        moved = tuple(
            replace(interval, start_ms=interval.start_ms + delta_ms * (i > index), end_ms=interval.end_ms + delta_ms)
            if i >= index
            else interval
            for i, interval in enumerate(self.intervals)
        )
        length = None if self.length_ms is None else self.length_ms + delta_ms
        return assemble(moved, length, self.count_in_ms, self.plan)


def assemble(intervals: tuple[Interval, ...], length_ms: int | None, count_in_ms: int, plan: CuePlan) -> PartTimeline:
    """A timeline from its intervals, with its cues placed by `plan`."""
    return PartTimeline(intervals, _cues(intervals, length_ms, count_in_ms, plan), length_ms, count_in_ms, plan)


def _cues(intervals: Sequence[Interval], length_ms: int | None, count_in_ms: int, plan: CuePlan) -> tuple[Cue, ...]:
    """The cues of a part in order of time."""
    cues: list[Cue] = []
    last_round = intervals[-1].round if intervals else 0
    room_ms = count_in_ms
    told = False
    for index, interval in enumerate(intervals):
        if interval.kind is IntervalKind.WORK:
            if plan.cues.last_round and interval.round == last_round > 1 and not told:
                # In a short interval there is no quiet place before the go: it is told a second after it.
                quiet = room_ms >= 2 * LAST_ROUND_BEFORE_MS
                cues.append(Cue(interval.start_ms + (-LAST_ROUND_BEFORE_MS if quiet else SECOND_MS), CueName.LAST_ROUND))
                told = True
            pips = plan.cues.count if index == 0 or plan.count_between is None else plan.count_between
            cues += _start_of_work(interval.start_ms, room_ms, pips)
            cues += _within(interval, plan)
        elif plan.cues.rest:
            cues.append(Cue(interval.start_ms, CueName.REST))
        room_ms = interval.length_ms
    for wave in plan.waves_ms:
        if length_ms is None or wave < length_ms:
            cues += _start_of_work(wave, wave, plan.cues.count)
    if length_ms is not None:
        cues.append(Cue(length_ms, CueName.END))
    if plan.cues.rest:
        within = ((interval, interval.within_ms) for interval in intervals if interval.within_ms is not None)
        cues += (Cue(interval.start_ms + ms, CueName.REST) for interval, ms in within if ms < interval.length_ms)
    # Waves close together share their pips: one signal at an instant is told once.
    return tuple(sorted(dict.fromkeys(cues), key=lambda cue: cue.at_ms))


def _start_of_work(start_ms: int, room_ms: int, pips: int) -> Iterator[Cue]:
    for k in range(min(pips, room_ms // SECOND_MS), 0, -1):
        yield Cue(start_ms - k * SECOND_MS, CueName.COUNT)
    yield Cue(start_ms, CueName.GO)


def _within(interval: Interval, plan: CuePlan) -> Iterator[Cue]:
    pace = plan.cues.pace
    for k in range(1, pace + 1):
        yield Cue(interval.start_ms + round((interval.length_ms - plan.margin_ms) * k / pace), CueName.PACE)
    if interval.length_ms < LONG_ENOUGH_MS:
        return
    if plan.cues.half:
        yield Cue(interval.start_ms + interval.length_ms // 2, CueName.HALF)
    if plan.cues.last_ten:
        yield Cue(interval.end_ms - 10 * SECOND_MS, CueName.LAST_TEN)


def part_timeline(part: AnyPart, session: Session, groups: Collection[int] = (1,)) -> PartTimeline:
    """The timeline of a part for the start groups that are in use.

    Time and memory grow with the number of intervals (and of beats) only.
    """
    count_in = session.count_in_ms if part.count_in_ms is None else part.count_in_ms
    plan = CuePlan(session.cues, session.margin_ms(part))
    if isinstance(part, OpenPart):
        return _open(part)
    if isinstance(part, RestPart):
        return PartTimeline((Interval(0, part.length_ms, IntervalKind.REST),), (), part.length_ms)
    if isinstance(part, Windowed):
        made = _windows(part, groups)
        return assemble(made, made[-1].end_ms, count_in, plan)
    if isinstance(part, Piece):
        return _against_the_clock(part, groups, count_in, plan)
    return _paced(part, count_in, plan)


def station_index(part: AnyPart, window: int, group: int) -> int:
    """The station where a start group is in a work window: group g begins at station g and everybody moves on together.

    In a part where all move as one, every group is where the first is.
    """
    together = isinstance(part, Windowed) and part.moves_together
    return (window + (0 if together else group - 1)) % len(part.stations)


def _open(part: OpenPart) -> PartTimeline:
    # Its intervals say what is known beforehand: nothing is measured in it, and the clock may run past its advisory time.
    length = part.max_ms
    shown = part.time_ms if part.time_ms is not None else part.max_ms
    intervals = (Interval(0, shown, IntervalKind.READY),) if shown else ()
    cues = []
    if part.time_ms is not None and part.time_ms != length:
        cues.append(Cue(part.time_ms, CueName.ATTENTION))
    if length is not None:
        cues.append(Cue(length, CueName.END))
    return PartTimeline(intervals, tuple(cues), length, 0)


def _windows(part: Windowed, groups: Collection[int]) -> tuple[Interval, ...]:
    stations = part.stations
    resting = [all(stations[station_index(part, window, group)].is_rest for group in groups) for window in range(len(stations))]
    kinds = [IntervalKind.REST if rests else IntervalKind.WORK for rests in resting]
    within = [_within_ms({stations[station_index(part, window, group)] for group in groups}) for window in range(len(stations))]
    return tuple(
        Interval(start, end, IntervalKind.REST, number, window)
        if window < 0
        else Interval(start, end, kinds[window % len(stations)], number, window, within[window % len(stations)])
        for start, end, number, window in windows(part)
    )


def _within_ms(stations: Collection[Station]) -> int | None:
    """The part of a window that all these stations have for their work; None where they differ, or have all of it."""
    found = {None if station.target is None else station.target.within_ms for station in stations if not station.is_rest}
    return found.pop() if len(found) == 1 else None


def _against_the_clock(part: Piece, groups: Collection[int], count_in_ms: int, plan: CuePlan) -> PartTimeline:
    delays = sorted({(group - 1) * part.wave_every_ms for group in groups})
    waves = tuple(delay for delay in delays if delay)
    length = delays[-1] + part.limit_ms
    only = (Interval(0, length, IntervalKind.WORK, 1, 0),)
    return assemble(
        only, length, count_in_ms, replace(plan, cues=replace(plan.cues, half=True, last_round=False, pace=0), waves_ms=waves)
    )


def _paced(part: Paced, count_in_ms: int, plan: CuePlan) -> PartTimeline:
    plain = replace(plan, cues=replace(plan.cues, last_ten=False, half=False, last_round=False, pace=0))
    if part.shuttle is not None:
        intervals, ends = _stages(part.shuttle)
        plain = replace(plain, count_between=0)
        timeline = assemble(intervals, intervals[-1].end_ms, count_in_ms, plain)
        signals = [Cue(end, CueName.SHUTTLE) for end in ends]
    else:
        length = part.time_ms or 0
        timeline = assemble((Interval(0, length, IntervalKind.WORK, 1, 0),), length, count_in_ms, plain)
        beat_ms = Fraction(60_000) / (part.beats_per_minute or Fraction(60))
        beats = -(-length // beat_ms)
        signals = [Cue(round(k * beat_ms), CueName.PACE) for k in range(beats)]
    return replace(timeline, cues=tuple(sorted([*timeline.cues, *signals], key=lambda cue: cue.at_ms)))


def _stages(shuttle: Shuttle) -> tuple[tuple[Interval, ...], list[int]]:
    """The stages as intervals, and the end of every shuttle, each from the exact sum."""
    intervals, ends = [], []
    start = Fraction(0)
    for number, stage in enumerate(shuttle.stages):
        one_ms = shuttle.distance_m * 3600 / stage.speed_kmh
        ends += [round(start + k * one_ms) for k in range(1, stage.shuttles + 1)]
        end = start + stage.shuttles * one_ms
        intervals.append(Interval(round(start), round(end), IntervalKind.WORK, number + 1, number))
        start = end
    return tuple(intervals), ends
