"""The third view: one athlete. Left and right turn to the next one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from floorclock.tui.review.athlete_pane import AthletePane, AthleteView
from floorclock.tui.review.keys import ATHLETE
from floorclock.tui.review.rest_screen import NO_SPLITS
from floorclock.tui.review.review_screen import ReviewScreen
from floorclock.tui.review.tabs import VIEWS


class AthleteScreen(ReviewScreen):
    """One athlete in one part."""

    NUMBER = VIEWS.index("athlete")
    KEYS = ATHLETE

    def __init__(self) -> None:
        self.detail = AthletePane()
        self.first = 0
        super().__init__(self.detail)

    def deeds(self) -> Mapping[str, Callable[[], None]]:
        return {
            **super().deeds(),
            "left": partial(self.turn_athlete, -1),
            "right": partial(self.turn_athlete, 1),
            "s": partial(self.turn_station, 1),
            "S": partial(self.turn_station, -1),
        }

    def fill(self) -> None:
        part, athlete = self.selection.split_part, self.selection.athlete_in_part
        if part is None:
            self.detail.show(NO_SPLITS)
        elif athlete is None:
            self.detail.show(f"{self.selection.athlete} was not in {part.title}; left and right turn to others.")
        else:
            names = list(self.selection.summary.athletes)
            place = f"{names.index(athlete.name) + 1} of {len(names)}"
            self.detail.show(AthleteView(athlete, part, place, self.first, self.selection.summary.paper))

    def turn_athlete(self, step: int) -> None:
        """The next athlete, or the one before, in the order of the board."""
        self.selection.turn_athlete(step)
        self.detail.to_top()
        self.fill()

    def turn_station(self, step: int) -> None:
        """Another station in front."""
        self.first += step
        self.fill()

    def turn_part(self, step: int) -> None:
        self.first = 0
        super().turn_part(step)
