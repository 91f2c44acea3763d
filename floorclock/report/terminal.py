"""What fits on a terminal: rows under headings, and values over time as a line of signs.

Invariant: what does not fit as a table is stacked, row by row, and nothing is cut off. Cells are data, never markup. In a line
there is one sign for each value (or for as many neighbours as it takes to fit); a hole is a value that nobody knows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean

from rich import box
from rich.cells import cell_len, set_cell_size
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

HEIGHTS = "▁▂▃▄▅▆▇█"
PLAIN_HEIGHTS = "12345678"
"""For terminals that cannot show the blocks."""
HOLE, PLAIN_HOLE = "·", "?"
GAP = 2
INDENT = 2
NARROWEST = 12
"""A column that may be folded is never narrower, unless its cells are."""
SHORT_HEADING = 9
"""A heading as short as that stands on one line; a longer one is folded between its words."""
NAME_CELLS = 19
"""The room for a name in a picture."""


def fitted(
    headings: Sequence[str], rows: Sequence[Sequence[str | Text]], room: int, *, right: str = "", folds: str = ""
) -> RenderableType:
    """A table, or the same stacked where a table needs more than `room` cells.

    Args:
        headings: one for each column; the first column is always folded where it is too wide.
        rows: the cells.
        room: how wide it may be.
        right: the headings, parted by `|`, whose cells stand at the right.
        folds: the headings, parted by `|`, whose cells may be folded too.
    """
    cells = [[Text(cell) if isinstance(cell, str) else cell for cell in row] for row in rows]
    may_fold = {headings[0], *folds.split("|")}
    natural = [max(_heading(heading), *(row[at].cell_len for row in cells)) for at, heading in enumerate(headings)]
    least = [
        max(_heading(heading), min(width, NARROWEST)) if heading in may_fold else width
        for heading, width in zip(headings, natural, strict=True)
    ]
    gaps = GAP * (len(headings) - 1)
    if sum(least) + gaps > room:
        return _stacked(headings, cells)
    table = Table(box=None, pad_edge=False, padding=(0, GAP, 0, 0), header_style="dim")
    for heading, width in zip(headings, _shared(natural, least, room - gaps), strict=True):
        table.add_column(Text(heading), width=width, overflow="fold", justify="right" if heading in right.split("|") else "left")
    for row in cells:
        table.add_row(*row)
    return table


def titled(title: str, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """A table under its title; what is too wide is folded."""
    table = Table(title=Text(title), title_justify="left", box=box.SIMPLE, pad_edge=False)
    for heading in headings:
        table.add_column(Text(heading), overflow="fold")
    for row in rows:
        table.add_row(*map(Text, row))
    return table


def grid(console: Console, rows: Sequence[Sequence[str | Text]]) -> None:
    """Rows without headings, indented; the last column takes what room there is."""
    table = Table.grid(padding=(0, GAP, 0, 0))
    for at in range(len(rows[0])):
        table.add_column(overflow="fold", max_width=None if at == len(rows[0]) - 1 else 20)
    for row in rows:
        table.add_row(*(Text(cell) if isinstance(cell, str) else cell for cell in row))
    console.print(indented(table))


def indented(shown: RenderableType | str) -> Padding:
    """A renderable, or words, a little to the right."""
    return Padding(Text(shown) if isinstance(shown, str) else shown, (0, 0, 0, INDENT))


def line_of(values: Sequence[float | None], width: int, *, low: float, high: float, plain: bool = False) -> str:
    """A line of at most `width` signs: `low` is the smallest, `high` the tallest; what lies beyond is drawn as these.

    Where there are more values than signs, neighbours share one: the mean of those that are known.
    """
    heights, hole = (PLAIN_HEIGHTS, PLAIN_HOLE) if plain else (HEIGHTS, HOLE)
    return "".join(hole if value is None else heights[_height(value, low, high)] for value in _thinned(values, width))


def span_of(values: Sequence[float], least: float) -> tuple[float, float]:
    """From the smallest to the largest value, at least `least` wide about their middle: noise alone shall not look like much."""
    low, high = min(values), max(values)
    more = max(0.0, least - (high - low)) / 2
    return low - more, high + more


def short_name(name: str, cells: int = NAME_CELLS) -> str:
    """A name that fits, cut off with an ellipsis, however wide its letters are."""
    return name if cell_len(name) <= cells else set_cell_size(name, cells - 1).rstrip() + "…"


def _heading(words: str) -> int:
    """Room for a short heading on one line, and for every word of a long one."""
    return max(min(cell_len(words), SHORT_HEADING), *(cell_len(word) for word in [*words.split(), ""]))


def _shared(natural: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """The widths that make up `room` at most: the widest of what may be folded gives way first."""
    widths = list(natural)
    while sum(widths) > room:
        widest = max(range(len(widths)), key=lambda at: widths[at] if widths[at] > least[at] else 0)
        widths[widest] -= 1
    return widths


def _stacked(headings: Sequence[str], rows: Sequence[Sequence[Text]]) -> Group:
    blocks: list[RenderableType] = []
    for row in rows:
        blocks.append(Text(row[0].plain, style="bold", overflow="fold"))
        facts = [f"{heading}: {cell.plain.strip()}" for heading, cell in zip(headings[1:], row[1:], strict=True) if cell]
        blocks.append(indented(Text("   ".join(facts), overflow="fold")))
    return Group(*blocks)


def _height(value: float, low: float, high: float) -> int:
    share = (value - low) / (high - low) if high > low else 1.0
    return max(0, min(len(HEIGHTS) - 1, math.ceil(share * len(HEIGHTS)) - 1))


def _thinned(values: Sequence[float | None], width: int) -> list[float | None]:
    count = len(values)
    if count <= width:
        return list(values)
    shares = (values[number * count // width : (number + 1) * count // width] for number in range(width))
    known = ([value for value in share if value is not None] for share in shares)
    return [fmean(share) if share else None for share in known]
