"""The state of a class as the floor shows it.

Invariant: a function of the state, the class time and a few words from outside; what changes only with events and
boundaries is made once for each of them, so that a tick ten times a second costs next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from floorclock.clock.state import ClassState
from floorclock.tui.floor.calls import MOST_CALLS, Calls
from floorclock.tui.floor.moment import Moment, Phase, later_parts_ms, moment, part_left_ms
from floorclock.tui.floor.outlooks import Outlooks
from floorclock.tui.floor.present_board import BoardRows
from floorclock.tui.floor.present_clock import bar_view, clock_view, head_view, left_words
from floorclock.tui.floor.present_work import brief_view, lanes_after_taps, lanes_view
from floorclock.tui.floor.view import BriefView, CallView, CoachView, FloorView, LanesView, RowView

KEYS_RUNNING = (("space", "pause"), ("backspace", "take back"), ("F3", "correct"), ("right", "skip"), ("F9", "end part"))
KEYS_STILL = (("F3", "athlete"), ("F4", "latecomer"), ("F5", "margin"))
KEYS_OVER = (("F3", "correct"), ("F6", "results"), ("F10", "leave"))
KEY_HELP = ("?", "all keys")
KEY_GIVE = ("F2", "give")
KEY_QUIET = ("F7", "quiet")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
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
    calls: tuple[CallView, ...]
    lanes: LanesView
    brief: BriefView | None
    caution: str


class Presenter:
    """Makes the view of one class; keeps the slow parts from one call to the next."""

    def __init__(self, state: ClassState, outlooks: Outlooks | None = None) -> None:
        self.state = state
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

    def view(self, now_ms: int, version: int, outside: Outside) -> FloorView:
        """The floor at a class time that the state has reached; `version` counts the events folded so far."""
        here = moment(self.state, now_ms)
        slow = self._slow_at(here, version, outside.selected)
        words = left_words(self.state, here, part_left_ms(here) + self._later_ms())
        return FloorView(
            head=head_view(self.state, here, outside.wall, outside.badge),
            clock=clock_view(self.state, here, outside.wall, outside.cue),
            bar=bar_view(self.state, here, words),
            lanes=slow.lanes,
            brief=slow.brief,
            rows=slow.rows,
            coach=_coach(slow, outside),
            keys=_keys(here, slow.calls, outside),
        )

    def after_taps(self, before: FloorView, now_ms: int, version: int, selected: str) -> FloorView:
        """The floor right after events that changed athletes only: their rows are new, all else is as it was `before`."""
        return replace(before, rows=self._slow_at(moment(self.state, now_ms), version, selected).rows)

    def _slow_at(self, here: Moment, version: int, selected: str) -> _Slow:
        place = (selected, *here.place, _shuttle_place(here))
        if place != self._place or version != self._version:
            self._remake(here, place, version, selected)
        elif self._looked != self.outlooks.number:
            self._slow = replace(self._slow, rows=self._board.make(here, selected), calls=self._calls(selected))
        return self._slow

    def _remake(self, here: Moment, place: tuple[object, ...], version: int, selected: str) -> None:
        concerned = [self._only.get(folded) for folded in range(self._version + 1, version + 1)]
        for athlete in concerned:
            self._board.forget(athlete)
        rows = self._board.make(here, selected)
        if place == self._place and None not in concerned:
            # Calls follow from outlooks, and a tap has changed none yet.
            self._slow = replace(self._slow, rows=rows, lanes=lanes_after_taps(self._slow.lanes, here))
        else:
            lanes, brief = lanes_view(self.state, here), brief_view(self.state, here)
            self._slow = _Slow(rows, self._calls(selected), lanes, brief, _caution(self.state, here))
        self._place, self._version = place, version
        self._only.clear()

    def _calls(self, selected: str) -> tuple[CallView, ...]:
        self._looked = self.outlooks.number
        return self.calls.make(selected)

    def _later_ms(self) -> int:
        if self._later[0] != self.state.next_part:
            self._later = (self.state.next_part, later_parts_ms(self.state))
        return self._later[1]


def _coach(slow: _Slow, outside: Outside) -> CoachView:
    offers = (CallView(outside.offer, "give", kind="offer"),) if outside.offer else ()
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


def _keys(here: Moment, calls: tuple[CallView, ...], outside: Outside) -> tuple[tuple[str, str], ...]:
    give = (KEY_GIVE,) if outside.offer or any(call.hint for call in calls) else ()
    quiet = (KEY_QUIET,) if any(call.kind == "call" for call in calls) else ()
    if here.phase is Phase.OVER:
        return (*KEYS_OVER, KEY_HELP)
    if here.phase in (Phase.READY, Phase.OPEN, Phase.BETWEEN):
        enter = ("Enter", "start" if here.phase is Phase.READY else "go on")
        return (enter, *give, *KEYS_STILL, KEY_HELP)
    space = ("space", "go on") if here.paused else KEYS_RUNNING[0]
    return (space, *give, *KEYS_RUNNING[1:3], *quiet, *KEYS_RUNNING[3:], KEY_HELP)
