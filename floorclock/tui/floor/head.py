"""The line at the top: which session, part, round and minute, and the time on the wall.

Invariant: the badge is always whole while it fits; the other words go in the order of `LEAST_FIRST`.
"""

from __future__ import annotations

from rich.cells import cell_len
from rich.segment import Segment

from floorclock.tui.base.lines import Line, cut, padded, spread
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import ALERT_PLATE, CAP, CAP_FAINT
from floorclock.tui.floor.view import HeadView

LEAST_FIRST = ("session", "wall", "minute", "part", "round")
"""What is left out first where the room is narrow."""
GAP = 3


class HeadLine(Painted[HeadView]):
    """The top line."""

    def paint(self, view: HeadView, width: int, height: int) -> list[Line]:
        """One line: session, part, round and minute on the left, badge and wall time on the right."""
        return [head_line(view, width)]


def head_line(view: HeadView, width: int) -> Line:
    """The words that fit, in their places."""
    words = kept_words(view, width)
    left: list[Segment] = []
    for name in ("session", "part", "round", "minute"):
        if words.get(name):
            left.append(Segment(" " * (GAP if left else 1) + words[name], CAP_FAINT if name == "session" else CAP))
    right = [Segment(f" {words['badge']} ", ALERT_PLATE)] if words.get("badge") else []
    if words.get("wall"):
        right.append(Segment(f"  {words['wall']} ", CAP))
    line = spread(padded(left, max(0, width - sum(cell_len(part.text) for part in right)), CAP), right, width)
    return line


def kept_words(view: HeadView, width: int) -> dict[str, str]:
    """The words that stay at this width; the last one left is cut."""
    words = {name: getattr(view, name) for name in ("session", "part", "round", "minute", "badge", "wall")}
    words = {name: text for name, text in words.items() if text}
    for name in LEAST_FIRST:
        if _taken(words) <= width:
            return words
        others = {other: text for other, text in words.items() if other != name}
        room = width - _taken(others) - GAP
        if name == "part" and room >= 8:
            return {**words, name: cut(words[name], room)}
        words = others
    return {name: cut(text, max(0, width - 2)) for name, text in words.items()}


def _taken(words: dict[str, str]) -> int:
    return sum(cell_len(text) + GAP for text in words.values())
