"""The first view: the class at a glance. A click on somebody looks at them."""

from __future__ import annotations

from floorclock.tui.review.glance import Glance
from floorclock.tui.review.keys import GLANCE
from floorclock.tui.review.pane import Pane
from floorclock.tui.review.review_screen import ReviewScreen
from floorclock.tui.review.tabs import VIEWS


class GlanceScreen(ReviewScreen):
    """All parts on one page."""

    NUMBER = VIEWS.index("class")
    KEYS = GLANCE

    def __init__(self) -> None:
        self.glance = Glance()
        super().__init__(self.glance)

    @property
    def part_count(self) -> int:
        return 1

    def fill(self) -> None:
        self.glance.show(self.selection.summary)

    def turn_part(self, step: int) -> None:
        """All parts are in sight here."""

    def on_pane_pressed(self, message: Pane.Pressed) -> None:
        athlete = self.glance.athlete_at(message.row, message.x) if message.row is not None else ""
        if athlete:
            self.review.open_athlete(athlete)
