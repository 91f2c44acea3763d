"""The small questions: yes or no, another rest margin, where to carry on.

Invariant: only Enter (or a click on the yes) is a yes; leaving a question decides nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeVar

from floorclock.plan.durations import UnreadableError, duration_words, parse_duration_ms
from floorclock.tui.floor.dialogs.pages import Answer, ListPage, MenuItem, PagedDialog, TypePage, yes_page
from floorclock.tui.floor.dialogs.reading import read_margin

T = TypeVar("T")

ResumeAnswer = Literal["stopped", "would_be"]


class Confirm(PagedDialog[bool]):
    """Asks `question`; answers True for Enter and False for Escape. `yes_words` says what Enter does: `ends the part`."""

    def __init__(self, question: str, detail: str, yes_words: str) -> None:
        super().__init__(yes_page(question, Answer(True), yes_words, detail, (("Esc", "no, go on"),)))

    def cancel(self) -> None:
        self.finish(False)


class AskMargin(PagedDialog[int]):
    """Asks for a rest margin; answers milliseconds, from 0 to ten minutes. `scope` says for whom: `for this part`."""

    def __init__(self, current_ms: int, scope: str) -> None:
        super().__init__(margin_page(f"Rest margin {scope}", current_ms, lambda margin_ms: margin_ms))


def margin_page(title: str, current_ms: int, answer: Callable[[int], T]) -> TypePage[T]:
    """The page on which a margin is typed. `answer` makes the answer of the milliseconds."""
    return TypePage(
        title=title,
        prompt="at least",
        read=lambda text: Answer(answer(read_margin(text))),
        offered=duration_words(current_ms),
        lead=f"now {duration_words(current_ms)}: a rest under it is flagged",
        hint="15 or 0:15; 0 for none; ↓ ↑ change it by 1 s, PgDn PgUp by 5 s",
        nudge=nudged_margin,
    )


def nudged_margin(text: str, steps: int) -> str:
    """The typed margin some seconds up or down; what would be refused stays as it is."""
    try:
        return duration_words(read_margin(duration_words(max(0, parse_duration_ms(text) + steps * 1000))))
    except UnreadableError:
        return text


class ResumeQuestion(PagedDialog[ResumeAnswer]):
    """After a crash or a sleeping machine: carry on from where the class stopped, or from where it would be now?

    `away` is a sentence, such as `The class was away for 3 min 20 s.`;
    `stopped_at` and `would_be` say a place in the class, such as `round 3, 0:41 left`.
    """

    def __init__(self, away: str, stopped_at: str, would_be: str) -> None:
        items: tuple[MenuItem[ResumeAnswer], ...] = (
            MenuItem("it stopped", Answer("stopped"), note=stopped_at),
            MenuItem("it would be now", Answer("would_be"), note=would_be),
        )
        hints = (("Enter", "carry on"), ("↑↓", "move"), ("Esc", "not yet"))
        super().__init__(ListPage("Carry on from where", items, lead=away, hints=hints))
