"""What the command line says about one run; the plan says the rest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from floorclock.live.class_sound import SoundOptions

if TYPE_CHECKING:
    from floorclock.tui.floor.desk import Autopilot


@dataclass(frozen=True, kw_only=True)
class RunOptions:
    """How fast, how it sounds, and what differs from the plan. `autopilot` are athletes who tap by themselves.

    `remark` is asked on a thread, once the floor is seen: what is to be said of the plan; empty for nothing.
    """

    sound: SoundOptions
    rate: float = 1.0
    margin_ms: int | None = None
    cues: str = ""
    autopilot: Autopilot | None = None
    badge: str = ""
    remark: Callable[[], str] = lambda: ""
