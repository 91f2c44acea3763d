"""What the coach's keys work with: the class, what is said of it, who is chosen, the last answer.

Invariant: the desk draws nothing and opens nothing itself; the screen lends it the ways to do so.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol, TypeVar

from textual.driver import Driver

from floorclock.clock.events import Event
from floorclock.live.conductor import Conductor
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.tui.floor.moment import Moment, moment
from floorclock.tui.floor.offers import Offers
from floorclock.tui.floor.present import Presenter
from floorclock.tui.floor.view import Shows

if TYPE_CHECKING:
    from floorclock.tui.floor.dialogs.dialog import Dialog

T = TypeVar("T")

NOTICE_TICKS = 80


class Autopilot(Protocol):
    """Athletes who tap by themselves, for a demo."""

    def run(self, conductor: Conductor) -> None:
        """Sends the taps that are due by now."""


@dataclass(kw_only=True)
class FloorSettings:
    """What a floor needs besides its class. `badges` are asked for the standing notices at every look.

    `away_ms` is how long the class was interrupted, in wall time; None where it was not. `preparations` run one after the
    other on a thread once the first picture is there (a device may take its time to open); the coming cues are handed to the
    sound after each. `sound_problems` fills up meanwhile. `prior` is asked after them, on a thread too: what earlier classes
    say of the athletes; and then `remark`: what is to be said of the plan before the class begins. `shows` is who the screen
    is for, first and then as the coach switches it.
    `change_volume` takes steps up or down and answers the new volume in percent.
    """

    badges: Callable[[], str] = lambda: ""
    attach: Callable[[asyncio.AbstractEventLoop], None] = lambda loop: None
    away_ms: int | None = None
    autopilot: Autopilot | None = None
    mute: Callable[[bool], None] = lambda quiet: None
    change_volume: Callable[[int], int] = lambda steps: 100
    shows: Shows = "coach"
    beat: Callable[[], None] = lambda: None
    driver: type[Driver] | None = None
    notices: list[str] = field(default_factory=list)
    preparations: Sequence[Callable[[], None]] = ()
    sound_problems: Sequence[str] = ()
    prior: Callable[[], Prior] = lambda: NO_PRIOR
    remark: Callable[[], str] = lambda: ""


class Ask(Protocol):
    """Opens a dialog and has its answer taken."""

    def __call__(self, dialog: Dialog[T], take: Callable[[T | None], None], *, urgent: bool = False) -> None:
        """`take` is called with None where the coach gave no answer. Only what is urgent opens over another dialog."""


@dataclass(kw_only=True)
class Desk:
    """One floor's desk. `paint` shows the class as it stands now, `leave` ends the floor."""

    conductor: Conductor
    settings: FloorSettings
    presenter: Presenter
    offers: Offers
    ask: Ask
    paint: Callable[[], None]
    turn_page: Callable[[int], None]
    leave: Callable[[], None]
    selected: str = ""
    ticks: int = 0
    """How often the class has been looked at: ten times a second."""
    _notice: tuple[str, bool, int] = ("", False, 0)

    @property
    def here(self) -> Moment:
        """Where the class stands."""
        return moment(self.conductor.state, self.conductor.state.now_ms)

    def say(self, words: str, *, warning: bool = False, for_ticks: int = NOTICE_TICKS) -> None:
        """Answers what was just done, for some seconds."""
        self._notice = (words, warning, self.ticks + for_ticks)

    @property
    def notice(self) -> tuple[str, bool]:
        """The words that are to be seen now, and whether they are a warning."""
        words, warning, until = self._notice
        return ("", False) if self.ticks > until else (words, warning)

    def send_now(self, event: Event) -> None:
        """Sends an event with the class time of now, whatever time it was made with."""
        self.conductor.send(replace(event, at_ms=self.conductor.stamp()))
