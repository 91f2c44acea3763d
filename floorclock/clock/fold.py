"""The fold: each event changes the state once, in its own way.

Invariant: what an event does depends on the state and the event's class time alone, so folding a journal gives the
state that the floor showed; a tap is judged by the time it was stamped with, however late it is folded.
"""

from __future__ import annotations

from collections.abc import Iterable

from floorclock.clock import amend, taps
from floorclock.clock.events import (
    CarriedOn,
    ClassEnded,
    Event,
    PartBegun,
    PartEnded,
    Paused,
    Resumed,
    Skipped,
    Stretched,
    Tapped,
    TapTakenBack,
    WentBack,
)
from floorclock.clock.outcome import Outcome, What
from floorclock.clock.state import ClassState

LEAST_LEFT_MS = 1_000
"""Time can be taken from an interval until this much of it is left."""


def apply(state: ClassState, event: Event) -> Outcome:
    """Folds one event in and says what came of it. An event that cannot mean anything now changes nothing and says so."""
    state.advance(event.at_ms)
    return _HANDLERS[type(event)](state, event)


def fold(state: ClassState, events: Iterable[Event]) -> ClassState:
    """The same state after some events, for recovery and review."""
    for event in events:
        apply(state, event)
    return state


def _begun(state: ClassState, event: PartBegun) -> Outcome:
    run = state.run
    if state.over or state.paused or event.part != state.next_part or (run is not None and run.part.kind != "open"):
        return Outcome(What.REFUSED, because="that part cannot start now")
    if run is not None:
        run.ended_ms, run.ended_by_coach = event.at_ms, True
    state.begin(event.part, event.at_ms, event.groups)
    return Outcome(What.DONE)


def _paused(state: ClassState, event: Paused) -> Outcome:
    if state.paused or state.over or not state.runs:
        return Outcome(What.REFUSED, because="the clock is not running")
    state.paused = True
    return Outcome(What.DONE)


def _resumed(state: ClassState, event: Resumed) -> Outcome:
    if not state.paused:
        return Outcome(What.REFUSED, because="the clock is not paused")
    state.paused = False
    run = state.run
    if run is None or run.part.kind == "open" or not event.count_in_ms:
        return Outcome(What.DONE)
    position, wait_ms = run.position_ms(event.at_ms), event.lead_ms + event.count_in_ms
    if position >= 0:
        run.move_to(event.at_ms, position, lead_ms=event.lead_ms, count_ms=event.count_in_ms)
    elif -wait_ms < position:
        run.move_to(event.at_ms, -wait_ms)
    return Outcome(What.DONE)


def _skipped(state: ClassState, event: Skipped) -> Outcome:
    run = state.run
    if run is None or run.part.kind == "open":
        return Outcome(What.REFUSED, because="there is no interval to skip")
    position = run.position_ms(event.at_ms)
    index = run.timeline.interval_at(position)
    following = 0 if position < 0 else None if index is None else index + 1
    if following is None or following >= len(run.timeline.intervals):
        return Outcome(What.REFUSED, because="this is the last interval; end the part instead")
    if index is not None:
        run.cut_short.add(index)
    run.move_to(event.at_ms, run.timeline.intervals[following].start_ms)
    return Outcome(What.DONE)


def _went_back(state: ClassState, event: WentBack) -> Outcome:
    run = state.run
    index = run.interval_at(event.at_ms) if run else None
    if run is not None and run.position_ms(event.at_ms) < 0:
        run.move_to(event.at_ms, -run.timeline.count_in_ms)
        return Outcome(What.DONE)
    if run is None or index is None or run.part.kind == "open":
        return Outcome(What.REFUSED, because="there is no interval to begin again")
    start = run.timeline.intervals[index].start_ms
    for name, interval in [place for place in run.marks if place[1] == index]:
        run.set_mark(name, interval, None)
    run.laps = {name: [lap for lap in laps if lap < start] for name, laps in run.laps.items()}
    run.finishes = {name: time for name, time in run.finishes.items() if time < start}
    for tap in [tap for tap in state.taken.values() if tap.part == run.index]:
        # It counted in this interval, or as a lap after its start.
        if tap.interval == index if tap.lap_ms is None else tap.lap_ms >= start:
            del state.taken[tap.place]
    run.move_to(event.at_ms, start)
    return Outcome(What.DONE)


def _stretched(state: ClassState, event: Stretched) -> Outcome:
    run = state.run
    if run is None or run.part.kind in ("open", "paced"):
        return Outcome(What.REFUSED, because="the time of this part is not the clock's to change")
    position = run.position_ms(event.at_ms)
    index = 0 if position < 0 else run.timeline.interval_at(position)
    if index is None:
        return Outcome(What.REFUSED, because="there is no interval to change")
    least = max(position, run.timeline.intervals[index].start_ms) + LEAST_LEFT_MS - run.timeline.intervals[index].end_ms
    delta = event.delta_ms if event.delta_ms > 0 else max(event.delta_ms, least)
    if delta == 0 or (event.delta_ms < 0) != (delta < 0):
        return Outcome(What.REFUSED, because="there is no time left to take")
    run.timeline = run.timeline.stretched(index, delta)
    return Outcome(What.DONE, amount_ms=delta)


def _part_ended(state: ClassState, event: PartEnded) -> Outcome:
    run = state.run
    if run is None:
        return Outcome(What.REFUSED, because="no part is running")
    index = run.interval_at(event.at_ms)
    if index is not None:
        run.cut_short.add(index)
    run.ended_ms, run.ended_by_coach = event.at_ms, True
    state.paused = False
    state.follow(run.index, event.at_ms)
    return Outcome(What.DONE)


def _class_ended(state: ClassState, event: ClassEnded) -> Outcome:
    run = state.run
    if run is not None:
        index = run.interval_at(event.at_ms)
        if index is not None:
            run.cut_short.add(index)
        run.ended_ms, run.ended_by_coach = event.at_ms, True
    state.paused, state.over, state.ended_by_coach, state.next_part = False, True, True, None
    state.said_length_ms = event.length_ms
    return Outcome(What.DONE)


_HANDLERS: dict[type[Event], amend.Handler] = {
    **amend.HANDLERS,
    PartBegun: _begun,
    Tapped: lambda state, event: taps.tap(state, event.athlete, event.at_ms),
    TapTakenBack: lambda state, event: taps.take_back(state, event.athlete, event.at_ms),
    Paused: _paused,
    Resumed: _resumed,
    Skipped: _skipped,
    WentBack: _went_back,
    Stretched: _stretched,
    PartEnded: _part_ended,
    ClassEnded: _class_ended,
    CarriedOn: lambda state, event: Outcome(What.DONE, amount_ms=event.jump_ms),
}
