"""Where a class stands at one instant, worked out once for everything that the floor shows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from floorclock.clock.run import PartRun
from floorclock.clock.sheet import SheetPart, planned_ms
from floorclock.clock.state import ClassState
from floorclock.clock.timeline import Interval, IntervalKind
from floorclock.plan.session import AnyPart
from floorclock.tui.base.palette import Mood


class Phase(StrEnum):
    """The states of a class, as the floor tells them apart."""

    READY = "ready"
    COUNT = "count"
    WORK = "work"
    REST = "rest"
    OPEN = "open"
    BETWEEN = "between"
    OVER = "over"


MOODS: dict[Phase, Mood] = {
    Phase.READY: "ready",
    Phase.COUNT: "count",
    Phase.WORK: "work",
    Phase.REST: "rest",
    Phase.OPEN: "open",
    Phase.BETWEEN: "open",
    Phase.OVER: "over",
}


@dataclass(frozen=True, slots=True)
class Moment:
    """`count_ms` is what is left of a count (before a part, after a pause); `position_ms` the part's clock."""

    phase: Phase
    paused: bool
    now_ms: int
    run: PartRun | None = None
    position_ms: int = 0
    index: int | None = None
    interval: Interval | None = None
    count_ms: int | None = None

    @property
    def mood(self) -> Mood:
        """The mood of the clock."""
        return "paused" if self.paused else MOODS[self.phase]

    @property
    def part(self) -> AnyPart | None:
        """The part that runs."""
        return self.run.part if self.run else None

    @property
    def place(self) -> tuple[object, ...]:
        """What the slow parts of the screen depend on besides the events: equal places, equal board and lanes."""
        waves = self.run.timeline.plan.waves_ms if self.run else ()
        begun = sum(start_ms <= self.position_ms for start_ms in waves)
        return (self.phase, self.paused, self.run.index if self.run else None, self.index, begun)


def moment(state: ClassState, now_ms: int) -> Moment:
    """Where the class stands at a class time that the state has reached."""
    run = state.run
    if run is None:
        phase = Phase.OVER if state.over else Phase.READY if not state.runs else Phase.BETWEEN
        return Moment(phase, state.paused, now_ms)
    position = run.position_ms(now_ms)
    if run.part.kind == "open":
        index = 0 if run.timeline.intervals else None
        return Moment(Phase.OPEN, state.paused, now_ms, run, position, index, None)
    hold = run.hold_until_ms(now_ms)
    index = run.timeline.interval_at(position)
    interval = None if index is None else run.timeline.intervals[index]
    if position < 0 or hold is not None:
        left = hold - now_ms if hold is not None else -position
        return Moment(Phase.COUNT, state.paused, now_ms, run, position, index, interval, left)
    resting = interval is not None and interval.kind is IntervalKind.REST
    return Moment(Phase.REST if resting else Phase.WORK, state.paused, now_ms, run, position, index, interval)


def part_left_ms(here: Moment) -> int:
    """What the plan still takes of the part that runs."""
    if here.run is None:
        return 0
    return max(0, planned_ms(SheetPart(here.run.part, here.run.timeline, ())) - here.position_ms)


def later_parts_ms(state: ClassState) -> int:
    """What the plan takes for all parts after the one that runs, with their count-ins."""
    if state.next_part is None:
        return 0
    sheet = (SheetPart(state.part(i), state.timeline(i), ()) for i in range(state.next_part, len(state.session.parts)))
    return sum(planned_ms(item) + item.timeline.count_in_ms for item in sheet)
