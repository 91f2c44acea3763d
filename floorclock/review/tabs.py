"""The top of every screen: which class this is, and the views to turn to.

Invariant: the view that is open is marked by a sign as well as by its ground, and each view stands with its key.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from textual import events
from textual.message import Message

from floorclock.floor.lines import Line, cut, padded, spread
from floorclock.floor.painted import Painted
from floorclock.floor.palette import BLANK, FAINT, STRONG
from floorclock.review.styles import TAB, TAB_CHOSEN

VIEWS: Final = ("class", "rest", "athlete", "results", "effort")
"""The views by their names, in the order of their keys 1 to 5."""


@dataclass(frozen=True, slots=True)
class TopView:
    """The title of the session, facts of the class (the most needed first), and the open view (from 0)."""

    title: str
    facts: tuple[str, ...]
    chosen: int


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
        for at, word in enumerate(tab_words(view.chosen)):
            tabs += [Segment(word, TAB_CHOSEN if at == view.chosen else TAB), Segment(" ", BLANK)]
        return [first, padded(tabs, width)]

    def on_click(self, event: events.Click) -> None:
        at = tab_at(event.x, self.view.chosen if self.view else 0) if event.y == 1 else None
        if at is not None:
            self.post_message(self.Turned(at))


def tab_words(chosen: int) -> list[str]:
    """What stands on each tab."""
    return [f"{'▸' if at == chosen else ' '}{at + 1} {name} " for at, name in enumerate(VIEWS)]


def tab_at(x: int, chosen: int) -> int | None:
    """The view whose tab lies over a column."""
    begin = 1
    for at, word in enumerate(tab_words(chosen)):
        if begin <= x < begin + cell_len(word):
            return at
        begin += cell_len(word) + 1
    return None
