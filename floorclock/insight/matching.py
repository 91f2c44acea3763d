"""Which rounds of two classes belong together.

Invariant: a round is matched with the same round of the same move by the same person, or with none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from floorclock.pace.model.work import log_ratio
from floorclock.plan.work import Unit
from floorclock.store.rows import SplitRow

Move = tuple[str, Unit]
_Round = tuple[int, int, int, int]
"""(part, station, round, which time in it). In two sessions the part is 0, and stations are counted among those with the move."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A round that was tapped in both classes."""

    split_before_s: float
    split_after_s: float
    amount_before: Fraction
    amount_after: Fraction

    @property
    def before_s(self) -> float:
        """Seconds for one unit of work then, as the later amount would have taken: a part of a split is setting up."""
        before, after = float(self.amount_before), float(self.amount_after)
        longer = math.exp(log_ratio(after, before, min(before, after))) if before != after else 1.0
        return self.split_before_s * longer / after

    @property
    def after_s(self) -> float:
        """Seconds for one unit of work later."""
        return self.split_after_s / float(self.amount_after)

    @property
    def change(self) -> float:
        """The difference of their logarithms; below 0 is faster."""
        return math.log(self.after_s) - math.log(self.before_s)


def match_rounds(
    before: Sequence[SplitRow], after: Sequence[SplitRow], called: Mapping[str, str], *, same_session: bool
) -> dict[str, dict[Move, list[Taken]]]:
    """The rounds in common, by the name that counts and by move, in order.

    In one session repeated, stations belong together by their place; in two sessions the first station with a move belongs
    to the first one with it, and so on.
    """
    earlier, later = (_by_round(rows, called, by_place=same_session) for rows in (before, after))
    found: dict[str, dict[Move, list[Taken]]] = {}
    for name, moves in earlier.items():
        for move, rounds in moves.items():
            others = later.get(name, {}).get(move, {})
            common = [_taken(rounds[place], others[place]) for place in sorted(rounds.keys() & others.keys())]
            if common:
                found.setdefault(name, {})[move] = common
    return found


def _by_round(
    rows: Sequence[SplitRow], called: Mapping[str, str], *, by_place: bool
) -> dict[str, dict[Move, dict[_Round, SplitRow]]]:
    counted = [row for row in rows if row.split_ms and row.amount and row.unit is not None]
    stations: dict[Move, set[tuple[int, int]]] = {}
    for row in counted:
        stations.setdefault(_move(row), set()).add((row.part, row.station))
    order = {move: {place: number for number, place in enumerate(sorted(places))} for move, places in stations.items()}
    found: dict[str, dict[Move, dict[_Round, SplitRow]]] = {}
    times = _times(rows)
    for row in counted:
        place = (row.part, row.station)
        station = place if by_place else (0, order[_move(row)][place])
        mine = found.setdefault(called[row.name], {}).setdefault(_move(row), {})
        # Somebody on the board under two spellings has the first one's split.
        mine.setdefault((*station, row.round, times[row.name, row.part, row.interval]), row)
    return found


def _times(rows: Iterable[SplitRow]) -> dict[tuple[str, int, int], int]:
    """Which time in its round a station came, for each interval of everybody: several sets in a row may be one round."""
    seen: dict[tuple[str, int, int, int], int] = {}
    found: dict[tuple[str, int, int], int] = {}
    for row in rows:
        here = (row.name, row.part, row.station, row.round)
        seen[here] = seen.get(here, 0) + 1
        found[row.name, row.part, row.interval] = seen[here]
    return found


def _move(row: SplitRow) -> Move:
    assert row.unit is not None
    return row.move, row.unit


def _taken(before: SplitRow, after: SplitRow) -> Taken:
    return Taken(
        split_before_s=(before.split_ms or 0) / 1000,
        split_after_s=(after.split_ms or 0) / 1000,
        amount_before=before.amount or Fraction(0),
        amount_after=after.amount or Fraction(0),
    )
