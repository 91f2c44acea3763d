"""Lines of styled text, cut and placed by the cells that they take on a screen.

Invariant: a `Line` that leaves this module is exactly as wide as was asked for, whatever the text: wide, joined or right-to-left.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Final

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style

from floorclock.tui.base.palette import BLANK, MoodLook

Line = tuple[Segment, ...]

LEFT_TO_RIGHT_MARK: Final = "\u200e"
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_CELL_EACH: Final = re.compile("[ -~─╱┊▀▄█▆▌▊▚▜]*")
_RUNS: Final = re.compile("█+|[^█]+")


def width_of(line: Iterable[Segment]) -> int:
    """The cells that the segments take."""
    return sum(cell_len(segment.text) for segment in line)


def plain(text: str) -> str:
    """The text without control characters: one of them would tear the screen."""
    return _CONTROL.sub("\ufffd", text)


def cut(text: str, width: int) -> str:
    """The text in at most `width` cells, with `…` where something is left out."""
    text = plain(text)
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, width - 1).rstrip() + "…" if width > 1 else "…"[: max(0, width)]


def fit(text: str, width: int) -> str:
    """The text in exactly `width` cells, cut or padded on its right."""
    return set_cell_size(cut(text, width), max(0, width))


def fit_right(text: str, width: int) -> str:
    """The text in exactly `width` cells, cut or padded on its left."""
    text = cut(text, width)
    return " " * (width - cell_len(text)) + text


def shielded(text: str) -> str:
    """The text, closed by a left-to-right mark where it runs from the right: what follows it stays in its place."""
    runs_left = any(unicodedata.bidirectional(char) in {"R", "AL", "AN"} for char in text)
    return text + LEFT_TO_RIGHT_MARK if runs_left else text


def padded(segments: Iterable[Segment], width: int, style: Style = BLANK) -> Line:
    """The segments in exactly `width` cells: cut at the end, or filled up with blanks."""
    line: list[Segment] = []
    room = width
    for segment in segments:
        taken = cell_len(segment.text)
        if taken > room:
            if room:
                line.append(Segment(set_cell_size(segment.text, room), segment.style))
            return tuple(line)
        if segment.text:
            line.append(segment)
        room -= taken
    if room > 0:
        line.append(Segment(" " * room, style))
    return tuple(line)


def spread(left: Sequence[Segment], right: Sequence[Segment], width: int) -> Line:
    """`left` and `right` at the two ends of a line; the left end gives way."""
    taken = width_of(right)
    return padded([*padded(left, max(0, width - taken)), *right], width)


def wrapped(text: str, width: int, rows: int) -> list[str]:
    """The text on at most `rows` lines of `width` cells, broken between words; what is left over is cut with `…`."""
    if width <= 0 or rows <= 0:
        return []
    lines = [""]
    for word in plain(text).split():
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if cell_len(joined) <= width or len(lines) == rows or not lines[-1]:
            lines[-1] = joined
        else:
            lines.append(word)
    return [cut(line, width) for line in lines]


def drawn(mask: str, look: MoodLook, *, dense: bool = False) -> list[Segment]:
    """One row of a drawing (`█▀▄` and space) in the colour and the texture of a mood."""
    glyph, style = look.cell(dense=dense)
    return [Segment(glyph * len(run), style) if run[0] == "█" else Segment(run, look.stroke) for run in _RUNS.findall(mask)]


def inked(mask: str, ink: Style, ground: Style) -> list[Segment]:
    """One row of a drawing in plain ink: `ground` is a coloured ground for whole cells, `ink` a coloured glyph for halves."""
    return [Segment(" " * len(run), ground) if run[0] == "█" else Segment(run, ink) for run in _RUNS.findall(mask)]


def changed_span(old: Line, new: Line) -> tuple[int, int] | None:
    """The columns (start, end) outside of which two lines of one width are the same; None where they are the same."""
    if old == new:
        return None
    shorter = min(len(old), len(new))
    head = 0
    while head < shorter and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < shorter - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    start, end = width_of(new[:head]), width_of(new) - width_of(new[len(new) - tail :])
    if head < shorter and len(new) - tail > head:
        start += _common_cells(old[head], new[head])
        end -= _common_cells(old[-1 - tail], new[-1 - tail], from_end=True) if end > start else 0
    return (start, end) if end > start else (max(0, end - 1), max(start, end))


def _common_cells(one: Segment, other: Segment, *, from_end: bool = False) -> int:
    """How many cells two pieces have in common at one end, where every character is known to be a cell of its own."""
    if one.style != other.style or not (_CELL_EACH.fullmatch(one.text) and _CELL_EACH.fullmatch(other.text)):
        return 0
    step = -1 if from_end else 1
    pairs = zip(one.text[::step], other.text[::step], strict=False)
    return next((at for at, (a, b) in enumerate(pairs) if a != b), min(len(one.text), len(other.text)))
