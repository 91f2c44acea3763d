"""The fold for the index: a run of plain taps goes by quickly, everything else as `clock.fold` has it.

Invariant: the state that comes out is the one that `clock.fold` would give. A tap is plain where nothing but its own split hangs
on it: in an interval that runs, later than the grace after its start, by somebody who is here and has no tap in it yet.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from floorclock.clock.events import (
    EffortRated,
    Event,
    NotFinished,
    Paused,
    Quietened,
    ResultEntered,
    Resumed,
    SplitCorrected,
    Tapped,
    TapTakenBack,
)
from floorclock.clock.fold import apply
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState
from floorclock.plan.session import Intervals, Rotation
from floorclock.plan.work import Unit
from floorclock.store.indexing.quick_reading import Tap
from floorclock.store.indexing.works import Work, Works

_LEAVES_WORK = (
    EffortRated,
    NotFinished,
    Paused,
    Quietened,
    ResultEntered,
    Resumed,
    SplitCorrected,
    TapTakenBack,
)
"""Events after which everybody has the same work at the same stations as before."""


class _Mark(NamedTuple):
    """A `clock.run.Mark` that is made in a fraction of the time; one class makes hundreds."""

    status: Status
    split_ms: int | None
    move: str
    amount: Fraction | None
    unit: Unit | None
    credited: bool = False
    corrected: bool = False


class _Taken(NamedTuple):
    """A `clock.taps.TakenTap`, likewise."""

    athlete: str
    part: int
    interval: int
    at_ms: int
    before: Any = None
    lap_ms: int | None = None

    def counts_from(self, interval: int, start_ms: int) -> bool:
        """As there; a plain tap is never a lap."""
        return self.interval == interval


def fold_quickly(state: ClassState, events: Sequence[Event | Tap]) -> ClassState:
    """The same state after these events."""
    at, works = 0, None
    while at < len(events):
        event = events[at]
        if isinstance(event, tuple):
            run = state.run
            if works is None and run is not None:
                works = Works(state, run)
            past = at if works is None else _plain_taps(state, events, at, works)
            if past > at:
                at = past
                continue
            apply(state, Tapped(at_ms=event[0], athlete=event[1]))
            leaves_work = True
        else:
            run = state.run
            apply(state, event)
            leaves_work = isinstance(event, _LEAVES_WORK)
        if not leaves_work or state.run is not run:
            works = None
        at += 1
    return state


def _timed_run(state: ClassState) -> PartRun | None:
    """The part that runs, where it is measured by splits and its clock moves."""
    run = state.run
    if run is None or state.paused or state.ended_by_coach or not isinstance(run.part, Rotation | Intervals):
        return None
    return run


def _plain_taps(state: ClassState, events: Sequence[Event | Tap], at: int, works: Works) -> int:
    """Takes plain taps from place `at` on; the place of the first event that is none."""
    run = _timed_run(state)
    end_ms = None if run is None else run.natural_end_ms()
    if run is None or end_ms is None:
        return at
    last = run.stretches[-1]
    first_ms, shift_ms = max(run.begun_ms, last.moves_from_ms), last.moves_from_ms - last.position_ms
    intervals = run.timeline.intervals
    starts, grace_ms = [one.start_ms for one in intervals], state.session.tap_grace_ms
    part, done = run.index, Status.DONE
    marks: dict[tuple[str, int], Any] = run.marks
    taken: list[Any] = state.taken
    latest_ms, here, away = state.now_ms, state.athletes, state.away
    own: dict[str, tuple[list[int | None], dict[int, Work]]] = {}
    for place in range(at, len(events) + 1):
        event = events[place] if place < len(events) else None
        if not isinstance(event, tuple):
            break
        at_ms, name = event
        position = at_ms - shift_ms
        if at_ms < first_ms or at_ms >= end_ms or position < 0 or name not in here or name in away:
            break
        index = bisect_right(starts, position) - 1
        interval = intervals[index]
        split_ms, before = position - starts[index], marks.get((name, index))
        if split_ms <= grace_ms or position >= interval.end_ms or (before is not None and before.status is done):
            break
        known = own.get(name)
        if known is None:
            known = own[name] = (works.stations(name), works.steady(name))
        station = known[0][index]
        if station is None:
            break
        work = known[1].get(station) or works.work(name, station, interval.round)
        if work is None:
            break
        move, amount, unit = work
        marks[name, index] = _Mark(done, split_ms, move, amount, unit)
        taken.append(_Taken(name, part, index, at_ms, before))
        latest_ms = at_ms if at_ms > latest_ms else latest_ms
    state.now_ms = latest_ms
    return place
