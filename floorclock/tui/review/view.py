"""What the views of the review have in common: the keys of a list, a table of athletes, colours and signs.

Invariant: whatever a colour says a sign or a word says too; text keeps a contrast of 4.5 on its ground
(`tests/tui/review/test_view.py` works it out by WCAG 2.2).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import ClassVar, Final

from rich.cells import cell_len
from rich.console import RenderableType
from rich.style import Style
from rich.table import Table
from rich.text import Text
from textual import events
from textual.containers import VerticalScroll
from textual.coordinate import Coordinate
from textual.message import Message
from textual.widgets import DataTable, TabPane

from floorclock.digest.words import signed
from floorclock.pace.flags import SYMBOL, Flag
from floorclock.tui.base.keys_line import Keys
from floorclock.tui.base.lines import cut, shielded
from floorclock.tui.base.palette import (
    BLUISH_GREEN,
    CHOSEN,
    GROUND,
    INK,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    STRONG,
    TEXT,
    VERMILLION,
)
from floorclock.tui.review.selection import ReviewSelection

KEPT: Final = Style(color=SKY_BLUE, bgcolor=GROUND)
SHORT: Final = Style(color=GROUND, bgcolor=VERMILLION)
SHORT_BAR: Final = Style(color=VERMILLION, bgcolor=GROUND)
MISSED: Final = Style(color=REDDISH_PURPLE, bgcolor=GROUND)
GOOD: Final = Style(color=BLUISH_GREEN, bgcolor=GROUND)
ADVICE: Final = Style(color=ORANGE, bgcolor=GROUND)
HEADING: Final = Style(color=INK, bgcolor=GROUND, bold=True, underline=True)
FLAG_STYLE: Final[dict[Flag, Style]] = {
    Flag.NOT_FINISHED: MISSED,
    Flag.RUNS_OUT: SHORT_BAR,
    Flag.TIGHT: SHORT_BAR,
    Flag.FADING: ADVICE,
}
ALL_STYLES: Final = (KEPT, SHORT, SHORT_BAR, MISSED, GOOD, ADVICE, HEADING, *FLAG_STYLE.values())
"""Every style of the review's own, for the contrast check."""

SHORT_SIGN: Final = SYMBOL[Flag.TIGHT]
MISSED_SIGN: Final = SYMBOL[Flag.NOT_FINISHED]
HOLE: Final = "·"
TWO_COLUMNS, THREE_COLUMNS = 120, 200
"""From these widths on things stand beside each other that stand below each other on a narrower screen."""
FAR: Final = 1_000_000
NARROWEST_NAME: Final = 9
"""The heading over names needs as many cells."""
NONE: Final = "-"
"""A figure that nobody has; never a nought."""
NO_SPLITS: Final = "No splits were taken in this class: there is no rest to show. Results are in view 4."
Column = tuple[Text, int | None]
"""The heading of a column of a table, and its width in cells; None: as wide as its widest cell."""
TURN: Final[Keys] = (("1-5 Tab", "views"),)


class ReviewView(TabPane, can_focus=False):
    """One view. It shows what the selection says whenever `fill` is called, and says what its keys do."""

    NAME: ClassVar[str] = ""
    KEYS: ClassVar[Keys] = ()
    """The keys for the line at the bottom, without those that every view has at its end."""
    DIGITS_TURN: ClassVar[bool] = True
    """False where a digit opens no other view."""

    @dataclass
    class Changed(Message):
        """Something is to be shown anew: the selection was changed by a click, or a rating was kept."""

    def __init__(self, selection: ReviewSelection) -> None:
        super().__init__(self.NAME, id=self.NAME)
        self.selection = selection

    def fill(self) -> None:
        """Shows everything as it is now."""
        raise NotImplementedError

    @property
    def part_count(self) -> int:
        """Between how many parts `turn_part` turns here."""
        return 1

    @property
    def page(self) -> int:
        """How many lines of the list are in sight."""
        return max(1, self.query_one(VerticalScroll).size.height)

    def move(self, step: int) -> None:
        """Moves the list by so many lines."""
        self.query_one(VerticalScroll).scroll_relative(y=step, animate=False)

    def turn_part(self, step: int) -> None:
        """The next part that this view can show."""

    def key_actions(self) -> Mapping[str, Callable[[], None]]:
        """What each key does here, by its name."""
        return {
            "up": partial(self.move, -1),
            "down": partial(self.move, 1),
            "pageup": partial(self.move, -self.page),
            "pagedown": partial(self.move, self.page),
            "home": partial(self.move, -FAR),
            "end": partial(self.move, FAR),
            "p": partial(self.turn_part, 1),
            "P": partial(self.turn_part, -1),
        }

    def press(self, event: events.Key) -> bool:
        """Acts on a key; False when there is no use for it here."""
        action = self.key_actions().get(event.key)
        if action is not None:
            action()
        return action is not None


class AthleteTable(DataTable[RenderableType], can_focus=False):
    """A row for each athlete, the name first; the chosen one is marked by a sign and by its ground, and is in sight."""

    @dataclass
    class Pressed(Message):
        """A click on somebody's row."""

        athlete: str

    def __init__(self, *, cell_padding: int = 1, header_height: int = 1) -> None:
        super().__init__(
            cursor_type="row",
            cell_padding=cell_padding,
            header_height=header_height,
            fixed_columns=1,
            cursor_foreground_priority="renderable",
        )
        self.names: tuple[str, ...] = ()
        self.chosen = ""
        self._columns_shown: tuple[Column, ...] = ()
        self._cells: list[list[Text]] = []

    def show_rows(self, columns: Sequence[Column], rows: Mapping[str, Sequence[Text]], chosen: str) -> None:
        """Shows a row of cells for each athlete. Where only cells differ, the table stays where it was scrolled to."""
        names, cells = tuple(rows), [list(row) for row in rows.values()]
        self.chosen = chosen
        self.show_cursor = chosen in names
        if (tuple(columns), names) != (self._columns_shown, self.names):
            self._columns_shown, self.names = tuple(columns), names
            self.clear(columns=True)
            for heading, width in columns:
                self.add_column(heading, width=width)
            for name, row in zip(names, cells, strict=True):
                self.add_row(NameCell(self, name, columns[0][1]), *row)
        else:
            for y, (row, before) in enumerate(zip(cells, self._cells, strict=True)):
                for x in (x for x, cell in enumerate(row) if cell != before[x]):
                    self.update_cell_at(Coordinate(y, x + 1), row[x])
        self._cells = cells
        if chosen in names:
            self.move_cursor(row=names.index(chosen))

    def on_click(self, event: events.Click) -> None:
        # The cursor moves when the selection has: a row drawn as the cursor's before that would be kept without its sign.
        event.prevent_default()
        row = event.style.meta.get("row", -1)
        if 0 <= row < len(self.names):
            self.post_message(self.Pressed(self.names[row]))

    @property
    def page(self) -> int:
        """How many rows are in sight."""
        return max(1, self.size.height - self.header_height)


class TableView(ReviewView):
    """A view whose keys choose a row of a table of athletes."""

    def __init__(self, selection: ReviewSelection, table: AthleteTable) -> None:
        super().__init__(selection)
        self.table = table

    @property
    def page(self) -> int:
        return self.table.page

    def move(self, step: int) -> None:
        self.selection.move(self.table.names, step)

    def on_athlete_table_pressed(self, message: AthleteTable.Pressed) -> None:
        message.stop()
        self.click(message.athlete)
        self.post_message(self.Changed())

    def click(self, athlete: str) -> None:
        """A click on somebody chooses them."""
        self.selection.choose(athlete)


def name_width(names: Iterable[str], widest: int) -> int:
    """The cells of the column of names: as many as the longest one needs, within bounds."""
    return max(NARROWEST_NAME, min(widest, max(map(cell_len, names)) + 2))


class NameCell:
    """A name as it is, never markup; that of the chosen one with its sign.

    The table keeps what it has drawn, with and without the cursor, so that a step of the cursor draws next to nothing anew: with
    forty athletes and thirty rounds a step takes a fifth of the time that changing the two names would.
    """

    def __init__(self, table: AthleteTable, name: str, width: int | None) -> None:
        self.table = table
        self.name = name
        self.shown = shielded(cut(name, width - 2 if width else len(name)))

    def __rich__(self) -> Text:
        chosen = self.name == self.table.chosen
        return Text.assemble(("▸" if chosen else " ", STRONG), (self.shown, CHOSEN if chosen else TEXT))


def ends_line(left: Text, right: Text) -> Table:
    """Two texts at the two ends of a line; the left one gives way."""
    line = Table.grid(expand=True, padding=(0, 2, 0, 0), pad_edge=False)
    line.add_column(no_wrap=True, overflow="ellipsis", ratio=1)
    line.add_column(no_wrap=True)
    line.add_row(left, right)
    return line


def seconds(ms: float | None, digits: int = 1) -> str:
    """`44.2`, or a dash; a minute and more as `1:04.2`. Cut off as a stopwatch does."""
    if ms is None:
        return NONE
    step = 10**digits
    minutes, rest = divmod(int(ms * step // 1000), 60 * step)
    tail = f"{rest // step:02d}" if minutes else str(rest // step)
    tail += f".{rest % step:0{digits}d}" if digits else ""
    return f"{minutes}:{tail}" if minutes else tail


def rest_seconds(ms: float | None) -> str:
    """Rest in whole seconds, rounded down; never in minutes, so that rests stand under each other as numbers."""
    return NONE if ms is None else str(int(ms // 1000))


def slope_figure(ms: float | None) -> str:
    """Seconds more each round, with their sign: `+1.2`."""
    return signed(ms) or NONE
