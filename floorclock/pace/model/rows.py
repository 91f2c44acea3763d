"""Splits read once: what each says of work and time, as plain numbers.

Invariant: a row is a function of its split alone, so that one read for an earlier fit will do for a later one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from operator import itemgetter
from typing import NamedTuple

from floorclock.clock.splits import Split, Status
from floorclock.plan.work import Unit

Kind = tuple[int, str, Unit]
"""(station, move, unit)."""


class Row(NamedTuple):
    """A split that counts: work with an amount that was done, or not finished in time.

    `log_s` is the logarithm of its seconds, those of the interval where `over` is set: then it took more than that.
    """

    interval: int
    round: int
    athlete: str
    kind: Kind
    amount: float
    log_s: float
    over: bool
    split: Split


Read = Mapping[int, Row]
"""By the identity of the split, which its row keeps alive."""


def rows_of(splits: Iterable[Split], known: Read) -> list[Row]:
    """The rows of those splits that count, by interval; what is known already is not read again."""
    found = [known.get(id(split)) or _row(split) for split in splits]
    rows = [row for row in found if row is not None]
    rows.sort(key=_INTERVAL)
    return rows


_INTERVAL = itemgetter(Row._fields.index("interval"))


def _row(split: Split) -> Row | None:
    amount, unit, over = split.amount, split.unit, split.status is Status.NOT_FINISHED
    if split.status is Status.UNTAPPED or unit is None or amount is None or amount.numerator <= 0:
        return None
    taken_ms = split.window_ms if over else split.split_ms
    if not taken_ms or taken_ms <= 0:
        return None
    work = (split.station, split.move, unit)
    many = amount.numerator / amount.denominator
    return Row(split.interval, split.round, split.athlete, work, many, math.log(taken_ms / 1000), over, split)
