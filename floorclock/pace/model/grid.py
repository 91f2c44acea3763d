"""The splits of one part laid out for arithmetic: athlete by kind of work by round.

Invariant: what is not known has no weight; its place in the arrays is filled with zeros. Times are logarithms of seconds at
the usual amount of their kind of work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from floorclock.pace.model.kinds import Kinds, Told, longer
from floorclock.pace.model.rows import Row

Array = npt.NDArray[np.float64]
Whole = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Grid:
    """One row an athlete, one place in it for each kind of work they did, one value for each round.

    `logs` (athlete, place, round) are the times; where `over` is set the time is only known to be more than that.
    `known` is 1 where there is a value. `kind` (athlete, place) says which kind of work a place is, the number of kinds
    where the place is empty. `told_weight` and `told` (athlete, place, level and drift) are what earlier classes say, as
    precisions and means. `rounds` are the numbers of the rounds, ascending.
    """

    athletes: tuple[str, ...]
    n_kinds: int
    rounds: Array
    logs: Array
    known: Array
    over: Flags
    kind: Whole
    told_weight: Array
    told: Array


def log_times(rows: Sequence[Row], kind: Whole, kinds: Kinds) -> Array:
    """The logarithms of the seconds that splits, each of a kind of work, took or would have taken at its usual amount."""
    taken = np.array([row.log_s for row in rows], dtype=np.float64)
    amounts = np.array([row.amount for row in rows], dtype=np.float64)
    usual = np.array(kinds.usual)[kind]
    return np.asarray(taken - np.log(longer(amounts, usual, usual)))


def lay_out(rows: Sequence[Row], told: Sequence[Told], kinds: Kinds) -> Grid:
    """Splits that count and what earlier classes say as one grid. Of two splits of a round at a station the last one stands."""
    athletes = sorted({row.athlete for row in rows} | {one.athlete for one in told})
    rounds = sorted({row.round for row in rows})
    index = {name: at for at, name in enumerate(athletes)}
    column = {number: at for at, number in enumerate(rounds)}
    who = np.array([index[row.athlete] for row in rows], dtype=np.intp)
    kind = np.array([kinds.place[row.kind] for row in rows], dtype=np.intp)
    when = np.array([column[row.round] for row in rows], dtype=np.intp)
    told_who = np.array([index[one.athlete] for one in told], dtype=np.intp)
    told_kind = np.array([one.kind for one in told], dtype=np.intp)
    there = np.zeros((len(athletes), len(kinds.usual)), dtype=bool)
    there[who, kind] = there[told_who, told_kind] = True
    place = np.cumsum(there, axis=1) - 1
    shape = (len(athletes), int(there.sum(axis=1).max(initial=0)), len(rounds))
    kind_at = np.full(shape[:2], len(kinds.usual), dtype=np.intp)
    present, its_kind = np.nonzero(there)
    kind_at[present, place[there]] = its_kind
    logs, known, over = np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=bool)
    where = who, place[who, kind], when
    logs[where] = log_times(rows, kind, kinds)
    over[where] = np.array([row.over for row in rows], dtype=bool)
    known[where] = 1
    told_weight, told_mean = np.zeros((*shape[:2], 2)), np.zeros((*shape[:2], 2))
    told_at = told_who, place[told_who, told_kind]
    told_weight[told_at] = np.array([(one.level_weight, one.drift_weight) for one in told]).reshape(-1, 2)
    told_mean[told_at] = np.array([(one.level, one.drift) for one in told]).reshape(-1, 2)
    numbers = np.array(rounds, dtype=np.float64)
    return Grid(tuple(athletes), len(kinds.usual), numbers, logs, known, over, kind_at, told_weight, told_mean)
