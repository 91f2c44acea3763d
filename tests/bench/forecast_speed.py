"""What the pacing coach costs: a refresh of everything after an interval, one tap, and how both grow with the class.

    python -m tests.bench.forecast_speed

A class of five stations and six rounds is played as on the floor: after each interval it is fitted and everybody is looked at.
Every interval is timed in processor time, the shortest of several classes played; a refresh is the slowest interval of the 30, a
slice of it one fit or one look: the floor goes back to its keys after each.
It runs in a process of its own whose numerical libraries keep to one core. The baseline is the least that somebody could do
with the same splits: a least-squares line for each athlete and station, by numpy.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np

from floorclock.clock.splits import Coming, Split
from floorclock.pace.pacing import Outlook, PartPacing, look_back
from tests.bench.bodies import Array, InventedClass, World, invent
from tests.bench.common import Figure, print_table, quantile

ONE_CORE: Final = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
TAP_MOST_MS: Final = 2.0
GROWTH_MOST: Final = 1.5
"""Per athlete, by that of a class of 40."""
FULL: Final = 40
ROUNDS, STATIONS = 6, 5
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

    @property
    def intervals(self) -> int:
        """How many there are."""
        return ROUNDS * STATIONS

    def until(self, interval: int) -> list[Split]:
        """All splits up to and with an interval."""
        return [split for split in self.splits if split.interval <= interval]

    def look(self, pacing: PartPacing, name: str, interval: int) -> Outlook:
        """One athlete whose splits are known up to and with an interval."""
        # Splits and slots are in order of the intervals, one for each.
        return pacing.look(self.own[name][: interval + 1], self.whole[name], self.whole[name][interval + 1 :])

    def look_at_all(self, pacing: PartPacing, interval: int) -> list[Outlook]:
        """Everybody, likewise."""
        return [self.look(pacing, name, interval) for name in self.made.names]


def played(size: int) -> Played:
    """Five stations, six rounds."""
    world = World(name="speed", people=(size, size), stations=(STATIONS, STATIONS), rounds=(ROUNDS, ROUNDS), untapped=0.0)
    made = invent(world, 1)
    splits = made.splits(ROUNDS)
    by_name: dict[str, list[Split]] = {name: [] for name in made.names}
    for split in splits:
        by_name[split.athlete].append(split)
    return Played(made, tuple(splits), made.whole(), {name: tuple(own) for name, own in by_name.items()})


def timed(action: Callable[[], object]) -> float:
    """Processor time in ms."""
    began = time.process_time_ns()
    action()
    return (time.process_time_ns() - began) / 1e6


def refreshes_ms(it: Played, intervals: range) -> dict[str, list[float]]:
    """For each of these intervals: the fit, the looks at everybody after it, and one look after a tap in the next interval."""
    pacing, last = PartPacing(it.made.part), it.intervals - 1
    if intervals[0]:
        # What was before is known already, as it is on the floor.
        pacing.settle(intervals[0] - 1, it.until(intervals[0] - 1))
        it.look_at_all(pacing, intervals[0])
    found: dict[str, list[float]] = {"fit": [], "looks": [], "slice": [], "tap": []}
    for interval in intervals:
        so_far = it.until(interval)
        found["fit"].append(timed(partial(pacing.settle, interval, so_far)))
        looks = [timed(partial(it.look, pacing, name, interval)) for name in it.made.names]
        found["looks"].append(sum(looks))
        found["slice"].append(max(found["fit"][-1], *looks))
        if interval < last:
            taps = [timed(partial(it.look, pacing, name, interval + 1)) for name in it.made.names]
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

    return min(timed(lines) for _ in range(9))


def measure() -> dict[str, dict[str, float]]:
    """All times in ms: of the full class, and for the growth by size."""
    full = played(FULL)
    times = best(full, range(full.intervals), TIMES)
    refresh = times["fit"] + times["looks"]
    coming: dict[str, Sequence[Coming]] = dict.fromkeys(full.made.names, ())
    found = {
        "full": {
            "refresh": float(refresh.max()),
            "middle": float(np.median(refresh)),
            "fit": float(times["fit"].max()),
            "looks": float(times["looks"].max()),
            "slice": float(times["slice"].max()),
            "tap": float(times["tap"].max()),
            "lines": own_lines_ms(full),
            "review": timed(lambda: look_back(full.made.part, full.splits, full.whole, coming)),
        }
    }
    for size, often in OTHERS.items():
        late = best(played(size), LATE, often)
        found[str(size)] = {
            "refresh": float(np.median(late["fit"] + late["looks"])),
            "tap": float(np.median(late["tap"])),
        }
    return found


def figures() -> list[Figure]:
    """The table, measured in a process that keeps to one core."""
    command = [sys.executable, "-m", "tests.bench.forecast_speed", "--measure"]
    root = Path(__file__).parents[2]
    ran = subprocess.run(command, cwd=root, env={**os.environ, **ONE_CORE}, capture_output=True, text=True, check=False)
    if ran.returncode:
        raise SystemExit(ran.stderr)
    found: dict[str, dict[str, float]] = json.loads(ran.stdout)
    full = found["full"]
    ms = [
        Figure(what="40 athletes x 30 intervals: the longest slice", value=full["slice"], unit="ms", most=SLICE_MOST_MS),
        Figure(what="  the slowest refresh, all slices, by own lines", value=full["refresh"], unit="ms", baseline=full["lines"]),
        Figure(what="  the median refresh", value=full["middle"], unit="ms", baseline=full["lines"]),
        Figure(what="  the slowest fit of the class in it", value=full["fit"], unit="ms", baseline=full["lines"]),
        Figure(what="  the slowest look at everybody in it", value=full["looks"], unit="ms", baseline=full["lines"]),
        Figure(what="  one tap", value=full["tap"], unit="ms", most=TAP_MOST_MS),
        Figure(what="  the whole class played again for a review", value=full["review"], unit="ms", baseline=full["lines"]),
    ]  # fmt: skip
    return ms + [growth(found, size, what) for what in ("refresh", "tap") for size in OTHERS if size != FULL]


def growth(found: dict[str, dict[str, float]], size: int, what: str) -> Figure:
    """The cost for one athlete of a class, by that in a class of 40; a small class has a fixed cost to share among fewer."""
    share = (lambda n: n) if what == "refresh" else (lambda n: 1)
    value, baseline = (found[str(n)][what] / share(n) for n in (size, FULL))
    words = f"{size} athletes: {what}" + (", each" if what == "refresh" else "") + f", by that of {FULL}"
    return Figure(what=words, value=value, unit="ms", baseline=baseline, most_times=GROWTH_MOST if size > FULL else None)


def main() -> None:
    """Measures and prints."""
    if "--measure" in sys.argv:
        print(json.dumps(measure()))
    else:
        print_table(figures())


if __name__ == "__main__":
    main()
