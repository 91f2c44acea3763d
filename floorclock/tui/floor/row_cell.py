"""One athlete in one cell of the board.

Invariant: a cell is exactly as wide as its plan; status, flag and each round of the picture differ in shape, not only in colour.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style

from floorclock.tui.base.lines import Line, cut, fit, fit_right, padded, shielded
from floorclock.tui.base.palette import ALERT, BLANK, CAP, CAP_FAINT, CHOSEN, FAINT, STRONG, TEXT
from floorclock.tui.floor.view import FLAG_SYMBOL, RestBar, RowView

HOLE: Final = "·"
NOT_FINISHED: Final = "/"
STATUS_SYMBOL: Final = {"work": "►", "done": "✓", "missed": NOT_FINISHED, "rest": "◦", "idle": " ", "home": "⌂"}
KEPT_REST: Final = "▁▂▃▄▅▆▇"
"""A rest that was kept: a solid block, the higher the longer."""
SHORT_REST: Final = "⡀⡄⡆⡇"
"""A rest under the margin: a thin row of dots, the higher the longer."""
FULL_REST: Final = 0.5
"""The rest, as a fraction of the interval, that fills a cell of the picture; longer ones look the same."""

QUIET: Final = "muted"
"""Stands before the symbol of a flag that calls nobody."""

PREFIX: Final = 5
LEAST_NAME: Final = 8
"""What a longer word beside it leaves of a name."""
NARROWEST: Final = 38
"""The width of a cell in which nothing has to be left out."""


@dataclass(frozen=True, slots=True)
class CellPlan:
    """The width of each field of a cell; 0 leaves the field out. The flag shares the field of the name."""

    width: int
    name: int
    split: int
    left: int
    past: int


@lru_cache(maxsize=64)
def cell_plan(width: int, *, pictured: bool = True) -> CellPlan:
    """The fields of a cell of `width`: narrow cells lose the picture first, then the rest, then the split.

    Teams without one (`pictured` false) have its room for their names.
    """
    split = 7 if width >= 18 else 0
    past = 0 if width < 30 or not pictured else 5 if width < 36 else 6 if width < 48 else 9
    left = 0 if width < 24 else 5 if width < 46 else 9
    name = max(1, width - PREFIX - split - left - past)
    return CellPlan(width, name, split, left, past)


@lru_cache(maxsize=512)
def row_cell(row: RowView, plan: CellPlan) -> Line:
    """The athlete in exactly `plan.width` cells."""
    quiet = row.status in {"rest", "idle", "home"}
    words = FAINT if quiet else TEXT
    over = min(cell_len(row.detail) + 1 - plan.split - plan.left, plan.name - LEAST_NAME)
    if over > 0 and plan.split:
        plan = replace(plan, name=plan.name - over, left=plan.left + over)
    key = fit(row.key or " ", 1)
    segments = [
        Segment(STATUS_SYMBOL[row.status], STRONG),
        Segment(f"[{key}]", CHOSEN) if row.selected else Segment(f" {key} ", CAP_FAINT if quiet else CAP),
        Segment(" ", BLANK),
        *_name_and_flag(row, plan.name, STRONG if row.status == "work" else words),
        *_numbers(row, plan, words),
    ]
    if plan.past:
        segments += [Segment(" ", BLANK), *past_picture(row.past, plan.past - 1)]
    return padded(segments, plan.width)


def _name_and_flag(row: RowView, width: int, style: Style) -> Line:
    name_style = CHOSEN if row.selected else style
    sign = "" if row.detail == row.flag else FLAG_SYMBOL[row.flag]
    if not row.quiet and not sign:
        return _name(row.name, width, name_style)
    words = f"{QUIET} {sign}".rstrip() if row.quiet else f"{sign} {row.flag}"
    # A word is whole or not there: the sign alone says it too.
    words = words if cell_len(words) <= width - min(7, cell_len(row.name) + 1) else words[-1] if row.quiet else words[0]
    flag = Segment(words, FAINT if row.quiet else ALERT)
    return (*_name(row.name, width - cell_len(words) - 1, name_style), Segment(" ", BLANK), flag)


def _name(name: str, width: int, style: Style) -> Line:
    return padded([Segment(shielded(cut(name, width)), style)], max(0, width))


def _numbers(row: RowView, plan: CellPlan, style: Style) -> list[Segment]:
    if row.detail:
        room = plan.split + plan.left
        if row.detail == row.flag and cell_len(row.detail) >= room:
            return [Segment(" " * room, BLANK)]
        return [Segment(f" {fit_right(row.detail, room - 1)}", style)] if room > 1 else []
    numbers = []
    if plan.split:
        numbers.append(Segment(f" {fit_right(row.split, plan.split - 1)}", style))
    if plan.left:
        left = row.left if plan.left >= 9 else row.left.partition(" ")[0]
        numbers.append(Segment(f" {fit_right(left, plan.left - 1)}", ALERT if row.flag == "tight" and not row.quiet else style))
    return numbers


@lru_cache(maxsize=512)
def past_picture(past: tuple[RestBar, ...], width: int) -> tuple[Segment, ...]:
    """The last rounds that fit, the newest at the right end."""
    recent = past[-width:] if width > 0 else ()
    marks = [rest_mark(bar) for bar in recent]
    return (Segment(" " * (width - len(marks)), BLANK), *marks) if width > len(marks) else tuple(marks)


def rest_mark(bar: RestBar) -> Segment:
    """One round: a block for a rest that was kept, a dotted stub for one that was not, a hole for an untapped round."""
    if bar.not_finished:
        return Segment(NOT_FINISHED, ALERT)
    if bar.rest is None:
        return Segment(HOLE, FAINT)
    steps = SHORT_REST if bar.under else KEPT_REST
    height = min(1.0, max(0.0, bar.rest) / FULL_REST)
    return Segment(steps[min(len(steps) - 1, int(height * len(steps)))], ALERT if bar.under else FAINT)
