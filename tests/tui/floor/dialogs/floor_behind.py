"""A floor to open dialogs over: it remembers the keys that dialogs passed on, and what they answered."""

from __future__ import annotations

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

UNANSWERED = object()

NAUGHTY_NAMES = ("[/]", "[bold]Bo[/bold]", "[@click=app.quit]Oda[/]", "山田 太郎", "محمد علي", "é" * 60, "👩‍🦰 Pia")


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


async def opened(pilot: Pilot[None], dialog: Dialog[Any]) -> None:
    app = pilot.app
    assert isinstance(app, FloorBehind)
    app.push_screen(dialog, app.answers.append)
    await pilot.pause()


async def answer_to(dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)) -> Any:
    """What the dialog answered to these keys, or UNANSWERED when it is still open."""
    app = FloorBehind()
    async with app.run_test(size=size) as pilot:
        await opened(pilot, dialog)
        await press(pilot, *keys)
        assert app.bubbled == []
    return app.answers[0] if app.answers else UNANSWERED


async def chosen_after(dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)) -> str:
    """The line that is under the cursor after these keys."""
    async with FloorBehind().run_test(size=size) as pilot:
        await opened(pilot, dialog)
        await press(pilot, *keys)
        return chosen_line(dialog)


async def look_at(dialog: Dialog[Any], *keys: str, size: tuple[int, int] = (80, 24)) -> list[str]:
    """The lines of the panel after these keys, with the size rules checked."""
    app = FloorBehind()
    async with app.run_test(size=size) as pilot:
        await opened(pilot, dialog)
        await press(pilot, *keys)
        assert app.screen is dialog
        return shown_lines(dialog, size)


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


def chosen_line(dialog: Dialog[Any]) -> str:
    """The line under the cursor of a list."""
    chosen = dialog.query_one(OptionList).highlighted_option
    assert chosen is not None
    return str(chosen.prompt).lstrip("›").strip()


async def press(pilot: Pilot[None], *keys: str) -> None:
    """The keys one right after the other, as fast as a terminal hands them over."""
    characters = {name: letter for letter, name in KEY_NAMES.items()}
    for key in keys:
        pilot.app.post_message(events.Key(key, characters.get(key, key if len(key) == 1 else None)))
    await pilot.pause()
    await pilot.pause()


KEY_NAMES = {
    " ": "space",
    ":": "colon",
    "+": "plus",
    "-": "minus",
    ".": "full_stop",
    "/": "slash",
    ",": "comma",
    "?": "question_mark",
}
"""How Textual names the keys that are no letters or digits."""


def typed(text: str) -> list[str]:
    """The keys for a text."""
    return [KEY_NAMES.get(letter, letter) for letter in text]
