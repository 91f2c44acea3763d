"""Everybody in the class: who is at work, what they left over, and who is flagged.

Invariant: a row keeps its place while its page is in sight; a press means the athlete who is painted where the finger was. Nobody
who is at work and untapped is out of sight while somebody who is not at work has a place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rich.cells import cell_len
from rich.segment import Segment
from textual import events
from textual.message import Message
from textual.widget import Widget

from floorclock.tui.base.lines import Line, cut, padded, shielded, spread, width_of
from floorclock.tui.base.painted import Painted
from floorclock.tui.base.palette import ALERT, BLANK, CAP, FAINT, STRONG, TEXT
from floorclock.tui.floor.row_cell import (
    HOLE,
    KEPT_REST,
    NARROWEST,
    NOT_FINISHED,
    SHORT_REST,
    CellPlan,
    cell_plan,
    row_cell,
)
from floorclock.tui.floor.view import RowView

Rows = tuple[RowView, ...]

GUTTER = 2
WIDEST = 80
"""The eye loses the line from a name to its numbers in wider cells."""


@dataclass(frozen=True, slots=True)
class BoardPage:
    """The athletes in sight, in the order of their places; `number` counts from 1; `more_at_work` have no place on this page."""

    shown: tuple[str, ...]
    number: int
    count: int
    more_at_work: int


def page_of(rows: Sequence[RowView], places: int, number: int) -> BoardPage:
    """A page made afresh: everybody at work, and then the others by turns; where not even those at work fit, they take turns.

    `number` may be any whole number; it wraps around. Everybody stands in roster order.
    """
    names = [row.athlete for row in rows]
    if len(names) <= places:
        return BoardPage(tuple(names), 1, 1, 0)
    if places <= 0:
        return BoardPage((), 1, 1, sum(map(_at_work, rows)))
    pinned = [row.athlete for row in rows if _at_work(row)]
    turning = [row.athlete for row in rows if not _at_work(row)]
    if len(pinned) >= places:
        pinned, turning, room = [], pinned, places
    else:
        room = places - len(pinned)
    count = -(-len(turning) // room)
    at = (number - 1) % count
    turn = turning[at * room : (at + 1) * room]
    if len(turn) < room:
        turn = turning[-room:]
    shown = {*pinned, *turn}
    return BoardPage(tuple(name for name in names if name in shown), at + 1, count, _hidden_at_work(rows, shown))


def kept_in_sight(shown: Sequence[str], rows: Sequence[RowView], places: int) -> tuple[str, ...]:
    """The same page a moment later: nobody moves, except that whoever must be seen takes the place of somebody who need not be.

    Empty when the page cannot be kept (people came or went, or the room changed): make a new one.
    """
    by_name = {row.athlete: row for row in rows}
    if len(shown) != min(places, len(rows)) or any(name not in by_name for name in shown):
        return ()
    kept = list(shown)
    free = [at for at, name in enumerate(kept) if not _at_work(by_name[name]) and not by_name[name].selected]
    for row in rows:
        if row.athlete in kept:
            continue
        if row.selected and not free:
            free.append(len(kept) - 1)
        if free and (_at_work(row) or row.selected):
            kept[free.pop()] = row.athlete
    return tuple(kept)


def page_words(page: BoardPage) -> str:
    """`page 1 of 2, 3 more at work`; empty when everybody is in sight."""
    words = f"page {page.number} of {page.count}" if page.count > 1 else ""
    if page.more_at_work:
        words += f"{', ' if words else ''}{page.more_at_work} more at work"
    return words


def _at_work(row: RowView) -> bool:
    return row.status == "work"


def _hidden_at_work(rows: Sequence[RowView], shown: set[str]) -> int:
    return sum(1 for row in rows if _at_work(row) and row.athlete not in shown)


@dataclass(frozen=True, slots=True)
class BoardGrid:
    """The places of the board: `columns` of `lines` cells, `pitch` rows apart, `cell` wide, below `top` rows of header."""

    columns: int
    lines: int
    pitch: int
    cell: int
    top: int

    @property
    def places(self) -> int:
        """How many athletes it holds."""
        return self.columns * self.lines

    def place_at(self, x: int, y: int) -> int | None:
        """The place under a point, counted down the columns; None beside them."""
        column, line = x // (self.cell + GUTTER), (y - self.top) // self.pitch
        if y < self.top or column >= self.columns or line >= self.lines:
            return None
        return column * self.lines + line


def columns_for(width: int) -> int:
    """The most columns that are readable."""
    return max(1, (width + GUTTER) // (NARROWEST + GUTTER))


def board_grid(people: int, width: int, height: int) -> BoardGrid:
    """The fewest columns that hold everybody; where none does, as many as are readable."""
    top = 1 if height >= 3 else 0
    room = max(1, height - top)
    most = columns_for(width)
    least = min(most, max(1, people), max(1, -(-width // WIDEST)))
    columns = next((count for count in range(least, most + 1) if count * room >= people), most)
    needed = max(1, -(-people // columns))
    lines = min(room, needed)
    pitch = 2 if lines * 2 <= room and height >= 12 else 1
    return BoardGrid(columns, lines, pitch, min(WIDEST, (width + GUTTER) // columns - GUTTER), top)


class Board(Painted[Rows]):
    """The athletes, by tap key, in columns; page by page where they do not all fit."""

    @dataclass
    class RowPressed(Message):
        """Somebody clicked or touched an athlete's row; `stamp_s` is when, on the monotonic clock."""

        athlete: str
        stamp_s: float

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.page = BoardPage((), 1, 1, 0)
        """Who is in sight."""
        self._grid = board_grid(0, 0, 0)
        self._cells: dict[str, tuple[RowView, CellPlan, Sequence[Segment]]] = {}

    def turn_page(self, step: int = 1) -> None:
        """The next page (or the one before); nothing where everybody is in sight."""
        if self.view is None or len(self.view) <= self._grid.places:
            return
        self.page = page_of(self.view, self._grid.places, self.page.number + step)
        self.repaint_changes()

    def paint(self, view: Rows, width: int, height: int) -> list[Line]:
        """A header, and the athletes of the page down the columns; in a sliver of room, the names of those at work."""
        if height < 3 or width < 24:
            self._grid = BoardGrid(0, 0, 1, 0, 0)
            return at_work_lines(view, width, height)
        self._grid = board_grid(len(view), width, height)
        self._seat(view)
        by_name = {row.athlete: row for row in view}
        plan = cell_plan(self._grid.cell, pictured=any(row.past or row.people == 1 for row in view))
        cells = [self._cell(by_name[name], plan) for name in self.page.shown]
        gutter = Segment(" " * GUTTER, BLANK)
        lines = [header_line(view, self.page, width)]
        for line in range(self._grid.lines):
            lines.append(padded([part for cell in cells[line :: self._grid.lines] for part in (*cell, gutter)], width))
            lines += [padded((), width)] * (self._grid.pitch - 1)
        return lines

    def _cell(self, row: RowView, plan: CellPlan) -> Sequence[Segment]:
        """The cell of a row. A row that is the very same one keeps its cell: a tap changes one athlete of forty."""
        known = self._cells.get(row.athlete)
        if known is not None and known[0] is row and known[1] is plan:
            return known[2]
        cell = row_cell(row, plan)
        self._cells[row.athlete] = (row, plan, cell)
        return cell

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """A press on a row is a tap."""
        place = self._grid.place_at(event.x, event.y)
        if event.button == 1 and place is not None and place < len(self.page.shown):
            self.post_message(press_of(self, event, self.page.shown[place]))

    def _seat(self, view: Rows) -> None:
        places = self._grid.places
        shown = kept_in_sight(self.page.shown, view, places)
        fresh = page_of(view, places, self.page.number)
        if not shown or (fresh.count == 1 and not fresh.more_at_work and len(view) <= places):
            self.page = fresh
        else:
            self.page = replace(fresh, shown=shown, more_at_work=_hidden_at_work(view, set(shown)))


def press_of(widget: Widget, event: events.MouseDown, athlete: str) -> Board.RowPressed:
    """A press on somebody, with its time: the app's own stamp where it keeps one, since mouse events lose theirs on the way."""
    stamp_s = getattr(widget.app, "last_event_time", None)
    return Board.RowPressed(athlete, event.time if stamp_s is None else stamp_s)


def header_line(rows: Rows, page: BoardPage, width: int) -> Line:
    """How many are here and at work, which page this is, and what the picture means where there is one."""
    at_work = sum(map(_at_work, rows))
    here = sum(row.people for row in rows if row.status != "home")
    teams = f" in {len(rows)} teams" if here > len(rows) else ""
    left = [Segment(f" {here} here{teams}", FAINT)]
    if at_work:
        left.append(Segment(f"   ► {at_work} at work", STRONG))
    words = page_words(page)
    if words:
        left.append(Segment(f"   {words}", STRONG))
    room = width - width_of(left) - 3
    means = next((words for words in _legends() if width_of(words) <= room), []) if any(row.past for row in rows) else []
    return spread(left, means, width)


def _legends() -> list[list[Segment]]:
    kept = [Segment(f"rest  {KEPT_REST[2]}{KEPT_REST[4]}{KEPT_REST[6]}", TEXT), Segment(" kept  ", FAINT)]
    short = [Segment(SHORT_REST[0] + SHORT_REST[1], ALERT), Segment(" under the margin  ", FAINT)]
    others = [Segment(HOLE, TEXT), Segment(" untapped  ", FAINT), Segment(NOT_FINISHED, ALERT), Segment(" not finished ", FAINT)]
    return [[*kept, *short, *others], [*kept, *short], []]


def at_work_lines(rows: Rows, width: int, height: int) -> list[Line]:
    """The keys and names of those at work, as many as fit, and how many more there are."""
    waiting = list(filter(_at_work, rows))
    lines: list[list[Segment]] = [[]]
    for at, row in enumerate(waiting):
        word = [Segment(f"{row.key}", CAP), Segment(f" {shielded(cut(row.name, max(2, width - 8)))}  ", STRONG)]
        last = len(lines) == height
        spare = cell_len(f"+{len(waiting) - at}") if last and at + 1 < len(waiting) else 0
        if width_of(lines[-1]) + width_of(word) - 2 + spare > width and lines[-1]:
            if last:
                lines[-1].append(Segment(f"+{len(waiting) - at}", STRONG))
                break
            lines.append([])
        lines[-1] += word
    if not waiting and rows:
        lines = [[Segment(f"{sum(row.people for row in rows)} here", FAINT)]]
    return [padded(line, width) for line in lines]
