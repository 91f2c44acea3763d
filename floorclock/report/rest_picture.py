"""The rest picture: what everybody had left of every interval, row by row.

Invariant: what a colour says, the shape says too: rest of at least the margin is a solid bar that reaches the margin's mark, rest
kept while fading a hollow one, rest under the margin a hatched one with its seconds, what is to come a dashed one; `/` is
not finished and a small ring untapped.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from floorclock.digest.class_digest import PartDigest
from floorclock.digest.rest_grid import Cell, GridRow, Kind, whole_grid
from floorclock.report.colours import Ink
from floorclock.report.drawing import Drawing
from floorclock.report.terminal import short_name

ROW, BAR_ROOM, NUMBER_ROOM = 34.0, 29.0, 12.0
NAMES, FLAGS, GAP, EDGE = 150.0, 175.0, 14.0, 2.0
WIDE = 1100.0
NARROWEST, WIDEST = 17.0, 46.0
"""The width of one round."""
BAR = 22.0
LETTER = 6.2
"""The width of a letter of a heading, about: browsers have their own fonts."""
LEGEND: Final[dict[str, Callable[[Drawing, float, float], None]]] = {
    "margin kept": lambda page, left, base: page.box(Ink.HELD, left, base - 11, 13, 12),
    "kept, but fading": lambda page, left, base: page.box(Ink.HELD, left + 0.7, base - 10.3, 11.6, 10.6, frame=True),
    "under the margin, with its seconds": lambda page, left, base: page.hatched(Ink.TIGHT, left, base - 8, 13, 9),
    "forecast": lambda page, left, base: page.box(Ink.AHEAD, left + 0.7, base - 10.3, 11.6, 10.6, frame=True, dashed=True),
    "the margin": lambda page, left, base: page.line(Ink.DIM, (left, base - 5), (left + 14, base - 5), width=0.8),
    "not finished": lambda page, left, base: page.line(Ink.INK, (left + 3, base), (left + 9, base - 11), width=2),
    "untapped": lambda page, left, base: page.dot(Ink.GUIDE, (left + 6, base - 5), 2.4, ring=True),
}


def rest_picture(part: PartDigest) -> Drawing:
    """Everybody's rest in every round of a part timed by splits."""
    return _Picture(part).drawn()


@dataclass
class _Picture:
    """The picture on its way: a row for each athlete, a block of columns for each station, a column for each round."""

    part: PartDigest

    def drawn(self) -> Drawing:
        self.grid = whole_grid(self.part)
        self.blocks = list(dict.fromkeys(self.grid.stations))
        columns = len(self.grid.rounds)
        room = WIDE - NAMES - FLAGS - 2 * EDGE - GAP * len(self.blocks)
        self.column = min(WIDEST, max(NARROWEST, room / max(columns, 1)))
        self.bar = min(BAR, 0.68 * self.column)
        headings = {station: self._heading(station) for station in self.blocks}
        self.top = 14.0 * max(map(len, headings.values()), default=1) + 26
        self.scale = self._pixels_per_ms()
        width = 2 * EDGE + NAMES + FLAGS + GAP * len(self.blocks) + self.column * columns
        self.page = Drawing(width, self.top + ROW * len(self.grid.rows) + 34)
        self._head(headings)
        for at, row in enumerate(self.grid.rows):
            self._row(self.top + ROW * (at + 1), row)
        self._legend(self.page.height - 10)
        return self.page

    def _heading(self, station: int | None) -> list[str]:
        letters = max(6, int((self.column * self.grid.stations.count(station) + GAP - 6) / LETTER))
        return textwrap.wrap(self.part.station_name(station or 0), letters, max_lines=4, placeholder="…")

    def _pixels_per_ms(self) -> float:
        """The longest rest fills a row; where it is hardly more than the margin, room is left for the numbers above it."""
        cells = [cell for row in self.grid.rows for cell in row.cells if cell is not None]
        longest = max((cell.rest_ms or 0 for cell in cells if cell.kind is not Kind.FORECAST), default=0)
        margin = max((cell.margin_ms for cell in cells), default=0)
        return min(BAR_ROOM / max(longest, margin, 1), (BAR_ROOM - NUMBER_ROOM) / max(margin, 1))

    def _columns(self) -> Iterator[tuple[int, float]]:
        """The place of every column, and its left edge."""
        for at, station in enumerate(self.grid.stations):
            yield at, EDGE + NAMES + GAP * (1 + self.blocks.index(station)) + at * self.column

    def _head(self, headings: dict[int | None, list[str]]) -> None:
        for at, left in self._columns():
            for line, words in enumerate(headings.pop(self.grid.stations[at], [])):
                self.page.text((left, 14 + 14 * line), words, bold=True)
            number = str(self.grid.rounds[at])
            self.page.text((left + self.column / 2, self.top - 6), number, ink=Ink.DIM, size=10, anchor="center")
        self.page.text((EDGE, self.top - 6), "round", ink=Ink.DIM, size=10)

    def _row(self, base: float, row: GridRow) -> None:
        self.page.text((EDGE, base - 9), short_name(row.athlete.label))
        for at, left in self._columns():
            cell = row.cells[at]
            if cell is not None:
                self.page.line(Ink.GUIDE, (left, base), (left + self.column, base), width=0.8)
                self._cell(left, base, cell)
        lines = textwrap.wrap(row.athlete.state_words, 28, max_lines=2, placeholder="…")
        for at, words in enumerate(lines):
            self.page.text((self.page.width - EDGE - FLAGS + 8, base - 9 + 13 * (at - (len(lines) - 1) / 2)), words)

    def _cell(self, left: float, base: float, cell: Cell) -> None:
        middle = left + self.column / 2
        if cell.kind is Kind.NOT_FINISHED:
            self.page.line(Ink.INK, (middle - 4, base - 3), (middle + 4, base - 19), width=2)
        elif cell.rest_ms is None:
            self.page.dot(Ink.GUIDE, (middle, base - 6), 2.4, ring=True)
        else:
            self._bar(middle - self.bar / 2, base, cell, cell.rest_ms)
            margin = base - cell.margin_ms * self.scale
            self.page.line(Ink.DIM, (left, margin), (left + self.column, margin), width=0.8)

    def _bar(self, left: float, base: float, cell: Cell, rest_ms: float) -> None:
        ahead, width = cell.kind is Kind.FORECAST, self.bar
        height = min(max(rest_ms * self.scale, 1.5), BAR_ROOM)
        if cell.under:
            at = (left + width / 2, base - max(height, cell.margin_ms * self.scale) - 2)
            seconds = str(int(max(rest_ms, 0) // 1000))
            self.page.text(at, seconds, ink=Ink.DIM if ahead else Ink.INK, size=10.5, anchor="center", bold=not ahead)
        if ahead:
            self.page.box(Ink.AHEAD, left + 0.7, base - height, width - 1.4, height, frame=True, dashed=True)
        elif cell.under:
            self.page.hatched(Ink.TIGHT, left, base - height, width, height)
        elif cell.fading:
            self.page.box(Ink.HELD, left + 0.7, base - height + 0.7, width - 1.4, height - 1.4, frame=True)
        else:
            self.page.box(Ink.HELD, left, base - height, width, height)

    def _legend(self, base: float) -> None:
        left = EDGE
        for words, draw in LEGEND.items():
            if words == "forecast" and not self.part.to_come:
                continue
            draw(self.page, left, base)
            self.page.text((left + 19, base), words, ink=Ink.DIM, size=10.5)
            left += 19 + 5.5 * len(words) + 16
