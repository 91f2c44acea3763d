"""Rows under headings, as wide as there is room.

Invariant: what does not fit as a table is stacked, row by row, and nothing is cut off. Cells are data, never markup.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

GAP = 2
INDENT = 2
NARROWEST = 12
"""A column that may be folded is never narrower, unless its cells are."""


def fitted(
    headings: Sequence[str], rows: Sequence[Sequence[str]], room: int, *, right: str = "", folds: str = ""
) -> RenderableType:
    """A table, or the same stacked where a table needs more than `room` cells.

    Args:
        headings: one for each column; the first column is always folded where it is too wide.
        rows: the cells.
        room: how wide it may be.
        right: the headings, parted by `|`, whose cells stand at the right.
        folds: the headings, parted by `|`, whose cells may be folded too.
    """
    may_fold = {headings[0], *folds.split("|")}
    natural = [max(cell_len(heading), *(cell_len(row[place]) for row in rows)) for place, heading in enumerate(headings)]
    least = [
        max(cell_len(heading), min(width, NARROWEST)) if heading in may_fold else width
        for heading, width in zip(headings, natural, strict=True)
    ]
    gaps = GAP * (len(headings) - 1)
    if sum(least) + gaps > room:
        return _stacked(headings, rows)
    table = Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0), header_style="dim")
    for heading, width in zip(headings, _shared(natural, least, room - gaps), strict=True):
        table.add_column(heading, width=width, overflow="fold", justify="right" if heading in right.split("|") else "left")
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def _shared(natural: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """The widths that make up `room` at most: the widest of what may be folded gives way first."""
    widths = list(natural)
    while sum(widths) > room:
        place = max(range(len(widths)), key=lambda one: widths[one] if widths[one] > least[one] else 0)
        widths[place] -= 1
    return widths


def _stacked(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> Group:
    blocks: list[RenderableType] = []
    for row in rows:
        blocks.append(Text(row[0], style="bold", overflow="fold"))
        facts = [f"{heading}: {cell}" for heading, cell in zip(headings[1:], row[1:], strict=True) if cell]
        blocks.append(Padding(Text("   ".join(facts), overflow="fold"), (0, 0, 0, INDENT)))
    return Group(*blocks)
