"""What the command line says about one run; the plan says the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from floorclock.house_sound import SoundWishes

if TYPE_CHECKING:
    from floorclock.floor.app import SelfTapping


@dataclass(frozen=True, kw_only=True)
class RunWishes:
    """How fast, how it sounds, and what differs from the plan. `hands` are athletes who tap by themselves."""

    sound: SoundWishes
    rate: float = 1.0
    margin_ms: int | None = None
    cues: str = ""
    hands: SelfTapping | None = None
    badge: str = ""
