"""The baseline: a bare Textual app with one label, changed ten times a second, that echoes every key. Played beside the floor."""

from __future__ import annotations

import asyncio

from textual import events
from textual.app import App, ComposeResult
from textual.widgets import Label

HZ = 10
TITLE = "bare app"


class BareApp(App[None]):
    """One label: a title, the tenths, and how many keys came."""

    def compose(self) -> ComposeResult:
        self._keys = self._ticks = 0
        self._label = Label(f"{TITLE} 0.0", markup=False)
        yield self._label

    def on_ready(self) -> None:
        self._began_s = asyncio.get_running_loop().time()
        self._tick()

    def on_key(self, event: events.Key) -> None:
        self._keys += 1
        self._show()

    def _tick(self) -> None:
        self._show()
        self._ticks += 1
        asyncio.get_running_loop().call_at(self._began_s + self._ticks / HZ, self._tick)

    def _show(self) -> None:
        self._label.update(f"{TITLE} {self._ticks / HZ:.1f} key {self._keys}.")


if __name__ == "__main__":
    BareApp().run()
