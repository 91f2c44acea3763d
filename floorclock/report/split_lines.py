"""The picture on an athlete's card: splits round by round, a small panel for each station.

Invariant: higher is later; above the margin's line less than the margin is left. A split that left it is a dot, one that did
not a hatched square, one to come a ring with the span that holds it in 80 of 100 cases.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from floorclock.clock.splits import Split, Status
from floorclock.digest.class_digest import AthleteDigest, FlaggedSplit, PartDigest
from floorclock.pace.flags import is_tight
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.durations import duration_words
from floorclock.report.colours import Ink
from floorclock.report.drawing import Drawing, Point
from floorclock.report.terminal import short_name

PANEL_WIDTH, PANEL_HEIGHT = 180.0, 122.0
BESIDE, MOST_BESIDE = 2, 3
"""So many panels stand side by side: the picture is as wide as a telephone. More than two rows of them get a third column,
so that a card stays on one sheet of paper."""
LEFT, RIGHT, TOP, BOTTOM = 34.0, 10.0, 24.0, 18.0
MOST_LABELS = 10
TITLE_CELLS = 22


@dataclass(frozen=True, slots=True)
class _Panel:
    """One station: what was taken there, and what is to come.

    `ends` has the end of the interval, and when to be done to keep the margin, by round; `usual` what they are in most rounds.
    """

    name: str
    usual: tuple[int, int]
    ends: Mapping[int, tuple[int, int]]
    taken: Sequence[FlaggedSplit]
    ahead: Sequence[Forecast]

    @property
    def rounds(self) -> list[int]:
        return sorted(self.ends)

    @property
    def fitted(self) -> list[tuple[int, float]]:
        return [(one.split.round, one.fitted_ms) for one in self.taken if one.fitted_ms is not None]

    @property
    def longest_ms(self) -> int:
        """The longest interval."""
        return max(window_ms for window_ms, _ in self.ends.values())

    def earliest_ms(self) -> float:
        """Where the panel begins to be of interest."""
        taken = [one.split.split_ms for one in self.taken if one.split.split_ms is not None]
        return min([*taken, *(one.low_ms for one in self.ahead), *(at for _, at in self.fitted), self.usual[1]])


def split_lines(part: PartDigest, athlete: AthleteDigest) -> Drawing:
    """The panels of an athlete who has splits in a part, in the order of the stations."""
    panels = [_panel(part, athlete, station) for station in athlete.worked_at]
    beside = BESIDE if len(panels) <= 2 * BESIDE else MOST_BESIDE
    rows = -(-len(panels) // beside)
    page = Drawing(PANEL_WIDTH * min(beside, len(panels)), PANEL_HEIGHT * rows)
    lowest = min(panel.earliest_ms() for panel in panels)
    for place, panel in enumerate(panels):
        corner = (PANEL_WIDTH * (place % beside), PANEL_HEIGHT * (place // beside))
        _Plot(page, panel, corner, 0.92 * max(0.0, lowest)).draw()
    return page


def _panel(part: PartDigest, athlete: AthleteDigest, station: int) -> _Panel:
    ends = {slot.round: (slot.window_ms, slot.window_ms - slot.margin_ms) for slot in athlete.slots_at(station)}
    taken, ahead = athlete.splits_at(station), athlete.forecast_at(station)
    return _Panel(part.work_at(athlete, station), athlete.usual_at(station), ends, taken, ahead)


@dataclass(frozen=True, slots=True)
class _Plot:
    """A panel on its way: `corner` is its top left, `from_ms` the split at its foot."""

    page: Drawing
    panel: _Panel
    corner: tuple[float, float]
    from_ms: float

    def draw(self) -> None:
        self._frame()
        self._rounds()
        line = [self._at(number, at) for number, at in self.panel.fitted]
        line += [self._at(one.slot.round, one.split_ms) for one in self.panel.ahead] if line else []
        if len(line) > 1:
            self.page.line(Ink.DIM, *line, width=1.2)
        for taken in self.panel.taken:
            self._taken(taken.split)
        for one in self.panel.ahead:
            self._to_come(one)

    @property
    def _right(self) -> float:
        return self.corner[0] + PANEL_WIDTH - RIGHT

    @property
    def _foot(self) -> float:
        return self.corner[1] + PANEL_HEIGHT - BOTTOM

    def _frame(self) -> None:
        left, top = self.corner
        self.page.text((left + 4, top + 12), short_name(self.panel.name, TITLE_CELLS), bold=True)
        usual = list(zip(self.panel.usual, (False, True), strict=True))
        for which, (_, is_goal) in enumerate(usual):
            self.page.line(Ink.DIM if is_goal else Ink.GUIDE, *self._steps(which), dashed=is_goal)
        end_ms, goal_ms = self.panel.usual
        apart = self._height(goal_ms) - self._height(end_ms) >= 10
        for at_ms, is_goal in usual if apart else usual[1:]:
            place = (left + LEFT - 4, self._height(at_ms) + 3.5)
            self.page.text(place, duration_words(at_ms), ink=Ink.DIM, size=10, anchor="right", bold=is_goal)
        self.page.line(Ink.GUIDE, (left + LEFT, self._foot), (self._right, self._foot))
        if self._foot - self._height(goal_ms) >= 14:
            whole = duration_words(round(self.from_ms / 1000) * 1000)
            self.page.text((left + LEFT - 4, self._foot + 2), whole, ink=Ink.DIM, size=10, anchor="right")

    def _steps(self, which: int) -> list[Point]:
        """The line of the ends (0) or of the goals (1): where an interval was made longer, it steps in that round alone."""
        rounds = self.panel.rounds
        points = []
        for number in range(rounds[0], rounds[-1] + 1):
            at_ms = self.panel.ends.get(number, self.panel.usual)[which]
            points += [(self._at(number + side, 0)[0], self._height(at_ms)) for side in (-0.5, 0.5)]
        (_, first), (_, last) = points[0], points[-1]
        return [(self.corner[0] + LEFT, first), *points[1:-1], (self._right, last)]

    def _rounds(self) -> None:
        rounds = self.panel.rounds
        every = -(-len(rounds) // MOST_LABELS)
        for number in rounds[::every]:
            at = (self._at(number, 0)[0], self._foot + 13)
            self.page.text(at, str(number), ink=Ink.DIM, size=10, anchor="center")

    def _at(self, number: float, split_ms: float) -> tuple[float, float]:
        rounds = self.panel.rounds
        left, right = self.corner[0] + LEFT + 9, self._right - 9
        share = (number - rounds[0]) / (rounds[-1] - rounds[0]) if len(rounds) > 1 else 0.5
        return left + share * (right - left), self._height(split_ms)

    def _height(self, split_ms: float) -> float:
        """The place of a split; one beyond the interval stays a little above its end."""
        top = self.corner[1] + TOP
        share = (split_ms - self.from_ms) / max(1.0, self.panel.longest_ms - self.from_ms)
        return self._foot - max(0.0, min(share, 1.04)) * (self._foot - top)

    def _taken(self, split: Split) -> None:
        x, y = self._at(split.round, split.split_ms or 0)
        if split.status is Status.NOT_FINISHED:
            top = self.corner[1] + TOP
            self.page.line(Ink.INK, (x - 3.5, top + 5), (x + 3.5, top - 5), width=2)
        elif split.split_ms is None:
            self.page.text((x, self._foot - 4), "?", ink=Ink.DIM, anchor="center")
        elif is_tight(split):
            self.page.hatched(Ink.TIGHT, x - 4, y - 4, 8, 8)
        else:
            self.page.dot(Ink.HELD, (x, y), 3.2)

    def _to_come(self, one: Forecast) -> None:
        x, low = self._at(one.slot.round, one.low_ms)
        high, middle = self._height(one.high_ms), self._height(one.split_ms)
        self.page.line(Ink.AHEAD, (x, low), (x, high), width=1.6)
        self.page.dot(Ink.AHEAD, (x, middle), 3.2, ring=True)
