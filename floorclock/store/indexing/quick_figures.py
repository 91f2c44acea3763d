"""Flags and figures of a whole class: at once where it is plain, athlete by athlete where it is not.

Invariant: what comes out is what `pace.flags` and `pace.figures` give for the same splits, without a forecast. An athlete is
plain in a part where each station had one and the same work in all rounds; whoever changed a target, or climbs a ladder, is not.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from functools import cache

from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_splits
from floorclock.pace.flags import LOWER_Z, RAISE_Z, Flag
from floorclock.pace.series import LEAST_ROUNDS, least_loss_ms
from floorclock.pace.stats import Trend, median, pooled
from floorclock.store.indexing.columns import NOT_FINISHED, AthletePart, SplitLine, WorkList
from floorclock.store.indexing.figures import BIT, PaceLine, bits_of, pace_lines
from floorclock.store.indexing.lines_through import Taken, measure

TIGHT, FADING, NOT_DONE = BIT[Flag.TIGHT], BIT[Flag.FADING], BIT[Flag.NOT_FINISHED]
LEAST_LOSS, LOWER_LOSS = 1.0, 0.5


Stations = dict[int, tuple[Taken, list[int]]]
"""By station: what was tapped there, and the places of all its splits in the lines of the athlete."""


def figures_of_class(state: ClassState, parts: Sequence[AthletePart], works: WorkList) -> list[tuple[str, PaceLine]]:
    """Gives every split its flags, and each athlete the figures of their stations, in the order of `parts`."""
    plain = [_stations(one, works) for one in parts]
    measure([taken for stations in plain if stations is not None for taken, _ in stations.values()])
    found: list[tuple[str, PaceLine]] = []
    for one, stations in zip(parts, plain, strict=True):
        if stations is None:
            splits = tuple(athlete_splits(state, one.run, one.name))
            one.flags = bits_of(splits)
            found += [(one.name, line) for line in pace_lines(splits, one.flags, works)]
        else:
            one.flags = _flags(one.lines, stations)
            found += [(one.name, _pace_line(one, taken, places)) for taken, places in stations.values()]
    return found


def _stations(one: AthletePart, works: WorkList) -> Stations | None:
    """None where the athlete is not plain in this part."""
    found: Stations = {}
    numbers: dict[int, int] = {}
    for place, (_, _, round_number, station, work, _, _, split_ms, _) in enumerate(one.lines):
        here = found.get(station)
        if here is None:
            _, amount, unit = works.works[work]
            here = found[station] = (Taken([], [], float(amount) if amount and unit is not None else 0.0), [])
            numbers[station] = work
        elif numbers[station] != work:
            return None
        here[1].append(place)
        if split_ms is not None:
            rounds = here[0].rounds
            if split_ms <= 0 or (rounds and rounds[-1] >= round_number):
                return None
            rounds.append(round_number)
            here[0].splits_ms.append(split_ms)
    return found


def _flags(lines: Sequence[SplitLine], stations: Stations) -> list[int]:
    """As `pace.flags.Watch` raises them, split by split."""
    flags: list[int] = []
    counts = dict.fromkeys(stations, 0)
    standing: dict[int, Standing] = {}
    rising, variance, fading = 0, 0.0, False
    for _, _, _, station, _, window_ms, margin_ms, split_ms, status in lines:
        if split_ms is None:
            flags.append(NOT_DONE if status == NOT_FINISHED else 0)
            continue
        count = counts[station] = counts[station] + 1
        if count >= LEAST_ROUNDS:
            taken, place = stations[station][0], count - LEAST_ROUNDS
            before = standing.get(station, NOTHING_YET)
            now = standing[station] = (taken.rising[place], taken.variances[place], taken, place, window_ms)
            rising += now[0] - before[0]
            variance += now[1] - before[1]
            # Mostly it is plain that nobody fades; the sums of `pace` are worked out where it is not.
            z = (rising - 1) / math.sqrt(variance) if rising > 1 and variance > 0 else 0.0
            fading = z > (LOWER_Z if fading else RAISE_Z) - NEARLY and _fades(standing.values(), fading)
        flags.append(TIGHT * (window_ms - split_ms < margin_ms) + FADING * fading)
    return flags


Standing = tuple[int, float, Taken, int, int]
"""One station so far: rising pairs, their variance, what was tapped, up to which place, and the window there."""
NOTHING_YET: Standing = (0, 0.0, Taken([], [], 0.0), 0, 0)
NEARLY = 1e-6


def _fades(standing: Collection[Standing], fading: bool) -> bool:
    z = pooled(Trend(rising, variance, 0.0) for rising, variance, *_ in standing).z
    if z < (LOWER_Z if fading else RAISE_Z):
        return False
    return median([_lost(*one[2:]) for one in standing]) >= (LOWER_LOSS if fading else LEAST_LOSS)


def _lost(taken: Taken, place: int, window_ms: int) -> float:
    """As `pace.series.Series.loss`."""
    return taken.slopes_ms[place] * (taken.rounds[place + LEAST_ROUNDS - 1] - taken.rounds[0]) / _least_loss_ms(window_ms)


_least_loss_ms = cache(least_loss_ms)


def _pace_line(one: AthletePart, taken: Taken, places: Sequence[int]) -> PaceLine:
    part, _, _, station, work, *_ = one.lines[places[0]]
    bits = tight = missed = 0
    least_ms: int | None = None
    for place in places:
        _, _, _, _, _, window_ms, _, split_ms, status = one.lines[place]
        raised = one.flags[place]
        bits |= raised
        tight += bool(raised & TIGHT)
        missed += status == NOT_FINISHED
        if split_ms is not None and (least_ms is None or window_ms - split_ms < least_ms):
            least_ms = window_ms - split_ms
    tapped = taken.splits_ms
    return (
        part,
        station,
        work,
        len(places),
        len(tapped),
        tight,
        missed,
        bits,
        taken.median_ms,
        tapped[0] if tapped else None,
        tapped[-1] if tapped else None,
        least_ms,
        taken.slope_ms,
        taken.cv_percent,
        taken.level,
        taken.drift,
    )
