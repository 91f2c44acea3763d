"""The brief on paper: the whole at a glance, then part by part, and one sheet to copy onto the board.

Invariant: it says what the wall says, line by line; the sheet for the board is one A4 page whatever stands on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from rich.cells import cell_len

from floorclock.clock.state import ClassState
from floorclock.digest.brief import BriefPart, Said, brief_of
from floorclock.digest.words import STOP
from floorclock.plan.durations import duration_words, whole_words
from floorclock.report.html import PageTable, rendered

HANDS: Final = (("large", 50, 36), ("middle", 66, 52), ("small", 96, 84))
"""How large the board's sheet is written: about how many letters stand on a line, and how many lines on a page."""


def brief_html(state: ClassState) -> str:
    """The brief of a class that has not begun."""
    parts = brief_of(state)
    rows = tuple((whole_words(part.begins_ms), part.title, part.kind_words) for part in parts)
    board = [part for part in parts if not part.is_open and not part.is_again]
    # The largest letters in which the sheet for the board is one page.
    fitting = (hand for hand, letters, most in HANDS if _board_lines(board, letters) <= most)
    return rendered(
        "brief.html.j2",
        f"Brief: {state.session.title}",
        session=state.session.title,
        people=len(state.present),
        class_time=duration_words(state.session.class_time_ms) if state.session.class_time_ms else "",
        parts=parts,
        glance=PageTable("The whole class", ("from", "part", "what"), rows, named=False),
        blocks=blocks,
        board=board,
        hand=next(fitting, HANDS[-1][0]),
        stop=STOP,
    )


def blocks(lines: Iterable[Said]) -> list[tuple[str, list[Said]]]:
    """Headings with the lines under each; at the beginning of a part there may be none."""
    found: list[tuple[str, list[Said]]] = [("", [])]
    for kind, words in lines:
        if kind == "heading":
            found.append((words, []))
        else:
            found[-1][1].append((kind, words))
    return [block for block in found if any(block)]


def _board_lines(board: Sequence[BriefPart], letters: int) -> float:
    """About how many lines it comes to; the work is written a quarter larger."""
    lines = 4.0 + _folded(STOP, letters)
    for part in board:
        lines += 2.5 + _folded(f"{part.kind_words}; {part.goal}", letters)
        lines += sum(1.3 * _folded(work, letters * 4 // 5) for work in part.work)
        lines += sum(_folded(words, letters) for kind, words in part.starts if kind == "text")
    return lines


def _folded(words: str, letters: int) -> int:
    return -(-cell_len(words) // letters)
