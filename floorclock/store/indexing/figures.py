"""Flags and figures of one athlete in one part, as `pace` works them out; and the class at each station.

Invariant: a figure here is the one that `pace` gives for the same splits; where too little was tapped it is None.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from floorclock.clock.splits import Split, Status
from floorclock.digest.figures import athlete_figures, median_of_known
from floorclock.pace.flags import Flag, flags, is_tight
from floorclock.pace.stats import theil_sen
from floorclock.plan.work import Unit
from floorclock.store.indexing.columns import DONE, UNTAPPED, AthletePart, WorkList

BIT = {flag: 1 << place for place, flag in enumerate(Flag)}

PaceLine = tuple[
    int, int, int, int, int, int, int, int, float | None, int | None, int | None, int | None, float | None, float | None,
    float | None, float | None,
]  # fmt: skip
"""(part, station, number of the work) and what follows `amount` in `PaceRow`."""
StationLine = tuple[int, int, int, int, int, int, int, int, int, float | None, float | None, float | None]
"""(part, station) and what follows `move` in `StationRow`."""


def bits_of(splits: Sequence[Split]) -> list[int]:
    """The flags of each of an athlete's splits in a part, in order."""
    raised = flags(splits)
    return [sum(BIT[flag] for flag in raised.get((one.part, one.interval), ())) for one in splits]


def pace_lines(splits: Sequence[Split], bits: Sequence[int], works: WorkList) -> Iterator[PaceLine]:
    """The figures of an athlete in a part, for each station and kind of work there."""
    kinds: dict[tuple[int, str, Unit | None], list[tuple[Split, int]]] = {}
    for split, raised in zip(splits, bits, strict=True):
        kinds.setdefault((split.station, split.move, split.unit), []).append((split, raised))
    for (station, _, _), pairs in kinds.items():
        here = [split for split, _ in pairs]
        last, figures = here[-1], athlete_figures(station, "", here)
        taken = [one.split_ms for one in here if one.split_ms is not None]
        raised = 0
        for _, own in pairs:
            raised |= own
        level, drift = line_through(here)
        yield (
            last.part,
            station,
            works.number((last.move, last.amount, last.unit)),
            len(here),
            figures.tapped,
            sum(is_tight(one) for one in here),
            sum(one.status is Status.NOT_FINISHED for one in here),
            raised,
            figures.median_split_ms,
            taken[0] if taken else None,
            taken[-1] if taken else None,
            min((one.rest_ms for one in here if one.rest_ms is not None), default=None),
            figures.slope_ms,
            figures.cv_percent,
            level,
            drift,
        )


def line_through(here: Sequence[Split]) -> tuple[float | None, float | None]:
    """(level in round 1, drift) of the logarithm of seconds per unit of work; robust, as `pace.prior` has it for one class."""
    points = [
        (one.round - 1, math.log(one.split_ms / 1000 / float(one.amount)))
        for one in here
        if one.split_ms and one.amount and one.unit is not None
    ]
    if not points:
        return None, None
    x, y = [point[0] for point in points], [point[1] for point in points]
    if min(x) == max(x):
        return median_of_known(y), None
    line = theil_sen(x, y, "joint")
    return line.intercept, line.slope


@dataclass(slots=True)
class _Station:
    """What was seen at a station so far."""

    splits_ms: list[int] = field(default_factory=list)
    rests_ms: list[int] = field(default_factory=list)
    drifts: list[float] = field(default_factory=list)
    untapped: int = 0
    flagged: dict[str, int] = field(default_factory=dict)
    """Everybody who worked there, with their flags."""

    def count(self, flag: Flag) -> int:
        return sum(bool(bits & BIT[flag]) for bits in self.flagged.values())


def station_lines(parts: Iterable[AthletePart], paces: Iterable[tuple[str, PaceLine]]) -> Iterator[StationLine]:
    """The class at each station, in order."""
    found: dict[tuple[int, int], _Station] = {}
    for one in parts:
        for part, _, _, station, _, window_ms, _, split_ms, status in one.lines:
            here = found.get((part, station))
            if here is None:
                here = found[part, station] = _Station()
            if split_ms is not None and status == DONE:
                here.splits_ms.append(split_ms)
                here.rests_ms.append(window_ms - split_ms)
            elif status == UNTAPPED:
                here.untapped += 1
    for name, (part, station, _, _, _, _, _, bits, *_, drift) in paces:
        here = found[part, station]
        here.flagged[name] = here.flagged.get(name, 0) | bits
        if drift is not None:
            here.drifts.append(drift)
    for (part, station), here in sorted(found.items(), key=lambda item: item[0]):
        yield (
            part,
            station,
            len(here.flagged),
            len(here.splits_ms),
            here.untapped,
            here.count(Flag.TIGHT),
            here.count(Flag.FADING),
            here.count(Flag.RUNS_OUT),
            here.count(Flag.NOT_FINISHED),
            median_of_known(here.splits_ms),
            median_of_known(here.rests_ms),
            math.fsum(here.drifts) / len(here.drifts) if here.drifts else None,
        )
