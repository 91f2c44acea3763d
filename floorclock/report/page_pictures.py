"""The pictures on the page of a class: what everybody had left of every interval, and the splits of one athlete, round by round.

Invariant: what a colour says, the shape says too. Of rests: at least the margin is a solid bar that reaches the margin's mark,
kept while fading a hollow one, under the margin a hatched one with its seconds, to come a dashed one; `/` is not finished and a
small ring untapped. Of splits, where higher is later: a dot left the margin, a hatched square did not, a ring with the span that
holds it in 80 of 100 cases is to come; above the line of the margin less than the margin is left.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from floorclock.clock.splits import Split, Status
from floorclock.digest.class_digest import AthleteDigest, FlaggedSplit, PartDigest
from floorclock.digest.rest_grid import Cell, GridRow, Kind, whole_grid
from floorclock.pace.flags import is_tight
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.durations import duration_words
from floorclock.report.colours import Ink
from floorclock.report.drawing import Drawing, Point
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
PANEL_WIDTH, PANEL_HEIGHT = 180.0, 122.0
BESIDE, MOST_BESIDE = 2, 3
"""So many panels stand side by side: the picture is as wide as a telephone. More than two rows of them get a third column,
so that a card stays on one sheet of paper."""
LEFT, RIGHT, TOP, BOTTOM = 34.0, 10.0, 24.0, 18.0
MOST_LABELS = 10
TITLE_CELLS = 22


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


@dataclass(frozen=True, slots=True)
class _Panel:
    """One station: what was taken there, and what is to come.

    `ends` has the end of the interval, and when to be done to keep the margin, by round; `usual` what they are in most rounds.
    """

    name: str
    usual: tuple[int, int]
    ends: Mapping[int, tuple[int, int]]
    taken: Sequence[FlaggedSplit]
    ahead: Sequence[Forecast]

    @property
    def rounds(self) -> list[int]:
        return sorted(self.ends)

    @property
    def fitted(self) -> list[tuple[int, float]]:
        return [(taken.split.round, taken.fitted_ms) for taken in self.taken if taken.fitted_ms is not None]

    @property
    def longest_ms(self) -> int:
        """The longest interval."""
        return max(window_ms for window_ms, _ in self.ends.values())

    def earliest_ms(self) -> float:
        """Where the panel begins to be of interest."""
        taken = [taken.split.split_ms for taken in self.taken if taken.split.split_ms is not None]
        return min([*taken, *(ahead.low_ms for ahead in self.ahead), *(at for _, at in self.fitted), self.usual[1]])


def split_lines(part: PartDigest, athlete: AthleteDigest) -> Drawing:
    """The panels of an athlete who has splits in a part, in the order of the stations."""
    panels = [_panel(part, athlete, station) for station in athlete.worked_at]
    beside = BESIDE if len(panels) <= 2 * BESIDE else MOST_BESIDE
    rows = -(-len(panels) // beside)
    page = Drawing(PANEL_WIDTH * min(beside, len(panels)), PANEL_HEIGHT * rows)
    lowest = min(panel.earliest_ms() for panel in panels)
    for place, panel in enumerate(panels):
        corner = (PANEL_WIDTH * (place % beside), PANEL_HEIGHT * (place // beside))
        _Plot(page, panel, corner, 0.92 * max(0.0, lowest)).draw()
    return page


def _panel(part: PartDigest, athlete: AthleteDigest, station: int) -> _Panel:
    ends = {slot.round: (slot.window_ms, slot.window_ms - slot.margin_ms) for slot in athlete.slots_at(station)}
    taken, ahead = athlete.splits_at(station), athlete.forecast_at(station)
    return _Panel(part.work_at(athlete, station), athlete.usual_at(station), ends, taken, ahead)


@dataclass(frozen=True, slots=True)
class _Plot:
    """A panel on its way: `corner` is its top left, `from_ms` the split at its foot."""

    page: Drawing
    panel: _Panel
    corner: tuple[float, float]
    from_ms: float

    def draw(self) -> None:
        self._frame()
        self._rounds()
        line = [self._at(number, at) for number, at in self.panel.fitted]
        line += [self._at(ahead.slot.round, ahead.split_ms) for ahead in self.panel.ahead] if line else []
        if len(line) > 1:
            self.page.line(Ink.DIM, *line, width=1.2)
        for taken in self.panel.taken:
            self._taken(taken.split)
        for ahead in self.panel.ahead:
            self._to_come(ahead)

    @property
    def _right(self) -> float:
        return self.corner[0] + PANEL_WIDTH - RIGHT

    @property
    def _foot(self) -> float:
        return self.corner[1] + PANEL_HEIGHT - BOTTOM

    def _frame(self) -> None:
        left, top = self.corner
        self.page.text((left + 4, top + 12), short_name(self.panel.name, TITLE_CELLS), bold=True)
        usual = list(zip(self.panel.usual, (False, True), strict=True))
        for which, (_, is_goal) in enumerate(usual):
            self.page.line(Ink.DIM if is_goal else Ink.GUIDE, *self._steps(which), dashed=is_goal)
        end_ms, goal_ms = self.panel.usual
        apart = self._height(goal_ms) - self._height(end_ms) >= 10
        for at_ms, is_goal in usual if apart else usual[1:]:
            place = (left + LEFT - 4, self._height(at_ms) + 3.5)
            self.page.text(place, duration_words(at_ms), ink=Ink.DIM, size=10, anchor="right", bold=is_goal)
        self.page.line(Ink.GUIDE, (left + LEFT, self._foot), (self._right, self._foot))
        if self._foot - self._height(goal_ms) >= 14:
            whole = duration_words(round(self.from_ms / 1000) * 1000)
            self.page.text((left + LEFT - 4, self._foot + 2), whole, ink=Ink.DIM, size=10, anchor="right")

    def _steps(self, which: int) -> list[Point]:
        """The line of the ends (0) or of the goals (1): where an interval was made longer, it steps in that round alone."""
        rounds = self.panel.rounds
        points = []
        for number in range(rounds[0], rounds[-1] + 1):
            at_ms = self.panel.ends.get(number, self.panel.usual)[which]
            points += [(self._at(number + side, 0)[0], self._height(at_ms)) for side in (-0.5, 0.5)]
        (_, first), (_, last) = points[0], points[-1]
        return [(self.corner[0] + LEFT, first), *points[1:-1], (self._right, last)]

    def _rounds(self) -> None:
        rounds = self.panel.rounds
        every = -(-len(rounds) // MOST_LABELS)
        for number in rounds[::every]:
            at = (self._at(number, 0)[0], self._foot + 13)
            self.page.text(at, str(number), ink=Ink.DIM, size=10, anchor="center")

    def _at(self, number: float, split_ms: float) -> tuple[float, float]:
        rounds = self.panel.rounds
        left, right = self.corner[0] + LEFT + 9, self._right - 9
        share = (number - rounds[0]) / (rounds[-1] - rounds[0]) if len(rounds) > 1 else 0.5
        return left + share * (right - left), self._height(split_ms)

    def _height(self, split_ms: float) -> float:
        """The place of a split; one beyond the interval stays a little above its end."""
        top = self.corner[1] + TOP
        share = (split_ms - self.from_ms) / max(1.0, self.panel.longest_ms - self.from_ms)
        return self._foot - max(0.0, min(share, 1.04)) * (self._foot - top)

    def _taken(self, split: Split) -> None:
        x, y = self._at(split.round, split.split_ms or 0)
        if split.status is Status.NOT_FINISHED:
            top = self.corner[1] + TOP
            self.page.line(Ink.INK, (x - 3.5, top + 5), (x + 3.5, top - 5), width=2)
        elif split.split_ms is None:
            self.page.text((x, self._foot - 4), "?", ink=Ink.DIM, anchor="center")
        elif is_tight(split):
            self.page.hatched(Ink.TIGHT, x - 4, y - 4, 8, 8)
        else:
            self.page.dot(Ink.HELD, (x, y), 3.2)

    def _to_come(self, one: Forecast) -> None:
        x, low = self._at(one.slot.round, one.low_ms)
        high, middle = self._height(one.high_ms), self._height(one.split_ms)
        self.page.line(Ink.AHEAD, (x, low), (x, high), width=1.6)
        self.page.dot(Ink.AHEAD, (x, middle), 3.2, ring=True)
