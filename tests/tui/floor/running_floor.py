"""A whole floor under a manual clock: keys with the time they were read at, and what the floor shows after them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from typing import TypeVar

from textual import events
from textual.pilot import Pilot

from floorclock.clock.events import Event
from floorclock.clock.splits import Mark
from floorclock.clock.state import ClassState
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart
from floorclock.tui.floor.app import FloorApp
from floorclock.tui.floor.desk import FloorSettings
from floorclock.tui.floor.dialogs.dialog import Dialog
from floorclock.tui.floor.floor_screen import FloorScreen
from floorclock.tui.floor.view import FloorView, RowView
from tests.clock.classes import BRAM, ILKA, NOOR, Run, harbour, state_of

CHARACTERS = {
    "space": " ",
    "question_mark": "?",
    "slash": "/",
    "colon": ":",
    "plus": "+",
    "minus": "-",
    "full_stop": ".",
    "greater_than_sign": ">",
}
LONGEST_WAIT_S = 5.0

EventKind = TypeVar("EventKind", bound=Event)


def key_event(key: str, at_s: float | None = None) -> events.Key:
    """A key as a terminal sends it, read at a monotonic time."""
    event = events.Key(key, CHARACTERS.get(key, key if len(key) == 1 else None))
    if at_s is not None:
        event.time = at_s
    return event


class Floor:
    """One floor with its class. Class time stands still until `wait` lets it pass."""

    def __init__(self, run: Run, settings: FloorSettings | None = None) -> None:
        self.run = run
        self.app = FloorApp(run.conductor, settings or FloorSettings())
        self._pilot: Pilot[int] | None = None

    @property
    def pilot(self) -> Pilot[int]:
        """Textual's hand on the app."""
        assert self._pilot is not None
        return self._pilot

    @property
    def screen(self) -> FloorScreen:
        """The floor's own screen, also while a dialog is open."""
        screen = self.app.screen_stack[0]
        assert isinstance(screen, FloorScreen)
        return screen

    @property
    def state(self) -> ClassState:
        """The class."""
        return self.run.state

    @property
    def view(self) -> FloorView:
        """What the floor shows at its next look."""
        self.screen.paint()
        assert self.screen.stage.view is not None
        return self.screen.stage.view

    @property
    def notice(self) -> str:
        """The answer to what was done last."""
        return self.view.coach.notice

    def row(self, name: str) -> RowView:
        """An athlete's row on the board."""
        return next(row for row in self.view.rows if row.athlete == name)

    def own_work(self, name: str) -> list[str]:
        """What the lanes say of an athlete's own target or option, lane by lane."""
        return [person.own for lane in self.view.lanes.lanes for person in lane.people if person.name == name]

    async def flagged(self, name: str, flag: str) -> None:
        """A flag stands on somebody's row within a few ticks: what a tap says of the pace is not worked out with the tap."""
        await self.until(lambda: self.row(name).flag == flag)

    def mark(self, name: str, interval: int) -> Mark | None:
        """What was taken for somebody in an interval of the latest part."""
        return self.state.runs[-1].marks.get((name, interval))

    def sent(self, kind: type[EventKind]) -> list[EventKind]:
        """The events of a kind, in the order they were sent."""
        return [event for event in self.run.journal.events if isinstance(event, kind)]

    @property
    def dialog(self) -> Dialog[object]:
        """The open dialog."""
        assert isinstance(self.app.screen, Dialog), "no dialog is open"
        return self.app.screen

    @property
    def dialog_text(self) -> str:
        """What the open dialog says."""
        inside = self.dialog.query_one("#panel").content_region
        strips = self.dialog._compositor.render_strips()[inside.y : inside.bottom]
        return "\n".join(strip.crop(inside.x, inside.right).text for strip in strips)

    @property
    def text(self) -> str:
        """The whole screen, as text."""
        return "\n".join(strip.text for strip in self.app.screen._compositor.render_strips())

    async def press(self, *keys: str, at_s: float | None = None) -> None:
        """Keys, read now or at a monotonic time, one after the other."""
        for key in keys:
            read_s = self.run.clock.monotonic_ns() / 1e9 if at_s is None else at_s
            self.app.post_message(key_event(key, read_s))
            await self.settle()

    async def type(self, text: str) -> None:
        """A text, letter by letter."""
        names = {letter: name for name, letter in CHARACTERS.items()}
        await self.press(*(names.get(letter, letter) for letter in text))

    async def settle(self) -> None:
        """Everything that was posted has been handled."""
        await self.pilot.pause()
        await self.pilot.pause()

    async def wait(self, ms: float) -> None:
        """Class time passes."""
        self.run.wait(ms)
        self.screen.paint()
        await self.settle()

    async def until(self, true: Callable[[], bool]) -> None:
        """Waits in real time, for what a thread or a timer does."""
        for _ in range(round(LONGEST_WAIT_S / 0.02)):
            if true():
                return
            await asyncio.sleep(0.02)
        raise AssertionError("it never came about")

    @asynccontextmanager
    async def open(self, size: tuple[int, int] = (160, 45)) -> AsyncIterator[Floor]:
        """The floor, running."""
        async with self.app.run_test(size=size) as pilot:
            self._pilot = pilot
            await self.settle()
            await self.until(lambda: self.screen.preparing.done())
            yield self

    @asynccontextmanager
    async def at_work(self, ms: int = 30_000, size: tuple[int, int] = (160, 45)) -> AsyncIterator[Floor]:
        """The floor, so long after the go of its first part."""
        async with self.open(size):
            await self.press("enter")
            await self.wait(self.state.session.count_in_ms + ms)
            yield self


def floor_of(
    *parts: AnyPart,
    athletes: Sequence[Athlete] = (ILKA, BRAM, NOOR),
    count_in_ms: int = 10_000,
    settings: FloorSettings | None = None,
) -> Floor:
    """A floor for a class of these parts, or of the harbour."""
    return Floor(Run(state_of(*(parts or (harbour(),)), athletes=athletes, count_in_ms=count_in_ms)), settings)
