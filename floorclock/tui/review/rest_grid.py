"""The rest picture: a row for each athlete, a cell for each round.

Invariant: the four kinds of cell differ in shape and sign as well as in colour; the chosen athlete is in sight.

A kept rest is its seconds after a bar that grows with them; one under the margin stands on a plate with `!` before it;
`/` is not finished, a dot a round that nobody tapped. Where there is room the rest is also a bar on the scale of the
interval, with the margin as a mark: solid where it was kept, dotted where it was not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style

from floorclock.digest.class_digest import PartDigest
from floorclock.digest.rest_grid import Cell, Grid, GridRow, Kind, Order
from floorclock.pace.flags import SYMBOL, Flag
from floorclock.tui.base.lines import Line, cut, fit, padded, shielded, spread
from floorclock.tui.base.palette import BLANK, CHOSEN, FAINT, STRONG, TEXT
from floorclock.tui.review.figures import rest_seconds, slope_words
from floorclock.tui.review.pane import Pane, Sheet
from floorclock.tui.review.styles import FLAG_STYLE, HOLE, KEPT, MISSED, MISSED_SIGN, SHORT, SHORT_BAR, SHORT_SIGN, flag_words

HEIGHTS: Final = "▁▂▃▄▅▆▇"
FULL_SHARE: Final = 0.5
"""The share of the interval that fills a cell: hardly anybody rests longer."""
NARROWEST_BAR: Final = 14
"""A cell as wide as that has room for a bar."""
WIDEST_CELL: Final = 34
APART: Final = "  "
"""Between two flags."""
FLAGS_HEAD: Final = 5
ORDER_WORDS: Final[dict[Order, str]] = {
    Order.BOARD: "in the order of the board",
    Order.NAME: "in the order of names",
    Order.LEAST_REST: "least rest first",
    Order.DRIFT: "most slowed first",
}
FACTS: Final = 15
"""Least rest and drift at the end of a row."""
LEGEND: Final = f"▅24 rest in s  {SHORT_SIGN}12 under the margin  {MISSED_SIGN} not finished  {HOLE} untapped"
LEGEND_BAR: Final = f"24 ▆▆ rest in s  {SHORT_SIGN}12 ⣿ under the margin  │ margin  {MISSED_SIGN} not finished  {HOLE} untapped"


@dataclass(frozen=True, slots=True)
class PictureView:
    """The picture, whose cells are of which station, in which order, who is chosen, and the first round in sight."""

    part: PartDigest
    grid: Grid
    station: str
    order: Order
    chosen: str
    first: int = 0


@dataclass(frozen=True, slots=True)
class Columns:
    """The widths of a row, and which rounds are in sight.

    The flags stand there in words where all of those fit, else as their signs alone, which the foot explains.
    """

    name: int
    cell: int
    begin: int
    end: int
    in_words: bool


class RestGrid(Pane[PictureView]):
    """The whole class, round by round."""

    def sheet(self, view: PictureView, width: int, height: int) -> Sheet:
        """Headings above, the legend below."""
        columns = columns_for(view, width)
        body = tuple(self._row(row, view, columns, width) for row in view.grid.rows)
        chosen = next((at for at, row in enumerate(view.grid.rows) if row.athlete.name == view.chosen), None)
        legend = LEGEND_BAR if columns.cell >= NARROWEST_BAR else LEGEND
        foot = [_middle_line(view, columns, width), padded([Segment(f" {cut(legend, width - 1)}", FAINT)], width)]
        flags = {flag for row in view.grid.rows for flag in row.athlete.flags}
        if flags and not columns.in_words:
            over = not any(row.athlete.forecast for row in view.grid.rows)
            words = "flags: " + "  ".join(flag_words(flag, over=over) for flag in Flag if flag in flags)
            foot.append(padded([Segment(f" {cut(words, width - 1)}", FAINT)], width))
        return Sheet((_title(view, width), _heading(view, columns, width)), body, tuple(foot), chosen, follows=True)

    def _row(self, row: GridRow, view: PictureView, columns: Columns, width: int) -> Line:
        chosen = row.athlete.name == view.chosen
        name = shielded(fit(row.athlete.name, columns.name - 2)) + " "
        segments = [Segment("▸" if chosen else " ", STRONG), Segment(name, CHOSEN if chosen else TEXT)]
        for cell in row.cells[columns.begin : columns.end]:
            segments += cell_segments(cell, columns.cell)
        segments.append(Segment(f"{rest_seconds(row.least_ms):>6}{slope_words(row.drift_ms):>7}  ", TEXT))
        for flag in row.athlete.flags:
            words = row.athlete.flag_words(flag) if columns.in_words else SYMBOL[flag]
            segments.append(Segment(f"{words}{APART}", FLAG_STYLE[flag]))
        return padded(segments, width)


def columns_for(view: PictureView, width: int) -> Columns:
    """As many rounds as fit from `first` on, as wide as there is room."""
    rounds = len(view.grid.rounds)
    longest = max((cell_len(row.athlete.name) for row in view.grid.rows), default=4)
    name = max(9, min(longest + 3, 22 if width >= 120 else 15))
    digits = max((len(rest_seconds(cell.rest_ms)) for row in view.grid.rows for cell in row.cells if cell), default=1)
    least = max(4, digits + 2)
    words, signs = _flag_room(view)
    in_words = width - name - FACTS - words >= rounds * (least + 1)
    room = max(least, width - name - FACTS - (words if in_words else signs))
    fits = max(1, room // least)
    begin = max(0, min(view.first, rounds - fits))
    end = min(rounds, begin + fits)
    cell = max(least, min(WIDEST_CELL, room // max(1, end - begin)))
    return Columns(name, cell, begin, end, in_words)


def _flag_room(view: PictureView) -> tuple[int, int]:
    """The cells of the longest row of flags, in words and as signs."""
    rows = [row.athlete.flags for row in view.grid.rows]
    words = max((sum(cell_len(flag_words(flag) + APART) for flag in flags) for flags in rows), default=0)
    signs = max((sum(cell_len(SYMBOL[flag] + APART) for flag in flags) for flags in rows), default=0)
    return max(words, FLAGS_HEAD), max(signs, FLAGS_HEAD)


def cell_segments(cell: Cell | None, width: int) -> list[Segment]:
    """One round in exactly `width` cells."""
    if cell is None:
        return [Segment(" " * width, BLANK)]
    bar = width - 7 if width >= NARROWEST_BAR else 0
    text = width - 1 - bar
    if cell.kind is Kind.UNTAPPED:
        return [Segment(fit(f"{HOLE:>{text - 1}}", width), FAINT)]
    if cell.kind is Kind.NOT_FINISHED:
        word = f"{MISSED_SIGN:>{text - 1}}"
        return [Segment(fit(f"{word}  not finished" if width >= 18 else word, width), MISSED)]
    short = cell.kind is Kind.SHORT
    sign = SHORT_SIGN if short else "" if bar else _height(cell)
    figure = sign + rest_seconds(cell.rest_ms)
    style = SHORT if short else TEXT if bar else KEPT
    ahead = Segment(" " * max(0, text - len(figure)), BLANK)
    return [ahead, Segment(figure, style), *_bar(cell, bar), Segment(" ", BLANK)]


def _height(cell: Cell) -> str:
    share = min(1.0, max(0.0, (cell.share or 0.0) / FULL_SHARE))
    return HEIGHTS[min(len(HEIGHTS) - 1, int(share * len(HEIGHTS)))]


def _bar(cell: Cell, width: int) -> list[Segment]:
    """The rest from the left, and the margin as a mark. The mark stays in sight on both sides of the bar's end."""
    if width <= 0:
        return []
    room = width - 1
    full = max(0, min(room, round(room * min(1.0, (cell.share or 0.0) / FULL_SHARE))))
    mark = min(room - 1, round(room * min(1.0, cell.margin_share / FULL_SHARE)))
    sign, style = ("⣿", SHORT_BAR) if cell.kind is Kind.SHORT else ("▆", KEPT)
    drawn = [("│", STRONG) if at == mark else (sign, style) if at < full else (" ", BLANK) for at in range(room)]
    return [Segment(" ", BLANK), *(Segment(one, look) for one, look in drawn)]


def _title(view: PictureView, width: int) -> Line:
    shown = view.station or "the least rest of each round"
    left = [Segment(f" {shielded(cut(view.part.title, width // 3))}", STRONG), Segment(f"   {shielded(cut(shown, 40))}", TEXT)]
    return spread(left, [Segment(f"{ORDER_WORDS[view.order]} ", FAINT)], width)


def _heading(view: PictureView, columns: Columns, width: int) -> Line:
    numbers = view.grid.rounds[columns.begin : columns.end]
    before, after = columns.begin > 0, columns.end < len(view.grid.rounds)
    name = fit(" ← round" if before else " round", columns.name)
    text = columns.cell - 1 if columns.cell < NARROWEST_BAR else 6
    cells = "".join(fit(f"{number:>{text}}", columns.cell) for number in numbers)
    least = f"{'least':>6}{'drift':>7}  flags"
    return padded([Segment(name + cells + ("→" + least[1:] if after else least), FAINT)], width)


def _middle_line(view: PictureView, columns: Columns, width: int) -> Line:
    text = columns.cell - 1 if columns.cell < NARROWEST_BAR else 6
    middle = view.grid.middle_ms[columns.begin : columns.end]
    cells = "".join(fit(f"{rest_seconds(one):>{text}}", columns.cell) for one in middle)
    style: Style = FAINT
    return padded([Segment(fit(" median", columns.name), style), Segment(cells, style)], width)
