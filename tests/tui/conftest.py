"""How the tests wait for a screen: until its event loop has nothing left to do."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
import textual.app
import textual.constants
import textual.pilot
import textual.screen

FRAME_S = 0.001
"""As on the floor: what changed is drawn at the next thousandth of a second."""
SOON_S = 0.01
"""A timer that is due within this is waited for."""


async def nothing_left(*_: float) -> None:
    """Returns when no callback of the loop can run, and none is due soon. Threads aren't waited for."""
    # What is due has no public name.
    loop: Any = asyncio.get_running_loop()
    soon = loop.time() + SOON_S
    await asyncio.sleep(0)
    while loop._ready or any(timer.when() <= soon and not timer.cancelled() for timer in loop._scheduled):
        await asyncio.sleep(0 if loop._ready else FRAME_S)


@pytest.fixture(autouse=True)
def quick_pilot(monkeypatch: pytest.MonkeyPatch) -> None:
    """Textual's pilot sleeps 40 ms and more after each key, and waits while the line under a tab slides: that was most of it."""
    monkeypatch.setattr(textual.app, "wait_for_idle", nothing_left)
    monkeypatch.setattr(textual.pilot, "wait_for_idle", nothing_left)
    monkeypatch.setattr(textual.screen, "UPDATE_PERIOD", FRAME_S)
    monkeypatch.setattr(textual.constants, "TEXTUAL_ANIMATIONS", "none")
