"""What the coach looks at: which part, which athlete, in which order. All screens of the review share it.

Invariant: it never points at a part or a person that the class does not have.
"""

from __future__ import annotations

from collections.abc import Sequence

from floorclock.digest.class_digest import AthleteDigest, ClassDigest, PartDigest
from floorclock.digest.rest_grid import Order


class ReviewSelection:
    """The same part and the same person on every screen, so that turning to another view keeps the thread."""

    def __init__(self, summary: ClassDigest) -> None:
        self.summary = summary
        self.athlete = summary.athletes[0] if summary.athletes else ""
        self.order = Order.BOARD
        self.station: int | None = None
        """The station whose rest the picture shows; None is the least rest of each round."""
        self._split_part = 0
        self._result_part = 0

    @property
    def split_parts(self) -> tuple[PartDigest, ...]:
        """Parts with splits."""
        return tuple(part for part in self.summary.parts if part.is_timed_by_splits and part.athletes)

    @property
    def result_parts(self) -> tuple[PartDigest, ...]:
        """Parts with results."""
        return tuple(part for part in self.summary.parts if not part.is_timed_by_splits and part.athletes)

    @property
    def split_part(self) -> PartDigest | None:
        """The part with splits that is looked at."""
        return _at(self.split_parts, self._split_part)

    @property
    def result_part(self) -> PartDigest | None:
        """The part with results that is looked at."""
        return _at(self.result_parts, self._result_part)

    @property
    def athlete_in_part(self) -> AthleteDigest | None:
        """The athlete in the part with splits; None where they were not in it."""
        part = self.split_part
        return next((one for one in part.athletes if one.name == self.athlete), None) if part else None

    def turn_split_part(self, step: int) -> None:
        """The next part with splits, or the one before; a station of the last one means nothing in it."""
        parts = self.split_parts
        if len(parts) > 1:
            self._split_part = (self._split_part + step) % len(parts)
            self.station = None

    def turn_result_part(self, step: int) -> None:
        """The next part with results, or the one before."""
        if self.result_parts:
            self._result_part = (self._result_part + step) % len(self.result_parts)

    def turn_station(self, step: int) -> None:
        """The next station in the picture; before the first and after the last comes the least rest of each round."""
        part = self.split_part
        choices: list[int | None] = [None, *(one.station for one in part.stations)] if part else [None]
        self.station = choices[(choices.index(self.station) + step) % len(choices)]

    def turn_order(self, step: int) -> None:
        """The next order of the picture."""
        orders = list(Order)
        self.order = orders[(orders.index(self.order) + step) % len(orders)]

    def choose(self, athlete: str) -> None:
        """Looks at somebody in the class."""
        if athlete in self.summary.athletes:
            self.athlete = athlete

    def turn_athlete(self, step: int, names: Sequence[str] = ()) -> None:
        """The next person in `names` (the whole class, where none are given), around the end."""
        order = list(names) or list(self.summary.athletes)
        if not order:
            return
        at = order.index(self.athlete) if self.athlete in order else -1 if step > 0 else 0
        self.athlete = order[(at + step) % len(order)]


def _at(parts: Sequence[PartDigest], index: int) -> PartDigest | None:
    return parts[index] if index < len(parts) else None
