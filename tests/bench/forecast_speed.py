"""What the pacing coach costs: a refresh of everything after an interval, one tap, and how both grow with the class.

A class of five stations and six rounds is played as on the floor: after each interval it is fitted and everybody is looked at.
Every interval is timed in processor time, the shortest of several classes played; a refresh is the slowest interval of the 30, a
slice of it one fit or one look: the floor goes back to its keys after each.
The baseline is the least that somebody could do with the same splits: a least-squares line for each athlete and station.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from floorclock.clock.splits import Coming, Split
from floorclock.pace.pacing import Outlook, PartPacing, look_back
from tests.bench.bodies import Array, InventedClass, World, invent
from tests.bench.common import Figure, quantile, took_ms

TAP_MOST_MS: Final = 2.0
GROWTH_MOST: Final = 1.5
"""Per athlete, by that of a class of 40."""
FULL: Final = 40
ROUNDS, STATIONS, INTERVALS = 6, 5, 30
SLICE_MOST_MS: Final = 10.0
"""Nothing that is done at once between two keys takes longer."""
TIMES: Final = 3
OTHERS: Final = {6: 5, FULL: 3, 100: 2, 400: 1}
"""How often classes of other sizes are played, for the growth."""
LATE: Final = range(23, 26)
"""The intervals in which they are compared: nearly all is known, and all stations still have a round to come."""


@dataclass(frozen=True)
class Played:
    """One class, sorted beforehand for every interval so that only the pacing is timed."""

    made: InventedClass
    splits: tuple[Split, ...]
    whole: dict[str, tuple[Coming, ...]]
    own: dict[str, tuple[Split, ...]]

    def until(self, interval: int) -> list[Split]:
        """All splits up to and with an interval."""
        return [split for split in self.splits if split.interval <= interval]

    def look(self, pacing: PartPacing, name: str, interval: int) -> Outlook:
        """One athlete whose splits are known up to and with an interval."""
        # Splits and slots are in order of the intervals, one for each.
        return pacing.look(self.own[name][: interval + 1], self.whole[name], self.whole[name][interval + 1 :])


def played(size: int) -> Played:
    """Five stations, six rounds."""
    world = World(name="speed", people=(size, size), stations=(STATIONS, STATIONS), rounds=(ROUNDS, ROUNDS), untapped=0.0)
    made = invent(world, 1)
    splits = made.splits(ROUNDS)
    by_name: dict[str, list[Split]] = {name: [] for name in made.names}
    for split in splits:
        by_name[split.athlete].append(split)
    return Played(made, tuple(splits), made.whole(), {name: tuple(own) for name, own in by_name.items()})


def refreshes_ms(it: Played, intervals: range) -> dict[str, list[float]]:
    """For each of these intervals: the fit, the looks at everybody after it, and one look after a tap in the next interval."""
    pacing = PartPacing(it.made.part)
    if intervals[0]:
        # What was before is known already, as it is on the floor.
        pacing.settle(intervals[0] - 1, it.until(intervals[0] - 1))
        for name in it.made.names:
            it.look(pacing, name, intervals[0])
    found: dict[str, list[float]] = {"fit": [], "looks": [], "slice": [], "tap": []}
    for interval in intervals:
        so_far = it.until(interval)
        found["fit"].append(took_ms(partial(pacing.settle, interval, so_far)))
        looks = [took_ms(partial(it.look, pacing, name, interval)) for name in it.made.names]
        found["looks"].append(sum(looks))
        found["slice"].append(max(found["fit"][-1], *looks))
        if interval < INTERVALS - 1:
            taps = [took_ms(partial(it.look, pacing, name, interval + 1)) for name in it.made.names]
            found["tap"].append(quantile(taps, 0.5))
    return found


def best(it: Played, intervals: range, times: int) -> dict[str, Array]:
    """The shortest times of several classes played, by interval."""
    runs = [refreshes_ms(it, intervals) for _ in range(times)]
    return {kind: np.array([run[kind] for run in runs]).min(axis=0) for kind in runs[0]}


def own_lines_ms(it: Played) -> float:
    """The baseline: a straight line for each athlete and station."""
    y = np.array([[split.split_ms or 0 for split in own] for own in it.own.values()], dtype=float)

    def lines() -> None:
        for row in y:
            for station in range(STATIONS):
                values = row[station::STATIONS]
                design = np.column_stack([np.ones(ROUNDS), np.arange(ROUNDS)])
                np.linalg.lstsq(design, values, rcond=None)

    return took_ms(lines, times=9)


def figures() -> Iterator[Figure]:
    """The full class, and by size what each athlete of another class costs, by that in the full one."""
    full = played(FULL)
    times, lines_ms = best(full, range(INTERVALS), TIMES), own_lines_ms(full)
    refresh, coming = times["fit"] + times["looks"], dict.fromkeys(full.made.names, ())
    review_ms = took_ms(lambda: look_back(full.made.part, full.splits, full.whole, coming))
    yield Figure("40 athletes x 30 intervals: the longest slice", times["slice"].max(), "ms", most=SLICE_MOST_MS)
    yield Figure("  the slowest refresh, all slices, by own lines", refresh.max(), "ms", baseline=lines_ms)
    yield Figure("  the median refresh", float(np.median(refresh)), "ms", baseline=lines_ms)
    yield Figure("  the slowest fit of the class in it", times["fit"].max(), "ms", baseline=lines_ms)
    yield Figure("  the slowest look at everybody in it", times["looks"].max(), "ms", baseline=lines_ms)
    yield Figure("  one tap", times["tap"].max(), "ms", most=TAP_MOST_MS)
    yield Figure("  the whole class played again for a review", review_ms, "ms", baseline=lines_ms)
    late = {size: best(played(size), LATE, often) for size, often in OTHERS.items()}
    each = {size: float(np.median(one["fit"] + one["looks"])) / size for size, one in late.items()}
    tap = {size: float(np.median(one["tap"])) for size, one in late.items()}
    for what, ms in (("refresh, each", each), ("tap", tap)):
        for size in sorted(OTHERS.keys() - {FULL}):
            # A small class has a fixed cost to share among fewer.
            most = GROWTH_MOST if size > FULL else None
            yield Figure(f"{size} athletes: {what}, by that of {FULL}", ms[size], "ms", baseline=ms[FULL], most_times=most)
