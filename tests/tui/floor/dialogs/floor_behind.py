"""A floor to open dialogs over: it remembers the keys that dialogs passed on, and what they answered."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from rich.segment import Segment
from textual import events
from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import OptionList

from floorclock.tui.base.palette import BLANK
from floorclock.tui.floor.dialogs.dialog import Dialog, PassedKey
from tests.tui.floor.running_floor import CHARACTERS, key_event

UNANSWERED = object()


class Ticking(Widget):
    """Something that changes while a dialog is open."""

    text = "0:59"
    painted = 0

    def render_line(self, y: int) -> Strip:
        self.painted += 1
        return Strip([Segment(self.text.ljust(self.size.width), BLANK)], self.size.width)


class FloorBehind(App[None]):
    ENABLE_COMMAND_PALETTE = False
    CSS = "Ticking { width: 1fr; height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self.passed: list[events.Key] = []
        self.bubbled: list[str] = []
        self.answers: list[Any] = []

    def compose(self) -> ComposeResult:
        yield Ticking()

    def on_passed_key(self, message: PassedKey) -> None:
        self.passed.append(message.key)

    def on_key(self, event: events.Key) -> None:
        self.bubbled.append(event.key)

    @property
    def passed_characters(self) -> str:
        return "".join(key.character or f"<{key.key}>" for key in self.passed)


@asynccontextmanager
async def opened(
    dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[tuple[FloorBehind, Pilot[None]]]:
    """The dialog over a floor, after these keys."""
    app = FloorBehind()
    async with app.run_test(size=size) as pilot:
        app.push_screen(dialog, app.answers.append)
        await pilot.pause()
        await press(pilot, *keys)
        yield app, pilot


async def answer_to(dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)) -> Any:
    """What the dialog answered to these keys, or UNANSWERED when it is still open."""
    async with opened(dialog, *keys, size=size) as (app, _):
        assert app.bubbled == []
    return app.answers[0] if app.answers else UNANSWERED


async def chosen_after(dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)) -> str:
    """The line that is under the cursor of a list after these keys."""
    async with opened(dialog, *keys, size=size):
        chosen = dialog.query_one(OptionList).highlighted_option
        assert chosen is not None
        return str(chosen.prompt).lstrip("›").strip()


async def look_at(dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)) -> list[str]:
    """The lines of the panel after these keys, with the size rules checked."""
    async with opened(dialog, *keys, size=size) as (app, _):
        assert app.screen is dialog
        return shown_lines(dialog, size)


async def words_of(dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)) -> str:
    """The same as one text."""
    return "\n".join(await look_at(dialog, *keys, size=size))


def shown_lines(dialog: Dialog[Any], size: tuple[int, int]) -> list[str]:
    """The lines inside the panel's border as they stand on the screen; the panel keeps to its room at the bottom right."""
    panel = dialog.query_one("#panel")
    width, height = size
    assert panel.region.width <= min(dialog.widest, width)
    assert panel.region.height <= min(22, height)
    assert (panel.region.right, panel.region.bottom) == (width, height)
    inside = panel.content_region
    strips = dialog._compositor.render_strips()[inside.y : inside.bottom]
    assert len(strips) == inside.height, "some of it is beside the screen"
    below = dialog.query_one("#below")
    assert below.region.bottom <= inside.bottom, "the last lines have no room"
    return [strip.crop(inside.x, inside.right).text.rstrip() for strip in strips]


async def press(pilot: Pilot[None], *keys: str) -> None:
    """The keys one right after the other, as fast as a terminal hands them over."""
    for key in keys:
        pilot.app.post_message(key_event(key))
    await pilot.pause()
    await pilot.pause()


def typed(text: str) -> list[str]:
    """The keys for a text."""
    names = {character: key for key, character in CHARACTERS.items()}
    return [names.get(letter, letter) for letter in text]
