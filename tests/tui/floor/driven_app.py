"""A tiny app on the safe driver, run as a process of its own by `test_safe_driver.py`: it writes down every key that it hears."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import threading
from pathlib import Path

from textual import events
from textual.app import App

from floorclock.tui.base.safe_driver import SafeDriver, watch_terminal


class ListeningApp(App[None]):
    """Writes one line for every key."""

    def __init__(self, heard: Path) -> None:
        super().__init__(driver_class=SafeDriver)
        self._heard = heard

    def write(self, words: str) -> None:
        with self._heard.open("a", encoding="utf-8") as file:
            file.write(f"{words}\n")

    def on_load(self) -> None:
        asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.exit)

    def on_ready(self) -> None:
        self.write("ready")

    def on_key(self, event: events.Key) -> None:
        if event.key == "T":
            self.write(f"readers {sum(thread.name == 'textual-input' for thread in threading.enumerate())}")
            return
        self.write(event.key)
        if event.key == "Q":
            self.exit()

    def terminal_gone(self) -> None:
        self.write("terminal gone")
        os._exit(0)


if __name__ == "__main__":
    app = ListeningApp(Path(sys.argv[1]))
    watch_terminal(app.terminal_gone, period_s=0.05)
    app.run()
