"""The second view: the rest picture. Arrows choose somebody, Enter or a click looks at them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from floorclock.digest.rest_grid import round_grid
from floorclock.tui.review.keys import REST
from floorclock.tui.review.pane import Pane
from floorclock.tui.review.rest_grid import PictureView, RestGrid, columns_for
from floorclock.tui.review.review_screen import ReviewScreen
from floorclock.tui.review.tabs import VIEWS

NO_SPLITS = "No splits were taken in this class: there is no rest to show. Results are in view 4."


class RestScreen(ReviewScreen):
    """Everybody's rest, round by round."""

    NUMBER = VIEWS.index("rest")
    KEYS = REST

    def __init__(self) -> None:
        self.grid = RestGrid()
        self.first = 0
        super().__init__(self.grid)

    def deeds(self) -> Mapping[str, Callable[[], None]]:
        return {
            **super().deeds(),
            "o": partial(self.turn_order, 1),
            "O": partial(self.turn_order, -1),
            "s": partial(self.turn_station, 1),
            "S": partial(self.turn_station, -1),
            "left": partial(self.turn_rounds, -1),
            "right": partial(self.turn_rounds, 1),
            "enter": self.open_athlete,
        }

    def fill(self) -> None:
        part = self.selection.split_part
        if part is None:
            self.grid.show(NO_SPLITS)
            return
        station = next((one.name for one in part.stations if one.station == self.selection.station), "")
        picture = round_grid(part, self.selection.station, self.selection.order)
        self.first = max(0, min(self.first, len(picture.rounds) - 1))
        view = PictureView(part, picture, station, self.selection.order, self.selection.athlete, self.first)
        if self.size.width:
            # Where all rounds fit, or the last ones do, the first in sight is not what was asked for.
            self.first = columns_for(view, self.size.width).begin
        self.grid.show(replace(view, first=self.first))

    @property
    def _names(self) -> list[str]:
        view = self.grid.view
        return [] if view is None or isinstance(view, str) else [row.athlete.name for row in view.grid.rows]

    def move_line(self, step: int) -> None:
        """The next athlete of the picture; not around its end, where a page would lose its place."""
        names = self._names
        if names:
            at = names.index(self.selection.athlete) if self.selection.athlete in names else -1 if step > 0 else 0
            self.selection.choose(names[max(0, min(len(names) - 1, at + step))])
            self.fill()

    def turn_order(self, step: int) -> None:
        """The rows in another order."""
        self.selection.turn_order(step)
        self.fill()

    def turn_station(self, step: int) -> None:
        """Another station, or the least rest of each round."""
        self.selection.turn_station(step)
        self.fill()

    def turn_rounds(self, step: int) -> None:
        """Later rounds, or earlier ones."""
        self.first += step
        self.fill()

    def open_athlete(self) -> None:
        """Looks at the chosen athlete."""
        if self._names:
            self.review.open_athlete(self.selection.athlete)

    def on_pane_pressed(self, message: Pane.Pressed) -> None:
        names = self._names
        if message.row is not None and message.row < len(names):
            self.selection.choose(names[message.row])
            self.open_athlete()
