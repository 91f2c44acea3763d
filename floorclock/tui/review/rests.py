"""The rest picture: a row for each athlete, a cell for each round. Arrows choose somebody, Enter or a click looks at them.

Invariant: the four kinds of cell differ in shape and sign as well as in colour; the chosen athlete is in sight.

A kept rest is its seconds after a bar that grows with them; one under the margin stands on a plate with `!` before it;
`/` is not finished, a dot a round that nobody tapped. Where there is room the rest is also a bar on the scale of the
interval, with the margin as a mark: solid where it was kept, dotted where it was not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import ClassVar, Final

from rich.console import Group
from rich.text import Text
from textual.app import ComposeResult
from textual.widgets import Static

from floorclock.digest.class_digest import AthleteDigest, PartDigest
from floorclock.digest.rest_grid import Cell, Grid, GridRow, Kind, Order, round_grid
from floorclock.pace.flags import SYMBOL, Flag
from floorclock.tui.base.keys_line import Keys
from floorclock.tui.base.lines import cut, shielded
from floorclock.tui.base.palette import FAINT, STRONG, TEXT
from floorclock.tui.review.selection import ReviewSelection
from floorclock.tui.review.view import (
    FLAG_STYLE,
    HOLE,
    KEPT,
    MISSED,
    MISSED_SIGN,
    NO_SPLITS,
    SHORT,
    SHORT_BAR,
    SHORT_SIGN,
    TURN,
    TWO_COLUMNS,
    AthleteTable,
    Column,
    TableView,
    ends_line,
    name_width,
    rest_seconds,
    slope_figure,
)

HEIGHTS: Final = "▁▂▃▄▅▆▇"
FULL_SHARE: Final = 0.5
"""The share of the interval that fills a cell: hardly anybody rests longer."""
NARROWEST_BAR: Final = 14
"""A cell as wide as that has room for a bar."""
WIDEST_CELL: Final = 34
FIGURE_CELLS: Final = 6
"""The cells of a figure with a bar behind it."""
FIGURES: Final = 13
"""The cells of the least rest and the drift."""
WIDEST_NAME, NARROW_NAME = 22, 14
FLAGS_HEAD: Final = 5
LEAST_OF_ROUND: Final = "the least rest of each round"
ORDER_WORDS: Final[dict[Order, str]] = {
    Order.BOARD: "in the order of the board",
    Order.NAME: "in the order of names",
    Order.LEAST_REST: "least rest first",
    Order.DRIFT: "most slowed first",
}
LEGEND: Final = f"▅24 rest in s  {SHORT_SIGN}12 under the margin  {MISSED_SIGN} not finished  {HOLE} untapped"
LEGEND_BAR: Final = f"24 ▆▆ rest in s  {SHORT_SIGN}12 ⣿ under the margin  │ margin  {MISSED_SIGN} not finished  {HOLE} untapped"


class RestsView(TableView):
    """Everybody's rest, round by round."""

    NAME = "rest"
    KEYS: ClassVar[Keys] = (("↑↓", "choose"), ("Enter", "athlete"), ("o", "order"), ("s", "station"), *TURN)

    def __init__(self, selection: ReviewSelection) -> None:
        super().__init__(selection, AthleteTable(cell_padding=0, header_height=2))
        self.told = Static()
        self._cell_width = 1

    def compose(self) -> ComposeResult:
        yield self.told
        yield self.table

    @property
    def part_count(self) -> int:
        return len(self.selection.digest.timed)

    def turn_part(self, step: int) -> None:
        self.selection.turn_timed_part(step)

    def key_actions(self) -> Mapping[str, Callable[[], None]]:
        return {
            **super().key_actions(),
            "o": partial(self.selection.turn_order, 1),
            "O": partial(self.selection.turn_order, -1),
            "s": partial(self.selection.turn_station, 1),
            "S": partial(self.selection.turn_station, -1),
            "left": partial(self._turn_rounds, -1),
            "right": partial(self._turn_rounds, 1),
            "enter": partial(self._open, self.selection.athlete),
        }

    def _turn_rounds(self, step: int) -> None:
        """Later rounds, or earlier ones."""
        self.table.scroll_relative(x=step * self._cell_width, animate=False)

    def _open(self, athlete: str) -> None:
        if self.table.names:
            self.selection.open_athlete(athlete)

    def click(self, athlete: str) -> None:
        """A click on somebody looks at them."""
        self.selection.open_athlete(athlete)

    def fill(self) -> None:
        part = self.selection.timed_part
        self.table.display = part is not None
        if part is None:
            self.told.update(Text(NO_SPLITS, TEXT))
            return
        picture = round_grid(part, self.selection.station, self.selection.order)
        width = self.app.size.width - 3
        wide = width >= TWO_COLUMNS
        names = name_width((row.athlete.name for row in picture.rows), WIDEST_NAME if wide else NARROW_NAME)
        flags = max(FLAGS_HEAD, *(flags_told(row.athlete, in_words=wide).cell_len for row in picture.rows)) + 2
        digits = max(len(rest_seconds(cell.rest_ms)) for row in picture.rows for cell in row.cells if cell)
        fixed = names + FIGURES + flags
        self._cell_width = max(digits + 2, min(WIDEST_CELL, (width - fixed) // len(picture.rounds)))
        self.table.fixed_columns = 4 if fixed <= width * 2 // 3 else 1
        headings = columns(picture, names, flags, self._cell_width)
        rows = {row.athlete.name: row_cells(row, self._cell_width, in_words=wide) for row in picture.rows}
        self.table.show_rows(headings, rows, self.selection.athlete)
        self.told.update(self._heading(part, in_words=wide))

    def _heading(self, part: PartDigest, *, in_words: bool) -> Group:
        """What the picture shows, and what its signs mean."""
        station = next((each.name for each in part.stations if each.station == self.selection.station), LEAST_OF_ROUND)
        left = Text.assemble((shielded(cut(part.title, 24)), STRONG), (f"   {shielded(station)}", TEXT))
        legend = LEGEND_BAR if self._cell_width >= NARROWEST_BAR else LEGEND
        words = {flag: athlete.flag_words(flag) for athlete in part.athletes for flag in athlete.flags}
        flags = "  ".join(words[flag] for flag in Flag if flag in words)
        told = [Text(f"flags: {flags}", FAINT)] if flags and not in_words else []
        return Group(ends_line(left, Text(ORDER_WORDS[self.selection.order], FAINT)), Text(legend, FAINT), *told)


def columns(picture: Grid, names: int, flags: int, cell_width: int) -> list[Column]:
    """The name and the figures of a row, then the rounds, with the median of the class under their numbers."""
    found: list[Column] = [
        (Text("athlete"), names),
        (Text(f"{'least':>6}"), 6),
        (Text(f"{'drift':>7}"), 7),
        (Text(f"  {'flags':{flags - 2}}\n{'median':>{flags}}"), flags),
    ]
    room = cell_width - 1 if cell_width < NARROWEST_BAR else FIGURE_CELLS
    for number, median_ms in zip(picture.rounds, picture.middle_ms, strict=True):
        found.append((Text(f"{number:>{room}}\n{rest_seconds(median_ms):>{room}}"), cell_width))
    return found


def row_cells(row: GridRow, cell_width: int, *, in_words: bool) -> list[Text]:
    """What stands in a row behind the name."""
    figures = Text(f"{rest_seconds(row.least_ms):>6}", TEXT), Text(f"{slope_figure(row.drift_ms):>7}", TEXT)
    flags = Text("  ").append_text(flags_told(row.athlete, in_words=in_words))
    return [*figures, flags, *(rest_cell(cell, cell_width) for cell in row.cells)]


def flags_told(athlete: AthleteDigest, *, in_words: bool) -> Text:
    """An athlete's flags in words, or as their signs alone."""
    shown = (Text(athlete.flag_words(flag) if in_words else SYMBOL[flag], FLAG_STYLE[flag]) for flag in athlete.flags)
    return Text("  ").join(shown)


def rest_cell(cell: Cell | None, width: int) -> Text:
    """One round in `width` cells."""
    if cell is None:
        return Text()
    bar = width - FIGURE_CELLS - 1 if width >= NARROWEST_BAR else 0
    room = width - 1 - bar
    if cell.kind is Kind.UNTAPPED:
        return Text(f"{HOLE:>{room}}", FAINT)
    if cell.kind is Kind.NOT_FINISHED:
        return Text(f"{MISSED_SIGN:>{room}}{'  not finished' if width >= 20 else ''}", MISSED)
    short = cell.kind is Kind.SHORT
    sign = SHORT_SIGN if short else "" if bar else _height(cell)
    figure = sign + rest_seconds(cell.rest_ms)
    drawn = Text(" " * (room - len(figure)))
    drawn.append(figure, SHORT if short else TEXT if bar else KEPT)
    return drawn.append_text(_bar(cell, bar - 1)) if bar else drawn


def _height(cell: Cell) -> str:
    return HEIGHTS[min(len(HEIGHTS) - 1, int(_part_of(cell.share) * len(HEIGHTS)))]


def _part_of(share: float | None) -> float:
    """A share of the interval as a part of what fills a cell."""
    return min(1.0, max(0.0, (share or 0.0) / FULL_SHARE))


def _bar(cell: Cell, room: int) -> Text:
    """The rest from the left, and the margin as a mark. The mark stays in sight on both sides of the bar's end."""
    full, mark = round(room * _part_of(cell.share)), min(room - 1, round(room * _part_of(cell.margin_share)))
    sign, style = ("⣿", SHORT_BAR) if cell.kind is Kind.SHORT else ("▆", KEPT)
    drawn = Text(" ")
    for at in range(room):
        drawn.append(*(("│", STRONG) if at == mark else (sign, style) if at < full else (" ", TEXT)))
    return drawn
