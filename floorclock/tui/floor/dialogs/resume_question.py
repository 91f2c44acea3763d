"""After a crash or a sleeping machine: carry on from where the class stopped, or from where it would be now?

Invariant: nothing is decided without the coach; leaving the question answers nothing.
"""

from __future__ import annotations

from typing import Literal

from floorclock.tui.floor.dialogs.choices import Choice
from floorclock.tui.floor.dialogs.pages import Answer, ListPage, PagedDialog

ResumeAnswer = Literal["stopped", "would_be"]


class ResumeQuestion(PagedDialog[ResumeAnswer]):
    """Says how long the class was away and asks where to carry on.

    `away` is a sentence, such as `The class was away for 3 min 20 s.`;
    `stopped_at` and `would_be` say a place in the class, such as `round 3, 0:41 left`.
    """

    def __init__(self, away: str, stopped_at: str, would_be: str) -> None:
        super().__init__(
            ListPage(
                title="Carry on from where",
                choices=(
                    Choice("it stopped", note=stopped_at),
                    Choice("it would be now", note=would_be),
                ),
                outcomes=(Answer("stopped"), Answer("would_be")),
                lead=away,
                hints=(("Enter", "carry on"), ("↑↓", "move"), ("Esc", "not yet")),
            )
        )
