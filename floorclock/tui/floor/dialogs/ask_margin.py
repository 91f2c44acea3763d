"""Another rest margin, for the class, a part or one athlete.

Invariant: an answer is a whole number of milliseconds from 0 to ten minutes.
"""

from __future__ import annotations

from floorclock.plan.durations import UnreadableError, duration_words, parse_duration_ms
from floorclock.tui.floor.dialogs.pages import Answer, PagedDialog, TypePage
from floorclock.tui.floor.dialogs.reading import read_margin


class AskMargin(PagedDialog[int]):
    """Asks for a rest margin; answers milliseconds. `scope` says for whom: `for this part`."""

    def __init__(self, current_ms: int, scope: str) -> None:
        super().__init__(
            TypePage(
                title=f"Rest margin {scope}",
                prompt="at least",
                read=lambda text: Answer(read_margin(text)),
                offered=duration_words(current_ms),
                lead=f"now {duration_words(current_ms)}: a rest under it is flagged",
                hint="15 or 0:15; 0 for none; arrows change it by 1 s, page keys by 5 s",
                nudge=nudged_margin,
            )
        )


def nudged_margin(text: str, steps: int) -> str:
    """The typed margin some seconds up or down; what would be refused stays as it is."""
    try:
        return duration_words(read_margin(duration_words(max(0, parse_duration_ms(text) + steps * 1000))))
    except UnreadableError:
        return text
