"""The fourth view: what the finishers reached. Arrows choose whose rounds are drawn."""

from __future__ import annotations

from floorclock.tui.review.keys import RESULTS
from floorclock.tui.review.pane import Pane
from floorclock.tui.review.results_pane import LapPlot, ResultsPane, ResultsView, has_laps, in_order
from floorclock.tui.review.review_screen import ReviewScreen
from floorclock.tui.review.tabs import VIEWS

NO_RESULTS = "No part of this class has results (for time, as many rounds as possible, paced). Rests are in view 2."


class ResultsScreen(ReviewScreen):
    """One part with results."""

    NUMBER = VIEWS.index("results")
    KEYS = RESULTS
    SIDE_BY_SIDE = 130

    def __init__(self) -> None:
        self.results = ResultsPane()
        self.plot = LapPlot()
        super().__init__(self.results, self.plot)

    @property
    def part_count(self) -> int:
        return len(self.selection.result_parts)

    @property
    def _names(self) -> list[str]:
        part = self.selection.result_part
        return [one.name for one in in_order(part)] if part else []

    def fill(self) -> None:
        part = self.selection.result_part
        if part is None:
            self.results.show(NO_RESULTS)
            self.plot.display = False
        else:
            view = ResultsView(part, in_order(part), self.selection.athlete)
            self.results.show(view)
            self.plot.display = has_laps(view)
            self.plot.show(view)

    def turn_part(self, step: int) -> None:
        """The next part with results."""
        self.selection.turn_result_part(step)
        self.results.to_top()
        self.fill()

    def move_line(self, step: int) -> None:
        """The next athlete of the table."""
        names = self._names
        if names:
            at = names.index(self.selection.athlete) if self.selection.athlete in names else -1 if step > 0 else 0
            self.selection.choose(names[max(0, min(len(names) - 1, at + step))])
            self.fill()

    def on_pane_pressed(self, message: Pane.Pressed) -> None:
        names = self._names
        if message.row is not None and message.row < len(names):
            self.selection.choose(names[message.row])
            self.fill()
