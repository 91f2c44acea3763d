"""A question before something that cannot be undone: ending a part early, ending the class, leaving.

Invariant: only Enter (or a click on the yes) is a yes; Escape is a no, and everything else goes on to the app.
"""

from __future__ import annotations

from floorclock.tui.floor.dialogs.pages import Answer, AskPage, PagedDialog


class Confirm(PagedDialog[bool]):
    """Asks `question`; answers True for Enter and False for Escape. `yes_key_label` says what Enter does: `ends the part`."""

    def __init__(self, question: str, detail: str, yes_key_label: str) -> None:
        super().__init__(AskPage(question, Answer(True), yes_key_label, detail, (("Esc", "no, go on"),)))

    def cancel(self) -> None:
        self.finish(False)
