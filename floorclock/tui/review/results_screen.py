"""The fourth view: what the finishers reached. Arrows choose whose rounds are drawn."""

from __future__ import annotations

from floorclock.review.keys import RESULTS
from floorclock.review.pane import Pane
from floorclock.review.results_pane import LapPlot, ResultsPane, ResultsView, has_laps, in_order
from floorclock.review.review_screen import ReviewScreen
from floorclock.review.tabs import VIEWS

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
        return len(self.looking.result_parts)

    @property
    def _names(self) -> list[str]:
        part = self.looking.result_part
        return [one.name for one in in_order(part)] if part else []

    def fill(self) -> None:
        part = self.looking.result_part
        if part is None:
            self.results.show(NO_RESULTS)
            self.plot.display = False
        else:
            view = ResultsView(part, in_order(part), self.looking.athlete)
            self.results.show(view)
            self.plot.display = has_laps(view)
            self.plot.show(view)

    def turn_part(self, step: int) -> None:
        """The next part with results."""
        self.looking.turn_result_part(step)
        self.results.to_top()
        self.fill()

    def move_line(self, step: int) -> None:
        """The next athlete of the table."""
        names = self._names
        if names:
            at = names.index(self.looking.athlete) if self.looking.athlete in names else -1 if step > 0 else 0
            self.looking.choose(names[max(0, min(len(names) - 1, at + step))])
            self.fill()

    def on_pane_pressed(self, message: Pane.Pressed) -> None:
        names = self._names
        if message.row is not None and message.row < len(names):
            self.looking.choose(names[message.row])
            self.fill()
