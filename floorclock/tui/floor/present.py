"""The state of a class as the floor shows it.

Invariant: a function of the state, the class time and a few words from outside; what changes only with events and
boundaries is made once for each of them, so that a tick ten times a second costs next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from floorclock.clock.state import ClassState
from floorclock.plan.durations import minutes_words
from floorclock.plan.legibility import USUAL_ROOM
from floorclock.plan.session import ForTime, Intervals, OpenPart, Paced, RestPart, Rotation, Untapped, Windowed
from floorclock.tui.base.palette import Mood
from floorclock.tui.floor.calls import MOST_CALLS, Calls
from floorclock.tui.floor.moment import Moment, Phase, later_parts_ms, moment, part_left_ms
from floorclock.tui.floor.outlooks import Outlooks
from floorclock.tui.floor.present_board import BoardRows
from floorclock.tui.floor.present_work import brief_view, lanes_after_taps, lanes_view
from floorclock.tui.floor.score_asked import score_asked
from floorclock.tui.floor.view import (
    BarView,
    BriefView,
    CallLine,
    ClockView,
    CoachView,
    FloorView,
    HeadView,
    LanesView,
    PersonView,
    RowView,
    Shows,
)
from floorclock.tui.floor.words import (
    KEY_GIVE,
    KEY_HELP,
    KEY_MUTE,
    KEY_WORDS,
    KEYS_OVER,
    KEYS_RUNNING,
    KEYS_STILL,
    KEYS_VIEW,
    MOOD_WORDS,
    clock_words,
    left_said,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorContext:
    """What the floor shows that is not in the state: the wall time, notices, the chosen athlete, an offer before the start."""

    wall: str = ""
    badge: str = ""
    notice: str = ""
    notice_kind: Literal["info", "warning"] = "info"
    selected: str = ""
    cue: str = ""
    offer: str = ""


@dataclass(frozen=True, slots=True)
class _Slow:
    """What changes only with events, boundaries and outlooks."""

    rows: tuple[RowView, ...]
    calls: tuple[CallLine, ...]
    lanes: LanesView
    brief: BriefView | None
    caution: str


class Presenter:
    """Makes the view of one class; keeps the slow parts from one call to the next. `shows` may be changed at any time."""

    def __init__(self, state: ClassState, outlooks: Outlooks | None = None, shows: Shows = "coach") -> None:
        self.state = state
        self.shows = shows
        self.outlooks = outlooks or Outlooks(state)
        self.calls = Calls(state, self.outlooks)
        self._board = BoardRows(state, self.outlooks)
        self._version = 0
        self._looked = -1
        self._only: dict[int, str] = {}
        self._place: tuple[object, ...] = ()
        self._slow = _Slow((), (), LanesView((), ""), None, "")
        self._later: tuple[int | None, int] = (-1, 0)

    def only_changed(self, version: int, athlete: str) -> None:
        """Says of an event, by its number, that it changed nothing but one athlete's own splits or results."""
        self._only[version] = athlete

    def view(self, now_ms: int, version: int, outside: FloorContext) -> FloorView:
        """The floor at a class time that the state has reached; `version` counts the events folded so far."""
        here = moment(self.state, now_ms)
        slow = self._slow_at(here, version, outside.selected)
        words = left_words(self.state, here, part_left_ms(here) + self._later_ms())
        return FloorView(
            head=head_view(self.state, here, outside.wall, outside.badge),
            clock=clock_view(self.state, here, outside.cue, self.shows),
            bar=bar_view(self.state, here, words),
            lanes=slow.lanes,
            brief=slow.brief,
            rows=slow.rows,
            coach=_coach(slow, outside, self.shows),
            keys=_keys(here, slow.calls, outside, self.shows, self._missing(here)),
            shows=self.shows,
            room=self.state.session.room or USUAL_ROOM,
        )

    def after_taps(self, before: FloorView, now_ms: int, version: int, selected: str) -> FloorView:
        """The floor right after events that changed athletes only: their rows are new, all else is as it was `before`."""
        return replace(before, rows=self._slow_at(moment(self.state, now_ms), version, selected).rows)

    def _slow_at(self, here: Moment, version: int, selected: str) -> _Slow:
        place = (self.shows, selected, *here.place, _shuttle_place(here))
        if place != self._place or version != self._version:
            self._remake(here, place, version, selected)
        elif self._looked != self.outlooks.number:
            self._slow = replace(self._slow, rows=self._board.make(here, selected, self.shows), calls=self._calls(selected))
        return self._slow

    def _remake(self, here: Moment, place: tuple[object, ...], version: int, selected: str) -> None:
        concerned = [self._only.get(folded) for folded in range(self._version + 1, version + 1)]
        for athlete in concerned:
            self._board.forget(athlete)
        rows = self._board.make(here, selected, self.shows)
        if place == self._place and None not in concerned:
            # Calls follow from outlooks, and a tap has changed none yet.
            lanes = lanes_after_taps(self.state, self._slow.lanes, here)
            self._slow = replace(self._slow, rows=rows, lanes=self._named(lanes, rows, here))
        else:
            lanes = self._named(lanes_view(self.state, here, self.shows), rows, here)
            brief = brief_view(self.state, here, self.shows)
            self._slow = _Slow(rows, self._calls(selected), lanes, brief, _caution(self.state, here))
        self._place, self._version = place, version
        self._only.clear()

    def _named(self, lanes: LanesView, rows: tuple[RowView, ...], here: Moment) -> LanesView:
        """The lanes with everybody, for the class, where they do not say who is where."""
        if self.shows == "coach" or not lanes.lanes or isinstance(here.part, Windowed):
            return lanes
        return replace(lanes, names=tuple(PersonView(row.name, "", row.status == "done", row.athlete) for row in rows))

    def _calls(self, selected: str) -> tuple[CallLine, ...]:
        self._looked = self.outlooks.number
        return self.calls.make(selected) if self.shows == "coach" else ()

    def _missing(self, here: Moment) -> bool:
        """Whether somebody's number of a set that is over is missing."""
        asked = score_asked(self.state)
        return asked is not None and bool(asked.missing) and (here.run in (None, asked.run) or isinstance(here.part, Untapped))

    def _later_ms(self) -> int:
        if self._later[0] != self.state.next_part:
            self._later = (self.state.next_part, later_parts_ms(self.state))
        return self._later[1]


def _coach(slow: _Slow, outside: FloorContext, shows: Shows) -> CoachView:
    if shows == "class":
        # What a key asks or refuses, the coach has to read; what was taken of whom is nobody else's.
        return CoachView(outside.notice if outside.notice_kind == "warning" else "", "warning", (), slow.caution)
    offers = (CallLine(outside.offer, "give", kind="offer"),) if outside.offer else ()
    calls = (*slow.calls[: MOST_CALLS - len(offers)], *offers)
    return CoachView(outside.notice, outside.notice_kind, calls, slow.caution)


def _shuttle_place(here: Moment) -> int:
    """How many signals of a shuttle ladder have sounded: its lane counts them."""
    if here.part is None or here.run is None or here.part.kind != "paced" or here.position_ms < 0:
        return 0
    return len(here.run.timeline.cues_between(0, here.position_ms + 1))


def _caution(state: ClassState, here: Moment) -> str:
    """What to mind before the work starts; it makes way for the coach's calls once people work."""
    if here.phase is not Phase.COUNT or here.part is None:
        return ""
    words = [here.part.caution, *(station.caution for station in here.part.stations)]
    return "   ".join(dict.fromkeys(word for word in words if word))


def _keys(
    here: Moment, calls: tuple[CallLine, ...], outside: FloorContext, shows: Shows, numbers: bool
) -> tuple[tuple[str, str], ...]:
    ask = (("F6", "numbers missing"),) if numbers else ()
    last = (KEYS_VIEW[shows], KEY_HELP)
    give = (KEY_GIVE,) if (outside.offer and shows == "coach") or any(call.hint for call in calls) else ()
    quiet = (KEY_MUTE,) if any(call.kind == "call" for call in calls) else ()
    if here.phase is Phase.OVER:
        # A key stands here once: what it asks for now says more than what it is for.
        return (*ask, *(key for key in KEYS_OVER if key[0] not in dict(ask)), *last)
    if here.phase in (Phase.READY, Phase.OPEN, Phase.BETWEEN):
        enter = ("Enter", "start" if here.phase is Phase.READY else "go on")
        return (enter, *ask, *give, *KEYS_STILL, *last)
    space = ("space", "go on") if here.paused else KEYS_RUNNING[0]
    if isinstance(here.part, RestPart):
        return (space, ("Enter", "go on early"), *ask, *KEYS_STILL, *last)
    return (space, *ask, *give, *KEYS_RUNNING[1:3], *quiet, *KEYS_RUNNING[3:], *last)


def head_view(state: ClassState, here: Moment, wall: str, badge: str) -> HeadView:
    """The line at the top."""
    part = round_words = minute = ""
    if here.run is not None:
        # An open part has its title on the plate of the clock.
        title = "" if here.phase is Phase.OPEN and not here.paused else f"  {here.run.part.title}"
        part = f"part {here.run.index + 1} of {len(state.session.parts)}{title}"
        round_words, minute = _counts(here)
    return HeadView(state.session.title, part, round_words, minute, wall, badge)


def _counts(here: Moment) -> tuple[str, str]:
    run, interval = here.run, here.interval
    if run is None or interval is None or here.index is None:
        return "", ""
    intervals = run.timeline.intervals
    round_words = f"round {interval.round} of {intervals[-1].round}"
    if isinstance(run.part, Rotation):
        word = "minute" if _by_minutes(run.part) else "interval"
        number = sum(other.window >= 0 for other in intervals[: here.index + 1])
        return round_words, f"{word} {number} of {run.part.count}"
    if isinstance(run.part, Intervals):
        window = max((other.window for other in intervals[: here.index + 1]), default=0)
        sets = f"set {window + 1} of {run.part.sets}"
        return (round_words if len(run.part.stations) > 1 else "", sets)
    if isinstance(run.part, Paced) and run.part.shuttle is not None:
        return f"stage {here.index + 1} of {len(intervals)}", ""
    return "", ""


def _by_minutes(part: Rotation) -> bool:
    return part.every_ms == 60_000 and all(station.time_ms is None for station in part.stations)


def clock_view(state: ClassState, here: Moment, cue: str, shows: Shows) -> ClockView:
    """The digits: what is left wherever something is, what has passed in a part for time or without an end."""
    text, label = _digits(state, here)
    if shows == "coach" and here.phase in KEY_WORDS:
        label = "; ".join(words for words in (label, KEY_WORDS[here.phase]) if words)
    word = MOOD_WORDS[here.phase]
    if here.phase is Phase.OPEN and here.part is not None:
        word = here.part.title.upper()
    if cue and here.phase in (Phase.WORK, Phase.REST):
        word = f"{word}  {cue}"
    return ClockView(text, label, _mood(state, here), "PAUSED" if here.paused else word)


def _digits(state: ClassState, here: Moment) -> tuple[str, str]:
    if here.phase is Phase.READY:
        return "", ""
    if here.phase is Phase.BETWEEN:
        return clock_words(here.now_ms - (state.runs[-1].ended_ms or 0), up=True), f"since {state.runs[-1].part.title}"
    if here.phase is Phase.OVER:
        ended = state.runs[-1].ended_ms if state.runs else None
        return clock_words(here.now_ms if ended is None else ended, up=True), "the class took"
    if here.count_ms is not None:
        # As wide from ten on as at ten: the digits keep their size.
        wide = here.position_ms < 0 and here.run is not None and here.run.timeline.count_in_ms >= 10_000
        return f"{-(-here.count_ms // 1000):>{2 if wide else 1}}", "to go" if here.position_ms < 0 else "to go on"
    if isinstance(here.part, OpenPart):
        return _open_digits(here.part, here.position_ms)
    if isinstance(here.part, ForTime):
        return clock_words(here.position_ms, up=True), f"for time, cap {clock_words(here.part.cap_ms)}"
    if here.interval is None:
        return "0:00", ""
    left = here.interval.end_ms - here.position_ms
    if isinstance(here.part, RestPart):
        # The count-in of the next part lies within the rest: one countdown for both.
        return clock_words(left + here.part.count_ms), "of rest left"
    return clock_words(left), _left_label(here)


def _left_label(here: Moment) -> str:
    if isinstance(here.part, Rotation):
        if here.interval is not None and here.interval.window < 0:
            return "of rest left"
        return "this minute" if _by_minutes(here.part) else "this interval"
    if isinstance(here.part, Intervals):
        return "of rest left" if here.phase is Phase.REST else "of work left"
    return "this stage" if isinstance(here.part, Paced) and here.part.shuttle is not None else "left"


def _open_digits(part: OpenPart, position_ms: int) -> tuple[str, str]:
    if part.time_ms is None:
        return clock_words(position_ms, up=True), "so far"
    left, planned = part.time_ms - position_ms, minutes_words(part.time_ms)
    return (clock_words(left), f"left of {planned}") if left > 0 else (clock_words(-left, up=True), f"over the {planned}")


def bar_view(state: ClassState, here: Moment, class_left: str) -> BarView:
    """The bar of the interval, with the mark where the wanted rest begins."""
    done, margin, words = 0.0, None, ""
    if here.run is not None and here.interval is not None and here.position_ms >= 0:
        interval = here.interval
        done = (here.position_ms - interval.start_ms) / interval.length_ms
        rest = margin_ms(state, here)
        if rest is not None:
            margin = 1 - rest / interval.length_ms
            words = f"done with {left_said(rest)} left"
    elif isinstance(here.part, OpenPart) and here.part.time_ms:
        done = min(1.0, here.position_ms / here.part.time_ms)
    return BarView(done, margin, _mood(state, here), words, class_left)


def margin_ms(state: ClassState, here: Moment) -> int | None:
    """The rest that is wanted in this interval; None where nobody is timed against it."""
    run, interval = here.run, here.interval
    if run is None or interval is None or here.phase is not Phase.WORK or interval.window < 0:
        return None
    part = run.part
    if not isinstance(part, Windowed) or part.tap == "none":
        return None
    if all(station.is_rest or (station.target is not None and station.target.most) for station in part.stations):
        # As much as possible everywhere: nobody is done early.
        return None
    rest = state.margin_for("", run.index)
    return rest if 0 < rest < interval.length_ms else None


def _mood(state: ClassState, here: Moment) -> Mood:
    """The mood of the moment; work that runs into the wanted rest has one of its own."""
    rest = margin_ms(state, here)
    late = rest is not None and here.interval is not None and here.interval.end_ms - here.position_ms <= rest
    return "margin" if late and not here.paused else here.mood


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
