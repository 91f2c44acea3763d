"""The chances of a class before it runs, as one page for the coach and as a picture.

Invariant: the higher a cell is filled, the likelier less than the margin is left in it, and its number says the same; what is
tried is hatched and stands beside what is planned.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from markupsafe import Markup

from floorclock.insight.rehearsals import LEAST_SAID, THE_CLASS, ChanceColumn, ChanceRow, Rehearsals, chance_grid, percent
from floorclock.report.colours import Ink
from floorclock.report.drawing import Drawing
from floorclock.report.html import PageTable, rendered
from floorclock.report.pictures import NARROWEST, called_in_picture, lines, stacked
from floorclock.report.rehearsal_text import finish_rows
from floorclock.report.terminal import short_name
from floorclock.simulate.many import PartChances

ROW, CELL, COLUMN, GAP = 26.0, 22.0, 30.0, 12.0
NAMES, EDGE, HEAD = 150.0, 2.0, 56.0
LETTER = 6.4


def rehearsal_html(found: Rehearsals) -> str:
    """The page of all parts."""
    return rendered(
        "rehearsal.html.j2",
        f"Rehearsed: {found.session}",
        found=found,
        picture=_picture,
        chances_table=chances_table,
        finishes_table=finishes_table,
    )


def chances_table(part: PartChances, tried: PartChances | None) -> PageTable:
    """What the picture says: `34`, or `34 > 12` where what is tried changes it."""
    places, rows = chance_grid(part, tried)
    cells = tuple((row.name, *(_cell(row, place) for place in places)) for row in rows)
    heads = ("athlete", *(f"{place.heading} {place.round or ''}".strip() for place in places))
    return PageTable(f"{part.title}: in so many of 100 classes less than the margin is left", heads, cells)


def finishes_table(part: PartChances, tried: PartChances | None) -> PageTable:
    """When who is done with work for time."""
    heads, rows = finish_rows(part, tried)
    return PageTable(f"{part.title}: when who is done", heads, tuple(rows))


def _cell(row: ChanceRow, place: ChanceColumn) -> str:
    before = row.planned.get(place)
    after = before if row.tried is None else row.tried.get(place)
    if before is None or after is None:
        return ""
    return percent(before) if before == after else f"{percent(before)} > {percent(after)}"


def _picture(part: PartChances, tried: PartChances | None) -> Markup:
    title = f"Chances of less than the margin in {part.title}; the table below says the same"
    return Markup(chance_picture(part, tried).svg(title))


def chance_picture(part: PartChances, tried: PartChances | None) -> Drawing:
    """The chances of one part that is timed by splits."""
    return _Picture(part, tried).drawn()


def rehearsal_picture(found: Rehearsals) -> Drawing:
    """All parts in one picture."""
    drawings = [(part, chance_picture(part, tried) if part.athletes else None, tried) for part, tried in found.parts]
    width = max([NARROWEST, *(drawing.width for _, drawing, _ in drawings if drawing is not None)])
    blocks = [lines([found.head_words, *found.notes], width, title=short_name(found.session, 90))]
    for part, drawing, tried in drawings:
        blocks.append(lines(found.sentences(part, tried), width, title=short_name(part.title, 90)))
        blocks += [drawing] if drawing is not None else []
    blocks.append(lines(found.legend, width, ink=Ink.DIM))
    return stacked(blocks, width)


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
                room = self.column * sum(column.station == place.station for column in places)
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
        self.page.text((EDGE + 19, base), words if self.tried is None else f"as planned, {words}", ink=Ink.DIM, size=10.5)
        if self.tried is not None:
            self.page.hatched(Ink.TIGHT, EDGE + 460, base - 9, 13, 9)
            self.page.text((EDGE + 479, base), "as tried, where it differs", ink=Ink.DIM, size=10.5)
