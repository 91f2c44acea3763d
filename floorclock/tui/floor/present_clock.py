"""The head, the big digits and the bar, from where the class stands."""

from __future__ import annotations

from floorclock.clock.state import ClassState
from floorclock.plan.session import ForTime, Intervals, OpenPart, Paced, Rotation
from floorclock.tui.floor.moment import Moment, Phase
from floorclock.tui.floor.view import BarView, ClockView, HeadView
from floorclock.tui.floor.words import clock_words

TENTHS_BELOW_MS = 10_000
MOOD_WORDS = {
    Phase.READY: "READY",
    Phase.COUNT: "GET READY",
    Phase.WORK: "WORK",
    Phase.REST: "REST",
    Phase.OPEN: "OPEN",
    Phase.BETWEEN: "NEXT PART",
    Phase.OVER: "OVER",
}


def head_view(state: ClassState, here: Moment, wall: str, badge: str) -> HeadView:
    """The line at the top."""
    part = round_words = minute = ""
    if here.run is not None:
        part = f"part {here.run.index + 1} of {len(state.session.parts)}  {here.run.part.title}"
        round_words, minute = _counts(here)
    return HeadView(state.session.title, part, round_words, minute, wall, badge)


def _counts(here: Moment) -> tuple[str, str]:
    run, interval = here.run, here.interval
    if run is None or interval is None or here.index is None:
        return "", ""
    intervals = run.timeline.intervals
    round_words = f"round {interval.round} of {intervals[-1].round}"
    if isinstance(run.part, Rotation):
        word = "minute" if run.part.every_ms == 60_000 else "interval"
        return round_words, f"{word} {here.index + 1} of {len(intervals)}"
    if isinstance(run.part, Intervals):
        window = max((other.window for other in intervals[: here.index + 1]), default=0)
        sets = f"set {window + 1} of {run.part.sets}"
        return (round_words if len(run.part.stations) > 1 else "", sets)
    if isinstance(run.part, Paced) and run.part.shuttle is not None:
        return f"stage {here.index + 1} of {len(intervals)}", ""
    return "", ""


def clock_view(state: ClassState, here: Moment, wall: str, cue: str) -> ClockView:
    """The digits: what is left wherever something is, what has passed in a part for time or without an end."""
    text, label = _digits(state, here, wall)
    word = MOOD_WORDS[here.phase]
    if here.phase is Phase.OPEN and here.part is not None:
        word = here.part.title.upper()
    if cue and here.phase in (Phase.WORK, Phase.REST):
        word = f"{word}  {cue}"
    return ClockView(text, label, here.mood, "PAUSED" if here.paused else word)


def _digits(state: ClassState, here: Moment, wall: str) -> tuple[str, str]:
    if here.phase in (Phase.READY, Phase.BETWEEN):
        return wall or "0:00", "Enter starts" if here.phase is Phase.READY else "Enter goes on"
    if here.phase is Phase.OVER:
        ended = state.runs[-1].ended_ms if state.runs else None
        return clock_words(here.now_ms if ended is None else ended, up=True), "the class took"
    if here.count_ms is not None:
        return str(-(-here.count_ms // 1000)), "to go" if here.position_ms < 0 else "to go on"
    if isinstance(here.part, OpenPart):
        return _open_digits(here.part, here.position_ms)
    if isinstance(here.part, ForTime):
        return clock_words(here.position_ms, up=True), f"for time, cap {clock_words(here.part.cap_ms)}"
    if here.interval is None:
        return "0:00", ""
    left = here.interval.end_ms - here.position_ms
    if left < TENTHS_BELOW_MS:
        return f"{left // 1000}.{left // 100 % 10}", _left_label(here)
    return clock_words(left), _left_label(here)


def _left_label(here: Moment) -> str:
    if isinstance(here.part, Rotation):
        return "this minute" if here.part.every_ms == 60_000 else "this interval"
    if isinstance(here.part, Intervals):
        return "of rest left" if here.phase is Phase.REST else "of work left"
    return "this stage" if isinstance(here.part, Paced) and here.part.shuttle is not None else "left"


def _open_digits(part: OpenPart, position_ms: int) -> tuple[str, str]:
    if part.time_ms is None:
        return clock_words(position_ms, up=True), "Enter goes on"
    left = part.time_ms - position_ms
    if left > 0:
        return clock_words(left), "Enter goes on"
    return clock_words(-left, up=True), "over; Enter goes on"


def bar_view(state: ClassState, here: Moment, class_left: str) -> BarView:
    """The bar of the interval, with the mark where the wanted rest begins."""
    done, margin, words = 0.0, None, ""
    if here.run is not None and here.interval is not None and here.position_ms >= 0:
        interval = here.interval
        done = (here.position_ms - interval.start_ms) / interval.length_ms
        rest = state.margin_for("", here.run.index)
        measured = isinstance(here.run.part, Rotation | Intervals) and interval.window >= 0 and here.phase is Phase.WORK
        if measured and rest < interval.length_ms:
            margin = 1 - rest / interval.length_ms
            words = f"done by {clock_words(interval.length_ms - rest)}"
    elif isinstance(here.part, OpenPart) and here.part.time_ms:
        done = min(1.0, here.position_ms / here.part.time_ms)
    return BarView(done, margin, here.mood, words, class_left)


def left_words(state: ClassState, here: Moment, plan_left_ms: int) -> str:
    """What is left of the part and of the class; says so when the plan no longer fits into the class time."""
    words = []
    length = here.run.timeline.length_ms if here.run else None
    if length is not None:
        words.append(f"part {clock_words(max(0, length - max(0, here.position_ms)))} left")
    booked = state.session.class_time_ms
    if here.phase in (Phase.READY, Phase.OVER):
        return "   ".join(words)
    class_left = plan_left_ms if booked is None else max(0, booked - here.now_ms)
    words.append(f"class {clock_words(class_left)} left")
    if booked is not None and plan_left_ms - class_left >= 60_000:
        words.append(f"plan {clock_words(plan_left_ms - class_left)} over")
    return "   ".join(words)
