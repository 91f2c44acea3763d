"""The rest picture as values: a row for each athlete, a cell for each round.

Invariant: a cell is one of five things and says which: rest that was kept, rest under the margin, not finished, unknown, or a
forecast; where no work was for the athlete there is no cell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import AthleteDigest, FlaggedSplit, PartDigest
from floorclock.digest.figures import median_of_known
from floorclock.pace.flags import Flag, is_tight


class Order(StrEnum):
    """How the rows stand."""

    BOARD = "board"
    NAME = "name"
    LEAST_REST = "least rest"
    DRIFT = "drift"


class Kind(StrEnum):
    """What a cell says."""

    KEPT = "kept"
    SHORT = "under the margin"
    NOT_FINISHED = "not finished"
    UNTAPPED = "untapped"
    FORECAST = "forecast"


@dataclass(frozen=True, slots=True)
class Cell:
    """One round of one athlete. `rest_ms` is None where nobody knows; `fading` marks rest that was kept while fading."""

    kind: Kind
    rest_ms: float | None = None
    margin_ms: int = 0
    window_ms: int = 1
    fading: bool = False

    @property
    def share(self) -> float | None:
        """The rest as a share of the interval."""
        return None if self.rest_ms is None else self.rest_ms / max(1, self.window_ms)

    @property
    def margin_share(self) -> float:
        """The margin as a share of the interval."""
        return self.margin_ms / max(1, self.window_ms)

    @property
    def under(self) -> bool:
        """Whether it is less than the margin, or is forecast to be."""
        return self.rest_ms is not None and self.rest_ms < self.margin_ms


@dataclass(frozen=True, slots=True)
class GridRow:
    """One athlete: a cell for each column, None where there was no work for them."""

    athlete: AthleteDigest
    cells: tuple[Cell | None, ...]
    least_ms: int | None
    drift_ms: float | None


@dataclass(frozen=True, slots=True)
class Grid:
    """The whole picture. `rounds` are the numbers above the columns, `middle_ms` the median rest of the class in each.

    `stations` are those of the columns; None where a column has the least rest of all stations in its round.
    """

    stations: tuple[int | None, ...]
    rounds: tuple[int, ...]
    rows: tuple[GridRow, ...]
    middle_ms: tuple[float | None, ...]


def round_grid(part: PartDigest, station: int | None, order: Order) -> Grid:
    """What was, a column for each round: at one station, or, without one, the least rest of each round."""
    here = [taken.split.round for athlete in part.athletes for taken in _at(athlete, station)]
    rounds = tuple(sorted(set(here)))
    rows = []
    for athlete in part.athletes:
        own = _at(athlete, station)
        cells = tuple(cell_of([taken for taken in own if taken.split.round == number]) for number in rounds)
        rows.append(_row(athlete, cells, own, station))
    if order is not Order.BOARD:
        rows.sort(key=_KEYS[order])
    return _grid((station,) * len(rounds), rounds, rows)


def whole_grid(part: PartDigest) -> Grid:
    """What was and what is to come, in the order of the board: a column for each station and round."""
    columns = sorted(
        {(taken.split.station, taken.split.round) for athlete in part.athletes for taken in athlete.splits}
        | {(ahead.slot.station, ahead.slot.round) for athlete in part.athletes for ahead in athlete.forecast}
    )
    rows = []
    for athlete in part.athletes:
        cells: dict[tuple[int, int], Cell | None] = {}
        for ahead in athlete.forecast:
            slot = ahead.slot
            rest_ms = slot.window_ms - ahead.split_ms
            cells[slot.station, slot.round] = Cell(Kind.FORECAST, rest_ms, slot.margin_ms, slot.window_ms)
        cells |= {(taken.split.station, taken.split.round): cell_of([taken]) for taken in athlete.splits}
        rows.append(_row(athlete, tuple(map(cells.get, columns)), athlete.splits, None))
    return _grid(tuple(station for station, _ in columns), tuple(number for _, number in columns), rows)


def cell_of(intervals: Iterable[FlaggedSplit]) -> Cell | None:
    """What some intervals of one round say together: not finished first, then the least rest; unknown where none was tapped."""
    here = list(intervals)
    if not here:
        return None
    if any(taken.split.status is Status.NOT_FINISHED for taken in here):
        return Cell(Kind.NOT_FINISHED)
    known = [(taken.split.rest_ms, taken) for taken in here if taken.split.rest_ms is not None]
    if not known:
        return Cell(Kind.UNTAPPED)
    # A rest under its margin comes before a shorter one that its own station allows.
    rest_ms, worst = min(known, key=lambda pair: (not is_tight(pair[1].split), pair[0]))
    kind = Kind.SHORT if is_tight(worst.split) else Kind.KEPT
    return Cell(kind, rest_ms, worst.split.margin_ms, worst.split.window_ms, Flag.FADING in worst.flags)


def _at(athlete: AthleteDigest, station: int | None) -> tuple[FlaggedSplit, ...]:
    return athlete.splits if station is None else athlete.splits_at(station)


def _row(athlete: AthleteDigest, cells: tuple[Cell | None, ...], own: Sequence[FlaggedSplit], station: int | None) -> GridRow:
    least_ms = min((taken.split.rest_ms for taken in own if taken.split.rest_ms is not None), default=None)
    drift_ms = athlete.slope_ms
    if station is not None:
        drift_ms = next((figures.slope_ms for figures in athlete.stations if figures.station == station), None)
    return GridRow(athlete, cells, least_ms, drift_ms)


def _grid(stations: tuple[int | None, ...], rounds: tuple[int, ...], rows: Sequence[GridRow]) -> Grid:
    columns = [[row.cells[at] for row in rows] for at in range(len(rounds))]
    known = [[cell.rest_ms for cell in column if cell is not None and cell.kind is not Kind.FORECAST] for column in columns]
    return Grid(stations, rounds, tuple(rows), tuple(map(median_of_known, known)))


_KEYS: dict[Order, Callable[[GridRow], tuple[float, str]]] = {
    Order.NAME: lambda row: (0, row.athlete.name.casefold()),
    # Who is unknown stands at the end.
    Order.LEAST_REST: lambda row: (float("inf") if row.least_ms is None else row.least_ms, ""),
    Order.DRIFT: lambda row: (float("inf") if row.drift_ms is None else -row.drift_ms, ""),
}
