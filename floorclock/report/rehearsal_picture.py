"""The chances of a class before it runs, drawn: a row for each athlete, a column for each round at a station.

Invariant: the higher a cell is filled, the likelier less than the margin is left in it, and its number says the same; what is
tried is hatched and stands beside what is planned.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from floorclock.insight.rehearsals import LEAST_SAID, THE_CLASS, ChanceColumn, ChanceRow, Rehearsals, chance_grid, percent
from floorclock.journal.files import write_atomically
from floorclock.report.colours import LIGHT, Ink
from floorclock.report.drawing import Drawing
from floorclock.report.pictures import PIXELS_WIDE, called_in_picture, lines
from floorclock.report.rest_picture import short_name
from floorclock.simulate.many import PartChances

ROW, CELL, COLUMN, GAP = 26.0, 22.0, 30.0, 12.0
NAMES, EDGE, HEAD = 150.0, 2.0, 56.0
LETTER = 6.4
NARROWEST: Final = 900.0


def chance_picture(part: PartChances, tried: PartChances | None) -> Drawing:
    """The chances of one part that is timed by splits."""
    return _Picture(part, tried).drawn()


def write_rehearsal_picture(found: Rehearsals, path: Path) -> None:
    """Writes all parts as one PNG, 1600 pixels wide or, for many rounds, in proportion.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    drawings = [(part, chance_picture(part, tried) if part.athletes else None, tried) for part, tried in found.parts]
    width = max(NARROWEST, *(drawing.width for _, drawing, _ in drawings if drawing is not None), NARROWEST)
    blocks = [lines([found.head_words, *found.notes], width, title=short_name(found.session, 90))]
    for part, drawing, tried in drawings:
        blocks.append(lines(found.sentences(part, tried), width, title=short_name(part.title, 90)))
        blocks += [drawing] if drawing is not None else []
    blocks.append(lines(found.legend, width, ink=Ink.DIM))
    page = Drawing(width + 32, 16 + sum(block.height for block in blocks))
    top = 8.0
    for block in blocks:
        page.place(block, (16, top))
        top += block.height
    write_atomically(path, page.png(LIGHT, PIXELS_WIDE))


@dataclass
class _Picture:
    """The picture on its way."""

    part: PartChances
    tried: PartChances | None

    def drawn(self) -> Drawing:
        self.column = COLUMN * (1 if self.tried is None else 1.6)
        places, rows = chance_grid(self.part, self.tried)
        self.left: dict[ChanceColumn, float] = {}
        left = EDGE + NAMES
        for at, place in enumerate(places):
            left += GAP * (at == 0 or places[at - 1].station != place.station)
            self.left[place] = left
            left += self.column
        self.page = Drawing(left + EDGE, HEAD + ROW * len(rows) + 30)
        self._head(places)
        for at, row in enumerate(rows):
            self._row(at, row)
        self._legend(self.page.height - 8)
        return self.page

    def _head(self, places: list[ChanceColumn]) -> None:
        for at, place in enumerate(places):
            left = self.left[place]
            if at == 0 or places[at - 1].station != place.station:
                room = self.column * sum(one.station == place.station for one in places)
                for line, words in enumerate(
                    textwrap.wrap(place.heading, max(6, int(room / LETTER)), max_lines=2, placeholder="…")
                ):
                    self.page.text((left, 14 + 14 * line), words, bold=True)
            number = str(place.round) if place.round else ""
            self.page.text((left + self.column / 2, HEAD - 6), number, ink=Ink.DIM, size=10, anchor="center")
        self.page.text((EDGE, HEAD - 6), "round", ink=Ink.DIM, size=10)

    def _row(self, at: int, row: ChanceRow) -> None:
        base = HEAD + ROW * (at + 1) - 2
        self.page.text((EDGE, base - 6), short_name(called_in_picture(row.name)), bold=row.name == THE_CLASS)
        for place, chance in row.planned.items():
            other = None if row.tried is None else row.tried.get(place)
            left = self.left[place]
            if other is None or other == chance:
                self._cell(left, base, self.column - 2, chance)
            else:
                self._cell(left, base, self.column / 2 - 2, chance)
                self._cell(left + self.column / 2 - 1, base, self.column / 2 - 1, other, hatched=True)

    def _cell(self, left: float, base: float, width: float, chance: float, *, hatched: bool = False) -> None:
        height = CELL * chance
        if chance >= LEAST_SAID:
            shape = self.page.hatched if hatched else self.page.box
            shape(Ink.TIGHT, left, base - height, width, height)
        self.page.line(Ink.GUIDE, (left, base), (left + width, base), width=0.8)
        self.page.text((left + width / 2, base - 6), percent(chance), size=10.5, anchor="center", bold=chance >= 0.5)

    def _legend(self, base: float) -> None:
        words = "of 100 classes, so many in which less than the margin is left"
        self.page.box(Ink.TIGHT, EDGE, base - 9, 13, 9)
        if self.tried is not None:
            self.page.text((EDGE + 19, base), f"as planned, {words}", ink=Ink.DIM, size=10.5)
            self.page.hatched(Ink.TIGHT, EDGE + 460, base - 9, 13, 9)
            self.page.text((EDGE + 479, base), "as tried, where it differs", ink=Ink.DIM, size=10.5)
        else:
            self.page.text((EDGE + 19, base), words, ink=Ink.DIM, size=10.5)
