"""What the coach looks at: which view, which part, which athlete, in which order. All views of the review share it.

Invariant: it never points at a part or a person that the class does not have.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, TypeVar

from floorclock.digest.class_digest import AthleteDigest, ClassDigest, PartDigest
from floorclock.digest.rest_grid import Order

T = TypeVar("T")

VIEWS: Final = ("class", "rest", "athlete", "results", "effort")
"""The views by their names, in the order of their keys 1 to 5."""


class ReviewSelection:
    """The same part and the same person in every view, so that turning to another one keeps the thread."""

    def __init__(self, digest: ClassDigest) -> None:
        self.digest = digest
        self.view = VIEWS[0]
        self.athlete = digest.athletes[0] if digest.athletes else ""
        self.order = Order.BOARD
        self.station: int | None = None
        """The station whose rest the picture shows; None is the least rest of each round."""
        self._timed_part = 0
        self._result_part = 0
        self._came_from = ""
        """The view in which the athlete in sight was asked for; empty where the coach turned to them."""

    @property
    def result_parts(self) -> tuple[PartDigest, ...]:
        """Parts with results."""
        return tuple(part for part in self.digest.recorded if part.has_results or not part.is_timed_by_splits)

    @property
    def timed_part(self) -> PartDigest | None:
        """The part with splits that is looked at."""
        return self.digest.timed[self._timed_part] if self.digest.timed else None

    @property
    def result_part(self) -> PartDigest | None:
        """The part with results that is looked at."""
        return self.result_parts[self._result_part] if self.result_parts else None

    @property
    def athlete_in_part(self) -> AthleteDigest | None:
        """The athlete in the part with splits; None where they were not in it."""
        athletes = self.timed_part.athletes if self.timed_part else ()
        return next((athlete for athlete in athletes if self.athlete in (athlete.name, *athlete.team)), None)

    def label_in(self, part: PartDigest) -> str:
        """As what the athlete stands in the results of a part: their name, or those of their team."""
        return next((athlete.label for athlete in part.athletes if self.athlete in athlete.team), self.athlete)

    def turn_to(self, view: str) -> None:
        """Opens a view."""
        self.view = view
        self._came_from = ""

    def turn(self, step: int) -> None:
        """The next view, or the one before, around the end."""
        self.turn_to(_after(VIEWS, self.view, step))

    def open_athlete(self, name: str) -> None:
        """Looks at somebody; `go_back` returns to where that was asked for."""
        came_from = self.view
        self.choose(name)
        self.turn_to("athlete")
        self._came_from = came_from

    def go_back(self) -> bool:
        """Back to where somebody was asked for; False where nobody was."""
        if not self._came_from:
            return False
        self.turn_to(self._came_from)
        return True

    def choose(self, athlete: str) -> None:
        """Looks at somebody in the class; of a team, by its label, at the first of them."""
        name = self._teams.get(athlete, (athlete,))[0]
        if name in self.digest.athletes:
            self.athlete = name

    def move(self, names: Sequence[str], step: int) -> None:
        """Looks at the athlete (or team) so many lines further down in a list; it ends at its ends."""
        if names:
            here = [at for at, name in enumerate(names) if self.athlete in self._teams.get(name, (name,))]
            at = here[0] + step if here else 0
            self.choose(names[max(0, min(len(names) - 1, at))])

    @property
    def _teams(self) -> dict[str, tuple[str, ...]]:
        return {athlete.label: athlete.team for part in self.digest.parts for athlete in part.athletes if athlete.team}

    def turn_athlete(self, step: int) -> None:
        """The next person in the order of the board, around the end."""
        if self.digest.athletes:
            self.athlete = _after(self.digest.athletes, self.athlete, step)

    def turn_timed_part(self, step: int) -> None:
        """The next part with splits, or the one before; a station of the last one means nothing in it."""
        if len(self.digest.timed) > 1:
            self._timed_part = (self._timed_part + step) % len(self.digest.timed)
            self.station = None

    def turn_result_part(self, step: int) -> None:
        """The next part with results, or the one before."""
        if self.result_parts:
            self._result_part = (self._result_part + step) % len(self.result_parts)

    def turn_station(self, step: int) -> None:
        """The next station in the picture; before the first and after the last comes the least rest of each round."""
        part = self.timed_part
        choices: list[int | None] = [None, *(station.station for station in part.stations)] if part else [None]
        self.station = _after(choices, self.station, step)

    def turn_order(self, step: int) -> None:
        """The next order of the picture."""
        self.order = _after(list(Order), self.order, step)


def _after(items: Sequence[T], item: T, step: int) -> T:
    """The one so many further on, around the end."""
    return items[(items.index(item) + step) % len(items)]
