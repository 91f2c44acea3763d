"""The rest picture as values: a row for each athlete, a cell for each round.

Invariant: a cell is one of four things and says which: rest that was kept, rest under the margin, not finished, or unknown;
where no work was for the athlete there is no cell.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from floorclock.clock.splits import Split, Status
from floorclock.digest.summary import AthleteSummary, PartSummary
from floorclock.pace.flags import is_tight
from floorclock.pace.stats import median


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


@dataclass(frozen=True, slots=True)
class Cell:
    """One round of one athlete. `share` is the rest as a share of the interval; both are None where nobody knows."""

    kind: Kind
    rest_ms: int | None = None
    share: float | None = None
    margin_share: float = 0.0


@dataclass(frozen=True, slots=True)
class GridRow:
    """One athlete: a cell for each round of the part, None where there was no work for them."""

    athlete: AthleteSummary
    cells: tuple[Cell | None, ...]
    least_ms: int | None
    drift_ms: float | None


@dataclass(frozen=True, slots=True)
class Grid:
    """The whole picture. `rounds` are the numbers above the columns, `middle_ms` the median rest of the class in each."""

    rounds: tuple[int, ...]
    rows: tuple[GridRow, ...]
    middle_ms: tuple[float | None, ...]


def grid(part: PartSummary, station: int | None, order: Order) -> Grid:
    """The picture of one station, or, without one, of the least rest of each round."""
    here = [one.split for athlete in part.athletes for one in athlete.splits if station in (None, one.split.station)]
    rounds = tuple(sorted({split.round for split in here}))
    rows = [_row(athlete, station, rounds) for athlete in part.athletes]
    if order is not Order.BOARD:
        rows.sort(key=_KEYS[order])
    return Grid(rounds, tuple(rows), tuple(_middle(rows, at) for at in range(len(rounds))))


def cell_of(splits: Sequence[Split]) -> Cell | None:
    """What some intervals of one round say together: not finished first, then the least rest; unknown where none was tapped."""
    if not splits:
        return None
    if any(split.status is Status.NOT_FINISHED for split in splits):
        return Cell(Kind.NOT_FINISHED)
    known = [(split.rest_ms, split) for split in splits if split.rest_ms is not None]
    if not known:
        return Cell(Kind.UNTAPPED)
    # A rest under its margin comes before a shorter one that its own station allows.
    rest_ms, worst = min(known, key=lambda pair: (not is_tight(pair[1]), pair[0]))
    kind = Kind.SHORT if is_tight(worst) else Kind.KEPT
    window_ms = max(1, worst.window_ms)
    return Cell(kind, rest_ms, rest_ms / window_ms, worst.margin_ms / window_ms)


def _row(athlete: AthleteSummary, station: int | None, rounds: Sequence[int]) -> GridRow:
    own = [one.split for one in athlete.splits if station in (None, one.split.station)]
    cells = tuple(cell_of([split for split in own if split.round == number]) for number in rounds)
    rests = [split.rest_ms for split in own if split.rest_ms is not None]
    drift = athlete.slope_ms
    if station is not None:
        drift = next((one.slope_ms for one in athlete.stations if one.station == station), None)
    return GridRow(athlete, cells, min(rests, default=None), drift)


def _middle(rows: Sequence[GridRow], at: int) -> float | None:
    rests = [cell.rest_ms for row in rows if (cell := row.cells[at]) is not None and cell.rest_ms is not None]
    return median(rests) if rests else None


_Key = Callable[[GridRow], tuple[float, str]]

_KEYS: dict[Order, _Key] = {
    Order.NAME: lambda row: (0, row.athlete.name.casefold()),
    # Who is unknown stands at the end.
    Order.LEAST_REST: lambda row: (float("inf") if row.least_ms is None else row.least_ms, ""),
    Order.DRIFT: lambda row: (float("inf") if row.drift_ms is None else -row.drift_ms, ""),
}
