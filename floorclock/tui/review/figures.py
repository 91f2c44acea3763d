"""How the review says figures.

Invariant: a figure that nobody has is a dash, never a nought.
"""

from __future__ import annotations

from typing import Final

NONE: Final = "-"


def seconds(ms: float | None, digits: int = 1) -> str:
    """`44.2`, or a dash; a minute and more as `1:04.2`. Cut off as a stopwatch does."""
    if ms is None:
        return NONE
    step = 10**digits
    whole = int(ms * step // 1000)
    minutes, rest = divmod(whole, 60 * step)
    tail = f"{rest // step:02d}" if minutes else str(rest // step)
    tail += f".{rest % step:0{digits}d}" if digits else ""
    return f"{minutes}:{tail}" if minutes else tail


def rest_seconds(ms: float | None) -> str:
    """Rest in whole seconds, rounded down; never in minutes, so that rests stand under each other as numbers."""
    return NONE if ms is None else str(int(ms // 1000))


def slope_words(ms: float | None) -> str:
    """Seconds more each round, with their sign: `+1.2`."""
    # Adding zero turns the -0.0 of a tiny change into +0.0.
    return NONE if ms is None else f"{round(ms / 1000, 1) + 0.0:+.1f}"
