"""The top of every screen: which class this is, and the views to turn to.

Invariant: the view that is open is marked by a sign as well as by its ground, and each view stands with its key, but where
that key does something else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from textual import events
from textual.message import Message

from floorclock.tui.base.lines import Line, cut, padded, spread
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import BLANK, FAINT, STRONG
from floorclock.tui.review.styles import TAB, TAB_CHOSEN

VIEWS: Final = ("class", "rest", "athlete", "results", "effort")
"""The views by their names, in the order of their keys 1 to 5."""
LETTERS: Final = (max(map(len, VIEWS)), 4, 0)
"""How many letters the names of the other views may have, from the widest screen to the narrowest."""


@dataclass(frozen=True, slots=True)
class TopView:
    """The title of the session, facts of the class (the most needed first), and the open view (from 0).

    Without `digits` no view has its key beside it: digits mean something else here.
    """

    title: str
    facts: tuple[str, ...]
    chosen: int
    digits: bool = True


class Top(Painted[TopView]):
    """Two lines: the class, and the views."""

    @dataclass
    class Turned(Message):
        """A click on a view (from 0)."""

        to: int

    def paint(self, view: TopView, width: int, height: int) -> list[Line]:
        """A fact stands whole or not at all; the last ones go first."""
        room = width - min(cell_len(view.title), width // 2) - 4
        kept = list(view.facts)
        while kept and cell_len("   ".join(kept)) > room:
            kept.pop()
        facts = "   ".join(kept)
        title = cut(view.title, max(0, width - cell_len(facts) - 4))
        first = spread([Segment(f" {title}", STRONG)], [Segment(f"{facts} ", FAINT)], width)
        tabs: list[Segment] = [Segment(" ", BLANK)]
        for at, word in enumerate(tab_words(view, width)):
            tabs += [Segment(word, TAB_CHOSEN if at == view.chosen else TAB), Segment(" ", BLANK)]
        return [first, padded(tabs, width)]

    def on_click(self, event: events.Click) -> None:
        at = tab_at(event.x, self.view, self.size.width) if event.y == 1 and self.view else None
        if at is not None:
            self.post_message(self.Turned(at))


def tab_words(view: TopView, width: int) -> list[str]:
    """What stands on each tab; where not all of them fit, only the open one has its whole name."""
    words: list[str] = []
    for letters in LETTERS:
        words = [_tab_word(at, view, letters) for at in range(len(VIEWS))]
        if sum(map(cell_len, words)) + len(VIEWS) + 1 <= width:
            break
    return words


def _tab_word(at: int, view: TopView, letters: int) -> str:
    """A tab with that many letters of its name at most."""
    chosen = at == view.chosen
    digit = f"{at + 1} " if view.digits else ""
    name = VIEWS[at] if chosen else VIEWS[at][:letters]
    return f"{'▸' if chosen else ' '}{digit}{name}{' ' if name else ''}"


def tab_at(x: int, view: TopView, width: int) -> int | None:
    """The view whose tab lies over a column."""
    begin = 1
    for at, word in enumerate(tab_words(view, width)):
        if begin <= x < begin + cell_len(word):
            return at
        begin += cell_len(word) + 1
    return None
