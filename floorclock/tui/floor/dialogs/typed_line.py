"""A line of text being typed, as a value: every key makes a new one.

Invariant: the text is printable, at most `LONGEST` characters; the cursor stands inside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len

from floorclock.tui.base.lines import cut
from floorclock.tui.floor.dialogs.parts import Part, padded

LONGEST = 60


@dataclass(frozen=True, slots=True)
class TypedLine:
    """What was typed so far and where the cursor is.

    `fresh` is true for a text that was put there by the dialog: the first character typed replaces it whole.
    """

    text: str = ""
    at: int = 0
    fresh: bool = False

    @classmethod
    def offered(cls, text: str) -> TypedLine:
        """A text to keep with Enter or to type over."""
        return cls(text, len(text), bool(text))

    def typed(self, more: str) -> TypedLine:
        """With `more` at the cursor; what would make the line too long is left out."""
        if self.fresh:
            return TypedLine().typed(more)
        more = more[: LONGEST - len(self.text)]
        return TypedLine(self.text[: self.at] + more + self.text[self.at :], self.at + len(more))

    def after(self, key: str) -> TypedLine | None:
        """The line after an editing key, None when the key edits nothing."""
        text, at = self.text, self.at
        match key:
            case "backspace" | "delete" | "ctrl+u" if self.fresh:
                return TypedLine()
            case "backspace" | "ctrl+h":
                return TypedLine(text[: max(0, at - 1)] + text[at:], max(0, at - 1))
            case "delete":
                return TypedLine(text[:at] + text[at + 1 :], at)
            case "ctrl+u":
                return TypedLine(text[at:], 0)
            case "left":
                return TypedLine(text, max(0, at - 1))
            case "right":
                return TypedLine(text, min(len(text), at + 1))
            case "home":
                return TypedLine(text, 0)
            case "end":
                return TypedLine(text, len(text))
            case _:
                return None

    def parts(self, width: int, active: bool = True) -> tuple[Part, ...]:
        """The line in exactly `width` cells (at least 2), with its cursor when `active`; of a long text the cursor's place."""
        if not active:
            return (Part(padded(self.text, width), "typed"),)
        if self.fresh:
            shown = cut(self.text, width - 1)
            return (Part(shown, "cursor"), Part(" " * (width - cell_len(shown)), "typed"))
        before = self.text[: self.at]
        while cell_len(before) > width - 2:
            before = before[1:]
        under = self.text[self.at : self.at + 1] or " "
        room = width - cell_len(before) - cell_len(under)
        return (Part(before, "typed"), Part(under, "cursor"), Part(padded(self.text[self.at + 1 :], room), "typed"))
