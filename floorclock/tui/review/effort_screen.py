"""The fifth view: effort ratings, and the loads that follow from them. Digits rate the chosen athlete.

Invariant: whatever is typed and can be an effort goes on its way to the disk at once, in the order it was typed. What cannot
be one leaves the rating as it was before, and whatever takes the place of a rating is said with it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from textual import events

from floorclock.tui.review.effort_pane import EffortPane, EffortView
from floorclock.tui.review.effort_scale import effort_of, may_become_one, nudged
from floorclock.tui.review.keys import EFFORT
from floorclock.tui.review.pane import Pane
from floorclock.tui.review.review_screen import ReviewScreen
from floorclock.tui.review.scale_widget import EffortScale, ScaleView
from floorclock.tui.review.tabs import VIEWS

TYPED = frozenset("0123456789.,")
PAUSE_S = 2.0
"""What is typed after a pause as long as that begins a rating anew."""


class EffortScreen(ReviewScreen):
    """The whole class, one rating each."""

    NUMBER = VIEWS.index("effort")
    KEYS = EFFORT
    SIDE_BY_SIDE = 130
    DIGITS_TURN = False

    def __init__(self) -> None:
        self.list = EffortPane()
        self.scale = EffortScale()
        super().__init__(self.list, self.scale)
        self._typed = ""
        """What was typed for the chosen athlete without a pause."""
        self._typed_at_s = 0.0
        self._former: float | None = None
        """The rating of the chosen athlete that the one typed now took the place of."""
        self._said = ""
        """What was wrong with the last thing typed; empty where nothing was."""
        self._sent: dict[str, float | None] = {}
        """Ratings on their way to the disk."""

    @property
    def part_count(self) -> int:
        return 1

    def deeds(self) -> Mapping[str, Callable[[], None]]:
        return {
            **super().deeds(),
            "left": partial(self.nudge, -1),
            "right": partial(self.nudge, 1),
            "backspace": self.clear_rating,
            "delete": self.clear_rating,
            "enter": partial(self.move_line, 1),
        }

    def fill(self) -> None:
        if not self.review.keeping:
            self._sent.clear()
        summary = self.selection.summary
        if not summary.load:
            self.list.show("Nobody was in this class: there is no effort to rate.")
            return
        typed = {name: "" if effort is None else f"{effort:g}" for name, effort in self._sent.items()}
        said = self.review.trouble or self._said
        former = self._former if self._former != self._effort() else None
        self.list.show(EffortView(summary.load, dict(self.review.weeks), self.selection.athlete, typed, said, former))
        self.scale.show(ScaleView(self._effort()))

    def _effort(self) -> float | None:
        """What the chosen athlete's effort is, or is about to be."""
        name = self.selection.athlete
        if name in self._sent:
            return self._sent[name]
        return next((one.effort for one in self.selection.summary.load if one.name == name), None)

    def press(self, event: events.Key) -> bool:
        """Digits rate here; they turn to no other view."""
        if event.character is None or event.character not in TYPED:
            return super().press(event)
        if not self._typed or self.review.trouble or event.time - self._typed_at_s > PAUSE_S:
            self._begin_anew()
            self._former = self._effort()
        self._typed_at_s = event.time
        self._type(self._typed + event.character)
        return True

    def _type(self, typed: str) -> None:
        """What stands there with one more sign; where that is no effort, the rating of before stands again."""
        if not may_become_one(typed):
            former = self._former
            self._begin_anew()
            self._said = f"{typed} is no rating and was not taken: 0 to 10, a half as 7.5"
            self._rate(former)
            return
        self._typed, self._said = typed, ""
        effort = effort_of(typed)
        if effort is not None:
            self._rate(effort)

    def _begin_anew(self) -> None:
        self._typed, self._former, self._said = "", None, ""

    def _rate(self, effort: float | None) -> None:
        """Sends a rating on its way, unless it stands already."""
        name = self.selection.athlete
        if name and effort != self._effort():
            self._sent[name] = effort
            self.review.rate(name, effort)
        self.fill()

    def nudge(self, steps: int) -> None:
        """Half a step more or less."""
        self._begin_anew()
        self._rate(nudged(self._effort(), steps))

    def clear_rating(self) -> None:
        """Takes the rating back: the one that it took the place of stands again, else none does."""
        former = self._former if self._former != self._effort() else None
        self._begin_anew()
        self._rate(former)

    def move_line(self, step: int) -> None:
        """The next athlete; a new one begins with nothing typed."""
        names = [one.name for one in self.selection.summary.load]
        if names:
            at = names.index(self.selection.athlete) if self.selection.athlete in names else 0
            self._choose(names[max(0, min(len(names) - 1, at + step))])

    def turn_part(self, step: int) -> None:
        """An effort is of the whole class."""

    def _choose(self, name: str) -> None:
        self._begin_anew()
        self.selection.choose(name)
        self.fill()

    def on_pane_pressed(self, message: Pane.Pressed) -> None:
        loads = self.selection.summary.load
        if message.row is not None and message.row < len(loads):
            self._choose(loads[message.row].name)

    def on_effort_scale_rated(self, message: EffortScale.Rated) -> None:
        message.stop()
        former = self._effort()
        self._begin_anew()
        self._former = former
        self._rate(message.effort)
